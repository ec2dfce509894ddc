"""Rows of one sheet of an XLSX file, with what cannot be trusted in them marked cell by cell."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from python_calamine import CalamineError, CalamineWorkbook

from evenpull.intake.record import IntakeError
from evenpull.intake.schema import FileTable
from evenpull.intake.sources import listed
from evenpull.intake.textrows import NUL, Fault, SourceRow
from evenpull.intake.workbook import Area, Sheet, SheetFacts, Workbook, cell_name, damaged


class SheetRows:
    """One sheet, chosen by the mapping; `notes` says what a reader of the numbers should know about it."""

    def __init__(self, data: bytes, file: FileTable, name: str) -> None:
        self.name = name
        book = Workbook(data, name)
        self.sheet = _choose(book, file.sheet, name)
        self.facts = book.facts(self.sheet)
        self.notes = _notes(book, self.sheet, self.facts, file)
        self._rows = _values(book.safe(), self.sheet, name)

    def __iter__(self) -> Iterator[SourceRow]:
        covered = _Covered(self.facts, self.name)
        marks = _marks(self.facts)
        rows, self._rows = self._rows, []
        last = max(len(rows), self.facts.rows)
        for index in range(last):
            values = rows[index] if index < len(rows) else []
            found = marks.get(index, {}) | covered.at(index, max(self.facts.columns, len(values)))
            texts = [text_of(value) for value in values]
            for column, fault in found.items():
                if column >= len(texts):
                    gap = column + 1 - len(texts)
                    texts += [""] * gap
                    values += [""] * gap
                if fault.code == "error-cell":
                    texts[column] = self.facts.errors[(index, column)]
            end = next((at for at in range(len(texts), 0, -1) if texts[at - 1]), 0)
            raw = json.dumps(texts[:end], ensure_ascii=False)
            nul = any("\0" in text for text in texts)
            yield SourceRow(index + 1, texts, raw, values, NUL if nul else None, found or None)


def text_of(value: object) -> str:
    """What a cell holds, as a text: numbers without a needless ".0", dates and times in ISO form."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return value.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, int | timedelta):
        return str(value)
    raise TypeError(f"a cell cannot hold {type(value).__name__}")


def _choose(book: Workbook, wanted: str | None, name: str) -> Sheet:
    if not book.sheets:
        raise damaged(name, "it has no sheet")
    if wanted is None:
        return book.sheets[0]
    for sheet in book.sheets:
        if sheet.name == wanted:
            return sheet
    names = tuple(sheet.name for sheet in book.sheets)
    raise IntakeError("missing-sheet", name, f"the spreadsheet has no sheet {wanted!r}; its sheets are: "
                      f"{listed(names)}", field="file.sheet")


def _values(data: bytes, sheet: Sheet, name: str) -> list[list[object]]:
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        found = book.get_sheet_by_name(sheet.name)
        return [list(row) for row in found.to_python(skip_empty_area=False)]
    except (CalamineError, OSError, ValueError) as error:
        raise damaged(name, str(error)[:200]) from None
    except BaseException as error:
        # A defect inside the library arrives as PanicException, which is no Exception and cannot be imported.
        if type(error).__name__ != "PanicException":
            raise
        raise damaged(name, "the library that reads spreadsheets failed on it") from None


def _marks(facts: SheetFacts) -> dict[int, dict[int, Fault]]:
    """Row -> column -> what is wrong with the cell."""
    marks: dict[int, dict[int, Fault]] = {}
    for row, column in facts.without_value:
        marks.setdefault(row, {})[column] = Fault(
            "formula-without-value",
            f"cell {cell_name(row, column)} holds a formula whose result was never stored; open the file in a "
            "spreadsheet program, let it compute, and save it",
        )
    for (row, column), text in facts.errors.items():
        marks.setdefault(row, {})[column] = Fault("error-cell", f"cell {cell_name(row, column)} holds the error {text}")
    return marks


class _Covered:
    """Which cells of a row are covered by a merged area; asked row by row, downwards."""

    def __init__(self, facts: SheetFacts, file: str) -> None:
        self._waiting = sorted((area for area in facts.merged if area[1] < facts.columns), reverse=True)
        self._active: list[Area] = []
        self._file = file

    def at(self, row: int, width: int) -> dict[int, Fault]:
        while self._waiting and self._waiting[-1][0] <= row:
            self._active.append(self._waiting.pop())
        self._active = [area for area in self._active if area[2] >= row]
        if len(self._active) > width:
            raise damaged(self._file, f"merged cells overlap in row {row + 1}")
        found: dict[int, Fault] = {}
        for first_row, first_column, last_row, last_column in self._active:
            area = _area((first_row, first_column, last_row, last_column))
            for column in range(first_column, min(last_column + 1, width)):
                if (row, column) != (first_row, first_column):
                    found[column] = Fault(
                        "merged-cell",
                        f"cell {cell_name(row, column)} is covered by the merged cells {area}; what is meant here is "
                        "not guessed: undo the merging and write the value into each row",
                    )
        return found


def _notes(book: Workbook, sheet: Sheet, facts: SheetFacts, file: FileTable) -> list[str]:
    notes = []
    if file.sheet is None and len(book.sheets) > 1:
        notes.append(f"the spreadsheet has {len(book.sheets)} sheets; the first, {sheet.name!r}, was read")
    if sheet.hidden:
        notes.append(f"the sheet {sheet.name!r}, which was read, is hidden")
    hidden = tuple(other.name for other in book.sheets if other.hidden and other != sheet)
    if hidden:
        notes.append(f"hidden sheets were not read: {listed(hidden)}")
    if facts.hidden_rows:
        notes.append(f"{len(facts.hidden_rows)} hidden rows were read like all others: " + _some(
            [str(row + 1) for row in facts.hidden_rows]))
    if facts.hidden_columns:
        notes.append("hidden columns were read like all others: " + _some(
            [cell_name(0, low)[:-1] + ("" if low == high else " to " + cell_name(0, high)[:-1])
             for low, high in facts.hidden_columns]))
    if facts.formulas:
        notes.append(f"the sheet has {facts.formulas} formulas; their stored results were read, nothing was computed"
                     + (f"; {len(facts.without_value)} have no stored result: " + _some(
                         [cell_name(*place) for place in sorted(facts.without_value)]) if facts.without_value else ""))
    below = [area for area in facts.merged if area[2] >= file.header_rows[-1]]
    if below:
        notes.append(f"below the heading the sheet has {len(below)} merged areas: " + _some(
            [_area(area) for area in below]) + "; a row with a covered cell that is needed stays unread")
    return notes


def _area(area: Area) -> str:
    return f"{cell_name(*area[:2])}:{cell_name(*area[2:])}"


def _some(names: list[str]) -> str:
    return ", ".join(names[:12]) + (", …" if len(names) > 12 else "")
