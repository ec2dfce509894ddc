"""In which ways the cells of a column can be read as days and times. All ways that read every row; none is chosen."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache

from evenpull.intake.times import FIRST_YEAR, LAST_YEAR

DAYS = (
    "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d",
    "%d.%m.%Y", "%d/%m/%Y", "%d-%m-%Y", "%m/%d/%Y", "%m-%d-%Y", "%m.%d.%Y",
    "%d.%m.%y", "%d/%m/%y", "%d-%m-%y", "%m/%d/%y", "%m-%d-%y", "%m.%d.%y", "%y-%m-%d", "%y/%m/%d", "%y.%m.%d",
    "%d %b %Y", "%d-%b-%Y", "%d %B %Y", "%b %d, %Y", "%B %d, %Y", "%d.%b.%Y", "%d-%b-%y", "%d %b %y", "%b %d %Y",
)  # fmt: skip
HOURS = (
    "%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p", "%I:%M:%S%p", "%I:%M%p", "%H:%M:%S.%f", "%H.%M.%S", "%H.%M",
    "%Hh%M", "%H%M%S",
)  # fmt: skip
JOINS = (" ", "T", ", ", " - ")
OFFSETS = ("", "%z", " %z")
LEAST_SHARE = 0.9  # of the cells that some way has to read; the rest stays with a doubt (common practice, no source)
_PART = {
    "%Y": r"[0-9]{4}", "%y": r"[0-9]{2}", "%m": r"[0-9]{1,2}", "%d": r"[0-9]{1,2}", "%b": r"[A-Za-z]{3}",
    "%B": r"[A-Za-z]{3,9}", "%H": r"[0-9]{1,2}", "%I": r"[0-9]{1,2}", "%M": r"[0-9]{1,2}", "%S": r"[0-9]{1,2}",
    "%p": r"[AaPp][Mm]", "%f": r"[0-9]{1,6}", "%z": r"(?:Z|[+-][0-9]{2}:?[0-9]{2})",
}


def _shape(form: str) -> re.Pattern[str]:
    text = re.escape(form).replace("\\%", "%").replace("\\ ", " ")
    for name, part in _PART.items():
        text = text.replace(name, part)
    if "%Y%m%d" in form:
        text = text.replace("[0-9]{4}[0-9]{1,2}[0-9]{1,2}", "[0-9]{8}")
    if "%H%M%S" in form:
        text = text.replace("[0-9]{1,2}[0-9]{1,2}[0-9]{1,2}", "[0-9]{6}")
    return re.compile(text)


@cache
def _shapes(what: str) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Each way to write a "day", "hour" or "moment" with its pattern. There are thousands of moments, which take the
    most part of a second: they are made when a column is looked at, not whenever the program starts."""
    forms: dict[str, Iterable[str]] = {
        "day": DAYS, "hour": HOURS,
        "moment": (day + join + hour + offset for day in DAYS for join in JOINS for hour in HOURS
                   for offset in OFFSETS),
    }  # fmt: skip
    return tuple((form, _shape(form)) for form in forms[what])


@dataclass(frozen=True)
class Ways:
    """`formats` read every cell of those that any way reads; `unread`: cells that no way reads; `looked`: all cells."""

    formats: tuple[str, ...]
    readings: tuple[tuple[datetime, ...], ...]
    unread: int
    looked: int

    @property
    def differ(self) -> bool:
        """The ways give different times for the same cells, or would do so in another file of the same kind."""
        return len({_order(form) for form in self.formats}) > 1


def _order(form: str) -> str:
    return "".join({"b": "m", "B": "m", "Y": "y"}.get(part, part) for part in re.findall(r"%([dmbByY])", form))


def ways(texts: Sequence[str], what: str) -> Ways | None:
    """All ways to read the texts as "day", "hour" or "moment"; None when too many cells fit no way at all."""
    shapes = _shapes(what)
    counts = Counter(text for text in texts if text)
    cells = list(counts)
    if not cells:
        return None
    sample = cells[:200]
    fitting = [form for form, shape in shapes if sum(shape.fullmatch(text) is not None for text in sample) * 2
               >= len(sample)]
    read: dict[str, dict[str, datetime]] = {}
    for form in fitting:
        shape = next(shape for other, shape in shapes if other == form)
        read[form] = {text: found for text in cells if shape.fullmatch(text) and (found := _parse(text, form))}
    able = {text for found in read.values() for text in found}
    if sum(counts[text] for text in able) < counts.total() * LEAST_SHARE:
        return None
    whole = [form for form, found in read.items() if len(found) == len(able)]
    order = [text for text in cells if text in able]
    return Ways(tuple(whole), tuple(tuple(read[form][text] for text in order) for form in whole),
                len(cells) - len(able), len(cells))


def _parse(text: str, form: str) -> datetime | None:
    try:
        found = datetime.strptime(text, form)
    except ValueError:
        return None
    if ("%Y" in form or "%y" in form) and not FIRST_YEAR <= found.year <= LAST_YEAR:
        return None
    return found
