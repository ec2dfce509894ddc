"""The only door for entries: what was stated, against the table of kinds. All faults are said at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from difflib import get_close_matches
from typing import cast

from evenpull.ledger.entry import BASES, LATE, Basis, Entry, EntryError
from evenpull.ledger.forms import (
    LONGEST_LONG,
    LONGEST_NAME,
    LONGEST_TEXT,
    Fault,
    NumbersError,
    fastener_numbers,
    form_fault,
    tidy_text,
)
from evenpull.ledger.kinds import KINDS, Field, Kind
from evenpull.quantities import Kind as QuantityKind
from evenpull.quantities import parse

__all__ = ["NumbersError", "check", "fastener_numbers", "render"]

MOST_UNCERTAIN = 366 * 24 * 3600.0  # s; who does not know the year of it does not know it
AHEAD = timedelta(seconds=60)  # clocks of browser and machine differ a little
SHORTEST_REASON = 5  # characters


def check(
    kind: str,
    values: Mapping[str, object],
    *,
    name: str,
    unit: str,
    fasteners: Sequence[int] | str,
    at: datetime | None,
    at_uncertainty: float,
    basis: Basis | str,
    reason: str,
    by: str,
    written_at: datetime,
    count: int | None,
) -> Entry:
    """The entry, or EntryError with every fault. `count`: fasteners of the joint, None for another subject.

    `at` and `written_at` aware; `id` and `seq` are given by the log when it is written. ValueError for a `written_at`
    without offset: the program sets it, not a person.
    """
    if written_at.utcoffset() is None:
        raise ValueError("written_at has no offset from UTC")
    known = KINDS.get(kind)
    if known is None:
        near = get_close_matches(kind[:60], KINDS, 3, 0.5)
        raise EntryError(kind[:60], (("kind", "is not known", ", ".join(near or KINDS)),))
    faults: list[Fault] = []
    tidy = _values(known, values, count, written_at, faults)
    _together(known, tidy, faults)
    numbers = _fasteners(known, fasteners, count, faults)
    why = tidy_text("reason", reason, LONGEST_LONG, faults, required=False)
    subject = tidy_text("name", name, LONGEST_NAME, faults, required=True)
    of_unit = tidy_text("unit", unit, LONGEST_NAME, faults, required=False)
    if of_unit and known.subject != "joint":
        faults.append(("unit", f"is stated, but this is about a {known.subject}", "nothing"))
    who = tidy_text("by", by, 80, faults, required=True)
    if 0 < len(who) < 2:
        faults.append(("by", f"{who!r} is no person's name", "2 to 80 characters"))
    moment = _time(at, at_uncertainty, written_at, faults)
    if basis not in BASES:
        faults.append(("basis", f"{str(basis)[:60]!r} is not known", ", ".join(BASES)))
    late = moment is not None and (written_at - moment).total_seconds() > LATE
    if (known.reason or late) and len(why) < SHORTEST_REASON:
        what = "it is written more than a day after it happened" if late else "this kind of entry needs one"
        allowed = f"the reason in words, {SHORTEST_REASON} characters or more"
        faults.append(("reason", f"is missing: {what}", allowed))
    if faults or moment is None:
        raise EntryError(kind, tuple(faults))
    return Entry(
        "", kind, known.subject, subject, of_unit, numbers, moment, float(at_uncertainty), cast(Basis, basis), why, who,
        written_at, tidy,
    )  # fmt: skip


def _values(
    kind: Kind, given: Mapping[str, object], count: int | None, written_at: datetime, faults: list[Fault]
) -> dict[str, str]:
    fields = {one.name: one for one in kind.fields}
    for name in given:
        if name not in fields:
            near = get_close_matches(str(name)[:60], fields, 3, 0.5) or list(fields)
            faults.append((str(name)[:60], "is no field of this entry", ", ".join(near) or "none: it has no fields"))
    found = {}
    for name, field in fields.items():
        raw = given.get(name, "")
        if not isinstance(raw, str):
            faults.append((name, "is not a text", "a text"))
            continue
        long = field.form == "long text"
        most = LONGEST_LONG if long else LONGEST_TEXT
        text = tidy_text(name, raw, most, faults, required=field.required, lines=long)
        if not text:
            continue
        if (fault := form_fault(field, text, count, written_at)) is None:
            found[name] = text
        else:
            faults.append((name, *fault))
    return found


def _together(kind: Kind, values: Mapping[str, str], faults: list[Fault]) -> None:
    """What the fields say together. A field with a fault of its own is not in `values` and is not judged again."""
    faulty = {name for name, _, _ in faults}
    if kind.one_of and not any(name in values for name in kind.one_of) and not faulty & set(kind.one_of):
        faults.append((kind.one_of[0], "nothing is stated", f"at least one of: {', '.join(kind.one_of)}"))
    fields = {one.name: one for one in kind.fields}
    for lower, upper in kind.rising:
        if lower in values and upper in values and _size(fields[lower], values) > _size(fields[upper], values):
            faults.append((lower, f"{values[lower]!r} is beyond {values[upper]!r}", f"not more than {upper}"))
    for one, other in kind.differ:
        if one in values and values[one].casefold() == values.get(other, "").casefold():
            faults.append((other, f"{values[other]!r} is the same as {one}", f"another than {one}"))
    if kind.name == "parts fitted" and "use" in values and "condition" in values:
        use, new = int(values["use"]), values["condition"] == "new"
        if use < 1 or (use == 1) != new:
            what = f"{use} does not go with {values['condition']!r}"
            faults.append(("use", what, "1 for a new part, 2 or more for a used one"))


def _size(field: Field, values: Mapping[str, str]) -> float:
    """What two fields are compared by: the day or the SI value."""
    text = values[field.name]
    if field.form == "date":
        return date.fromisoformat(text).toordinal()
    return parse(text, cast(QuantityKind, field.quantity)).si


def _fasteners(kind: Kind, given: Sequence[int] | str, count: int | None, faults: list[Fault]) -> tuple[int, ...]:
    allowed = f"1 to {count}" if count else "none"
    if not isinstance(given, str) and any(isinstance(n, bool) or not isinstance(n, int) for n in given):
        faults.append(("fasteners", "are not whole numbers", allowed))
        return ()
    try:
        numbers = fastener_numbers(given) if isinstance(given, str) else tuple(sorted(set(given)))
    except NumbersError as error:
        faults.append(("fasteners", str(error), error.allowed))
        return ()
    if kind.fasteners == "no" and numbers:
        faults.append(("fasteners", "are named, but this kind of entry is about the whole", "none"))
    elif kind.fasteners == "needed" and not numbers:
        faults.append(("fasteners", "are missing", allowed))
    elif outside := [n for n in numbers if n < 1 or (count is not None and n > count)]:
        faults.append(("fasteners", f"{outside[0]} is not a fastener of this joint", allowed))
    return numbers


def _time(at: datetime | None, uncertainty: float, written_at: datetime, faults: list[Fault]) -> datetime | None:
    """The moment in UTC, None with a fault where it cannot be."""
    if not (math.isfinite(uncertainty) and 0 <= uncertainty <= MOST_UNCERTAIN):
        faults.append(("at_uncertainty", f"{uncertainty} cannot be", "seconds, 0 to a year"))
    if at is None:
        faults.append(("at", "is missing", "when it happened"))
    elif at.utcoffset() is None:
        faults.append(("at", "has no offset from UTC", "a moment with its offset"))
    elif at.year <= 1970:
        faults.append(("at", f"the year {at.year} cannot be", "1971 or later"))
    elif at > written_at + AHEAD:
        faults.append(("at", f"{at.isoformat()} lies in the future", f"not after {written_at.isoformat()}"))
    else:
        return at.astimezone(UTC)
    return None


def render(entry: Entry) -> str:
    """One plain line: what, where, when, by whom, how known."""
    kind = KINDS.get(entry.kind)
    labels = {one.name: one.label for one in kind.fields} if kind else {}
    order = list(labels)
    said = sorted(entry.values.items(), key=lambda item: order.index(item[0]) if item[0] in labels else len(order))
    words = "; ".join(f"{labels.get(name, name)}: {' '.join(text.split())}" for name, text in said)
    many = "s" if len(entry.fasteners) > 1 else ""
    where = f", fastener{many} {', '.join(map(str, entry.fasteners))}" if entry.fasteners else ""
    where = (f", {entry.unit}" if entry.unit else "") + where
    late = " (late entry)" if entry.late else ""
    reason = f"; reason: {entry.reason}" if entry.reason else ""
    return (
        f"{kind.label if kind else entry.kind}{where}, {entry.at:%Y-%m-%d %H:%M} UTC{late}"
        f"{': ' + words if words else ''}; {entry.by}, {entry.basis}{reason}"
    )
