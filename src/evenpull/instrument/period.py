"""The suspect period of an instrument found out: from the last good evidence to the day it was found.

Times are seconds on one clock (UTC epoch), so that readings and evidence compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from evenpull.instrument.certificate import Direction
from evenpull.instrument.deviation import Truths


@dataclass(frozen=True, slots=True)
class Evidence:
    """A calibration (as-left) or a shift check: at `time` the instrument was good, or not. `direction` None where it
    speaks for both. A shift check speaks for its direction at its torque; that it clears the whole scale is how
    shift checks are used (common practice, no source)."""

    id: str
    kind: Literal["certificate", "shift check"]
    time: float
    good: bool
    direction: Direction | None = None


@dataclass(frozen=True, slots=True)
class Period:
    """Uses after `start` and up to `end` are suspect. `start` -inf where there is no good evidence at all."""

    start: float
    end: float
    since: Evidence | None
    reason: str

    def holds(self, times: ArrayLike) -> Truths:
        """Which times lie in the period. A time that is not known (NaN) is suspect: nothing shows that it is not."""
        t = np.asarray(times, np.float64)
        return np.isnan(t) | ((t > self.start) & (t <= self.end))


def suspect_period(evidence: Sequence[Evidence], found: float, direction: Direction) -> Period:
    """Period of one direction up to `found`, when the instrument was found out.

    It begins at the last certificate or good shift check before `found`. A failed check with good ones behind it is no
    end of doubt: what came back by itself may leave again. Then it begins at the last good evidence before the first
    failed check since the last certificate.
    """
    told = sorted((e for e in evidence if e.time < found and e.direction in (None, direction)), key=lambda e: e.time)
    calibrated = max((i for i, e in enumerate(told) if e.kind == "certificate" and e.good), default=-1)
    start = max(calibrated, 0)
    bad = next((i for i, e in enumerate(told) if i >= start and not e.good), len(told))
    good = [e for e in told[:bad] if e.good]
    if not good:
        return Period(-np.inf, found, None, f"no good certificate or check turned {direction} is on record before: "
                      "every use is suspect")
    last = good[-1]
    reason = f"since {last.kind} {last.id}, the last good evidence turned {direction}"
    if bad < len(told):
        reason += f" before {told[bad].kind} {told[bad].id} failed; a good check after that clears nothing"
    return Period(last.time, found, last, reason)
