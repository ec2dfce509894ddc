"""What many assemblies say: quantiles per bolt with their own uncertainty, chances with an interval.

A result carries its kind. Figures of interaction alone and of torque control never stand in one comparison.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from evenpull.ring.scatter.assembly import Assemblies, Kind
from evenpull.statistics.sampling import clopper_pearson

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Quantile:
    """Quantile `q` of each bolt's load: `value` (n,), its standard error `error` (n,), and the interval `low` to `high`
    (n,) that holds the true quantile with the stated confidence, without assuming a distribution. All in N."""

    q: float
    value: Floats
    error: Floats
    low: Floats
    high: Floats


def quantile(loads: Floats, q: float, confidence: float = 0.95) -> Quantile:
    """Quantile of each column of `loads` (S, n). Interval and error from order statistics: the number of samples below
    the true quantile is binomial (H. A. David, H. N. Nagaraja, Order Statistics, 7.1; from memory, not re-read); the
    error is half the spread of the two samples one standard deviation of that number to either side. ValueError when
    there are too few samples for an interval of this confidence."""
    if not (0.0 < q < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError(f"quantile and confidence lie between 0 and 1, not {q} and {confidence}")
    samples = len(loads)
    ordered = np.sort(loads, axis=0)
    below = stats.binom(samples, q)
    low, high = int(below.ppf((1 - confidence) / 2)) - 1, int(below.ppf((1 + confidence) / 2))
    if low < 0 or high >= samples:
        raise ValueError(f"{samples} assemblies: too few for an interval of {confidence:.0%} of the {q:.0%} quantile")
    deviation = math.sqrt(samples * q * (1 - q))
    ranks = np.arange(samples) + 0.5  # a sample stands for the middle of its share
    places = np.clip([samples * q - deviation, samples * q + deviation], ranks[0], ranks[-1])
    near = np.stack([np.interp(places, ranks, column) for column in ordered.T], axis=1)
    return Quantile(q, np.quantile(loads, q, axis=0), 0.5 * (near[1] - near[0]), ordered[low], ordered[high])


@dataclass(frozen=True, slots=True)
class Chance:
    """Share of `samples` in which something held, and the interval of its probability (Clopper-Pearson)."""

    share: float
    low: float
    high: float
    samples: int


def chance(held: int, samples: int, confidence: float = 0.95) -> Chance:
    """Exact interval (Clopper-Pearson)."""
    low, high = clopper_pearson(held, samples, confidence)
    return Chance(held / samples, low, high, samples)


@dataclass(frozen=True, slots=True)
class Intervals:
    """Per bolt: the quantiles asked for. Per assembly: `least` (S,) lowest final load and `spread` (S,) (max - min),
    both over the target; `deviation` (S,) standard deviation of the loads over their mean (population)."""

    kind: Kind
    quantiles: tuple[Quantile, ...]
    least: Floats
    spread: Floats
    deviation: Floats

    def meets(self, least: float, spread: float, confidence: float = 0.95) -> Chance:
        """Chance that every bolt has at least `least` and the spread is at most `spread`, both of the target."""
        held = (self.least >= least) & (self.spread <= spread)
        return chance(int(held.sum()), len(held), confidence)


def intervals(result: Assemblies, quantiles: tuple[float, ...] = (0.05, 0.5, 0.95)) -> Intervals:
    final = result.final
    least, largest = final.min(axis=1), final.max(axis=1)
    return Intervals(
        result.kind,
        tuple(quantile(final, q) for q in quantiles),
        least / result.target,
        (largest - least) / result.target,
        final.std(axis=1) / final.mean(axis=1),
    )


def share_above(result: Assemblies, limit: float) -> Floats:
    """Share of assemblies (n,) in which each bolt stood above `limit` (N) after any step."""
    return np.asarray((result.highest > limit).mean(axis=0))


@dataclass(frozen=True, slots=True)
class Difference:
    """By how much one procedure beats another in the median of the spread, and the chance that it does in an assembly
    drawn for each."""

    kind: Kind
    spread: float
    better: float


def compare(one: Intervals, other: Intervals) -> Difference:
    """`one` against `other`: median spread of `one` less that of `other` (of the target), and the probability that an
    assembly of `one` is the more even (Mann-Whitney, ties half). ValueError when the kinds differ."""
    if one.kind != other.kind:
        raise ValueError(
            f"'{one.kind}' cannot be set beside '{other.kind}': the first leaves out what the second has in it. "
            "Compute both with the same way of control"
        )
    u = stats.mannwhitneyu(one.spread, other.spread).statistic
    return Difference(
        one.kind,
        float(np.median(one.spread) - np.median(other.spread)),
        1 - float(u) / (len(one.spread) * len(other.spread)),
    )
