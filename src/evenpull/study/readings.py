"""The readings of a study as lines of cells: columns operator, part (or group), replicate, value, and what was odd.

Nothing is dropped: a reading that does not count stands there with the reason in the column "left out".
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from evenpull.plan.errors import Fault, SpecificationError
from evenpull.plan.values import TURNING, shown
from evenpull.study.model import Place, Reading
from evenpull.study.schema import LONGEST_ROWS, MOST_READINGS

COLUMNS = ("operator", "part", "group", "replicate", "value", "at", "remark", "left out")
LONGEST_CELL = 200
WAY = "columns operator, part (or group), replicate, value and, where there is something to say, at, remark, left out"
_NUMBER = re.compile(r"[+-]?[0-9]{1,15}(?:[.,][0-9]{1,12})?")
_WHOLE = re.compile(r"[0-9]{1,6}")


@dataclass(frozen=True, slots=True)
class Design:
    """What the readings have to fit to: names of persons and parts, () where the study has none; `part_word`."""

    persons: tuple[str, ...]
    parts: tuple[str, ...]
    replicates: int
    part_word: str


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: Mapping[str, str]


def value_of(text: str) -> float:
    """A reading with a decimal point or comma and at most 15 figures before and 12 behind it. ValueError else."""
    if _NUMBER.fullmatch(text) is None:
        raise ValueError(f"{text[:60]!r} is not a number with a decimal point or comma")
    return float(text.replace(",", "."))


def read_rows(text: str, file: str, design: Design, *, first_line: int = 1) -> tuple[Reading, ...]:
    """The readings in a text of lines (semicolon, comma or tabulator), in their order. `first_line`: line of the file
    on which the heading stands. SpecificationError with every fault by line and column.

    Without the column replicate the readings of one place are numbered as they come. A reading with a reason in "left
    out" does not count, and its place may be read again.
    """
    faults: list[Fault] = []
    rows = _table(text, file, first_line)
    found = _Placed(design, file, faults)
    for row in rows:
        found.take(row)
    if faults:
        raise SpecificationError(faults)
    return tuple(found.readings)


def write_rows(readings: Sequence[Reading], *, group: bool) -> str:
    """The text that `read_rows` reads back, one line for each reading, separated by semicolons."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    writer.writerow(("operator", "group" if group else "part", "replicate", "value", "at", "remark", "left out"))
    for one in readings:
        writer.writerow((*one.place, one.text, one.at, one.remark, one.left_out))
    return out.getvalue()


def _table(text: str, file: str, first_line: int) -> list[_Row]:
    """The lines by the names of the heading. SpecificationError where it is no such table."""

    def refused(line: int | None, column: str, what: str, allowed: str) -> SpecificationError:
        return SpecificationError([Fault(file, line, column, "", what, allowed)])

    if len(text) > LONGEST_ROWS:
        raise refused(None, "", f"the readings have {len(text)} characters", f"at most {LONGEST_ROWS}")
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    head = next((number for number, line in enumerate(lines) if line.strip()), None)
    if head is None:
        raise refused(first_line, "", "there are no readings", f"a heading and one line for each reading: {WAY}")
    delimiter = max(";,\t", key=lines[head].count)
    made: list[_Row] = []
    names: list[str] = []
    for number, line in enumerate(lines[head:], start=first_line + head):
        if not line.strip():
            continue
        cells = _cells(line, delimiter)
        if cells is None:
            raise refused(number, "", f"the line {shown(line)} is no line of cells", "short cells, in closed quotes")
        if not names:
            names = _heading(cells, file, number)
            continue
        if len(cells) > len(names) and any(cell.strip() for cell in cells[len(names) :]):
            raise refused(number, "", f"the line has {len(cells)} cells, the heading {len(names)}",
                          "as many cells as columns; a decimal comma between commas belongs into quotes")
        made.append(_Row(number, {name: " ".join(cell.split()) for name, cell in zip(names, cells, strict=False)}))
        if len(made) > MOST_READINGS:
            raise refused(number, "", f"there are more than {MOST_READINGS} readings", f"at most {MOST_READINGS}")
    return made


def _cells(line: str, delimiter: str) -> list[str] | None:
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True), [])
    except csv.Error:
        return None


def _heading(cells: Sequence[str], file: str, line: int) -> list[str]:
    names = [" ".join(cell.split()).casefold().replace("_", " ") for cell in cells]
    faults = []
    for name, cell in zip(names, cells, strict=True):
        if name not in COLUMNS:
            near = get_close_matches(name, COLUMNS, 1, 0.6)
            more = f"; did you mean {near[0]!r}?" if near else "; leave it out"
            faults.append(Fault(file, line, name[:60], cell, f"{shown(cell)} is not a column of readings{more}", WAY))
        elif names.count(name) > 1:
            faults.append(Fault(file, line, name, cell, f"the column {name!r} stands there twice", "each column once"))
    if "value" not in names:
        faults.append(Fault(file, line, "value", "", "the column 'value' is missing", WAY))
    if {"part", "group"} <= set(names):
        faults.append(Fault(file, line, "group", "", "part and group are the same column", "one of them"))
    if faults:
        raise SpecificationError(faults)
    return ["part" if name == "group" else name for name in names]


class _Placed:
    """Puts rows on their places; what does not fit becomes a fault."""

    def __init__(self, design: Design, file: str, faults: list[Fault]) -> None:
        self.design, self.file, self.faults = design, file, faults
        self.readings: list[Reading] = []
        self._seen: dict[Place, int] = {}
        self._count: dict[tuple[str, str], int] = {}

    def _fault(self, row: _Row, column: str, what: str, allowed: str) -> None:
        self.faults.append(Fault(self.file, row.line, column, row.cells.get(column, ""), what, allowed))

    def take(self, row: _Row) -> None:
        before = len(self.faults)
        for column in ("at", "remark", "left out"):
            self._check_words(row, column)
        place = self._place(row)
        value = self._value(row)
        if len(self.faults) > before or place is None:
            return
        left_out = row.cells.get("left out", "")
        if not left_out and value is not None:
            if place in self._seen:
                self._fault(row, "value", f"a second reading of the same place; line {self._seen[place]} has one",
                            "one reading for each place; say in the column 'left out' why one of them does not count")
                return
            self._seen[place] = row.line
        self.readings.append(Reading(row.line, place, value, row.cells.get("value", ""), row.cells.get("at", ""),
                                     row.cells.get("remark", ""), left_out))

    def _check_words(self, row: _Row, column: str) -> None:
        text = row.cells.get(column, "")
        if len(text) > LONGEST_CELL:
            self._fault(row, column, f"the cell has {len(text)} characters", f"at most {LONGEST_CELL}")
        elif not text.isprintable() or any(c in TURNING for c in text):
            self._fault(row, column, "the cell holds a character that cannot be printed", "letters, digits and signs")

    def _place(self, row: _Row) -> Place | None:
        person = self._name(row, "operator", self.design.persons, "person")
        part = self._name(row, "part", self.design.parts, self.design.part_word)
        if person is None or part is None:
            return None
        number = row.cells.get("replicate", "")
        if not number:
            if "replicate" in row.cells:
                self._fault(row, "replicate", "the replicate is missing", f"1 to {self.design.replicates}")
                return None
            if not row.cells.get("left out"):
                self._count[person, part] = self._count.get((person, part), 0) + 1
            number = str(max(1, self._count.get((person, part), 0)))
        if _WHOLE.fullmatch(number) is None or not 1 <= int(number) <= self.design.replicates:
            self._fault(row, "replicate", f"{shown(number)} is not one of the {self.design.replicates} replicates of "
                        "the design", f"1 to {self.design.replicates}; ask for more in design.replicates")
            return None
        return person, part, int(number)

    def _name(self, row: _Row, column: str, known: tuple[str, ...], word: str) -> str | None:
        """The name as the design writes it; "" where the design has none."""
        text = row.cells.get(column, "")
        if not known:
            if text:
                self._fault(row, column, f"{shown(text)}: this study names no {word}s", "an empty cell, or name them")
                return None
            return ""
        for name in known:
            if text.casefold() == " ".join(name.split()).casefold():
                return name
        near = get_close_matches(text[:60], known, 1, 0.6)
        more = f"; did you mean {near[0]!r}?" if near and text else ""
        what = f"{shown(text)} is not a {word} of this study{more}" if text else f"the {word} is missing"
        self._fault(row, column, what, ", ".join(known)[:400])
        return None

    def _value(self, row: _Row) -> float | None:
        text = row.cells.get("value", "")
        if not text:
            if not row.cells.get("remark") and not row.cells.get("left out"):
                self._fault(row, "value", "the reading is missing", "a number; or say in 'remark' why there is none")
            return None
        try:
            return value_of(text)
        except ValueError as error:
            self._fault(row, "value", str(error), "digits with a decimal point or comma, no unit, no exponent")
            return None
