"""Figures of a tested lot: scatter, the band that holds most of the lot, values that stand apart.

Any unit; all figures take a normal distribution of the values.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import stats

from evenpull.statistics.sane import above_zero, probabilities, readings
from evenpull.statistics.tolerance import tolerance_factor


def grubbs_limit(n: int, significance: float = 0.05, *, two_sided: bool = True) -> float:
    """Largest |x - mean|/s that a normal sample of n shows by chance (Grubbs; NIST/SEMATECH handbook 1.3.5.17.1)."""
    if n < 3:
        raise ValueError(f"three values at least, not {n}")
    probabilities(significance=significance)
    t = float(stats.t.isf(significance / (2 * n if two_sided else n), n - 2))
    return (n - 1) / math.sqrt(n) * math.sqrt(t**2 / (n - 2 + t**2))


@dataclass(frozen=True, slots=True)
class LotFigures:
    """Figures of one quantity over the runs. `band` = mean +- `sigmas` s describes the sample; `interval` = mean +- k s
    holds `content` of the lot with `confidence`. `apart` are the places (from 0) of values that stand apart: they are
    reported and stay in.
    """

    n: int
    mean: float
    s: float
    least: float
    most: float
    sigmas: float
    band: tuple[float, float]
    content: float
    confidence: float
    k: float
    interval: tuple[float, float]
    apart: tuple[int, ...]

    @property
    def variation(self) -> float:
        """Coefficient of variation s/mean."""
        return self.s / self.mean


def lot_figures(
    values: Sequence[float], *, sigmas: float = 3.0, content: float = 0.95, confidence: float = 0.95,
) -> LotFigures:
    """Figures of at least three values. ValueError for fewer, or a value that is not finite."""
    found = readings(values, 3, "runs of a lot")
    above_zero(sigmas=sigmas)
    mean, s = float(found.mean()), float(found.std(ddof=1))
    k = tolerance_factor(len(found), content, confidence)
    limit = grubbs_limit(len(found))
    farthest = int(abs(found - mean).argmax())
    apart = (farthest,) if s > 0 and abs(found[farthest] - mean) > limit * s else ()
    return LotFigures(
        len(found), mean, s, float(found.min()), float(found.max()), sigmas, (mean - sigmas * s, mean + sigmas * s),
        content, confidence, k, (mean - k * s, mean + k * s), apart,
    )
