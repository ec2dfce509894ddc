"""Where one value of a record comes from: a column, several columns joined, a part of a cell, a constant.

In a mapping file:  tool = "Wrench"
                    fastener = { column = "Place", pattern = "^nut ([0-9]+)$" }
                    pass = { column = "Round", map = { "A" = 1, "C" = 4 } }
                    unit = { columns = ["workpiece", "prior_uses"], join = "/" }
                    tool = { value = "station 3" }
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from re import _parser  # type: ignore[attr-defined]
from typing import Annotated, Any

from pydantic import PlainValidator

from evenpull.plan.values import line_text, refuse, shown

FORMS = (
    '"a column", { column = "...", pattern = "...", map = {...} }, { columns = [...], join = "/" } or '
    '{ value = "..." }'
)
FEW_TIMES = 20  # repeats of a part of a pattern that count as harmless
LONGEST_MATCHED = 1000  # characters of a cell on which a pattern is tried


class UnfitError(ValueError):
    """The cell holds something that the mapping gives no meaning; the message says what and what would fit."""


def tidy(text: str) -> str:
    """A text for comparing: blanks at the ends removed, runs of blanks and line breaks made one blank."""
    return " ".join(text.split())


def printable(name: str) -> str:
    """A name with what cannot be printed spelt out, as \\n or \\udcff: a file name may hold any byte."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in name)


@dataclass(frozen=True)
class ValueSource:
    """`columns` joined with `join` (none when `value` is a constant), then `pattern`, then `map`."""

    columns: tuple[str, ...] = ()
    join: str = ""
    pattern: re.Pattern[str] | None = None
    map: Mapping[str, str] | None = None
    value: str | None = None

    def pick(self, texts: list[str]) -> str:
        """The value from the tidied texts of `columns`; "" when there is nothing. Raises UnfitError."""
        if self.value is not None:
            return self.value
        text = texts[0] if len(texts) == 1 else ("" if not any(texts) else self.join.join(texts))
        if not text:
            return ""
        if self.pattern is not None:
            found = self.pattern.search(text) if len(text) <= LONGEST_MATCHED else None
            if found is None:
                raise UnfitError(f"{shown(text)} does not match the pattern {self.pattern.pattern!r}")
            text = tidy(found[1] or "")
        if self.map is not None and text:
            mapped = self.map.get(text)
            if mapped is None:
                raise UnfitError(f"{shown(text)} is not in the map of the mapping; listed: {listed(self.map)}")
            text = mapped
        return text


def listed(names: Mapping[str, object] | tuple[str, ...]) -> str:
    """Names for a message, at most twenty."""
    texts = [repr(name) for name in list(names)[:20]]
    return ", ".join(texts) + (", …" if len(names) > 20 else "")


def _column(value: object) -> str:
    text = tidy(line_text(value))
    if not text:
        raise refuse("the name of a column is empty", "the name as it stands in the heading")
    return text


def _pattern(value: object) -> re.Pattern[str]:
    text = line_text(value)
    try:
        # Of "[[" or "--" in brackets Python warns that a later version of it may read more into them. Such a pattern
        # keeps the meaning that it has (a test says which), and who runs the program can do nothing with the warning.
        with warnings.catch_warnings(action="ignore", category=FutureWarning):
            parsed, pattern = _parser.parse(text), re.compile(text)
    except (re.error, OverflowError, RecursionError) as error:
        raise refuse(f"{shown(text)} is no regular expression: {error}", "one with exactly one group") from None
    if _may_run_away(parsed):
        raise refuse(f"{shown(text)} repeats a part of changing length, and on some cells its search would never end",
                     "repeats of single characters or of parts of one length, such as [0-9]+ or (?:[0-9]{3})*")
    if pattern.groups != 1:
        raise refuse(f"{shown(text)} has {pattern.groups} groups",
                     "exactly one group in round brackets, which holds the value; (?:...) for other brackets")
    return pattern


def _may_run_away(part: Any) -> bool:
    """Whether something of changing length is repeated often: the search may then try 2^n ways, and cannot be stopped.

    Python gives the parsed form of a pattern by `re._parser` only.
    """
    for _, detail in part:
        for inner in _inside(detail):
            repeated = isinstance(detail, tuple) and len(detail) == 3 and detail[2] is inner and detail[1] > FEW_TIMES
            low, high = inner.getwidth()
            if (repeated and low != high) or _may_run_away(inner):
                return True
    return False


def _inside(detail: Any) -> Iterator[Any]:
    if isinstance(detail, _parser.SubPattern):
        yield detail
    elif isinstance(detail, tuple | list):
        for one in detail:
            yield from _inside(one)


def _map(value: object) -> dict[str, str]:
    allowed = 'a table from what the cell holds to what it means: { "left" = 1, "right" = 2 }'
    if not isinstance(value, dict) or not value or len(value) > 5000:
        raise refuse(f"{shown(value)} is not a map", allowed)
    found: dict[str, str] = {}
    for given, meant in value.items():
        name = tidy(line_text(given))
        if isinstance(meant, bool) or not isinstance(meant, str | int):
            raise refuse(f"{shown(given)} is mapped to {shown(meant)}", "a text or a whole number")
        if name in found:
            raise refuse(f"{shown(name)} stands in the map more than once", "each only once")
        found[name] = tidy(line_text(str(meant)))
    return found


def _source(value: object) -> ValueSource:
    if isinstance(value, str):
        return ValueSource(columns=(_column(value),))
    if not isinstance(value, dict):
        raise refuse(f"{shown(value)} does not say where the value comes from", FORMS)
    known = {"column", "columns", "join", "pattern", "map", "value"}
    if unknown := [name for name in value if name not in known]:
        raise refuse(f"{unknown[0][:60]!r} is not a key here", ", ".join(sorted(known)))
    ways = [name for name in ("column", "columns", "value") if name in value]
    if len(ways) != 1:
        raise refuse("exactly one of column, columns and value is needed, not " + (" and ".join(ways) or "none"), FORMS)
    if ways == ["value"]:
        if len(value) > 1:
            raise refuse("a constant value has no pattern, map or join", '{ value = "..." }')
        constant = value["value"]
        return ValueSource(value=tidy(line_text(str(constant) if type(constant) is int else constant)))
    pattern = _pattern(value["pattern"]) if "pattern" in value else None
    mapped = _map(value["map"]) if "map" in value else None
    if ways == ["column"]:
        if "join" in value:
            raise refuse("join belongs to columns", FORMS)
        return ValueSource((_column(value["column"]),), "", pattern, mapped)
    names = value["columns"]
    if not isinstance(names, list) or not 2 <= len(names) <= 10:
        raise refuse(f"{shown(names)} is not a list of columns", 'two to ten names: ["workpiece", "use"]')
    if "join" not in value:
        raise refuse("join is missing: what stands between the joined texts", 'join = "/"')
    return ValueSource(tuple(_column(name) for name in names), line_text(value["join"], empty=True), pattern, mapped)


Where = Annotated[ValueSource, PlainValidator(_source)]
Column = Annotated[str, PlainValidator(_column)]
OneGroup = Annotated[re.Pattern[str], PlainValidator(_pattern)]
