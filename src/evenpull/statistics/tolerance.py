"""Tolerance intervals: the band that holds most of a lot, with a confidence; and how many values it takes.

Any unit. The factors k take a normal distribution; the intervals between ordered values take none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy import integrate, optimize, stats

from evenpull.statistics.noncentral_t import noncentral_t_quantile
from evenpull.statistics.sane import above_zero, probabilities, readings, whole

_LARGEST_LOT = 100_000
Side = Literal["both", "above", "below"]


@lru_cache(maxsize=512)
def tolerance_factor_one_sided(n: int, content: float, confidence: float) -> float:
    """k so that mean + k s lies above the share `content` of the lot with this confidence, exact:
    t'(confidence; n - 1, z_content sqrt(n))/sqrt(n), t' the noncentral t distribution (ISO 16269-6, from memory).
    """
    whole(2, _LARGEST_LOT, n=n)
    probabilities(content=content, confidence=confidence)
    shift = float(stats.norm.ppf(content)) * math.sqrt(n)
    return noncentral_t_quantile(confidence, n - 1, shift) / math.sqrt(n)


@lru_cache(maxsize=512)
def tolerance_factor(n: int, content: float, confidence: float) -> float:
    """k so that mean +- k s holds the share `content` of the lot with this confidence, exact for a normal lot.

    Solves integral over the mean of P(chi2_(n-1) >= (n-1) r(x)^2/k^2) = confidence, r(x) the half-width that holds the
    content when the mean is off by x (ISO 16269-6 two-sided case, mean and deviation unknown; from memory).
    """
    whole(2, _LARGEST_LOT, n=n)
    probabilities(content=content, confidence=confidence)
    nu = n - 1
    x = np.linspace(0.0, 8.5 / math.sqrt(n), 257)  # of the mean's own deviation nothing is left out at 8.5
    r2 = stats.ncx2.ppf(content, 1, x**2)
    weight = 2 * math.sqrt(n / (2 * math.pi)) * np.exp(-n * x**2 / 2)

    def covered(k: float) -> float:
        return float(integrate.simpson(weight * stats.chi2.sf(nu * r2 / k**2, nu), x=x))

    guess = tolerance_factor_approximate(n, content, confidence)
    return float(optimize.brentq(lambda k: covered(k) - confidence, guess * 0.7, guess * 1.4, xtol=1e-9))


def tolerance_factor_approximate(n: int, content: float, confidence: float) -> float:
    """Howe's approximation of the two-sided factor, sqrt((n-1)(1 + 1/n) z^2/chi2(1 - confidence; n-1)) (NIST/SEMATECH
    handbook 7.2.6.3, from memory). It starts the exact one and stands beside it in tests.
    """
    whole(2, _LARGEST_LOT, n=n)
    probabilities(content=content, confidence=confidence)
    z = stats.norm.ppf((1 + content) / 2)
    return float(math.sqrt((n - 1) * (1 + 1 / n) * z**2 / stats.chi2.ppf(1 - confidence, n - 1)))


def runs_needed(variation: float, allowed: float, *, content: float = 0.95, confidence: float = 0.95) -> int:
    """Fewest runs n after which mean +- k s is no wider than +- `allowed` (share of the mean), if the lot's coefficient
    of variation is `variation`. ValueError when no number is enough: the lot itself scatters more.
    """
    above_zero(variation=variation, allowed=allowed)
    probabilities(content=content, confidence=confidence)
    if stats.norm.ppf((1 + content) / 2) * variation >= allowed:
        raise ValueError(
            f"a lot that scatters by {variation:.3g} of its mean never lies within +-{allowed:.3g} at {content:.0%}: "
            "more runs cannot help"
        )
    low, high = 2, 4
    while tolerance_factor(high, content, confidence) * variation > allowed:
        low, high = high, high * 2
        if high > _LARGEST_LOT:
            raise ValueError(f"more than {_LARGEST_LOT} runs would be needed")
    if tolerance_factor(low, content, confidence) * variation <= allowed:
        return low
    while high - low > 1:
        middle = (low + high) // 2
        if tolerance_factor(middle, content, confidence) * variation > allowed:
            low = middle
        else:
            high = middle
    return high


@dataclass(frozen=True, slots=True)
class OrderedInterval:
    """From `low` to `high` (None: open on that side) lies the share `content` of the lot with at least `confidence`,
    whatever its distribution. `reached` is the exact confidence; `left_out` values lie beyond the ends."""

    n: int
    low: float | None
    high: float | None
    content: float
    confidence: float
    reached: float
    left_out: int


def ordered_confidence(n: int, places: int, content: float) -> float:
    """Confidence that a lot has at least the share `content` within an interval that `places` of the n + 1 gaps between
    ordered values lie outside of: P(B >= content), B beta with n + 1 - places and places (order statistics: S. S.
    Wilks, Ann. Math. Statist. 12, 1941, from memory). 1 for one-sided from the extreme, 2 between both extremes."""
    return float(stats.beta.sf(content, n + 1 - places, places))


def ordered_least(content: float, confidence: float, side: Side = "both") -> int:
    """Fewest values from which the extremes hold the share `content` with this confidence, distribution-free."""
    probabilities(content=content, confidence=confidence)
    places = 2 if side == "both" else 1
    n = places
    while ordered_confidence(n, places, content) < confidence:
        n = n + 1 if n < 1000 else math.ceil(n * 1.01)
        if n > 100 * _LARGEST_LOT:
            raise ValueError(f"more than {n} values would be needed: lower the content {content} or the confidence")
    while n > places and ordered_confidence(n - 1, places, content) >= confidence:
        n -= 1
    return n


def ordered_interval(
    values: Iterable[float], *, content: float = 0.95, confidence: float = 0.95, side: Side = "both",
) -> OrderedInterval:
    """Distribution-free tolerance interval between ordered values (ISO 16269-6, from memory); as many values are left
    out, evenly at both ends, as the confidence allows. `side` "above": no lower end, all lies below `high`; "below" has
    no upper end. ValueError where even the extremes do not reach it; the message says how many values would.
    """
    probabilities(content=content, confidence=confidence)
    found = np.sort(readings(values, 1))
    n, step = len(found), 2 if side == "both" else 1
    if n < (needed := ordered_least(content, confidence, side)):
        raise ValueError(f"{n} values hold no interval of {content:.4g} at {confidence:.4g} without a distribution: "
                         f"{needed} are needed; or take the normal factor where normality is shown")
    places = step
    while places + step <= n and ordered_confidence(n, places + step, content) >= confidence:
        places += step
    cut = places // step
    return OrderedInterval(
        n, None if side == "above" else float(found[cut - 1]), None if side == "below" else float(found[n - cut]),
        content, confidence, ordered_confidence(n, places, content), places - step,
    )
