"""The kinds of value in the files of joints and tools, each checked with a message a person can act on.

Every type here is an `Annotated` type for a pydantic model. A value that does not fit raises `PydanticCustomError`
with the context `message` (what is wrong) and `allowed` (what would be right).
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from difflib import get_close_matches
from itertools import pairwise
from typing import Annotated

from pydantic import PlainValidator
from pydantic_core import PydanticCustomError

from evenpull.joint.traced import Band
from evenpull.plan.model import NOT_STATED
from evenpull.quantities import Kind, Measured, UnitError, parse, show, units_for

LONGEST_TEXT = 200
LONGEST_NOTE = 4000
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"  # can show a text in a false order
EXAMPLE_UNIT: Mapping[str, str] = {
    "torque": "N.m", "force": "kN", "length": "mm", "angle": "deg",
}


def refuse(message: str, allowed: str = "") -> PydanticCustomError:
    """The error of one value; the braces keep pydantic from reading the message as a template."""
    return PydanticCustomError("value", "{message}", {"message": message, "allowed": allowed})


def shown(value: object, most: int = 60) -> str:
    """A value as it stood in the file, shortened; never deeper than one level."""
    if isinstance(value, str):
        text = repr(value[:most] + ("…" if len(value) > most else ""))
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, Mapping):
        text = "a table"
    elif isinstance(value, list):
        simple = all(isinstance(item, str | int | float) for item in value[:8])
        inside = ", ".join(shown(item, 20) for item in value[:8]) if simple else "…"
        text = f"[{inside}{', …' if len(value) > 8 else ''}]"
    elif isinstance(value, Measured):
        text = value.text
    else:
        text = str(value) if not isinstance(value, int) or abs(value) < 10**most else "a number of many digits"
    return text if len(text) <= most + 40 else text[:most] + "…"


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def finite(value: object, what: str = "a number") -> float:
    """The value as a float; refuses texts, true/false, NaN, infinity and numbers no float can hold."""
    if not _is_number(value):
        raise refuse(f"{shown(value)} is not {what}", f"{what} without quotes")
    try:
        number = float(value)  # type: ignore[arg-type]
    except OverflowError:
        raise refuse("a number of that many digits cannot be used", what) from None
    if not math.isfinite(number):
        raise refuse(f"{shown(value)} is not a finite number", what)
    return number


def line_text(value: object, *, most: int = LONGEST_TEXT, lines: bool = False, empty: bool = False) -> str:
    """A text of one line (or several), without control characters: it has to fit a printed card."""
    if not isinstance(value, str):
        raise refuse(f"{shown(value)} is not a text", 'a text in quotes, "..."')
    if not empty and not value.strip():
        raise refuse("the text is empty", "a text that says something; leave the key out if there is nothing to say"
                     if lines else "a text that says something")
    if len(value) > most:
        raise refuse(f"the text has {len(value)} characters", f"at most {most} characters")
    for character in value:
        hidden = unicodedata.category(character) in ("Cc", "Cs", "Co", "Cn") or character in TURNING
        if hidden and not (lines and character in "\n\t"):
            raise refuse(f"the text holds the character U+{ord(character):04X}, which cannot be printed",
                         "printable characters" + ("" if lines else " on one line"))
    return value


def is_line_text(text: str) -> bool:
    """Whether `line_text` takes it as it is."""
    try:
        line_text(text)
    except PydanticCustomError:
        return False
    return True


def written(value: object, kind: Kind, unit: str, allowed: Callable[[], str]) -> Measured:
    """A quantity as it stands in a file: a text with a unit. `unit` is named where none is written; `allowed` is asked
    only for a fault, as the units it names take long to load."""
    if _is_number(value):
        raise refuse(f"{shown(value)} has no unit; write \"{shown(value)} {unit}\" if {unit} is meant", allowed())
    if not isinstance(value, str):
        raise refuse(f"{shown(value)} is not a {kind}", allowed())
    line_text(value, most=60, empty=True)
    try:
        return parse(value, kind)
    except UnitError as error:
        raise refuse(f"{shown(value)} is not a {kind}: {error.reason}", allowed()) from None


def _quantity(kind: Kind, least: float, most: float, *, zero: bool) -> Callable[[object], Measured]:
    unit = EXAMPLE_UNIT[kind]

    def allowed() -> str:
        return f"a {kind} with its unit, {show(least, unit)} to {show(most, unit)}; units: {', '.join(units_for(kind))}"

    def check(value: object) -> Measured:
        read = written(value, kind, unit, allowed)
        if read.si < 0 or (read.si == 0 and not zero):
            raise refuse(f"{shown(value)} is not {'zero or ' if zero else ''}more than zero", allowed())
        if read.si != 0 and not least <= read.si <= most:
            raise refuse(f"{shown(value)} is {show(read.si, unit)}: no such {kind} occurs here; is the unit right?",
                         allowed())
        return read

    return check


def quantity(kind: Kind, least: float, most: float, *, zero: bool = False) -> PlainValidator:
    """A quantity of `kind` written as a text with its unit, between `least` and `most` (SI)."""
    return PlainValidator(_quantity(kind, least, most, zero=zero))


def quantity_or_not_stated(kind: Kind, least: float, most: float) -> PlainValidator:
    """A quantity as above, or the words "not stated"; whether they may stand there is checked elsewhere."""
    one = _quantity(kind, least, most, zero=False)
    return PlainValidator(lambda value: NOT_STATED if value == NOT_STATED.text else one(value))


def flag_or_not_stated() -> PlainValidator:
    """true, false or the words "not stated"."""
    return PlainValidator(lambda value: NOT_STATED if value == NOT_STATED.text else _flag(value))


def number_within(least: float, most: float, what: str) -> PlainValidator:
    """A finite number within limits."""

    def check(value: object) -> float:
        number = finite(value)
        if not least <= number <= most:
            raise refuse(f"{shown(value)} is not {what}", f"{least:g} to {most:g}")
        return number

    return PlainValidator(check)


def whole_within(least: int, most: int, what: str) -> PlainValidator:
    """A whole number within limits; 8.0 and "8" are refused."""

    def check(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse(f"{shown(value)} is not a whole number", f"a whole number without quotes, {least} to {most}")
        if not least <= value <= most:
            raise refuse(f"{shown(value)} {what}", f"{least} to {most}")
        return value

    return PlainValidator(check)


def choice(*names: str) -> PlainValidator:
    """One of a few words; the nearest is proposed."""

    def check(value: object) -> str:
        if isinstance(value, str) and value in names:
            return value
        near = get_close_matches(value[:60].lower(), names, 1, 0.5) if isinstance(value, str) else []
        proposed = f"; did you mean {near[0]!r}?" if near else ""
        raise refuse(f"{shown(value)} is not one of the words for this key{proposed}", ", ".join(map(repr, names)))

    return PlainValidator(check)


def pattern(expression: str, allowed: str) -> PlainValidator:
    """A text that matches `expression` as a whole."""
    compiled = re.compile(expression)

    def check(value: object) -> str:
        text = line_text(value)
        if compiled.fullmatch(text) is None:
            raise refuse(f"{shown(text)} does not fit", allowed)
        return text

    return PlainValidator(check)


def _share(value: object) -> float:
    allowed = 'a share such as "5 %" or 0.05, more than 0 and at most 30 %'
    if isinstance(value, str):
        found = re.fullmatch(r"\s*(\d{1,6}(?:\.\d{1,9})?)\s*%\s*", value)
        if found is None:
            raise refuse(f"{shown(value)} is not a share", allowed)
        number = float(Decimal(found[1]) / 100)
    else:
        number = finite(value, "a share")
    if not 0 < number <= 0.3:
        slip = number >= 1 and not isinstance(value, str)
        more = f"; it means {100 * number:g} %: write \"{number:g} %\" if that is meant" if slip else ""
        raise refuse(f"{shown(value)} is not a share this can be{more}", allowed)
    return number


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Either a share of the torque or a torque; exactly one is set."""

    share: float | None
    torque: Measured | None


def _tolerance(value: object) -> Tolerance:
    if isinstance(value, str) and "%" not in value:
        try:
            return Tolerance(None, _quantity("torque", 1e-3, 1e6, zero=False)(value))
        except PydanticCustomError:
            raise refuse(f"{shown(value)} is not a tolerance",
                         'a share ("5 %" or 0.05, at most 30 %) or a torque ("0.2 N.m")') from None
    return Tolerance(_share(value), None)


def _day(value: object) -> date:
    allowed = "a date without quotes, year-month-day: 2026-09-01"
    if isinstance(value, datetime) or not isinstance(value, date):
        raise refuse(f"{shown(value)} is not a date", allowed)
    if not 1950 <= value.year <= 2100:
        raise refuse(f"{value.isoformat()}: no such year occurs here", "a date from 1950 to 2100")
    return value


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise refuse(f"{shown(value)} is neither true nor false", "true or false, without quotes")
    return value


def _band(value: object) -> Band:
    allowed = "three rising numbers, least, nominal and most: [0.10, 0.12, 0.14], each 0.01 to 1"
    if not isinstance(value, list) or len(value) != 3:
        raise refuse(f"{shown(value)} is not a band", allowed)
    low, nominal, high = (finite(item) for item in value)
    if not low <= nominal <= high:
        raise refuse(f"{shown(value)} does not rise", allowed)
    if low < 0.01 or high > 1:
        raise refuse(f"{shown(value)}: no friction or nut factor outside 0.01 to 1 occurs here", allowed)
    return Band(low, nominal, high)


def _numbers(value: object) -> tuple[int, ...]:
    allowed = "a list of fastener numbers: [1, 5, 3, 7]"
    if not isinstance(value, list) or not value:
        raise refuse(f"{shown(value)} is not a list of numbers", allowed)
    for item in value:
        if isinstance(item, bool) or not isinstance(item, int):
            raise refuse(f"{shown(item)} is not a fastener number", allowed)
    return tuple(value)


def _lists(value: object) -> tuple[tuple[int, ...], ...]:
    if not isinstance(value, list) or not value:
        raise refuse(f"{shown(value)} is not a list of groups", "lists of fastener numbers: [[1, 2], [5, 6]]")
    return tuple(_numbers(item) for item in value)


def _grid(value: object) -> tuple[int, int]:
    allowed = "rows and columns, two whole numbers from 1 to 200: [2, 4]"
    numbers = _numbers(value) if isinstance(value, list) else ()
    if len(numbers) != 2 or not all(1 <= number <= 200 for number in numbers):
        raise refuse(f"{shown(value)} is not a grid", allowed)
    return numbers[0], numbers[1]


def _passes(value: object) -> tuple[float, ...]:
    allowed = "percent of the target, rising, the last 100, at most ten: [30, 70, 100]"
    if not isinstance(value, list) or not 1 <= len(value) <= 10:
        raise refuse(f"{shown(value)} is not a list of passes", allowed)
    passes = tuple(finite(item) for item in value)
    if any(not 0 < percent <= 100 for percent in passes):
        raise refuse(f"{shown(value)} holds a pass that is not more than 0 and at most 100 %", allowed)
    if any(after <= before for before, after in pairwise(passes)):
        raise refuse(f"{shown(value)} does not rise from pass to pass", allowed)
    if passes[-1] != 100:
        raise refuse(f"{shown(value)} ends at {passes[-1]:g} %, so the target would never be reached", allowed)
    return passes


MOST_PERCENT = 150.0  # of the target in one pull: beyond it is a slip, as in a ring file


def _settings(value: object) -> tuple[tuple[float, ...], ...]:
    allowed = ("for each pass a list of percents of the target, one for each fastener, or one alone for all: "
               f"[[30], [123, 118, 110, 100]]; each more than 0, at most {MOST_PERCENT:g}")
    if not isinstance(value, list) or not 1 <= len(value) <= 10:
        raise refuse(f"{shown(value)} is not a list of the settings of each pass", allowed)
    rows = []
    for number, row in enumerate(value, start=1):
        if not isinstance(row, list) or not row:
            raise refuse(f"{shown(row)} is not a list of settings (pass {number})", allowed)
        percents = tuple(finite(item, "a percent of the target") for item in row)
        for place, percent in enumerate(percents, start=1):
            if not 0 < percent <= MOST_PERCENT:
                raise refuse(f"{percent:g} % is no setting (pass {number}, fastener {place})", allowed)
        rows.append(percents)
    return tuple(rows)


def _two(kind: Kind, least: float, most: float) -> Callable[[object], tuple[Measured, Measured]]:
    one = _quantity(kind, least, most, zero=kind == "angle")
    unit = EXAMPLE_UNIT[kind]

    def check(value: object) -> tuple[Measured, Measured]:
        allowed = f'two {kind}s with their units, the lower first: ["40 {unit}", "80 {unit}"]'
        if not isinstance(value, list) or len(value) != 2:
            raise refuse(f"{shown(value)} is not a range", allowed)
        lower, upper = one(value[0]), one(value[1])
        if lower.si >= upper.si:
            raise refuse(f"{shown(value)} does not rise", allowed)
        return lower, upper

    return check


def quantity_range(kind: Kind, least: float, most: float) -> PlainValidator:
    """Two quantities, the lower first."""
    return PlainValidator(_two(kind, least, most))


def _texts(value: object) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) > 100:
        raise refuse(f"{shown(value)} is not a list of texts", 'a list of at most 100 texts: ["one", "two"]')
    texts = tuple(line_text(item, most=80) for item in value)
    for text in texts:
        if texts.count(text) > 1:
            raise refuse(f"{shown(text)} stands in the list more than once", "each only once")
        if re.search(r"[,;]", text):
            raise refuse(f"{shown(text)} holds a comma or semicolon", "names without them, so that lists stay clear")
    return texts


Text = Annotated[str, PlainValidator(line_text)]
Note = Annotated[str, PlainValidator(lambda value: line_text(value, most=LONGEST_NOTE, lines=True))]
Texts = Annotated[tuple[str, ...], PlainValidator(_texts)]
Flag = Annotated[bool, PlainValidator(_flag)]
Day = Annotated[date, PlainValidator(_day)]
Share = Annotated[float, PlainValidator(_share)]
ToleranceValue = Annotated[Tolerance, PlainValidator(_tolerance)]
BandValue = Annotated[Band, PlainValidator(_band)]
Numbers = Annotated[tuple[int, ...], PlainValidator(_numbers)]
Groups = Annotated[tuple[tuple[int, ...], ...], PlainValidator(_lists)]
Grid = Annotated[tuple[int, int], PlainValidator(_grid)]
Settings = Annotated[tuple[tuple[float, ...], ...], PlainValidator(_settings)]
Passes = Annotated[tuple[float, ...], PlainValidator(_passes)]
