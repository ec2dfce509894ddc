"""Reading one file of a tool: every row becomes a tightening, an unread row, or is set aside by the mapping's own rule.

The file is never changed and never held as a whole (a spreadsheet is, within its own limits). Either a complete
`Reading` comes out or an `IntakeError`; nothing in between.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO, Protocol

from evenpull.intake import sniff
from evenpull.intake.decode import survey
from evenpull.intake.heading import Heading
from evenpull.intake.limits import MAX_BYTES, MAX_XLSX_BYTES, megabytes
from evenpull.intake.mapping import Mapping
from evenpull.intake.record import IntakeError, Reading, SetAside, Tightening, UnreadRow
from evenpull.intake.row import RowReader
from evenpull.intake.schema import FileTable
from evenpull.intake.sheetrows import SheetRows
from evenpull.intake.sources import tidy
from evenpull.intake.textrows import SourceRow, text_rows

NOT_CLEAN = "the last line does not end with a line break: look whether the file was cut off"


def read_file(path: Path, mapping: Mapping, *, name: str | None = None) -> Reading:
    """Read a file under a mapping; `name` is what messages and the reading call it (the file's own name by default).

    Raises IntakeError when the file as a whole cannot be taken in, OSError when it cannot be opened.
    """
    called = name or path.name
    before = path.stat()
    _check_size(before.st_size, mapping, called)
    with path.open("rb") as stream:
        reading = _read(stream, mapping, called)
    after = path.stat()
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns) or reading.size != after.st_size:
        raise IntakeError("changed-while-reading", called, "the file was changed while it was read; wait until the "
                          "other program has finished writing, then take it in again")
    return reading


def read_bytes(data: bytes, mapping: Mapping, name: str) -> Reading:
    """The same for a file that is already in memory."""
    _check_size(len(data), mapping, name)
    return _read(io.BytesIO(data), mapping, name)


class TableMapping(Protocol):
    """What is asked of a mapping before a row is looked at: its name, and how the file is written."""

    @property
    def name(self) -> str: ...

    @property
    def file(self) -> FileTable: ...


def table_rows(data: bytes, mapping: TableMapping, name: str) -> tuple[list[SourceRow], list[str]]:
    """All rows of a file in memory, from the first on, for whoever sorts them himself, and what is worth a note.

    Raises IntakeError when the file as a whole cannot be read under the mapping.
    """
    _check_size(len(data), mapping, name)
    stream = io.BytesIO(data)
    if not data:
        raise IntakeError("empty-file", name, "the file is empty; was it exported, and copied to the end?")
    _check_kind(data[: sniff.HEAD], stream, mapping, name)
    if mapping.file.kind == "xlsx":
        sheet = SheetRows(data, mapping.file, name)
        return list(sheet), list(sheet.notes)
    seen = survey(stream, mapping.file.encoding, name)
    with closing(text_rows(stream, seen, mapping.file)) as rows:
        found = list(rows)
    notes = [] if seen.ends_clean else [NOT_CLEAN]
    return found, [*seen.notes, *notes]


def _check_size(size: int, mapping: TableMapping, name: str) -> None:
    most = MAX_BYTES if mapping.file.kind == "csv" else MAX_XLSX_BYTES
    if size > most:
        raise IntakeError(
            "too-large", name,
            f"the file has {megabytes(size)}, the most one {mapping.file.kind} file may have is {megabytes(most)}; "
            "export a shorter period, or split the file by day or by tool with the heading in each part",
        )


def _read(stream: BinaryIO, mapping: Mapping, name: str) -> Reading:
    head = stream.read(sniff.HEAD)
    stream.seek(0)
    if not head:
        raise IntakeError("empty-file", name, "the file is empty; was it exported, and copied to the end?")
    _check_kind(head, stream, mapping, name)
    if mapping.file.kind == "xlsx":
        data = stream.read()
        sheet = SheetRows(data, mapping.file, name)
        sorting = _Sorting(mapping, name, sha256(data).hexdigest())
        sorting.take(sheet)
        return sorting.reading(len(data), "xlsx", sheet.notes)
    seen = survey(stream, mapping.file.encoding, name)
    if seen.blank:
        raise IntakeError("empty-file", name, "the file holds nothing but blank lines; was it exported, and copied to "
                          "the end?")
    sorting = _Sorting(mapping, name, seen.sha256)
    with closing(text_rows(stream, seen, mapping.file)) as rows:
        sorting.take(rows)
    notes = list(seen.notes)
    if not seen.ends_clean:
        notes.append(NOT_CLEAN)
    return sorting.reading(seen.size, seen.encoding, notes)


def _check_kind(head: bytes, stream: BinaryIO, mapping: TableMapping, name: str) -> None:
    """Refuse what is no table, and a table of the other kind, saying what the file really is."""
    kind = mapping.file.kind
    what = sniff.what_it_is(head)
    if head.startswith(sniff.OLD_OFFICE):
        what = sniff.what_old_office(stream.read())
        stream.seek(0)
        code = "password" if "password" in what else "not-a-table"
        raise IntakeError(code, name, f"this is {what}; open it in a spreadsheet program and save the sheet as CSV or "
                          "as XLSX without a password")
    if sniff.is_zip(head):
        what = sniff.what_zip(stream)
        stream.seek(0)
        if what == "xlsx":
            if kind == "xlsx":
                return
            raise IntakeError("spreadsheet-not-csv", name, "this is an XLSX spreadsheet, and the mapping "
                              f"{mapping.name!r} is for CSV text; take a mapping with kind = \"xlsx\", or save the "
                              "sheet as CSV", field="file.kind")
    if what:
        raise IntakeError("not-a-table", name, f"this is {what}, whatever its name says; export the records as CSV or "
                          "XLSX")
    if kind == "xlsx":
        raise IntakeError("csv-not-spreadsheet", name, f"this is no spreadsheet, and the mapping {mapping.name!r} is "
                          "for XLSX; if it is text with delimiters, take a mapping with kind = \"csv\"",
                          field="file.kind")


class _Sorting:
    """Sorts the rows of one file: heading, records, and what the mapping sets aside."""

    def __init__(self, mapping: Mapping, name: str, file_sha256: str) -> None:
        self.mapping, self.name, self.file_sha256 = mapping, name, file_sha256
        self.tightenings: list[Tightening] = []
        self.unread: list[UnreadRow] = []
        self.aside: list[SetAside] = []
        self.heading: Heading | None = None
        self.notes: list[str] = []
        self._heads: dict[int, SourceRow] = {}
        self._reader: RowReader | None = None
        self._footer = 0  # row of the footer mark, 0 while not met
        self._stop = tidy(mapping.file.stop_at or "")
        self._skip_column = -1
        self._last_head: list[str] = []
        self._head_first = ""

    def take(self, rows: Iterable[SourceRow]) -> None:
        file = self.mapping.file
        wanted = set(file.header_rows)
        last_head = file.header_rows[-1]
        first = file.first_row or last_head + 1
        last_seen = 0
        for row in rows:
            last_seen = row.number
            if row.number > last_head and self._reader is None:
                self._begin(row.number)
            if row.number in wanted:
                self._heads[row.number] = row
                self._set_aside(row, "heading")
                if row.number == last_head:
                    self._begin(row.number)
            elif row.number < first:
                self._set_aside(row, "above the heading" if row.number < last_head else "between heading and first row")
            else:
                self._sort(row)
        if self._reader is None:
            raise IntakeError(
                "no-heading", self.name,
                f"the mapping looks for the heading in row {last_head}, but the file ends with row {last_seen}",
                field="file.header_rows",
            )

    def _begin(self, number: int) -> None:
        """The heading is complete: find the columns."""
        file = self.mapping.file
        missing = [row for row in file.header_rows if row not in self._heads]
        faulty = [row for row in self._heads.values() if row.fault is not None]
        if missing:
            raise IntakeError("no-heading", self.name, f"no row begins in line {missing[0]}, where the mapping looks "
                              "for the heading; a quotation mark before it may be open", line=missing[0],
                              field="file.header_rows")
        if faulty and faulty[0].fault is not None:
            raise IntakeError("no-heading", self.name, f"the heading cannot be read: {faulty[0].fault.reason}",
                              line=faulty[0].number, field="file.header_rows")
        self.heading = Heading([self._heads[row].cells for row in file.header_rows], self.mapping, self.name)
        self._reader = RowReader(self.mapping, self.heading, self.file_sha256)
        self._last_head = [tidy(cell) for cell in self._heads[file.header_rows[-1]].cells]
        self._head_first = next((text.strip() for text in self._heads[file.header_rows[-1]].cells if text.strip()), "")
        if file.skip_where is not None:
            self._skip_column = self.heading.at[file.skip_where.column]

    def _sort(self, row: SourceRow) -> None:
        why = self._why_aside(row)
        if why:
            self._set_aside(row, why)
            return
        if self._reader is None:
            raise AssertionError("a record before the heading")
        found = self._reader.read(row)
        if isinstance(found, Tightening):
            self.tightenings.append(found)
        else:
            self.unread.append(found)

    def _why_aside(self, row: SourceRow) -> str:
        if self._footer:
            return f"after the footer mark in row {self._footer}"
        if row.fault is not None:
            return ""
        cells = row.cells
        first = (cells[0].strip() if cells else "") or next((text for text in map(str.strip, cells) if text), "")
        if not first:
            return "" if row.faulty and any(f.code != "merged-cell" for f in row.faulty.values()) else "blank"
        if self._stop and tidy(first).startswith(self._stop):
            self._footer = row.number
            return f"footer ({self._stop})"
        if first == self._head_first and [tidy(cell) for cell in cells] == self._last_head:
            return "heading repeated"
        skip = self.mapping.file.skip_where
        if skip is not None and self._skip_column < len(cells) and tidy(cells[self._skip_column]) in skip.equals:
            return f"{skip.column} = {tidy(cells[self._skip_column])}"
        return ""

    def _set_aside(self, row: SourceRow, why: str) -> None:
        self.aside.append(SetAside(row.number, row.raw.replace("\0", "\u2400"), why))

    def reading(self, size: int, encoding: str, notes: list[str]) -> Reading:
        """What came out, with the notes of the file as a whole."""
        if self.heading is None or self._reader is None:
            raise AssertionError("a reading without a heading")
        notes = notes + self.heading.notes + self._reader.notes()
        if not self.tightenings and not self.unread:
            notes.append("the file has a heading and no records")
        elif not self.tightenings:
            notes.append("not one row could be read: the mapping may not be the one for this file")
        if self._stop and not self._footer:
            notes.append(f"the footer mark {self._stop!r} was not met: look whether the file was cut off")
        if self._footer:
            behind = sum(1 for row in self.aside if row.row > self._footer and row.raw.strip() not in ("", "[]"))
            if behind:
                notes.append(f"rows after the footer mark in row {self._footer} that hold something: {behind}; they "
                             "were set aside")
        return Reading(
            self.name, self.file_sha256, size, self.mapping.name, self.mapping.digest, encoding, self.heading.names,
            tuple(self.tightenings), tuple(self.unread), tuple(self.aside), tuple(notes),
        )
