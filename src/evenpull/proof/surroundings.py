"""What the dossier knows beside the records of the joint itself. Gathered by the store, judged here; all optional."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from evenpull.equipment.tool_fitness import ToolFitness
from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.plan.model import Plan
from evenpull.proof.model import Disposition

Stream = tuple[str, str]  # tool, memory epoch


@dataclass(frozen=True)
class Withdrawn:
    """A reading that was withdrawn, with what it took from this joint. `seq`: place of the withdrawal in the log;
    `releases` in words, `decisions`: made while it counted, and resting on it."""

    seq: int
    file: str
    mapping: str
    by: str
    at: datetime
    why: str
    records: int
    rows: int  # that could not be read
    releases: tuple[str, ...] = ()
    decisions: tuple[Disposition, ...] = ()


@dataclass(frozen=True)
class UnderReview:
    """A review of a tool that concerns the joint. `counts` of its tightenings here: surely in, doubtful, cannot be
    judged, surely out, as they stood when it was opened; `load_out` how many loads were surely too little, `load_doubt`
    doubtful. `decided` the disposition that stands, "" for none; `settled` whether it leaves nothing to be done."""

    id: int
    serial: str
    kind: str
    at: datetime
    counts: tuple[int, int, int, int]
    load_out: int
    load_doubt: int
    decided: str = ""
    settled: bool = False

    @property
    def harmless(self) -> bool:
        """Every tightening was surely in its window, and no load in doubt."""
        return self.counts[0] == sum(self.counts) and not self.load_out + self.load_doubt


@dataclass(frozen=True, slots=True)
class CurveSaid:
    """A curve on which something was found. `file`: place of the fact of its file, called `name`; `number` and `run` in
    it; `record`: key of its record, "" where none is here; `fastener`, `pass_number`: as curve or record state them."""

    file: int
    name: str
    number: int
    run: str
    record: str
    unit: str
    fastener: int | None
    pass_number: int | None
    verdicts: tuple[str, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CurvesOfRecord:
    """A record that curves with different points name."""

    record: str
    unit: str
    fastener: int | None
    pass_number: int | None
    curves: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CurvesHere:
    """The curves of a joint. Counts: curves; records without a curve (`bare`); curves whose record is not here
    (`without`), that name none (`keyless`), whose record is of another joint (`elsewhere`), that came `again`; records
    with `conflicts`, of which `twice` are the first. `unjudged`: files that cannot be judged, each with why. `more`:
    (file, its name, how many curves) on which something was found beyond those `said`; `differ`: curves that state
    another fastener than their record."""

    curves: int
    bare: int = 0
    without: int = 0
    keyless: int = 0
    elsewhere: int = 0
    again: int = 0
    conflicts: int = 0
    twice: tuple[CurvesOfRecord, ...] = ()
    said: tuple[CurveSaid, ...] = ()
    unjudged: tuple[tuple[str, str], ...] = ()
    more: tuple[tuple[int, str, int], ...] = ()
    differ: int = 0


@dataclass(frozen=True)
class Surroundings:
    """`now` is the moment of judging and enters findings only where a due date or a future time needs it."""

    now: datetime | None = None
    entries: tuple[Entry, ...] = ()  # of the joint, by seq
    tools: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # serial -> clock contacts, blocks, checks ...
    people: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # name, folded -> qualifications ...
    lots: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # lot -> blocked, unblocked
    revisions: tuple[Plan, ...] = ()  # plans of the earlier revisions, oldest first
    counters: Mapping[Stream, tuple[tuple[int, int], ...]] = field(default_factory=dict)  # known, as ranges
    elsewhere: tuple[Tightening, ...] = ()  # records of other joints that look like one of these (near-duplicates)
    copied: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # other joint -> what is the same
    received: Mapping[str, datetime] = field(default_factory=dict)  # SHA-256 of a file -> when it was received
    released: datetime | None = None  # the first signature on the joint
    withdrawn: tuple[Withdrawn, ...] = ()  # readings that took something from this joint, by seq
    fit: ToolFitness | None = field(default=None, compare=False)  # both registers; None: as the plan's tools say
    reviews: tuple[UnderReview, ...] = ()  # of tools that tightened here, by their number
    operators: frozenset[str] = frozenset()  # folded; of all records received, whatever was corrected or left out since
    curves: CurvesHere | None = None  # None: no curve of the joint came


NOTHING_ELSE = Surroundings()
