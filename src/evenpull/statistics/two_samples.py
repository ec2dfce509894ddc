"""Whether two sets of readings may come from one source: before and after a break, one person or tool and another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy import stats

from evenpull.statistics.sane import Floats, readings, scatter

FEWEST = 5


@dataclass(frozen=True, slots=True)
class Comparison:
    """p of three tests, each made larger for being one of three (Holm): of the `level` (Mann and Whitney's ranks), of
    the `scatter` (Brown and Forsythe, deviations from the median), of the `form` as a whole (Kolmogorov and Smirnov).
    `least` is the smallest: chance that two sets from one source differ so clearly in any of them. `shift` is the
    difference of the medians, second less first; `ratio` that of the standard deviations, second over first."""

    n: tuple[int, int]
    level: float
    scatter: float
    form: float
    shift: float
    ratio: float

    @property
    def least(self) -> float:
        return min(self.level, self.scatter, self.form)


def compare_samples(first: Iterable[float], second: Iterable[float]) -> Comparison:
    """Two sets of at least five readings each, in one unit, compared; scipy computes the first two tests (ranks
    exact for small sets without ties). A difference says that something changed, not what: person, tool, lot, weather.
    Brown, Forsythe, JASA 69 (1974); Holm, Scand. J. Statist. 6 (1979); from memory. ValueError for fewer readings and
    for a set that does not scatter.
    """
    a, b = readings(first, FEWEST, "readings of the first"), readings(second, FEWEST, "readings of the second")
    s = scatter(a, "readings of the first"), scatter(b, "readings of the second")
    level, spread, form = holm((
        float(stats.mannwhitneyu(a, b).pvalue),
        float(stats.levene(a, b, center="median").pvalue),
        smirnov(a, b),
    ))
    return Comparison((len(a), len(b)), level, spread, form, float(np.median(b) - np.median(a)), s[1] / s[0])


def smirnov(a: Floats, b: Floats) -> float:
    """p of Smirnov's largest distance between two distributions, exact, ties included: over all ways to deal the values
    seen to both sets, the chance of a distance at least as large at the end of any tie. Of the order n m steps."""
    n, m = len(a), len(b)
    pooled = np.sort(np.concatenate((a, b)))
    ends = np.append(pooled[1:] > pooled[:-1], True)
    at = pooled[ends]
    of_a, of_b = np.searchsorted(np.sort(a), at, "right"), np.searchsorted(np.sort(b), at, "right")
    most = int(np.abs(of_a * m - of_b * n).max())  # the distance times n m, a whole number
    if most == 0:
        return 1.0
    i = np.arange(n + 1)  # so many of the values dealt went to the first set
    inside = np.zeros(n + 1)
    inside[0] = 1.0
    for dealt in range(1, n + m + 1):
        to_first = np.clip((n - i) / (n + m - dealt + 1), 0.0, 1.0)
        step = inside * to_first
        inside = inside * (1 - to_first)
        inside[1:] += step[:-1]
        if ends[dealt - 1]:
            inside[np.abs(i * m - (dealt - i) * n) >= most] = 0.0
    return float(min(1.0, max(0.0, 1 - inside.sum())))


def holm(p: tuple[float, ...]) -> tuple[float, ...]:
    """p of several tests made larger so that the smallest keeps its meaning: the i-th smallest times (m - i + 1), none
    below a smaller one, at most 1."""
    order = np.argsort(p)
    raised: Floats = np.maximum.accumulate(np.sort(p) * np.arange(len(p), 0, -1))
    found = np.empty(len(p))
    found[order] = np.minimum(1.0, raised)
    return tuple(map(float, found))
