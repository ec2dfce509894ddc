"""A reading against what is written: what is new, what came before, what contradicts. Only records that count are
compared; the keys of withdrawn ones stay taken, so that the next of the same key gets a further number."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import quote

from evenpull.intake import Tightening, from_json
from evenpull.intake.content import differences, typed
from evenpull.intake.withdrawn import free_key
from evenpull.store.models import Fact, Mention
from evenpull.store.services import readings, received
from evenpull.store.services.fact_kinds import RECORD
from evenpull.store.services.facts import by_key, by_seq, parts
from evenpull.store.services.index import name_of

IN_FILE = f"{RECORD} in file"  # the source names it by nothing that outlives the file
MOST_DIFFERENCES = 8  # in one message
LONGEST_KEY = 300
ONLY_TEXT = "every field reads the same, the text of the row does not: quotes, blanks, the form of a number"


@dataclass(frozen=True)
class Comparison:
    """`new`: key under which to write -> record. `repeated`: the row that came again, and the record that was there."""

    new: dict[str, Tightening]
    repeated: tuple[tuple[Tightening, Tightening], ...]
    conflicts: tuple[str, ...]


@lru_cache(maxsize=8192)
def _quoted(text: str) -> str:
    return quote(text, safe=" ")


def key_of(row: Tightening) -> str:
    """Key of a record: tool, epoch and counter; card, pass and line where the source gives no counter; file and row
    where it gives neither.

    Quoted, so that no character of one part can pass for the next part and every database takes it.
    """
    if row.tool and row.counter is not None:
        key = f"{RECORD}:{_quoted(row.tool)}/{_quoted(row.epoch)}/{row.counter}"
    elif (line := row.card_line) is not None:
        key = f"{RECORD} on card:{'/'.join(map(_quoted, line))}"
    else:
        return f"{IN_FILE}:{row.file_sha256}/{row.row}"
    return key if len(key) <= LONGEST_KEY else f"{RECORD} by hash:{hashlib.sha256(key.encode()).hexdigest()}"


def compare(rows: Sequence[Tightening], besides: frozenset[int] = frozenset()) -> Comparison:
    """New, repeated and conflicting records among these rows of one file against all that is written.

    `besides`: readings that are being withdrawn, as if they were already.
    """
    written, used = _written(rows, besides)
    new: dict[str, Tightening] = {}
    repeated: list[tuple[Tightening, Tightening]] = []
    conflicts: list[str] = []
    for row in rows:
        key = key_of(row)
        other = written.get(key) or new.get(key)
        if other is None:
            new[key] = row
        elif _same(row, other):
            repeated.append((row, other))
        else:
            conflicts.append(_conflict(row, other))
    named = {free_key(key, used.get(key, 0)): row for key, row in new.items()}
    return Comparison(named, tuple(repeated), tuple(conflicts))


def _written(
    rows: Sequence[Tightening], besides: frozenset[int]
) -> tuple[dict[str, Tightening], dict[str, int]]:
    """Records that count under the keys of these rows; and how many withdrawn ones hold a key."""
    left = dict.fromkeys(key_of(row) for row in rows)
    found: dict[str, Tightening] = {}
    used: dict[str, int] = {}
    before = 0
    while left:
        held = _facts_at({free_key(key, before): key for key in left})
        counting = _counting(held.values(), besides)
        left = {}
        for key, (seq, record) in held.items():
            if seq in counting:
                found[key] = record
            else:
                used[key] = before + 1
                left[key] = None
        before += 1
    _add_former([row for row in rows if row.card_line is not None and key_of(row) not in found], besides, found)
    return found, used


def _add_former(rows: list[Tightening], besides: frozenset[int], found: dict[str, Tightening]) -> None:
    """Records of lines of cards that were written before such lines were their key: they still count as that line."""
    serials = list(dict.fromkeys(name_of(line[0]) for row in rows if (line := row.card_line) is not None))
    wanted = {key_of(row) for row in rows}
    for some in parts(serials):
        marks = Mention.objects.filter(kind="card", name__in=some)
        facts = by_seq(marks.values_list("seq", flat=True))
        held = [one for fact in facts if fact.key.startswith(f"{IN_FILE}:") and (one := _record(fact)) is not None]
        counting = _counting(held, besides)
        for seq, record in held:
            if seq in counting and (key := key_of(record)) in wanted:
                found.setdefault(key, record)


def _same(row: Tightening, other: Tightening) -> bool:
    """The same content again: the same text of the row; where people typed a line of a card, the same statements."""
    if other.raw_sha256 == row.raw_sha256:
        return True
    by_hand = row.card_line is not None or (typed(row) and typed(other))
    return by_hand and not differences(row, other)


def _facts_at(keys: dict[str, str]) -> dict[str, tuple[int, Tightening]]:
    """Key as it began -> place and record of the fact under the key as it is now."""
    return {keys[fact.key]: one for fact in by_key(keys) if (one := _record(fact)) is not None}


def _record(fact: Fact) -> tuple[int, Tightening] | None:
    found = from_json(fact.data)
    return (fact.seq, found) if isinstance(found, Tightening) else None


def _counting(held: Iterable[tuple[int, Tightening]], besides: frozenset[int]) -> set[int]:
    """Places of the records that count."""
    given = list(held)
    known = readings.of_files(record.file_sha256 for _, record in given)
    if not besides and not known.withdrawn:
        return {seq for seq, _ in given}
    places = {seq: known.of(readings.Place(seq, record.file_sha256)).seq for seq, record in given}
    return {seq for seq, place in places.items() if place not in known.withdrawn and place not in besides}


def _conflict(row: Tightening, other: Tightening) -> str:
    """Both contents in words, and where the first one came from."""
    where = f"row {other.row} of this file"
    if other.file_sha256 != row.file_sha256:
        fact = received.last_fact(other.file_sha256)
        where = f"row {other.row} of {fact.data['name'] if fact else other.file_sha256}"
    memory = f", memory {row.epoch}" if row.epoch else ""
    unlike = "; ".join(f"{name}: {one} or {two}" for name, one, two in differences(row, other)[:MOST_DIFFERENCES])
    if (line := row.card_line) is not None:
        sheet = f", sheet of pass {line[1]}" if line[1] else ""
        return (
            f"row {row.row}: card {line[0]}{sheet}, line {line[2]} says {_said(row)}; {where} has the same line and "
            f"says {_said(other)} ({unlike})"
        )
    return (
        f"row {row.row}: tool {row.tool}{memory}, counter {row.counter} says {_said(row)}; "
        f"{where} has the same counter and says {_said(other)} ({unlike or ONLY_TEXT})"
    )


def _said(row: Tightening) -> str:
    stage = "" if row.pass_number is None else f" pass {row.pass_number}"
    torque = f"{row.torque_text} {row.torque_unit}".strip() or "no torque"
    return f"{row.joint} fastener {row.fastener}{stage} {torque} at {row.time_text or 'no stated time'}"
