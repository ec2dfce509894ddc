"""Trend of values over time or cycles: a straight line with its bands, and Mann and Kendall's test on the order alone.

x in any unit of time or count, y in any unit, the slope in y per x.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import stats

from evenpull.statistics.sane import probabilities, readings

_EXACT_UP_TO = 60


@dataclass(frozen=True, slots=True)
class Line:
    """Least squares y = intercept + slope x; `s` scatter about it with n - 2 degrees of freedom; `low`, `high` limits
    of the slope at `confidence`; `p` chance of a slope so far from zero where there is none."""

    n: int
    intercept: float
    slope: float
    s: float
    slope_error: float
    low: float
    high: float
    p: float
    confidence: float
    x_mean: float
    x_squares: float

    def at(self, x: float) -> float:
        return self.intercept + self.slope * x

    def band(self, x: float) -> tuple[float, float]:
        """Confidence limits of the line itself at x."""
        return self._around(x, 0.0)

    def prediction(self, x: float) -> tuple[float, float]:
        """Limits for one more value at x."""
        return self._around(x, 1.0)

    def _around(self, x: float, own: float) -> tuple[float, float]:
        t = float(stats.t.isf((1 - self.confidence) / 2, self.n - 2))
        half = t * self.s * math.sqrt(own + 1 / self.n + (x - self.x_mean) ** 2 / self.x_squares)
        return self.at(x) - half, self.at(x) + half


def line(x: Iterable[float], y: Iterable[float], confidence: float = 0.95) -> Line:
    """Straight line through at least three points, normal scatter alike everywhere. ValueError for fewer, for one x
    only, and where all points lie on the line exactly (no scatter to judge by)."""
    probabilities(confidence=confidence)
    X, Y = readings(x, 3, "x"), readings(y, 3, "y")
    n = len(X)
    if len(Y) != n:
        raise ValueError(f"{n} x and {len(Y)} y: each point has both")
    if np.ptp(X) <= max(1e-14 * float(np.abs(X).max()), 1e-100):
        raise ValueError(f"all points lie at x = {X[0]:g}: a trend needs different times")
    x_mean, y_mean = float(X.mean()), float(Y.mean())
    dx, dy = X - x_mean, Y - y_mean
    squares = float(dx @ dx)
    slope = float(dx @ dy) / squares
    rest = dy - slope * dx
    s = math.sqrt(float(rest @ rest) / (n - 2))
    if s <= 1e-12 * float(np.abs(Y).max()):
        raise ValueError("all points lie on one line: the resolution hides the scatter, or the values were computed")
    error = s / math.sqrt(squares)
    half = float(stats.t.isf((1 - confidence) / 2, n - 2)) * error
    return Line(n, y_mean - slope * x_mean, slope, s, error, slope - half, slope + half,
                float(2 * stats.t.sf(abs(slope) / error, n - 2)), confidence, x_mean, squares)


@lru_cache(maxsize=256)
def _orders(ties: tuple[int, ...]) -> tuple[int, ...]:
    """How many orders of values with these multiplicities have 0, 1, 2 ... inversions: Gauss's multinomial coefficient,
    product of (1 + q + ... + q^(i-1)) over the same for each group of ties; whole numbers, exact."""
    def times(poly: list[int], i: int) -> list[int]:
        made = [0] * (len(poly) + i - 1)
        for shift in range(i):
            for place, value in enumerate(poly):
                made[place + shift] += value
        return made

    def over(poly: list[int], i: int) -> list[int]:
        made = poly[: len(poly) - i + 1]
        for place in range(len(made)):
            made[place] -= sum(made[max(0, place - i + 1) : place])
        return made

    poly = [1]
    for i in range(2, sum(ties) + 1):
        poly = times(poly, i)
    for tied in ties:
        for i in range(2, tied + 1):
            poly = over(poly, i)
    return tuple(poly)


@dataclass(frozen=True, slots=True)
class MannKendall:
    """S = pairs that rise less pairs that fall; tau = S over the pairs that differ in y; p two-sided, `exact` or by the
    normal approximation with ties and continuity."""

    n: int
    S: int
    tau: float
    p: float
    exact: bool


def mann_kendall(y: Iterable[float]) -> MannKendall:
    """Whether values in the order of time rise or fall, whatever their distribution (H. B. Mann, Econometrica 13, 1945;
    M. G. Kendall, Rank Correlation Methods). Exact, ties included, up to 60 values. ValueError for fewer than four (no
    order of three is rarer than one in three) and where all are alike. Values that hang together make p too small."""
    Y = readings(y, 4)
    n = len(Y)
    _, counts = np.unique(Y, return_counts=True)
    if len(counts) == 1:
        raise ValueError(f"all {n} values are {Y[0]:g}: the resolution hides any trend; read finer")
    S = int(np.sign(Y[None, :] - Y[:, None])[np.triu_indices(n, 1)].sum())
    pairs = n * (n - 1) // 2 - int((counts * (counts - 1) // 2).sum())
    if n <= _EXACT_UP_TO:
        orders = _orders(tuple(sorted(map(int, counts), reverse=True)))
        # an order with i inversions has S = pairs - 2 i
        beyond = sum(value for i, value in enumerate(orders) if abs(pairs - 2 * i) >= abs(S))
        return MannKendall(n, S, S / pairs, beyond / sum(orders), True)
    t = counts.astype(float)
    variance = (n * (n - 1) * (2 * n + 5) - float((t * (t - 1) * (2 * t + 5)).sum())) / 18
    z = max(0, abs(S) - 1) / math.sqrt(variance)
    return MannKendall(n, S, S / pairs, min(1.0, float(2 * stats.norm.sf(z))), False)


def sen_slope(x: Iterable[float], y: Iterable[float], confidence: float = 0.95) -> tuple[float, float, float]:
    """(slope, low, high): median of the slopes of all pairs, with limits from the law of S; robust against values that
    stand apart (P. K. Sen, JASA 63, 1968; from memory). The limits hold at least with `confidence`. ValueError where x
    is not in rising order, or where there are too few points for limits of this confidence, or more than 60."""
    probabilities(confidence=confidence)
    X, Y = readings(x, 4, "x"), readings(y, 4, "y")
    n = len(X)
    if len(Y) != n:
        raise ValueError(f"{n} x and {len(Y)} y: each point has both")
    if not (np.diff(X) > 0).all():
        raise ValueError("x has to rise from point to point: put the points in order, join those of one time")
    if n > _EXACT_UP_TO:
        raise ValueError(f"{n} points: limits are made for up to {_EXACT_UP_TO}; take the straight line")
    one, other = np.triu_indices(n, 1)
    slopes = np.sort((Y[other] - Y[one]) / (X[other] - X[one]))
    share = _shares(n)
    cut = int(np.searchsorted(share, (1 - confidence) / 2, side="right"))  # P(fewer than cut slopes below) <= tail
    if cut == 0:
        raise ValueError(f"{n} points: too few for limits at {confidence:.4g}; a lower confidence or more points")
    return float(np.median(slopes)), float(slopes[cut - 1]), float(slopes[len(slopes) - cut])


def _shares(n: int) -> np.ndarray:
    """Chance of at most i inversions among n different values; in whole numbers, which outgrow those of the machine."""
    orders, found, total = math.factorial(n), [], 0
    for value in _orders((1,) * n):
        total += value
        found.append(total / orders)
    return np.array(found)
