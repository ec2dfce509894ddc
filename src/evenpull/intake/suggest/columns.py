"""One column as it stands: its name, its words without the unit, the unit in its name, and what its cells look like."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property

from evenpull.intake.numbers import part_unit, whole_number
from evenpull.intake.suggest.grid import Row
from evenpull.intake.suggest.words import fold
from evenpull.plan.values import line_text
from evenpull.quantities import Kind, UnitError, canonical_unit

_NUMBER = re.compile(  # grouped by thousands or not; "17.03.2026" and "10.11.12" are no numbers
    r"[+−-]?(?:[0-9]{1,3}(?:[.,'’ \u00a0\u202f][0-9]{3})+|[0-9]+)(?:[.,][0-9]*)?(?:[eE][+-]?[0-9]+)?|[+−-]?[.,][0-9]+"
)
_BRACKETS = re.compile(r"[(\[{<]([^()\[\]{}<>]{1,20})[)\]}>]")
DIGITS = re.compile(r"[0-9]+")


def unit_of(text: str, kind: Kind) -> str:
    """Our name of a unit of that kind, "" when the text is none."""
    try:
        return canonical_unit(text, kind)
    except UnitError:
        return ""


@dataclass(frozen=True)
class HeadingUnit:
    """A unit found in a heading, and the heading without it."""

    kind: Kind | None
    unit: str
    rest: str


def heading_unit(name: str) -> HeadingUnit:
    """Unit in brackets, or the last words: "Torque (Nm)", "torque_Nm", "Moment in N.m", "Torque / Nm"."""
    for found in _BRACKETS.finditer(name):
        for kind in _KINDS:
            if unit := unit_of(found[1].strip(), kind):
                return HeadingUnit(kind, unit, name[: found.start()] + " " + name[found.end() :])
    words = re.split(r"[\s_/,:]+", name.strip())
    for many in (3, 2, 1):
        if len(words) <= many:
            continue
        for glue in (" ", "-", "."):
            text = glue.join(words[-many:])
            for kind in _KINDS:
                if len(text) > 1 and (unit := unit_of(text, kind)):
                    return HeadingUnit(kind, unit, " ".join(words[:-many]))
    return HeadingUnit(None, "", name)


_KINDS: tuple[Kind, ...] = ("torque", "angle")


@dataclass(frozen=True)
class Column:
    """`texts` and `values` have one item for each row of the body. `position` is 0-based."""

    position: int
    name: str
    twice: bool
    texts: tuple[str, ...]
    values: tuple[object, ...]
    unit: HeadingUnit = field(default_factory=lambda: HeadingUnit(None, "", ""))

    @property
    def usable(self) -> str:
        """Why a mapping cannot name this column; "" when it can."""
        if not self.name:
            return "it has no name in the heading"
        if self.twice:
            return "its name stands over several columns"
        try:
            line_text(self.name)
        except ValueError as error:
            return f"its name cannot be written in a mapping file: {error}"
        return ""

    @cached_property
    def heading(self) -> str:
        """Folded words without the unit; of nested headings the lowest row decides, unless nothing stands there."""
        parts = [fold(part) for part in self.unit.rest.split(" / ")]
        parts = [part for part in parts if part]
        return parts[-1] if parts else ""

    @cached_property
    def whole_heading(self) -> str:
        return fold(self.unit.rest)

    @cached_property
    def filled(self) -> tuple[str, ...]:
        return tuple(text for text in self.texts if text)

    @cached_property
    def counts(self) -> Counter[str]:
        return Counter(self.filled)

    def _share(self, test: Sequence[bool]) -> float:
        return sum(test) / len(test) if test else 0.0

    @cached_property
    def typed_times(self) -> float:
        """Share of the filled cells that a spreadsheet holds as dates or times."""
        return self._share([isinstance(value, date | time | timedelta | datetime)
                            for text, value in zip(self.texts, self.values, strict=True) if text])

    @cached_property
    def numeric(self) -> float:
        """Share of the filled cells that look like a number, whatever the decimal sign."""
        return self._share([
            not isinstance(value, date | time | timedelta) and _NUMBER.fullmatch(text) is not None
            for text, value in zip(self.texts, self.values, strict=True) if text
        ])

    @cached_property
    def whole(self) -> float:
        return self._share([whole_number(text) is not None for text in self.filled])

    @cached_property
    def numbers(self) -> tuple[int | None, ...]:
        return tuple(whole_number(text) for text in self.texts)

    @cached_property
    def skeletons(self) -> Counter[str]:
        """Cells with each run of figures made one: "nut 07" and "nut 12" are the same."""
        return Counter(DIGITS.sub("0", text) for text in self.filled)

    @cached_property
    def with_unit(self) -> str:
        """Torque unit behind the number in nearly every cell ("90,5 Nm"): "in cell", or ""."""
        if not self.filled or self.numeric > 0.1:
            return ""
        share = self._share([bool(unit_of(part_unit(text)[1], "torque")) for text in self.filled[:2000]])
        return "in cell" if share >= 0.9 else ""

    def units(self, kind: Kind) -> float:
        """Share of the cells that are a unit of that kind and nothing else."""
        if not self.filled or len(self.counts) > 12:
            return 0.0
        good = sum(times for text, times in self.counts.items() if unit_of(text, kind))
        return good / len(self.filled)

    def rough(self) -> list[float]:
        """Sizes of the numbers, with either mark as decimal sign: only for a look at magnitudes and spread."""
        found = []
        for text, value in zip(self.texts, self.values, strict=True):
            if isinstance(value, int | float) and not isinstance(value, bool):
                found.append(float(value))
                continue
            plain = part_unit(text)[0].replace(" ", "").replace("'", "").replace("’", "")
            if re.fullmatch(r"[+-]?[0-9]+(?:[.,][0-9]+)?", plain):
                found.append(float(plain.replace(",", ".")))
        return found


def make_columns(names: Sequence[str], body: Sequence[Row]) -> list[Column]:
    """All columns of the table that have a name or anything in their cells."""
    times = Counter(names)
    width = max([len(names), *(len(row.cells) for row in body)])
    found = []
    for position in range(width):
        name = names[position] if position < len(names) else ""
        texts = tuple(row.cells[position] if position < len(row.cells) else "" for row in body)
        values = tuple(row.values[position] if position < len(row.values) else None for row in body)
        if name or any(texts):
            found.append(Column(position, name, times[name] > 1, texts, values, heading_unit(name)))
    return found
