"""What the fitness of an instrument is judged from, and the form of the judgement. Torques in N.m at the fastener.

Pure values: who reads a register builds a `Candidate` of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from evenpull.instrument.assembly import Instrument
from evenpull.instrument.certificate import Certificate, Direction
from evenpull.instrument.chain import ToolSetting
from evenpull.instrument.risk import Risks

JointClass = Literal["A", "B", "C"]  # danger, function, nuisance; the strictest first (VDI/VDE 2862, from memory)


@dataclass(frozen=True, slots=True)
class PassValue:
    """One torque of a plan: what is aimed at and within which window a record is accepted."""

    name: str
    torque: float
    lower: float
    upper: float
    direction: Direction = "clockwise"


@dataclass(frozen=True, slots=True)
class UseLimit:
    """A limited calibration: good from `lower` to `upper` only (torque at the driver, N.m), with its reason."""

    lower: float
    upper: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """An instrument with what is known of it. `certificates` of the driver, `part_certificates` of the other parts by
    serial: multipliers and gauges must have one, a pump or an adapter that has any must have a valid one. `serves` is
    the strictest joint class, None when not stated; `missing` names parts of the chain that are not known; `events`
    what happened since the calibration and is not settled (a drop, a failed shift check)."""

    instrument: Instrument
    certificates: tuple[Certificate, ...]
    part_certificates: Mapping[str, Sequence[Certificate]] = field(default_factory=dict)
    directions: tuple[Direction, ...] = ("clockwise",)
    limits: tuple[UseLimit, ...] = ()
    serves: JointClass | None = None
    missing: tuple[str, ...] = ()
    events: tuple[str, ...] = ()
    cycles: int | None = None  # since the calibration
    cycles_allowed: int | None = None
    stated_W: float | None = None  # k = 2, share, of the whole scale; used where a certificate was kept without points


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that was looked at: `fit` or not, `code` the same for the same matter, `words` with the numbers."""

    code: str
    fit: bool
    words: str


@dataclass(frozen=True, slots=True)
class PassFitness:
    """For one pass value: setting (None where there is none), `expected` true torque at the fastener, `u` its standard
    uncertainty, `risk` that a pull at the setting lies outside the window; None where it cannot be judged.

    `records`: global risks of judging records by the rule, where the scatter of pulls was given (JCGM 106 9.5).
    """

    value: PassValue
    setting: ToolSetting | None
    expected: float | None
    u: float | None
    risk: float | None
    reasons: tuple[Reason, ...]
    records: Risks | None = None

    @property
    def fit(self) -> bool:
        return all(reason.fit for reason in self.reasons)

    @property
    def U(self) -> float | None:
        """Expanded uncertainty of the expected torque, k = 2 (N.m)."""
        return None if self.u is None else 2 * self.u


@dataclass(frozen=True, slots=True)
class Fitness:
    """What holds for all pulls and for each pass value. `days_left` until the first certificate of the chain ends, 0 on
    its last day; None where one is not in force."""

    candidate: Candidate
    reasons: tuple[Reason, ...]
    passes: tuple[PassFitness, ...] = field(default=())
    days_left: int | None = None

    @property
    def fit(self) -> bool:
        return all(reason.fit for reason in self.reasons) and all(one.fit for one in self.passes)

    @property
    def refusals(self) -> tuple[str, ...]:
        """Why it is not fit, in words; () when it is."""
        own = [reason.words for reason in self.reasons if not reason.fit]
        return (*own, *(f"{one.value.name}: {r.words}" for one in self.passes for r in one.reasons if not r.fit))

    @property
    def risk(self) -> float | None:
        """The largest risk of its pass values; None where one cannot be judged."""
        risks = [one.risk for one in self.passes]
        return None if any(r is None for r in risks) else max((r for r in risks if r is not None), default=None)
