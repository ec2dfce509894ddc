"""Reading a file again: which records count once a reading was withdrawn (docs/decisions/0013).

A file read under a wrong mapping gave records that say what the file never said. They stay readable for ever; a fact
"reading withdrawn" takes them out of what is judged, all of that reading at once. Then the file may be read again.

A record belongs to the last taking of its file that stands before it in the log, so that no record has to be changed
or to carry anything new.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol, TypeVar

LEAST_REASON = 10  # characters; "wrong" alone says nothing to a reader in ten years (common practice, no source)
MOST_REASON = 1000


@dataclass(frozen=True, slots=True)
class Repeat:
    """A row that was not taken, since a record of the same key and content was there. `key`: `Tightening.key`."""

    row: int
    key: str


@dataclass(frozen=True, slots=True)
class Taking:
    """One reading of one file: the fact "file". `seq`: its place in the log, which is its name here."""

    seq: int
    file_sha256: str
    mapping_sha256: str
    repeated: tuple[Repeat, ...] = ()


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """The fact "reading withdrawn": names file and mapping of the reading, and says who withdrew it, when and why."""

    taking: int  # `Taking.seq`
    file_sha256: str
    mapping_sha256: str
    by: str
    at: datetime
    why: str
    seq: int = -1  # place in the log; -1 while it is only proposed


class Placed(Protocol):
    """What is needed of a record or unread row in the log."""

    @property
    def seq(self) -> int: ...
    @property
    def file_sha256(self) -> str: ...
    @property
    def key(self) -> str: ...


class Readings:
    """All readings of a dossier with what was withdrawn of them. ValueError for a withdrawal of no reading."""

    def __init__(self, takings: Iterable[Taking], withdrawals: Iterable[Withdrawal]) -> None:
        self.by_seq = {taking.seq: taking for taking in sorted(takings, key=lambda one: one.seq)}
        self._of_file: dict[str, list[int]] = {}
        for seq, taking in self.by_seq.items():
            self._of_file.setdefault(taking.file_sha256, []).append(seq)
        self.withdrawn: dict[int, Withdrawal] = {}
        for one in sorted(withdrawals, key=lambda one: one.seq):
            if one.taking not in self.by_seq:
                raise ValueError(f"no file was taken in at place {one.taking} of the log")
            self.withdrawn.setdefault(one.taking, one)  # a second one changes nothing

    def of(self, record: Placed) -> Taking:
        """The reading that gave a record. LookupError when its file was never taken in before it."""
        places = self._of_file.get(record.file_sha256, [])
        at = bisect_left(places, record.seq)
        if not at:
            raise LookupError(f"the record at place {record.seq} of the log has no file before it")
        return self.by_seq[places[at - 1]]

    def counts(self, record: Placed) -> bool:
        """The record counts: the reading that gave it was not withdrawn."""
        return self.of(record).seq not in self.withdrawn

    def standing(self, file_sha256: str) -> Taking | None:
        """The reading of a file that counts; None when it was never taken in, or all its readings were withdrawn."""
        left = [seq for seq in self._of_file.get(file_sha256, []) if seq not in self.withdrawn]
        return self.by_seq[left[-1]] if left else None


T = TypeVar("T", bound=Placed)


def counting(records: Iterable[T], readings: Readings) -> list[T]:
    """The records that count, in the order given; the others stay readable and are judged by nobody."""
    return [record for record in records if readings.counts(record)]


def waiting(records: Iterable[Placed], readings: Readings) -> Mapping[int, tuple[int, ...]]:
    """Rows that were left out as repeats of a record that no longer counts, by the place of their file's reading.

    They have to be taken from the raw file, under the mapping of that reading, in the same transaction as the
    withdrawal: otherwise withdrawing one file would lose what another file said too. Of several files that hold the
    row the first one taken gives it.
    """
    held = {record.key for record in counting(records, readings)}
    found: dict[int, list[int]] = {}
    for seq, taking in readings.by_seq.items():
        if seq in readings.withdrawn:
            continue
        for repeat in taking.repeated:
            if repeat.key not in held:
                held.add(repeat.key)
                found.setdefault(seq, []).append(repeat.row)
    return {seq: tuple(sorted(rows)) for seq, rows in found.items()}


def unfit(proposed: Withdrawal, readings: Readings) -> Sequence[tuple[str, str, str]]:
    """What speaks against a withdrawal: (field, what is wrong, what is allowed); empty when it may be written."""
    faults: list[tuple[str, str, str]] = []
    taking = readings.by_seq.get(proposed.taking)
    if taking is None:
        faults.append(("reading", f"no file was taken in at place {proposed.taking} of the log",
                       "the reading of a file that stands in the log"))
    else:
        if (proposed.file_sha256, proposed.mapping_sha256) != (taking.file_sha256, taking.mapping_sha256):
            faults.append(("reading", "file or mapping are not those of this reading",
                           f"file {taking.file_sha256}, mapping {taking.mapping_sha256}"))
        if (earlier := readings.withdrawn.get(taking.seq)) is not None:
            faults.append(("reading", f"it was withdrawn before, by {earlier.by}", "a reading that counts"))
    if not proposed.by.strip():
        faults.append(("by", "nobody is named", "the name of who withdraws it"))
    if not LEAST_REASON <= len(proposed.why.strip()) <= MOST_REASON:
        faults.append(("why", f"the reason has {len(proposed.why.strip())} characters",
                       f"{LEAST_REASON} to {MOST_REASON} characters that say what the reading got wrong"))
    return faults


def why_not_again(file_sha256: str, readings: Readings) -> str:
    """Why a file may not be read now; "" when it may: never taken in, or its last reading was withdrawn."""
    standing = readings.standing(file_sha256)
    if standing is None:
        return ""
    return (f"the reading at place {standing.seq} of the log counts; one file is never counted twice. If it was read "
            "under a wrong mapping, a person withdraws that reading first and says why")


def free_key(key: str, withdrawn_before: int) -> str:
    """Key under which a record is written when so many records of the same key were withdrawn before it.

    The database holds each key once for ever, and withdrawn records keep theirs.
    """
    return key if not withdrawn_before else f"{key}~{withdrawn_before + 1}"
