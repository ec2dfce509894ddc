"""Calibration of hand torque tools after ISO 6789-2:2017: contributions, expanded uncertainty, uncertainty interval.

The standard was not at hand: symbols, sums and divisors are from memory and marked so. Torques in N.m; the budget is
relative, in shares of the mean reference value of its point.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from evenpull.instrument.budget import GUM, Budget, Contribution, budget, contribution
from evenpull.instrument.deviation import relative_deviation

SOURCE = "ISO 6789-2:2017 clause 6 (from memory)"
K = 2.0  # the coverage factor that ISO 6789-2 states (from memory)


def variation(series: Sequence[Sequence[float]]) -> float:
    """b = largest less smallest mean of several series of readings (N.m): reproducibility b_rep, output drive b_od,
    interface b_int, loading point b_l. ValueError for fewer than two series, or one without readings."""
    if len(series) < 2:
        raise ValueError(f"a variation needs at least two series of readings, not {len(series)}")
    if any(not one for one in series):
        raise ValueError("a series has no readings")
    means = [statistics.fmean(_finite(one)) for one in series]
    return max(means) - min(means)


def repeatability(readings: Sequence[float]) -> float:
    """b_re = standard deviation (n - 1) of the readings at one point, N.m. ValueError below two readings."""
    if len(readings) < 2:
        raise ValueError(f"a repeatability needs at least two readings, not {len(readings)}")
    return statistics.stdev(_finite(readings))


def _finite(readings: Sequence[float]) -> Sequence[float]:
    if not all(math.isfinite(reading) for reading in readings):
        raise ValueError("a reading is not finite")
    return readings


@dataclass(frozen=True, slots=True, kw_only=True)
class PointReadings:
    """What one calibration point needs. N.m; `W_md` expanded (k = 2) and `b_ep` as shares.

    `set_value` is indicated or set; `readings` are the reference values, `resolution` the smallest step that can be
    set or read. b_rep, b_od, b_int, b_l as `variation` gives them; 0 where the standard lets it be left out (say so
    on the certificate). `b_ep` is the known deviation of the torque measurement device at the point, not corrected.
    """

    set_value: float
    readings: tuple[float, ...]
    resolution: float
    b_rep: float
    b_od: float
    b_int: float
    b_l: float
    W_md: float
    b_ep: float = 0.0


@dataclass(frozen=True, slots=True)
class PointResult:
    """`a_s` relative deviation, `b_re` N.m, `budget` relative with k = 2 (W = budget.U), `W_interval` W', and
    `k_effective`: the factor that the degrees of freedom ask for. Shares."""

    a_s: float
    b_re: float
    budget: Budget
    W_interval: float
    k_effective: float

    @property
    def W(self) -> float:
        return self.budget.U


def contributions(point: PointReadings) -> tuple[Contribution, ...]:
    """The rows that ISO 6789-2 names, each relative to the mean reference value.

    w_md = W_md/2; w_r = r/(2 sqrt 3); w_rep, w_od, w_int, w_l = b/(2 sqrt 3); w_re = b_re/sqrt(n) with n - 1 degrees.
    """
    n = len(point.readings)
    b_re = repeatability(point.readings)
    mean = statistics.fmean(point.readings)
    if not mean > 0:
        raise ValueError(f"the mean reference value has to be greater than zero: {mean} N.m")
    full = "rectangular, full width"
    given = (
        ("w_r", "resolution r", point.resolution),
        ("w_rep", "reproducibility b_rep", point.b_rep),
        ("w_od", "output drive b_od", point.b_od),
        ("w_int", "interface b_int", point.b_int),
        ("w_l", "loading point b_l", point.b_l),
    )
    return (
        contribution("w_md", "torque measurement device W_md", point.W_md, "normal, k = 2", SOURCE),
        *(contribution(symbol, name, value / mean, full, SOURCE) for symbol, name, value in given),
        contribution("w_re", "repeatability b_re", b_re / mean, f"standard deviation of the mean of {n}",
                     f"{SOURCE}; {GUM} 4.2.3", divisor=math.sqrt(n), degrees=n - 1),
    )


def interval(a_s: float, W: float, b_ep: float) -> float:
    """Relative uncertainty interval W' = |a_s| + W + |b_ep|, shares (ISO 6789-2, from memory)."""
    return abs(a_s) + W + abs(b_ep)


def calibrated_point(point: PointReadings) -> PointResult:
    """Deviation, budget and interval of one point. ValueError for readings that cannot be: see the parts."""
    a_s = float(relative_deviation(point.set_value, statistics.fmean(point.readings)))
    rows = contributions(point)
    found = budget(rows, k=K)
    asked = budget(rows)
    return PointResult(a_s, repeatability(point.readings), found, interval(a_s, found.U, point.b_ep), asked.k)
