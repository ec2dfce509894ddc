"""What follows: plan against records. Pure values; nothing here reads files, clocks or databases.

Plan + Tightening... + Disposition... --prove--> Proof --decide--> Decision
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from evenpull.intake.record import Tightening
from evenpull.ledger.machine import FastenerState

RULES_VERSION = "proof-7"

Verdict = Literal["accepted", "not accepted", "not judged"]
FlagCode = Literal[
    "missing",
    "extra",
    "doubled",
    "out of order",
    "wrong tool",
    "out of window",
    "wrong direction",
    "not reached",
    "angle out of window",
    "moved on check pass",
    "pass not complete",
    "unit slip suspected",
    "time in doubt",
    "certificate not valid",
    "tool not known",
    "tool not fit",
    "tool stated otherwise",
    "no torque",
    "unread row",
    "unknown fastener",
    "pass not stated",
    "source disagrees",
    "specification stop",
    "unknown pass",
    "prevailing not recorded",
    "conflicting record",
    "card and tool differ",
    "not a proving event",
    "loosened later",
    "not to be loosened",
    "no angle",
    "open item",
    "gate not met",
    "part not fit",
    "not proven",
    "loose again",
    "leaking again",
    "found before tightening",
    "earlier revision",
    "records missing",
    "near-duplicate",
    "values copied",
    "repeated values",
    "impossible pace",
    "no variance",
    "digit preference",
    "decimal shift suspected",
    "digits transposed",
    "clock event",
    "corrected",
    "late entry",
    "reading withdrawn",
    "under review",
    "curve finding",
    "curve in doubt",
    "curves contradict",
    "curves and records",
]
Action = Literal["accept as is", "redo", "replace", "engineering review", "not this joint", "superseded"]
State = Literal["released", "released with follow-up", "not released"]


@dataclass(frozen=True)
class Flag:
    """One thing to look at. `key` is stable between runs so that a disposition can name it."""

    key: str  # "out of window|KN-CW-014||7|3|<record key>", see flags.flag_key
    code: FlagCode
    blocking: bool  # release needs a disposition
    unit_id: str
    fastener: int | None
    pass_number: int | None
    records: tuple[str, ...]  # Tightening.key
    text: str  # plain words with the numbers


@dataclass(frozen=True)
class Disposition:
    """A person's decision on one flag. A fact; never changed, only followed by a later one."""

    flag_key: str
    action: Action
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class Cell:
    """fastener x pass: what the records prove there."""

    unit_id: str
    fastener: int
    pass_number: int
    verdict: Verdict
    reason: str  # plain words; for accepted: the value against the window
    proving: Tightening | None  # the record that counts
    records: tuple[Tightening, ...]  # all that fell on this cell, in order
    flags: tuple[str, ...]  # Flag.key


@dataclass(frozen=True)
class PassSummary:
    pass_number: int
    planned: int
    accepted: int
    not_accepted: int
    not_judged: int
    n: int  # judged torque values
    minimum: float | None
    mean: float | None
    maximum: float | None
    deviation: float | None  # standard deviation, n - 1
    displaced: int  # fasteners out of planned position (d1)
    order_distance: int  # n - longest common subsequence (d2)
    mixed: int  # pass k+1 pulls before pass k was complete (d3)


GateState = Literal["met", "not met", "excepted", "decided", "not asked"]


@dataclass(frozen=True)
class Excepted:
    """What an exception covers. `key`: of what stood against the gate, "" for the gate as a whole."""

    key: str
    entry: str  # id
    gate: str
    by: str
    authority: str
    reason: str
    limits: str
    at: datetime  # when it was written


@dataclass(frozen=True)
class GateResult:
    """One gate of the joint with its reason. "decided": what stood against it was decided flag by flag."""

    name: str
    rule: str
    state: GateState
    reason: str
    fasteners: tuple[int, ...] = ()  # concerned; () for the joint as a whole
    against: tuple[str, ...] = ()  # keys of the flags or records that stand against it, where records decide it
    excepted: tuple[Excepted, ...] = ()  # what exceptions cover of it


@dataclass(frozen=True)
class Proof:
    joint: str
    rules: str
    cells: tuple[Cell, ...]
    flags: tuple[Flag, ...]
    open_flags: tuple[Flag, ...]  # blocking and without a closing disposition
    dispositions: tuple[Disposition, ...]
    summaries: tuple[PassSummary, ...]
    units: tuple[str, ...]  # ("",) unless series
    records: int
    unread: int
    repeated: int  # records received again and ignored
    gates: tuple[GateResult, ...] = ()
    states: tuple[FastenerState, ...] = ()  # () where the joint asks for nothing and nothing was entered


@dataclass(frozen=True)
class Decision:
    """The state with its reasons first, in plain words, worst first."""

    state: State
    reasons: tuple[str, ...]
    follow_ups: tuple[str, ...]
    signable: bool  # false: no signature may turn this into a release
