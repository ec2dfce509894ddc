"""The form of one field of an entry: what its text has to be, and the fault in words where it is not."""

from __future__ import annotations

import math
import re
import unicodedata
from datetime import UTC, date, datetime
from typing import cast

from evenpull.ledger.kinds import Field
from evenpull.quantities import Kind as QuantityKind
from evenpull.quantities import UnitError, parse, units_for

LONGEST_TEXT, LONGEST_LONG, LONGEST_NAME = 200, 2000, 100  # characters
LONGEST_LIST, LARGEST_NUMBER = 1000, 9999  # of a list of fastener numbers
FIRST_YEAR, LAST_YEAR = 1970, 2200  # what a stated day may be
_RANGES = re.compile(r"[0-9]{1,4}(?:-[0-9]{1,4})?(?:[,;][0-9]{1,4}(?:-[0-9]{1,4})?)*")
_NUMBER = re.compile(r"[0-9]{1,12}(?:[.,][0-9]{1,6})?")
_WHOLE = re.compile(r"[0-9]{1,12}")

Fault = tuple[str, str, str]  # field, what is wrong, what is allowed


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
    if len(compact) > LONGEST_LIST or _RANGES.fullmatch(compact) is None:
        raise NumbersError(text, "is not a list of fastener numbers")
    found: set[int] = set()
    for part in re.split("[,;]", compact):
        first, _, last = part.partition("-")
        low, high = int(first), int(last or first)
        if high < low:
            raise NumbersError(part, "runs backwards")
        found |= set(range(low, high + 1))
    return tuple(sorted(found))


def number_of(text: str) -> float:
    """A number as the forms take it, with a decimal point or comma. ValueError for anything else."""
    if _NUMBER.fullmatch(text) is None:
        raise ValueError(f"{text[:60]!r} is not a number")
    return float(text.replace(",", "."))


def tidy_text(name: str, text: str, most: int, faults: list[Fault], *, required: bool, lines: bool = False) -> str:
    """A text with its blanks tidied, "" with a fault where it cannot be kept. `lines`: it may have more than one."""
    if control := next((c for c in text if unicodedata.category(c) == "Cc" and c not in "\t\r\n"), ""):
        faults.append((name, f"holds the control character U+{ord(control):04X}", "letters, digits and signs"))
        return ""
    rows = [" ".join(row.split()) for row in text.splitlines()] if lines else [" ".join(text.split())]
    tidy = "\n".join(rows).strip("\n")
    if not tidy and required:
        faults.append((name, "is missing", "it has to be stated"))
    elif len(tidy) > most:
        faults.append((name, f"has {len(tidy)} characters", f"at most {most}"))
    elif not tidy.replace("\n", "").isprintable():
        faults.append((name, "holds characters that cannot be printed", "letters, digits and signs"))
    else:
        return tidy
    return ""


def form_fault(field: Field, text: str, count: int | None, written_at: datetime) -> tuple[str, str] | None:
    """(what is wrong, what is allowed) of a tidied text that is not empty; None when it has the form of its field.

    `count`: fasteners of the joint, None where no joint is meant. A moment must not lie after `written_at`.
    """
    shown = repr(text[:60])
    match field.form:
        case "choice":
            return None if text in field.choices else (f"{shown} is not a choice", ", ".join(field.choices))
        case "quantity":
            return _quantity_fault(cast(QuantityKind, field.quantity), text)
        case "number":
            return None if _NUMBER.fullmatch(text) else (f"{shown} is not a number", "a number, not negative")
        case "whole":
            return None if _WHOLE.fullmatch(text) else (f"{shown} is not a whole number", "a whole number, from 0")
        case "fastener":
            most = LARGEST_NUMBER if count is None else count
            right = _WHOLE.fullmatch(text) is not None and 1 <= int(text) <= most
            return None if right else (f"{shown} is not a fastener of this joint", f"1 to {most}")
        case "date":
            return None if _day(text) else (f"{shown} is not a day", f"a day as 2026-03-18, {FIRST_YEAR} or later")
        case "moment":
            return _moment_fault(text, written_at)
        case "flag":
            return None if text in ("yes", "no") else (f"{shown} is neither", "yes or no")
        case "person":
            return None if 2 <= len(text) <= 80 else (f"{shown} is no person's name", "2 to 80 characters")
        case "numbers":
            return None if text == "none" else _numbers_fault(text, count)
        case "text" | "long text" | "tool":
            return None


def _quantity_fault(kind: QuantityKind, text: str) -> tuple[str, str] | None:
    allowed = f"a number with one of: {', '.join(units_for(kind))}"
    try:
        si = parse(text, kind).si
    except UnitError as error:
        return f"{text[:60]!r}: {error.reason}", allowed
    if not math.isfinite(si):
        return f"{text[:60]!r} is no finite value", allowed
    if si < 0 and kind != "temperature":
        return f"{text[:60]!r} is negative", f"{allowed}, not negative"
    return None


def _day(text: str) -> bool:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return False
    return found.isoformat() == text and FIRST_YEAR <= found.year <= LAST_YEAR


def _moment_fault(text: str, written_at: datetime) -> tuple[str, str] | None:
    allowed = "day, time and offset as 2026-03-18T13:40:05+00:00 or ...Z"
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return f"{text[:60]!r} is not a moment", allowed
    if found.utcoffset() is None:
        return f"{text[:60]!r} has no offset from UTC", allowed
    if not FIRST_YEAR < found.year < LAST_YEAR:
        return f"the year {found.year} cannot be", allowed
    if found.astimezone(UTC) > written_at:
        return f"{text[:60]!r} lies in the future", f"not after {written_at.isoformat()}"
    return None


def _numbers_fault(text: str, count: int | None) -> tuple[str, str] | None:
    try:
        numbers = fastener_numbers(text)
    except NumbersError as error:
        return str(error), f"{error.allowed}, or none"
    if outside := [n for n in numbers if n < 1 or (count is not None and n > count)]:
        return f"{outside[0]} is not a fastener of this joint", f"1 to {count or LARGEST_NUMBER}, or none"
    return None
