"""What an audit gives back: plain values, each naming the place of its fact in the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from evenpull.ledger.entry import Entry
from evenpull.plan.model import Tool


@dataclass(frozen=True)
class PullRow:
    """One tightening, as found by the index; the fact `seq` holds all of it."""

    seq: int
    joint: str
    unit: str
    fastener: int
    pass_number: int | None
    event: str
    torque_text: str
    torque_unit: str
    angle_text: str
    tool: str
    epoch: str
    counter: int | None
    operator: str
    time_text: str
    file: str
    file_sha256: str
    row: int
    described: str  # id of the joint, "" when nobody has described it
    withdrawn: bool = False  # the reading that gave it was withdrawn: shown, and judged by nobody


@dataclass(frozen=True)
class PullPage:
    """`rows` from the newest; `before` continues the list, None at its end."""

    rows: tuple[PullRow, ...]
    total: int
    before: int | None


@dataclass(frozen=True)
class JointCount:
    joint: str  # as described, or in capitals where nobody has described it
    pulls: int
    state: str  # as last judged; "" for a joint that nobody described
    withdrawn: int = 0  # tightenings besides, of readings that were withdrawn


@dataclass(frozen=True)
class CounterRow:
    """The counters of one memory of a tool: how many records, from where to where, and what is missing between."""

    epoch: str
    first: int
    last: int
    records: int
    missing: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class ToolView:
    serial: str
    certificates: tuple[Tool, ...]
    entries: tuple[Entry, ...]
    counters: tuple[CounterRow, ...]
    joints: tuple[JointCount, ...]
    pulls: PullPage


@dataclass(frozen=True)
class PersonView:
    """`wrote`: facts under this name by kind; `named`: places of facts that name the person in another role."""

    name: str
    entries: tuple[Entry, ...]
    wrote: dict[str, int]
    named: tuple[ChangeRow, ...]
    joints: tuple[JointCount, ...]
    pulls: PullPage


@dataclass(frozen=True)
class LotRow:
    """Where a part of the lot is: one fastener, or the joint as a whole (fastener None)."""

    joint: str
    unit: str
    fastener: int | None
    seq: int
    source: str  # kind of the fact that says so
    state: str  # of the joint as last judged
    withdrawn: bool = False  # the reading that says so was withdrawn


@dataclass(frozen=True)
class LotView:
    lot: str
    kind: str  # "lot" or "heat"
    entries: tuple[Entry, ...]
    fasteners: tuple[LotRow, ...]
    lots: tuple[str, ...] = ()  # of a heat: those received with it


@dataclass(frozen=True)
class ChangeRow:
    """One fact in the list of what changed and when."""

    seq: int
    kind: str
    joint: str
    author: str
    received_at: datetime
    written_at: datetime
    what: str
    digest: str


@dataclass(frozen=True)
class ChangePage:
    rows: tuple[ChangeRow, ...]
    before: int | None


@dataclass(frozen=True)
class Recurrence:
    """The same thing found more than once. `what` says what; `places` are joints or fasteners; `seqs` the facts."""

    what: str
    key: str
    places: tuple[str, ...]
    seqs: tuple[int, ...]
