"""Creep of a gasket with time: each patch becomes thinner under its pressure, the bolts lose load. SI: m, Pa, s.

Both laws give the rate of thinning from the thinning so far and the present pressure (strain hardening, H. Kraus, Creep
Analysis, 1980; from memory, not re-read), so that a pressure that changes needs no further memory. Without a law
nothing creeps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel
from evenpull.ring.scatter.batch import Batch, relax

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LogCreep:
    """Thinning c log10(1 + t/time) at a steady pressure: the straight line over the logarithm of time that gasket
    relaxation tests show (common practice, no source). c is `per_decade` (m/Pa) times the pressure, plus `share` times
    the present compression of a patch that is pressed; `time` in s from which decades count."""

    per_decade: float = 0.0
    time: float = 60.0
    share: float = 0.0

    def __post_init__(self) -> None:
        _positive(time=self.time, **{"per_decade or share": self.per_decade + self.share})
        if not (self.per_decade >= 0.0 and 0.0 <= self.share < 1.0):
            raise ValueError(f"per_decade is 0 or more, share 0 to less than 1, not {self.per_decade}, {self.share}")

    def more(self, creep: Floats, p: Floats, w: Floats, duration: float) -> Floats:
        """Thinning (m) added in `duration` s under steady p (Pa) and compression w (m), from `creep` (m) on."""
        c = np.maximum(self.per_decade * p + self.share * np.maximum(w, 0.0), 1e-30) / math.log(10)
        # e^(creep/c) (1 + duration e^(-creep/c)/time) = 1 + t/time; written so that a small c does not overflow
        return np.where(p > 0.0, c * np.log1p(duration / self.time * np.exp(-np.maximum(creep, 0.0) / c)), 0.0)


@dataclass(frozen=True, slots=True)
class StandardLinear:
    """Thinning that tends to c p with one time constant: a spring and a dashpot side by side (Kelvin), in series with
    the elastic gasket, which makes the standard linear solid (W. N. Findley, J. S. Lai, K. Onaran, Creep and Relaxation
    of Nonlinear Viscoelastic Materials, 1976; from memory, not re-read). `compliance` c in m/Pa, `time` in s."""

    compliance: float
    time: float

    def __post_init__(self) -> None:
        _positive(compliance=self.compliance, time=self.time)

    def more(self, creep: Floats, p: Floats, w: Floats, duration: float) -> Floats:
        """Thinning (m) added in `duration` s under steady pressure p (Pa), from `creep` (m) on; negative where it
        recovers. The compression w plays no part."""
        return (self.compliance * p - creep) * -math.expm1(-duration / self.time)


Creep = LogCreep | StandardLinear


def log_creep_from_relaxation(
    residual: float, p: float, stiffness_per_area: float, after: float = 4 * 3600.0, time: float = 60.0
) -> LogCreep:
    """The law whose gasket keeps the share `residual` of the pressure p (Pa) `after` s in a rig of `stiffness_per_area`
    (Pa/m: the rig's stiffness over the gasket's area). That is the factor P_QR of EN 13555 at 4 h (from memory, not
    re-read). The mean of both pressures is taken as steady. ValueError unless 0 < residual < 1."""
    if not 0.0 < residual < 1.0:
        raise ValueError(f"the share of pressure that stays lies between 0 and 1, not {residual}")
    _positive(p=p, stiffness_per_area=stiffness_per_area, after=after, time=time)
    thinning = (1 - residual) * p / stiffness_per_area
    return LogCreep(thinning / (0.5 * (1 + residual) * p * math.log10(1 + after / time)), time)


def wait(model: RingModel, batch: Batch, law: Creep | None, duration: float, parts: int | None = None) -> Batch:
    """The samples after `duration` s with all nuts locked. The time is cut into `parts` (None: 1 up to the law's time,
    3 for each decade beyond), equal in the logarithm of time; in each the mean of the pressures at both ends acts."""
    if not 0.0 <= duration < math.inf:
        raise ValueError(f"a time to wait is 0 s or more, not {duration}")
    if law is None or duration == 0.0:
        return batch
    if parts is None:
        parts = 1 + math.ceil(3 * math.log10(max(1.0, duration / law.time)))
    ends = law.time * np.expm1(np.linspace(0.0, math.log1p(duration / law.time), parts + 1))
    for part in np.diff(ends):
        p, w = _pressed(model, batch)
        first = law.more(batch.creep, p, w, float(part))
        tried = relax(model, batch, first)
        later, thinner = _pressed(model, tried)
        mean = law.more(batch.creep, 0.5 * (p + later), 0.5 * (w + thinner), float(part))
        batch = relax(model, tried, mean - first)
    return batch


def _pressed(model: RingModel, batch: Batch) -> tuple[Floats, Floats]:
    """Pressure (S, N) Pa and compression (S, N) m of each patch beyond its creep."""
    w = batch.z @ model.Y.T - batch.creep
    return model.law.pressure(w, batch.past)[0], w


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} is a finite number above 0, not {value}")
