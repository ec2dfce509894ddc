"""Corrections of records: a new fact names the old value, the new one, who, when, why. The record itself is never
changed; what is judged is the record with its corrections, and both stay readable.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, get_args

from evenpull.intake.record import Direction, EventType, Tightening
from evenpull.ledger.entry import Entry
from evenpull.quantities import UnitError, parse


@dataclass(frozen=True)
class Corrected:
    """What became of one correction. `fault` says why it was not applied, "" when it was; `at`: the field of the
    correction that does not fit. `opened`: the record was one of loosening, removal or replacement, and the correction
    may say that it opened nothing, or something else."""

    record: str  # Tightening.key
    entry: Entry
    text: str
    fault: str
    opened: bool = False
    at: str = ""


DECIDING = ("joint", "unit", "fastener", "event", "direction", "time", "tool")  # which fastener was opened, and when


def _opens(record: Tightening) -> bool:
    return record.direction == "loosen" or record.event in ("loosen", "remove", "replace")


def value_of(record: Tightening, field: str) -> str:
    """A field of a record as a correction has to name it: the text as received where there is one."""
    if field == "pass":
        return "" if record.pass_number is None else str(record.pass_number)
    name = {
        "unit": "unit_id", "torque": "torque_text", "angle": "angle_text", "time": "time_text",
    }.get(field, field)  # fmt: skip
    return str(getattr(record, name))


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or not 1 <= int(text) <= 10_000:
        raise ValueError(f"{text!r} is not a number from 1 to 10000")
    return int(text)


def _one_of(allowed: tuple[str, ...]) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text not in allowed:
            raise ValueError(f"{text!r} is none of: {', '.join(allowed)}")
        return text

    return check


def _time(text: str) -> datetime:
    found = datetime.fromisoformat(text)
    if found.tzinfo is None:
        raise ValueError(f"{text!r} has no offset from UTC")
    return found.astimezone(UTC)


def new_value(record: Tightening, field: str, text: str) -> dict[str, Any]:
    """Fields of the record that a correction sets. ValueError says why the new value cannot be."""
    if field == "torque":
        found = parse(text, "torque", default_unit=record.torque_unit or None)
        return {"torque": found.si, "torque_text": text, "torque_unit": record.torque_unit or "N.m"}
    if field == "angle":
        return {"angle": parse(text, "angle", default_unit="deg").si, "angle_text": text}
    if field == "time":
        return {"time": _time(text), "time_text": text, "time_doubt": ""}
    if field in ("fastener", "pass"):
        return {"fastener" if field == "fastener" else "pass_number": _whole(text)}
    if field == "event":
        return {"event": _one_of(get_args(EventType))(text)}
    if field == "direction":
        return {"direction": _one_of(get_args(Direction))(text)}
    return {"unit_id" if field == "unit" else field: text}


def check_correction(records: Sequence[Tightening], entries: Iterable[Entry], entry: Entry) -> Corrected:
    """What would become of a correction that is not written yet. `records` as received; `entries`: those written, whose
    corrections come before it."""
    before = [one for one in entries if one.kind == "correction"]
    last = replace(entry, seq=max((one.seq for one in before), default=0) + 1)
    return apply(records, (*before, last))[1][-1]


def _fault(record: Tightening, entry: Entry) -> tuple[str, str]:
    """Which field of the correction does not fit the record, and why; "" both when all do."""
    field, old, new = entry.text("field"), entry.text("old"), entry.text("new")
    said = " ".join(value_of(record, field).split())
    if said != old and not (said == "" and old == "not stated"):
        return "old", f"the record says {said or 'not stated'!r} for {field}, not {old!r}"
    try:
        new_value(record, field, new)
    except UnitError as error:
        return "new", f"{new!r} is no {field}: {error.reason}"
    except ValueError as error:
        return "new", str(error)
    return "", ""


def apply(
    records: Sequence[Tightening], entries: Iterable[Entry]
) -> tuple[tuple[Tightening, ...], tuple[Corrected, ...]]:
    """The records as corrected, in the same order, and what became of each correction in the order of writing."""
    held = {record.key: record for record in records}
    former = {record.former_key: record.key for record in records}
    found: list[Corrected] = []
    for entry in sorted((e for e in entries if e.kind == "correction"), key=lambda e: e.seq):
        key, field = former.get(entry.text("record"), entry.text("record")), entry.text("field")
        text = (
            f"{field}: {entry.text('old')!r} corrected to {entry.text('new')!r} by {entry.by} on "
            f"{entry.written_at:%Y-%m-%d %H:%M} UTC ({entry.basis}): {entry.reason}"
        )
        record = held.get(key)
        if record is None:
            found.append(Corrected(key, entry, text, "it names no record of this joint", at="record"))
            continue
        at, fault = _fault(record, entry)
        found.append(Corrected(key, entry, text, fault, field in DECIDING and _opens(record), at))
        if not fault:
            made = new_value(record, field, entry.text("new"))
            held[key] = replace(record, **made, remarks=(*record.remarks, f"corrected: {text}"))
    order = [record.key for record in records]
    return tuple(held[key] for key in order), tuple(found)
