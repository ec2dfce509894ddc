"""How long a tool may go until its next calibration, from what was found at the last ones.

A drift is what was found at a calibration less what the one before left: deviations in one unit (or relative), times in
one unit (days, cycles). The advice is information: the interval stays with the rule that applies and with who signs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import optimize, stats

from evenpull.statistics.sane import Floats, above_zero, probabilities, readings

FEWEST = 3
_MOST_APART = 1e6  # longest over shortest interval of a history
Law = Literal["steady", "wandering"]
LAWS: dict[Law, str] = {
    "steady": "drift in proportion to time, with the same scatter at each calibration",
    "wandering": "drift in proportion to time, with a variance that grows with time as that of a random walk",
}


@dataclass(frozen=True, slots=True)
class Drift:
    """Fit of one law to n drifts: `rate` per time, `s` (of a drift under "steady"; per root of time under "wandering"),
    `rate_error` standard error of the rate; n - 1 degrees of freedom."""

    law: Law
    n: int
    rate: float
    s: float
    rate_error: float

    def bounds(self, t: float, start: float, probability: float) -> tuple[float, float]:
        """Between these the deviation lies after the time t with `probability`, from `start` on (prediction limits,
        Student's t)."""
        own = self.s**2 * (1.0 if self.law == "steady" else t)
        half = float(stats.t.isf((1 - probability) / 2, self.n - 1)) * math.sqrt(own + (t * self.rate_error) ** 2)
        middle = start + self.rate * t
        return middle - half, middle + half


@dataclass(frozen=True, slots=True)
class IntervalAdvice:
    """`interval` is the shorter one of both laws, no longer than `longest` (the longest time that was tried, times the
    stretch allowed); 0 when the limit is not kept even at once. `computed` by law (inf: never reached)."""

    interval: float
    computed: dict[Law, float]
    longest: float
    drifts: tuple[Drift, ...]
    basis: str


def fit_drift(times: Sequence[float], drifts: Sequence[float], law: Law) -> Drift:
    """Weighted least squares through the origin, no time no drift: rate = sum(w t D)/sum(w t^2), w = 1 under "steady",
    1/t under "wandering". ValueError for fewer than three calibrations, times not above zero, drifts that fit exactly.
    """
    t, D = _history(times, drifts)
    w = np.ones_like(t) if law == "steady" else 1 / t
    weight = float(w @ t**2)
    rate = float(w @ (t * D)) / weight
    s = math.sqrt(float(w @ (D - rate * t) ** 2) / (len(t) - 1))
    if s <= 1e-12 * float(np.abs(D).max()):
        raise ValueError("the drifts lie on one line exactly, or are all zero: their scatter is hidden by the "
                         "resolution; state what was found with more digits")
    return Drift(law, len(t), rate, s, s / math.sqrt(weight))


def advise_interval(
    times: Sequence[float], drifts: Sequence[float], *, limit: float, k_u: float, start: float = 0.0,
    probability: float = 0.95, stretch: float = 1.0,
) -> IntervalAdvice:
    """Longest time after which the deviation, with `probability`, plus the expanded uncertainty `k_u` still lies within
    +- `limit`: prediction limits of the drift from `start` (deviation as left) under two laws, the shorter one advised.

    Not beyond `stretch` times the longest time of the history: nothing was seen there (1 to 2; lengthening step by
    step is common practice, no source). The uncertainty is in the history's scatter as well: counted twice in part, on
    the safe side. ValueError for a history of fewer than three, or numbers that make no sense.
    """
    above_zero(limit=limit)
    probabilities(probability=probability)
    if not 0 <= k_u < limit:
        raise ValueError(f"the expanded uncertainty {k_u} has to lie from 0 to below the limit {limit}: with this one "
                         "no interval shows conformity; calibrate with a better standard")
    if not math.isfinite(start) or not 1 <= stretch <= 2:
        raise ValueError(f"start has to be finite and stretch from 1 to 2, not {start} and {stretch}")
    t, _ = _history(times, drifts)
    longest = stretch * float(t.max())
    fits = (fit_drift(times, drifts, "steady"), fit_drift(times, drifts, "wandering"))
    computed = {fit.law: _reaches(fit, limit - k_u, start, probability, t) for fit in fits}
    shorter = min(computed, key=lambda law: computed[law])
    interval = min(computed[shorter], longest)
    basis = (f"{len(t)} calibrations over intervals of {t.min():g} to {t.max():g}; {LAWS[shorter]}; deviation within "
             f"the limit less the uncertainty with {probability:.4g}")
    if interval == 0:
        basis += "; not kept even at the start: adjust or repair first"
    elif computed[shorter] > longest:
        basis += f"; held at {longest:g}, {stretch:g} times the longest interval tried, where the history ends"
    return IntervalAdvice(interval, computed, longest, fits, basis)


def _reaches(fit: Drift, room: float, start: float, probability: float, seen: Floats) -> float:
    """First time at which a bound meets +- room; inf where none does within a million of the longest times seen.

    Sought in steps of 1/64 of the time passed: the "steady" bounds bend outwards all along and meet once; "wandering"
    ones may come back, so what could be missed is a bound that meets and leaves again within one step.
    """
    def over(t: float) -> float:
        low, high = fit.bounds(t, start, probability)
        return max(high - room, -room - low)

    if over(0.0) >= 0:
        return 0.0
    last, step = 0.0, float(seen.min()) / 1000
    while last < 1e6 * float(seen.max()):
        t = last + step
        if over(t) >= 0:
            return float(optimize.brentq(over, last, t, xtol=1e-9 * t))
        last, step = t, max(step, t / 64)
    return math.inf


def _history(times: Sequence[float], drifts: Sequence[float]) -> tuple[Floats, Floats]:
    if len(times) < FEWEST or len(drifts) < FEWEST:
        raise ValueError(f"{min(len(times), len(drifts))} calibrations with what was found and what was left before: "
                         f"at least {FEWEST} are needed for advice; until then keep the interval that the rule gives")
    t, D = readings(times, FEWEST, "intervals"), readings(drifts, FEWEST, "drifts")
    if len(t) != len(D):
        raise ValueError(f"{len(t)} intervals and {len(D)} drifts: each calibration has both")
    if not (t > 0).all():
        raise ValueError(f"an interval has to be longer than zero, not {t.min():g}: check the dates")
    if t.max() > _MOST_APART * t.min() or t.min() < 1 / _MOST_APART**2:
        raise ValueError(f"intervals from {t.min():g} to {t.max():g} do not belong to one history: "
                         "check dates and units")
    return t, D
