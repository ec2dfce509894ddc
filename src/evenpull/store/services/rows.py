"""What the services give back: plain values, no database objects."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from evenpull.intake.record import Reading, Tightening, UnreadRow
from evenpull.ledger.keeping import Kept, keeping
from evenpull.plan.model import Plan, Specification
from evenpull.proof.doubt_flags import sheet_fingerprint
from evenpull.proof.model import Decision, Proof
from evenpull.proof.surroundings import Surroundings


@dataclass(frozen=True)
class JointRow:
    id: str
    revision: str
    document: str
    digest: str
    changed: bool  # False: the same text was there already


@dataclass(frozen=True)
class RevisionRow:
    revision: str
    document: str
    received_at: datetime
    author: str
    digest: str
    file: str


@dataclass(frozen=True)
class MappingRow:
    name: str
    file: str
    digest: str
    changed: bool


@dataclass(frozen=True)
class ReadingWithdrawn:
    """Who took a reading back, when and why; `seq` is its place in the log. `taken`: rows that other files gave
    instead, which had left them out as repeats."""

    seq: int
    by: str
    at: datetime
    why: str
    identity: str
    records: int
    unread: int
    taken: int


@dataclass(frozen=True)
class FileRow:
    """One reading of a file. `new`, `repeated`, `unread`, `set_aside` count rows; a file that was already there is not
    listed twice. `reading`: place of the reading in the log."""

    name: str
    sha256: str
    size: int
    mapping: str
    new: int
    repeated: int
    unread: int
    set_aside: int
    received_at: datetime
    author: str
    joints: tuple[str, ...]
    reading: int
    withdrawn: ReadingWithdrawn | None = None


@dataclass(frozen=True)
class Given:
    """Rows of a file that were left out as repeats and count since another reading was withdrawn; `seq`: place of that
    withdrawal in the log."""

    seq: int
    instead_of: str
    rows: int


@dataclass(frozen=True)
class FileView(FileRow):
    """The last reading of a file with its rows that are no records; `earlier` readings, the newest first; rows that it
    has `given` since in place of another file."""

    unread_rows: tuple[UnreadRow, ...] = ()
    set_aside_rows: tuple[SetAsideRow, ...] = ()
    notes: tuple[str, ...] = ()
    earlier: tuple[FileRow, ...] = ()
    given: tuple[Given, ...] = ()


@dataclass(frozen=True)
class WithdrawalPlan:
    """What withdrawing a reading would take: joint as written -> records and unread rows; and their sums."""

    reading: int
    name: str
    sha256: str
    mapping: str
    joints: dict[str, tuple[int, int]]
    records: int
    unread: int


@dataclass(frozen=True)
class SetAsideRow:
    row: int
    why: str
    raw: str


@dataclass(frozen=True)
class CardRow:
    serial: str
    joint: str
    paper: str
    issued_at: datetime
    valid_until: datetime
    author: str
    fingerprint: str
    pdf_sha256: str


@dataclass(frozen=True)
class ReleaseRow:
    id: str
    joint: str
    state: str
    author: str
    signed_at: datetime
    statement: str
    report_sha256: str
    specification: str  # digest of the revision that was signed
    proof: str  # digest of the proof and decision that were signed
    identity: str = ""  # how the signer is known; "" in releases signed before this was kept


@dataclass(frozen=True)
class UnplacedRow:
    """A record whose joint nobody has described yet."""

    joint: str
    fastener: int
    file: str
    row: int
    near: tuple[str, ...]


@dataclass(frozen=True)
class JointSummary:
    id: str
    name: str
    place: str
    kind: str
    joint_class: str
    state: str
    reasons: tuple[str, ...]
    planned: int
    accepted: int
    open_flags: int
    records: int
    units: int


READY = "ready to sign"  # nothing stands against a release, and nobody has signed it


@dataclass(frozen=True)
class JointView:
    """`standing` is what the joint counts as: a released state only while a signature covers what is there now."""

    spec: Specification
    plan: Plan
    proof: Proof
    decision: Decision
    tightenings: tuple[Tightening, ...]
    unread: tuple[UnreadRow, ...]
    cards: tuple[CardRow, ...]
    releases: tuple[ReleaseRow, ...]
    files: tuple[FileRow, ...]
    revision_history: tuple[RevisionRow, ...]
    proof_digest: str  # of proof and decision as they stand; what a signer has seen
    around: Surroundings  # what else was known when it was judged
    upto: int  # facts in the log when it was judged

    @property
    def good_until(self) -> str:
        """The day from which the judgement may be another although no fact was added; "" when there is none."""
        assert self.around.now is not None
        today = self.around.now.date()
        days = {tool.certificate_from for tool in self.plan.tools}
        days |= {tool.certificate_until + timedelta(days=1) for tool in self.plan.tools}
        days.add(self.spec.source.in_force_from)
        return min((day.isoformat() for day in days if day > today), default="")

    def kept(self, today: date, signing: datetime | None = None) -> Kept:
        """How long its records are kept at least, counted from the last signed release (or the one that is being signed
        now), and the holds that stand."""
        released = signing or max((release.signed_at for release in self.releases), default=None)
        return keeping(self.spec.keeping, released, self.around.entries, today)

    @property
    def sheet(self) -> str:
        """Fingerprint of the values as written, to find a sheet that was copied; "" for too few values."""
        return sheet_fingerprint(self.tightenings, self.plan)

    def covers(self, release: ReleaseRow) -> bool:
        """Whether this signature is about the specification, proof and decision as they stand now."""
        return (release.specification, release.proof) == (self.spec.digest, self.proof_digest)

    @property
    def standing(self) -> str:
        if not self.decision.signable:
            return "not released"
        return self.decision.state if any(self.covers(r) for r in self.releases) else READY


@dataclass(frozen=True)
class JointPage:
    """One page of the list of joints. `counts`: state -> how many in the whole dossier; `old`: not judged again yet."""

    rows: tuple[JointSummary, ...]
    total: int
    counts: dict[str, int]
    number: int
    pages: int
    old: int


@dataclass(frozen=True)
class Preview:
    """What committing would do; nothing has been written. `unknown`: joint id -> near ids. `tools`: what is doubtful in
    the tools that the records name, a line for each."""

    reading: Reading
    new: int
    repeated: int
    conflicts: tuple[str, ...]
    known: tuple[str, ...]
    unknown: dict[str, tuple[str, ...]]
    sha256: str
    already: bool
    tools: tuple[str, ...] = ()


@dataclass(frozen=True)
class Fit:
    """A known mapping that reads a file: how many rows it makes records of, how many it cannot read."""

    mapping: str
    records: int
    unread: int


@dataclass(frozen=True)
class Imported:
    sha256: str
    already: bool
    new: int
    repeated: int
    unread: int
    set_aside: int


@dataclass(frozen=True)
class LogStatus:
    size: int
    root: str
    checkpoint_time: datetime | None
    key_id: str


@dataclass(frozen=True)
class FactRow:
    seq: int
    kind: str
    joint: str
    author: str
    written_at: datetime
    digest: str
