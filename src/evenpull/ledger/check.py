"""The only door for entries: what was stated, against the table of kinds. All faults are said at once."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from difflib import get_close_matches
from typing import cast

from evenpull.ledger.entry import BASES, LATE, Basis, Entry, EntryError
from evenpull.ledger.kinds import KINDS, Field, Kind
from evenpull.quantities import Kind as QuantityKind
from evenpull.quantities import UnitError, parse, units_for

LONGEST_TEXT, LONGEST_LONG, LONGEST_NAME = 200, 2000, 100
MOST_UNCERTAIN = 366 * 24 * 3600.0  # s; who does not know the year of it does not know it
AHEAD = timedelta(seconds=60)  # clocks of browser and machine differ a little
_RANGES = re.compile(r"[0-9]{1,4}(?:-[0-9]{1,4})?(?:[,;][0-9]{1,4}(?:-[0-9]{1,4})?)*")
_NUMBER = re.compile(r"-?[0-9]{1,12}(?:[.,][0-9]{1,6})?")

Fault = tuple[str, str, str]


class NumbersError(ValueError):
    """A list of fastener numbers that cannot be read; `allowed` says the form."""

    def __init__(self, text: str, why: str) -> None:
        self.allowed = "numbers and ranges, such as 1-4, 7"
        super().__init__(f"{text[:60]!r} {why}")


def fastener_numbers(text: str) -> tuple[int, ...]:
    """"1-4, 7" as (1, 2, 3, 4, 7), each once, rising; "" is (). Raises NumbersError."""
    compact = re.sub(r"\s+", "", text)
    if not compact:
        return ()
    if len(compact) > 1000 or _RANGES.fullmatch(compact) is None:
        raise NumbersError(text, "is not a list of fastener numbers")
    found: set[int] = set()
    for part in re.split("[,;]", compact):
        first, _, last = part.partition("-")
        low, high = int(first), int(last or first)
        if high < low:
            raise NumbersError(part, "runs backwards")
        found |= set(range(low, high + 1))
    return tuple(sorted(found))


def check(
    kind: str,
    values: Mapping[str, object],
    *,
    name: str,
    unit: str,
    fasteners: Sequence[int] | str,
    at: datetime,
    at_uncertainty: float,
    basis: Basis | str,
    reason: str,
    by: str,
    written_at: datetime,
    count: int | None,
) -> Entry:
    """The entry, or EntryError with every fault. `count`: fasteners of the joint, None for another subject.

    `at` and `written_at` aware; `id` and `seq` are given by the log when it is written.
    """
    known = KINDS.get(kind)
    if known is None:
        near = get_close_matches(kind[:60], KINDS, 3, 0.5)
        raise EntryError(kind[:60], (("kind", "is not known", ", ".join(near or KINDS)),))
    faults: list[Fault] = []
    tidy = _values(known, values, faults)
    numbers = _fasteners(known, fasteners, count, faults)
    why = _line("reason", reason, LONGEST_LONG, faults, required=False)
    subject = _line("name", name, LONGEST_NAME, faults, required=True)
    of_unit = _line("unit", unit, LONGEST_NAME, faults, required=False)
    _time(at, at_uncertainty, written_at, faults)
    if basis not in BASES:
        faults.append(("basis", f"{str(basis)[:60]!r} is not known", ", ".join(BASES)))
    late = at.tzinfo is not None and (written_at - at).total_seconds() > LATE
    if (known.reason or late) and len(why) < 5:
        what = "it is written more than a day after it happened" if late else "this kind of entry needs one"
        faults.append(("reason", f"is missing: {what}", "the reason in words, 5 characters or more"))
    if faults:
        raise EntryError(kind, tuple(faults))
    return Entry(
        "", kind, known.subject, subject, of_unit, numbers, at, float(at_uncertainty), cast(Basis, basis), why, by,
        written_at, tidy,
    )  # fmt: skip


def _values(kind: Kind, given: Mapping[str, object], faults: list[Fault]) -> dict[str, str]:
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
        most = LONGEST_LONG if field.form == "long text" else LONGEST_TEXT
        text = _line(name, raw, most, faults, required=field.required)
        if text and not _fits(field, text, faults):
            continue
        if text:
            found[name] = text
    return found


def _line(name: str, text: str, most: int, faults: list[Fault], *, required: bool) -> str:
    tidy = " ".join(str(text).split())
    if not tidy and required:
        faults.append((name, "is missing", "it has to be stated"))
    elif len(tidy) > most:
        faults.append((name, f"has {len(tidy)} characters", f"at most {most}"))
    elif not tidy.isprintable():
        faults.append((name, "holds characters that cannot be printed", "letters, digits and signs"))
    else:
        return tidy
    return ""


def _fits(field: Field, text: str, faults: list[Fault]) -> bool:
    """Whether a text has the form of its field; notes the fault where it has not."""
    fault: tuple[str, str] | None = None
    if field.form == "choice" and text not in field.choices:
        fault = f"{text[:60]!r} is not a choice", ", ".join(field.choices)
    elif field.form == "quantity":
        quantity = cast(QuantityKind, field.quantity)
        try:
            if not math.isfinite(parse(text, quantity).si):
                fault = f"{text[:60]!r} is no finite value", "a number with its unit"
        except UnitError as error:
            fault = f"{text[:60]!r}: {error.reason}", f"a number with one of: {', '.join(units_for(quantity))}"
    elif field.form == "number" and (_NUMBER.fullmatch(text) is None or float(text.replace(",", ".")) < 0):
        fault = f"{text[:60]!r} is not a number", "a number, not negative"
    elif field.form == "date" and not _is_date(text):
        fault = f"{text[:60]!r} is not a day", "a day as 2026-03-18"
    elif field.form == "moment" and not _is_moment(text):
        fault = f"{text[:60]!r} is not a moment", "day, time and offset as 2026-03-18T13:40:05+00:00 or ...Z"
    elif field.form == "flag" and text not in ("yes", "no"):
        fault = f"{text[:60]!r} is neither", "yes or no"
    elif field.form == "person" and not 2 <= len(text) <= 80:
        fault = "is no person's name", "2 to 80 characters"
    elif field.form == "numbers" and text != "none":
        try:
            fastener_numbers(text)
        except NumbersError as error:
            fault = str(error), f"{error.allowed}, or none"
    if fault is not None:
        faults.append((field.name, *fault))
    return fault is None


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _is_moment(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _fasteners(kind: Kind, given: Sequence[int] | str, count: int | None, faults: list[Fault]) -> tuple[int, ...]:
    allowed = f"1 to {count}" if count else "none"
    try:
        numbers = fastener_numbers(given) if isinstance(given, str) else tuple(sorted(set(given)))
    except NumbersError as error:
        faults.append(("fasteners", str(error), error.allowed))
        return ()
    if kind.fasteners == "no" and numbers:
        faults.append(("fasteners", "are named, but this kind of entry is about the whole", "none"))
    elif kind.fasteners == "needed" and not numbers:
        faults.append(("fasteners", "are missing", allowed))
    elif outside := [n for n in numbers if count is not None and not 1 <= n <= count]:
        faults.append(("fasteners", f"{outside[0]} is not a fastener of this joint", allowed))
    return numbers


def _time(at: datetime, uncertainty: float, written_at: datetime, faults: list[Fault]) -> None:
    if at.tzinfo is None:
        faults.append(("at", "has no offset from UTC", "a moment with its offset"))
    elif at > written_at + AHEAD:
        faults.append(("at", f"{at.isoformat()} lies in the future", f"not after {written_at.isoformat()}"))
    elif at.year < 1970:
        faults.append(("at", f"the year {at.year} cannot be", "1970 or later"))
    if not (math.isfinite(uncertainty) and 0 <= uncertainty <= MOST_UNCERTAIN):
        faults.append(("at_uncertainty", f"{uncertainty} cannot be", "seconds, 0 to a year"))


def render(entry: Entry) -> str:
    """One plain line: what, where, when, by whom, how known."""
    kind = KINDS.get(entry.kind)
    labels = {one.name: one.label for one in kind.fields} if kind else {}
    words = "; ".join(f"{labels.get(name, name)}: {text}" for name, text in entry.values.items())
    where = f", fasteners {', '.join(map(str, entry.fasteners))}" if entry.fasteners else ""
    where = (f", {entry.unit}" if entry.unit else "") + where
    late = " (late entry)" if entry.late else ""
    reason = f"; reason: {entry.reason}" if entry.reason else ""
    return (
        f"{kind.label if kind else entry.kind}{where}, {entry.at:%Y-%m-%d %H:%M} UTC{late}"
        f"{': ' + words if words else ''}; {entry.by}, {entry.basis}{reason}"
    )
