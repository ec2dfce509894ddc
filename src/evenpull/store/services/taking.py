"""Taking in files of tools: preview writes nothing, commit is all or nothing, the same content is never taken twice.

    file + mapping --intake.read--> Reading --compare with what is there--> Preview | facts

One file gives one fact "file" (with what was repeated and set aside), one fact for each record, one for each row that
could not be read. A record's key is tool, memory epoch and counter, so that the database itself holds one content for
each reading of a tool; a second content under the same key is a conflict.
"""

from __future__ import annotations

import gc
import hashlib
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from urllib.parse import quote

from django.db.models import Sum

from evenpull.evidence.checkpoint import read_moment
from evenpull.intake import Reading, Tightening, canonical_tightening, from_json, read_bytes, read_file, to_json
from evenpull.intake.record import UnreadRow
from evenpull.intake.sources import printable
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import facts, register
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import FILE, RECORD, UNREAD
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw
from evenpull.store.services.rows import FileRow, FileView, Imported, Preview, SetAsideRow, UnplacedRow

SHOWN_CONFLICTS = 20
KEYS_AT_ONCE = 500
LONGEST_KEY = 300
LONGEST_NAME = 255  # bytes or characters that file systems allow


@dataclass(frozen=True)
class _Comparison:
    new: tuple[Tightening, ...]
    repeated: tuple[Tightening, ...]
    conflicts: tuple[str, ...]


def preview_file(name: str, data: bytes | Path, mapping_name: str) -> Preview:
    """What committing this file would do. Writes nothing. IntakeError when the file cannot be taken in as a whole."""
    reading = _read(_called(name), data, mapping_name)
    found = _compare(reading)
    joints = sorted({t.joint for t in reading.tightenings})
    ids = register.described(joints)
    strange = [j for j in joints if facts.fold(j) not in ids]
    known = register.joint_ids() if strange else []
    unknown = {j: register.near(j, known) for j in strange}
    return Preview(
        reading,
        len(found.new),
        len(found.repeated),
        found.conflicts,
        tuple(dict.fromkeys(ids[facts.fold(j)] for j in joints if facts.fold(j) in ids)),
        unknown,
        reading.file_sha256,
        _file_fact(reading.file_sha256) is not None,
    )


def commit_file(name: str, data: bytes | Path, mapping_name: str, author: str) -> Imported:
    """Take the file in, wholly or not at all. The identical file again changes nothing (`already`).

    Refused on a conflict: the same tool and counter with different content. Which of the two is true is for a person
    to find out; the program does not choose.
    """
    with _no_collection():
        return _commit(_called(name), data, mapping_name, checked_author(author))


@contextmanager
def _no_collection() -> Iterator[None]:
    """Millions of small values without a cycle among them are made here: looking for cycles again and again would cost
    as much as making them."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def _commit(name: str, data: bytes | Path, mapping_name: str, who: str) -> Imported:
    reading = _read(name, data, mapping_name)
    sha256 = reading.file_sha256
    if (earlier := _already(reading)) is not None:
        return earlier
    kept = keep_raw(data)
    if kept != sha256:
        raise Refused(f"{name} was changed while it was read; take it in again once complete. Nothing was written.")
    with writing():
        if (earlier := _already(reading)) is not None:  # another process was faster
            return earlier
        found = _compare(reading)
        if found.conflicts:
            more = len(found.conflicts) - SHOWN_CONFLICTS
            listed = "; ".join(found.conflicts[:SHOWN_CONFLICTS]) + (f"; and {more} more" if more > 0 else "")
            raise Refused(f"{name}: nothing was written. {listed}. Find out which is true, then take in the true one.")
        append(_facts(reading, found), who)
    return Imported(sha256, False, len(found.new), len(found.repeated), len(reading.unread), len(reading.set_aside))


def _called(name: str) -> str:
    """The name of a file as facts can keep it. Refused when it is longer than names of files are."""
    if not 1 <= len(name) <= LONGEST_NAME:
        raise Refused(
            f"the name of the file has {len(name)} characters, beginning {name[:40]!r}; it may have 1 to "
            f"{LONGEST_NAME}. Give it a shorter one. Nothing was written."
        )
    return printable(name)


def _read(name: str, data: bytes | Path, mapping_name: str) -> Reading:
    mapping = register.mapping(mapping_name)
    if isinstance(data, bytes):
        return read_bytes(data, mapping, name)
    return read_file(data, mapping, name=name)


def _file_fact(sha256: str) -> Fact | None:
    return Fact.objects.filter(key=f"{FILE}:{sha256}").first()


def _already(reading: Reading) -> Imported | None:
    fact = _file_fact(reading.file_sha256)
    if fact is None:
        return None
    body = fact.data
    if body["mapping_sha256"] != reading.mapping_sha256:
        raise Refused(
            f"{reading.file} was taken in before, as {body['name']!r}, with another state of mapping "
            f"{body['mapping']!r}. A fact is written once: a wrong reading is answered by a disposition, not by a "
            "second reading. Nothing was written."
        )
    return Imported(reading.file_sha256, True, 0, 0, 0, 0)


@lru_cache(maxsize=8192)
def _quoted(text: str) -> str:
    return quote(text, safe=" ")


def _key(row: Tightening) -> str:
    """Key of a record: tool, epoch and counter, or file and row where the source gives no counter.

    Quoted, so that no character of one part can pass for the next part and every database takes it.
    """
    if not row.tool or row.counter is None:
        return f"{RECORD} in file:{row.file_sha256}/{row.row}"
    key = f"{RECORD}:{_quoted(row.tool)}/{_quoted(row.epoch)}/{row.counter}"
    return key if len(key) <= LONGEST_KEY else f"{RECORD} by hash:{hashlib.sha256(key.encode()).hexdigest()}"


def column(joint: str) -> str:
    """A joint as written in a file, as far as a column can hold it; longer texts are no joint id anyhow.

    The body of the fact keeps the text to the letter.
    """
    return joint.replace("\0", "\u2400")[:100]


def _compare(reading: Reading) -> _Comparison:
    """New, repeated and conflicting records of a reading against all that is written."""
    written = _written(reading.tightenings)
    new: dict[str, Tightening] = {}
    repeated: list[Tightening] = []
    conflicts: list[str] = []
    for row in reading.tightenings:
        key = _key(row)
        other = written.get(key) or new.get(key)
        if other is None:
            new[key] = row
        elif other.raw_sha256 == row.raw_sha256:
            repeated.append(row)
        else:
            conflicts.append(_conflict(row, other, reading))
    return _Comparison(tuple(new.values()), tuple(repeated), tuple(conflicts))


def _written(rows: tuple[Tightening, ...]) -> dict[str, Tightening]:
    """Records already written under the keys of these rows."""
    keys = list(dict.fromkeys(_key(row) for row in rows))
    found: dict[str, Tightening] = {}
    for begin in range(0, len(keys), KEYS_AT_ONCE):
        for fact in Fact.objects.filter(key__in=keys[begin : begin + KEYS_AT_ONCE]):
            record = from_json(fact.data)
            if isinstance(record, Tightening):
                found[fact.key] = record
    return found


def _conflict(row: Tightening, other: Tightening, reading: Reading) -> str:
    """Both contents in words, and where the first one came from."""
    where = f"row {other.row} of this file"
    if other.file_sha256 != reading.file_sha256:
        fact = _file_fact(other.file_sha256)
        where = f"row {other.row} of {fact.data['name'] if fact else other.file_sha256}"
    memory = f", memory {row.epoch}" if row.epoch else ""
    return (
        f"row {row.row}: tool {row.tool}{memory}, counter {row.counter} says {_said(row)}; "
        f"{where} has the same counter and says {_said(other)}"
    )


def _said(row: Tightening) -> str:
    stage = "" if row.pass_number is None else f" pass {row.pass_number}"
    torque = f"{row.torque_text} {row.torque_unit}".strip() or "no torque"
    return f"{row.joint} fastener {row.fastener}{stage} {torque} at {row.time_text}"


def _facts(reading: Reading, found: _Comparison) -> Iterator[New]:
    joints = Counter(t.joint for t in found.new)
    yield New(
        FILE,
        f"{FILE}:{reading.file_sha256}",
        {
            "name": reading.file,
            "sha256": reading.file_sha256,
            "size": reading.size,
            "mapping": reading.mapping,
            "mapping_sha256": reading.mapping_sha256,
            "encoding": reading.encoding,
            "columns": list(reading.columns),
            "new": len(found.new),
            "repeated": [{"row": t.row, "joint": t.joint, "key": t.key} for t in found.repeated],
            "unread": len(reading.unread),
            "set_aside": [{"row": s.row, "why": s.why, "raw": s.raw} for s in reading.set_aside],
            "joints": sorted(joints),
            "notes": list(reading.notes),
        },
    )
    for row in found.new:
        body = to_json(row)
        yield New(RECORD, _key(row), body, column(row.joint), text=canonical_tightening(body))
    for lost in reading.unread:
        yield New(UNREAD, f"{UNREAD}:{lost.file_sha256}:{lost.row}", to_json(lost), column(lost.joint))


def tightenings(joint_id: str) -> tuple[Tightening, ...]:
    """All records of a joint in the order in which they were written."""
    found = (t for fact in facts.of_joint(joint_id, RECORD) if isinstance(t := from_json(fact.data), Tightening))
    return tuple(t if t.joint == joint_id else _placed(t, joint_id) for t in found)


def _placed(row: Tightening, joint_id: str) -> Tightening:
    """The record under the joint's own id; how the source wrote it stays in the cells and is said."""
    return replace(row, joint=joint_id, remarks=(*row.remarks, f"the source writes the joint {row.joint!r}"))


def unread_rows(joint_id: str) -> tuple[UnreadRow, ...]:
    """Rows that could not be read but name this joint."""
    found = (u for fact in facts.of_joint(joint_id, UNREAD) if isinstance(u := from_json(fact.data), UnreadRow))
    return tuple(replace(u, joint=joint_id) for u in found)


def file_names(most: int) -> list[FileRow]:
    """The latest files taken in, at most so many."""
    return [_file_row(fact) for fact in Fact.objects.filter(kind=FILE).order_by("-seq")[:most]]


def files() -> list[FileRow]:
    """Files taken in, the latest first."""
    return [_file_row(fact) for fact in Fact.objects.filter(kind=FILE).order_by("-seq")]


def _file_row(fact: Fact) -> FileRow:
    body = fact.data
    return FileRow(
        body["name"],
        body["sha256"],
        body["size"],
        body["mapping"],
        body["new"],
        len(body["repeated"]),
        body["unread"],
        len(body["set_aside"]),
        read_moment(fact.received_at),
        fact.author,
        tuple(body["joints"]),
    )


def file(sha256: str) -> FileView:
    """One file with its rows that are no records. Unknown when no such file was taken in."""
    fact = _file_fact(sha256)
    if fact is None:
        raise Unknown(f"no file with SHA-256 {sha256} was taken in")
    unread = [
        u
        for f in Fact.objects.filter(kind=UNREAD, key__startswith=f"{UNREAD}:{sha256}:").order_by("seq")
        if isinstance(u := from_json(f.data), UnreadRow)
    ]
    body = fact.data
    aside = tuple(SetAsideRow(s["row"], s["why"], s["raw"]) for s in body["set_aside"])
    row = _file_row(fact)
    values = {name: getattr(row, name) for name in FileRow.__dataclass_fields__}
    return FileView(**values, unread_rows=tuple(unread), set_aside_rows=aside, notes=tuple(body["notes"]))


def files_of(joint_id: str) -> list[FileRow]:
    """Files that gave records of this joint or repeated some, the first one first."""
    here = Mention.objects.filter(kind__in=("file", "repeated"), fold=facts.fold(joint_id))
    return [_file_row(fact) for fact in facts.by_seq(here.values_list("seq", flat=True))]


def repeated_of(joint_id: str) -> int:
    """How many records of this joint came again and were ignored."""
    here = Mention.objects.filter(kind="repeated", fold=facts.fold(joint_id))
    return here.aggregate(all=Sum("n"))["all"] or 0


def unplaced_count() -> int:
    """How many records name a joint that nobody has described."""
    return Mention.objects.filter(kind="stranger").aggregate(all=Sum("n"))["all"] or 0


def unplaced(most: int | None = None) -> list[UnplacedRow]:
    """Records whose joint nobody has described, at most the first `most`; they join it as soon as somebody does."""
    names = list(Mention.objects.filter(kind="stranger").order_by("seq").values_list("fold", flat=True)[:most])
    places = [
        seq
        for name in names
        for seq in Pull.objects.filter(fold=name).order_by("seq").values_list("seq", flat=True)[:most]
    ]
    known = register.joint_ids() if places else []
    close = lru_cache(maxsize=None)(lambda joint: register.near(joint, known))
    rows = []
    for fact in facts.by_seq(sorted(places)[:most]):
        body = fact.data
        file = _file_fact(body["file_sha256"])
        name = body["file_sha256"][:16] if file is None else file.data["name"]
        rows.append(UnplacedRow(fact.joint, body["fastener"], name, body["row"], close(fact.joint)))
    return rows
