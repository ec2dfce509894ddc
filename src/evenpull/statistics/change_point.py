"""Where the mean of a series stepped from one level to another, and whether it did."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from evenpull.statistics.sane import Floats, readings, scatter, whole

_SEED = 7_919
_ALL_ORDERS_UP_TO = 7


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """The best place of one step: values from `place` on (from 0) belong to the later level. `before` and `after` are
    the means, `s` the scatter within both, `t` the two-sample t there (not to be looked up in a table of t: the place
    was chosen). `p` is the chance that an order without a step shows one so clear anywhere, over all orders (`exact`)
    or a sample of them."""

    n: int
    place: int
    before: float
    after: float
    s: float
    t: float
    p: float
    exact: bool


def change_point(
    values: Iterable[float], *, least: int = 2, orders: int = 9_999, seed: int = _SEED,
) -> ChangePoint:
    """Largest sum of squares between two parts of at least `least` values each (likelihood ratio of one step in the
    mean of normal values), its chance by permutation: right for any distribution if the values do not hang together;
    a steady trend shows as a step too, so look at both. Same seed, same p. ValueError for too few values and where
    nothing scatters.
    """
    whole(1, least=least)
    whole(99, 1_000_000, orders=orders)
    y = readings(values, max(4, 2 * least))
    scatter(y)
    n = len(y)
    y0 = y - y.mean()
    between = _between(y0[None, :], least)[0]
    at = int(between.argmax())
    place, best = at + least, float(between[at])
    exact = n <= _ALL_ORDERS_UP_TO
    if exact:
        found = _between(y0[np.array(list(permutations(range(n))))], least).max(axis=1)
        p = float((found >= best * (1 - 1e-12)).mean())
    else:
        dice = np.random.default_rng(seed)
        hits, left, batch = 0, orders, max(1, 2_000_000 // n)
        while left:
            many = min(left, batch)
            found = _between(dice.permuted(np.tile(y0, (many, 1)), axis=1), least).max(axis=1)
            hits += int((found >= best * (1 - 1e-12)).sum())
            left -= many
        p = (1 + hits) / (1 + orders)
    within = max(0.0, float(y0 @ y0) - best)
    s = math.sqrt(within / (n - 2))
    before, after = float(y[:place].mean()), float(y[place:].mean())
    t = math.copysign(math.sqrt(best * (n - 2) / within), after - before) if within > 0 else math.copysign(
        math.inf, after - before)
    return ChangePoint(n, place, before, after, s, t, p, exact)


def _between(y: Floats, least: int) -> Floats:
    """Sum of squares between both parts for each split, of rows with mean zero: S_k^2 n/(k (n - k))."""
    n = y.shape[1]
    k = np.arange(least, n - least + 1)
    sums = np.cumsum(y, axis=1)[:, k - 1]
    return np.asarray(sums**2 * (n / (k * (n - k))), float)
