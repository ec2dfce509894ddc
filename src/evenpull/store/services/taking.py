"""Taking in files of tools: preview writes nothing, commit is all or nothing, the same content is never taken twice.

    file + mapping --intake.read--> Reading --compare with what is there--> Preview | facts

One file gives one fact "file" (with what was repeated and set aside), one fact for each record, one for each row that
could not be read. A record's key is tool, memory epoch and counter, so that the database itself holds one content for
each reading of a tool; a second content under the same key is a conflict.
"""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from evenpull.intake import Reading, Tightening, canonical_tightening, read_bytes, read_file, to_json
from evenpull.intake.mapping import Mapping
from evenpull.intake.sources import printable
from evenpull.intake.withdrawn import free_key, why_not_again
from evenpull.store.services import facts, readings, received, register
from evenpull.store.services.comparing import Comparison, compare
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import FILE, RECORD, UNREAD
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw
from evenpull.store.services.rows import Imported, Preview
from evenpull.store.services.tools_used import doubts_of

SHOWN_CONFLICTS = 20
LONGEST_NAME = 255  # bytes or characters that file systems allow


def preview_file(name: str, data: bytes | Path, mapping_name: str) -> Preview:
    """What committing this file would do. Writes nothing. IntakeError when the file cannot be taken in as a whole."""
    return preview(name, data, register.mapping(mapping_name))


def preview(name: str, data: bytes | Path, mapping: Mapping) -> Preview:
    """The same under a mapping that may not be written yet."""
    reading = _read(called(name), data, mapping)
    found = compare(reading.tightenings)
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
        readings.of_files([reading.file_sha256]).standing(reading.file_sha256) is not None,
        doubts_of(reading.tightenings),
    )


def commit_file(
    name: str, data: bytes | Path, mapping_name: str, author: str, *, by_person: bool = True
) -> Imported:
    """Take the file in, wholly or not at all. The identical file again changes nothing (`already`).

    Refused on a conflict: the same tool and counter with different content. Which of the two is true is for a person
    to find out; the program does not choose. Refused when a program (`by_person` False) sends a file again of which
    a person withdrew the reading: that it counts again is for a person to say.
    """
    with _no_collection():
        return _commit(called(name), data, register.mapping(mapping_name), checked_author(author), by_person=by_person)


def commit_new(name: str, data: bytes | Path, mapping: Mapping, text: str, who: str) -> Imported:
    """The same under a mapping that is written with it. `text` is that of the mapping; `who` an author checked."""
    with _no_collection():
        return _commit(called(name), data, mapping, who, text=text)


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


def _commit(
    name: str, data: bytes | Path, mapping: Mapping, who: str, *, text: str = "", by_person: bool = True
) -> Imported:
    reading = _read(name, data, mapping)
    sha256 = reading.file_sha256
    if (earlier := _already(reading)) is not None:
        return earlier
    kept = keep_raw(data)
    if kept != sha256:
        raise Refused(f"{name} was changed while it was read; take it in again once complete. Nothing was written.")
    with writing():
        if (earlier := _already(reading)) is not None:  # another process was faster
            return earlier
        if not by_person and (before := received.readings_of(sha256)) and (said := before[-1].withdrawn):
            raise Refused(
                f"{name}: {said.by} withdrew the reading of this file on {said.at:%Y-%m-%d %H:%M} UTC: {said.why}. "
                "A person takes it in again, on the pages or by the command import. Nothing was written."
            )
        found = compare(reading.tightenings)
        if found.conflicts:
            more = len(found.conflicts) - SHOWN_CONFLICTS
            listed = "; ".join(found.conflicts[:SHOWN_CONFLICTS]) + (f"; and {more} more" if more > 0 else "")
            raise Refused(
                f"{name}: nothing was written. {listed}. Find out which is true. If it is this file, withdraw the "
                "reading of the other one on its page, and say why; then take this one in. If it is the other, leave "
                "this file out, or correct single records by an entry."
            )
        if text:
            if not reading.tightenings:
                raise Refused(
                    f"{name}: not one row becomes a record under this mapping. Change it, or take a file that holds "
                    "records. Nothing was written."
                )
            register.add_mapping(text, f"{mapping.name}.toml", who, new_name=True)
        append(_facts(reading, found), who)
    return Imported(sha256, False, len(found.new), len(found.repeated), len(reading.unread), len(reading.set_aside))


def called(name: str) -> str:
    """The name of a file as facts can keep it. Refused when it is longer than names of files are."""
    if not 1 <= len(name) <= LONGEST_NAME:
        raise Refused(
            f"the name of the file has {len(name)} characters, beginning {name[:40]!r}; it may have 1 to "
            f"{LONGEST_NAME}. Give it a shorter one. Nothing was written."
        )
    return printable(name)


def _read(name: str, data: bytes | Path, mapping: Mapping) -> Reading:
    if isinstance(data, bytes):
        return read_bytes(data, mapping, name)
    return read_file(data, mapping, name=name)


def _already(reading: Reading) -> Imported | None:
    """The answer when the file has a reading that counts; Refused when that was under another mapping."""
    known = readings.of_files([reading.file_sha256])
    if known.standing(reading.file_sha256) is None:
        return None
    fact = received.last_fact(reading.file_sha256)
    assert fact is not None
    body = fact.data
    if body["mapping_sha256"] != reading.mapping_sha256:
        raise Refused(
            f"{reading.file} was taken in before, as {body['name']!r}, with another state of mapping "
            f"{body['mapping']!r}: {why_not_again(reading.file_sha256, known)}. Nothing was written."
        )
    return Imported(reading.file_sha256, True, 0, 0, 0, 0)


def _facts(reading: Reading, found: Comparison) -> Iterator[New]:
    joints = Counter(t.joint for t in found.new.values())
    before = len(received.file_facts(reading.file_sha256))  # readings of this file, all of them withdrawn
    yield New(
        FILE,
        free_key(f"{FILE}:{reading.file_sha256}", before),
        {
            "name": reading.file,
            "sha256": reading.file_sha256,
            "size": reading.size,
            "mapping": reading.mapping,
            "mapping_sha256": reading.mapping_sha256,
            "encoding": reading.encoding,
            "columns": list(reading.columns),
            "new": len(found.new),
            "repeated": [{"row": t.row, "joint": t.joint, "key": t.key} for t, _ in found.repeated],
            "unread": len(reading.unread),
            "set_aside": [{"row": s.row, "why": s.why, "raw": s.raw} for s in reading.set_aside],
            "joints": sorted(joints),
            "notes": list(reading.notes),
        },
    )
    yield from record_facts(found.new)
    for lost in reading.unread:
        key = free_key(f"{UNREAD}:{lost.file_sha256}:{lost.row}", before)
        yield New(UNREAD, key, to_json(lost), received.column(lost.joint))


def record_facts(new: dict[str, Tightening]) -> Iterator[New]:
    """Records as facts, by the keys under which they are written."""
    for key, row in new.items():
        body = to_json(row)
        yield New(RECORD, key, body, received.column(row.joint), text=canonical_tightening(body))
