"""The rows of a file before anybody said how to read it: kind, encoding, delimiter, sheet."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice

from evenpull.intake import sniff
from evenpull.intake.decode import survey
from evenpull.intake.limits import MAX_BYTES, MAX_XLSX_BYTES, megabytes
from evenpull.intake.record import IntakeError
from evenpull.intake.schema import FileTable
from evenpull.intake.sheetrows import SheetRows
from evenpull.intake.sources import tidy
from evenpull.intake.suggest.model import Answers, Choice, Question
from evenpull.intake.textrows import text_rows
from evenpull.intake.workbook import Workbook
from evenpull.plan.values import line_text

MOST_ROWS = 20_000  # rows that are looked at
DELIMITERS = {";": "semicolon", ",": "comma", "\t": "tabulator", "|": "upright bar"}
_TRIED_ROWS = 400  # rows on which delimiters and sheets are tried


@dataclass(frozen=True, slots=True)
class Row:
    """`cells` tidied; `values` what a spreadsheet holds (None for texts and in CSV)."""

    number: int
    cells: tuple[str, ...]
    values: tuple[object, ...] = ()

    def filled(self) -> int:
        return sum(1 for cell in self.cells if cell)


@dataclass(frozen=True)
class Grid:
    """`settings`: key of [file] -> (TOML value as Python value, why). `complete`: all rows of the file are here."""

    kind: str
    rows: tuple[Row, ...]
    complete: bool
    settings: dict[str, tuple[object, str]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def load(name: str, data: bytes, answers: Answers) -> Grid:
    """The rows of a file. Raises IntakeError for what is no table or beyond the limits, as reading does."""
    if not data:
        raise IntakeError("empty-file", name, "the file is empty; was it exported, and copied to the end?")
    head = data[: sniff.HEAD]
    what = sniff.what_it_is(head)
    if head.startswith(sniff.OLD_OFFICE):
        what = sniff.what_old_office(data)
    elif sniff.is_zip(head):
        what = sniff.what_zip(io.BytesIO(data))
    sheet = what == "xlsx"
    if what and not sheet:
        raise IntakeError("not-a-table", name, f"this is {what}, whatever its name says; export the records as CSV or "
                          "XLSX")
    most = MAX_XLSX_BYTES if sheet else MAX_BYTES
    if len(data) > most:
        raise IntakeError("too-large", name, f"the file has {megabytes(len(data))}, the most is {megabytes(most)}; "
                          "export a shorter period, or split the file with the heading in each part")
    return _workbook(name, data, answers) if sheet else _text(name, data, answers)


def _encoding(data: bytes) -> tuple[str, str]:
    if data.startswith(b"\xef\xbb\xbf"):
        return "utf-8", "sure: byte order mark"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16", "sure: byte order mark"
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", "likely: not UTF-8; look whether letters with accents are right"
    if text.isascii():
        return "utf-8", "sure for this file, which holds plain letters only"
    return "utf-8", "sure: every byte is valid UTF-8"


def _text(name: str, data: bytes, answers: Answers) -> Grid:
    encoding, why = _encoding(data)
    seen = survey(io.BytesIO(data), encoding, name)
    if seen.blank:
        raise IntakeError("empty-file", name, "the file holds nothing but blank lines; was it exported, and copied to "
                          "the end?")

    def rows(delimiter: str, most: int) -> Iterator[Row]:
        table = FileTable(kind="csv", encoding=encoding, delimiter=delimiter)
        with closing(text_rows(io.BytesIO(data), seen, table)) as found:
            for one in islice(found, most):
                yield Row(one.number, () if one.fault else tuple(map(tidy, one.cells)))

    tried = {mark: _score(list(rows(mark, _TRIED_ROWS))) for mark in DELIMITERS}
    best = max(tried.values())
    good = [mark for mark, score in tried.items() if score >= best - 0.2 and score > 0]
    if best <= 0 and sum(1 for row in rows(",", 10) if any(row.cells)) < 2:
        raise IntakeError("no-records", name, "the file holds one line and no record under it; was it exported with "
                          "its records, and copied to the end?")
    if best <= 0:
        raise IntakeError("not-a-table", name, "no delimiter parts the lines of this file into the same columns; "
                          "tried: " + ", ".join(DELIMITERS.values()))
    mark, sure = good[0], f"sure: parts the rows into the same columns, and no other sign does ({DELIMITERS[good[0]]})"
    if len(good) > 1:
        answer = answers.ask(Question(
            "file.delimiter", "Several signs part the rows evenly. Which one stands between the cells?",
            tuple(Choice(one, DELIMITERS[one]) for one in good),
        ))
        mark, sure = answer or max(good, key=lambda one: tried[one]), "answered" if answer else "guess: see question"
    found = tuple(rows(mark, MOST_ROWS + 1))
    complete = len(found) <= MOST_ROWS
    return Grid("csv", found[:MOST_ROWS], complete, {
        "kind": ("csv", ""), "encoding": (encoding, why), "delimiter": (mark, sure),
    }, seen.notes)  # fmt: skip


def _score(rows: list[Row]) -> float:
    """How well rows hang together: share of filled rows with the commonest number of cells, and a little for columns.

    0 where hardly any row is parted. A heading that is parted counts as much as the records, which tells the delimiter
    from the decimal comma.
    """
    widths = [len(row.cells) for row in rows if row.filled()]
    if not widths:
        return 0.0
    width, times = Counter(widths).most_common(1)[0]
    parted = Counter(w for w in widths if w > 1)
    if width == 1 and parted:  # a long banner of single cells
        width, times = parted.most_common(1)[0]
    if width < 3 or times < 2:
        return 0.0
    first = next((row for row in rows if len(row.cells) >= width and row.filled() >= max(2, width // 2)), None)
    if first is None or not any(c.isalpha() for cell in first.cells for c in cell):
        return 0.0
    named = [row for row in rows[:60] if len(row.cells) == width and row.filled() >= max(2, width // 2)
             and sum(1 for cell in row.cells if cell and not any(c.isdigit() for c in cell)) >= row.filled() * 0.6]
    return times / len(widths) + (1.0 if named else 0.0) + min(width, 40) / 400


def _workbook(name: str, data: bytes, answers: Answers) -> Grid:
    sheets = Workbook(data, name).sheets
    loaded: dict[str, tuple[Row, ...]] = {}
    for sheet in sheets[:20]:
        loaded[sheet.name] = _sheet(name, data, sheet.name)
    scores = {title: _score(list(rows[:_TRIED_ROWS])) for title, rows in loaded.items()}
    good = [title for title, score in scores.items() if score > 0]
    if not good:
        raise IntakeError("not-a-table", name, "no sheet of this spreadsheet holds a table with a heading and records")
    title, why = good[0], "sure: the only sheet" if len(sheets) == 1 else "sure: the only sheet that holds a table"
    if len(good) > 1:
        answer = answers.ask(Question(
            "file.sheet", "Several sheets hold a table. Which one holds the records?",
            tuple(Choice(one, f"{one}: {len(loaded[one])} rows") for one in good),
        ))
        title, why = answer or good[0], "answered" if answer else "guess: see question"
    settings: dict[str, tuple[object, str]] = {"kind": ("xlsx", "")}
    notes = []
    try:
        line_text(title)
        settings["sheet"] = (title, why)
    except ValueError:
        if title != sheets[0].name:
            raise IntakeError("missing-sheet", name, "the name of the sheet cannot be written in a mapping file; give "
                              "it a plain name") from None
        notes.append("the first sheet is read: its name cannot be written in a mapping file")
    rows = loaded[title]
    return Grid("xlsx", rows[:MOST_ROWS], len(rows) <= MOST_ROWS, settings, tuple(notes))


def _sheet(name: str, data: bytes, title: str) -> tuple[Row, ...]:
    rows = []
    for one in islice(SheetRows(data, FileTable(kind="xlsx", sheet=title), name), MOST_ROWS + 1):
        values = tuple(None if isinstance(value, str) else value for value in one.values or ())
        rows.append(Row(one.number, () if one.fault else tuple(map(tidy, one.cells)), values))
    return tuple(rows)
