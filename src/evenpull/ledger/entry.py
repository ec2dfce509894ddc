"""An entry: one thing that a person states, as written, with when it happened and how the writer knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal, get_args

Basis = Literal["did it", "saw it", "was told", "from paper", "from a device"]
BASES: tuple[Basis, ...] = get_args(Basis)
Subject = Literal["joint", "tool", "person", "lot"]


class EntryError(ValueError):
    """An entry that cannot be written. `faults`: (field, what is wrong, what is allowed) in the order of the form."""

    def __init__(self, kind: str, faults: tuple[tuple[str, str, str], ...]) -> None:
        self.kind, self.faults = kind, faults
        super().__init__("; ".join(f"{kind}: {name}: {what} (allowed: {allowed})" for name, what, allowed in faults))


@dataclass(frozen=True, slots=True)
class Entry:
    """`values` are the fields of its kind (see `kinds.KINDS`), tidied texts; quantities keep the unit as written.

    Three times are kept apart: `at` is when it happened, as stated; `written_at` when it was written; an entry written
    later than `LATE` after it happened is a late entry and says `basis` and `reason`. A back-dated `written_at` cannot
    be: the program sets it.
    """

    id: str  # "entry 17": unique in the dossier, given once
    kind: str
    subject: Subject
    name: str  # joint id, tool serial, person's name, lot
    unit: str  # of a series; "" otherwise
    fasteners: tuple[int, ...]  # () means the subject as a whole
    at: datetime  # aware, UTC
    at_uncertainty: float  # s; how exactly the writer knows it
    basis: Basis
    reason: str  # "" unless the kind or a late entry needs one
    by: str  # who wrote it
    written_at: datetime
    values: Mapping[str, str] = field(default_factory=dict, hash=False)
    seq: int = -1  # place in the log; -1 while it is only proposed
    covers: tuple[str, ...] = ()  # of an exception: keys of what stood against its gate when it was written

    @property
    def late(self) -> bool:
        return (self.written_at - self.at).total_seconds() > LATE

    def text(self, name: str) -> str:
        """A field as written, "" when it is not stated."""
        return self.values.get(name, "")


LATE = 24 * 3600.0  # s between happening and writing from which an entry is late; common practice, no source


def to_json(entry: Entry) -> dict[str, Any]:
    """The body of the fact. `by`, `written_at`, `seq` and `id` stand in the envelope."""
    body: dict[str, Any] = {
        "form": "evenpull entry 1",
        "kind": entry.kind,
        "subject": entry.subject,
        "name": entry.name,
        "unit": entry.unit,
        "fasteners": list(entry.fasteners),
        "at": entry.at.isoformat().replace("+00:00", "Z"),
        "at_uncertainty": entry.at_uncertainty,
        "basis": entry.basis,
        "reason": entry.reason,
        "values": dict(entry.values),
    }
    return body | {"covers": list(entry.covers)} if entry.covers else body


def from_json(body: Mapping[str, Any], *, id: str, by: str, written_at: datetime, seq: int) -> Entry:
    """The inverse of `to_json`; KeyError or ValueError for anything it did not write."""
    if body["form"] != "evenpull entry 1":
        raise ValueError(f"{body['form']!r} is not an entry")
    return Entry(
        id, body["kind"], body["subject"], body["name"], body["unit"], tuple(body["fasteners"]),
        datetime.fromisoformat(body["at"]), float(body["at_uncertainty"]), body["basis"], body["reason"], by,
        written_at, dict(body["values"]), seq, tuple(body.get("covers", ())),
    )  # fmt: skip
