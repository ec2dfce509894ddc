"""Describing a set of readings."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Description:
    """n, minimum, mean, median, maximum and the standard deviation with n - 1 (None below two values)."""

    n: int
    minimum: float
    mean: float
    median: float
    maximum: float
    deviation: float | None

    @property
    def variation(self) -> float | None:
        """Coefficient of variation, deviation over mean; None where there is no deviation or the mean is zero."""
        return None if self.deviation is None or self.mean == 0 else self.deviation / self.mean


def describe(values: Iterable[float]) -> Description:
    """Describe finite values (any unit). ValueError for none at all and for a value that is not finite."""
    found = [float(value) for value in values]
    if not found:
        raise ValueError("there are no values to describe")
    if not all(math.isfinite(value) for value in found):
        raise ValueError("a value is not finite: leave it out with its reason before describing the rest")
    return Description(
        len(found), min(found), statistics.fmean(found), statistics.median(found), max(found),
        statistics.stdev(found) if len(found) > 1 else None,
    )
