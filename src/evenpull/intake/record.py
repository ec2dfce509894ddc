"""What happened, as the sources said it: tightenings with their raw text, and the rows that could not be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

Direction = Literal["tighten", "loosen", "unknown"]
EndCause = Literal["reached", "stopped by user", "limit", "error", "unknown"]
EventType = Literal[
    "first", "step", "check pass", "touch-up", "re-tighten after service", "loosen", "remove", "replace",
    "residual check", "check-device pull", "unstated",
]


class IntakeError(Exception):
    """A file or mapping that cannot be taken in at all. Names file, place, field, limit and way out; nothing kept
    half. `code` is stable for tests and pages (e.g. "empty-file", "not-a-table", "duplicate-column")."""

    def __init__(
        self, code: str, file: str, message: str, *, line: int | None = None, field: str | None = None
    ) -> None:
        self.code, self.file, self.line, self.field, self.message = code, file, line, field, message
        where = file + (f", line {line}" if line is not None else "") + (f", {field}" if field else "")
        super().__init__(f"{where}: {message}")


@dataclass(frozen=True, slots=True)
class Particular:
    """One further field of a record: the text as received, and its SI value where the field is a quantity."""

    text: str
    unit: str = ""
    si: float | None = None


@dataclass(frozen=True, slots=True)
class Tightening:
    """One tightening event on one fastener, as read from one row. SI values beside the untouched texts."""

    file_sha256: str
    row: int  # 1-based line (CSV) or row (spreadsheet) in the source file
    joint: str
    unit_id: str  # "" unless the joint is a series
    fastener: int
    pass_number: int | None  # None: the source does not say
    event: EventType
    torque: float | None  # N.m; None when the source gives none
    torque_text: str
    torque_unit: str
    angle: float | None  # rad
    angle_text: str
    direction: Direction
    end_cause: EndCause
    result_text: str  # the source's own verdict, untouched
    source_verdict: Literal["accepted", "not accepted", "none"]
    tool: str
    counter: int | None
    epoch: str  # memory epoch of the tool, "" when not stated
    operator: str
    time_text: str
    time: datetime | None  # aware, UTC
    time_basis: str  # zone named by the mapping
    time_doubt: str  # "" or why the time is ambiguous, does not exist, ...
    received_cells: Mapping[str, str]  # every cell of the row by its column name
    raw_sha256: str  # hash of the raw row text
    remarks: tuple[str, ...]  # what the reader noticed (unit slip suspected, ...), never a repair
    particulars: Mapping[str, Particular] = field(default_factory=dict, hash=False)  # by the names of `fields.FIELDS`

    @property
    def card_line(self) -> tuple[str, str, str] | None:
        """Card, pass and line that name it where no tool counts: each pass has its own sheet, whose rows count from
        its top. Serials without regard to capitals, lines as numbers. None where a counter names it, or no line."""
        if (self.tool and self.counter is not None) or "card" not in self.particulars:
            return None
        line = self.particulars.get("card_line")
        serial = " ".join(self.particulars["card"].text.split()).upper()
        row = "" if line is None else " ".join(line.text.split()).upper()
        if not serial or not row:
            return None
        if row.isascii() and row.isdecimal():
            row = row.lstrip("0") or "0"
        return serial, "" if self.pass_number is None else str(self.pass_number), row

    @property
    def source(self) -> str:
        """What the source calls it (records field 2): tool, epoch and counter; card, pass and line where no counter
        exists; file and row where neither does."""
        if self.tool and self.counter is not None:
            return f"{self.tool}/{self.epoch}/{self.counter}"
        if (line := self.card_line) is not None:
            return f"card {'/'.join(line)}"
        return f"{self.file_sha256[:16]}/{self.row}"

    @property
    def former_key(self) -> str:
        """What `key` was before lines of cards named records (docs/decisions/0018); for all others `key`."""
        if self.card_line is None:
            return self.key
        return f"{self.file_sha256[:16]}/{self.row}/{self.raw_sha256[:16]}"

    @property
    def key(self) -> str:
        """`source` with the beginning of the hash of the raw row: names one content under it."""
        return f"{self.source}/{self.raw_sha256[:16]}"


@dataclass(frozen=True, slots=True)
class UnreadRow:
    """A row that could not become a tightening: kept, shown with its reason, never dropped.

    `raw` is the text of the row as it stood in the file (NUL shown as U+2400); `raw_sha256` is the hash of the text
    before that. `joint` is what stood in the joint column, "" where even that could not be read.
    """

    file_sha256: str
    row: int
    raw: str
    code: str
    reason: str
    raw_sha256: str
    joint: str = ""
    tool: str = ""  # as far as they could be read, so that the counter leaves no unexplained gap
    epoch: str = ""
    counter: int | None = None


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row that is not a record by the mapping's own rule (banner, header, blank, footer): counted and kept."""

    row: int
    raw: str
    why: str


@dataclass(frozen=True)
class Reading:
    """All that one file gave under one mapping. rows = tightenings + unread + set_aside, nothing else."""

    file: str
    file_sha256: str
    size: int
    mapping: str
    mapping_sha256: str
    encoding: str
    columns: tuple[str, ...]
    tightenings: tuple[Tightening, ...]
    unread: tuple[UnreadRow, ...]
    set_aside: tuple[SetAside, ...]
    notes: tuple[str, ...]
