"""Rows of a CSV file with their physical line and their exact text, one at a time.

A quoted cell may hold line breaks; the number of such a row is its first physical line. A quotation mark that is opened
and never closed would swallow the rest of the file: then its first line alone becomes an unread row and reading goes
on with the next line.
"""

from __future__ import annotations

import csv
import io
from collections import deque
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from typing import BinaryIO

from evenpull.intake.decode import Survey
from evenpull.intake.limits import MAX_LINE, MAX_QUOTED_LINES
from evenpull.intake.schema import QUOTES, FileTable


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a row cannot be read, before anything is known about its columns."""

    code: str
    reason: str


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One row as it stands in the file.

    `number`: 1-based line or row; `cells`: texts; `values`: what a spreadsheet holds in each cell (None where it is a
    text), None for CSV; `raw`: the text of the row without its last line break; `faulty`: columns (0-based) whose cell
    cannot be trusted, with the reason.
    """

    number: int
    cells: list[str]
    raw: str
    values: list[object] | None = None
    fault: Fault | None = None
    faulty: dict[int, Fault] | None = None


_OPEN = "unexpected end of data"  # what the csv module says when a quoted cell does not end
NUL = Fault("nul", "the row holds NUL bytes: a part of it was lost when it was written")


def text_rows(stream: BinaryIO, seen: Survey, file: FileTable) -> Generator[SourceRow, None, None]:
    """All rows of the stream, from the first line on; `seen` is what the first pass found about it."""
    stream.seek(seen.start)
    text = io.TextIOWrapper(stream, encoding=seen.codec, errors="strict", newline="")
    try:
        yield from _rows(text, file)
    finally:
        text.detach()  # the stream belongs to the caller


class _Lines:
    """Physical lines with the possibility to put some back."""

    def __init__(self, text: io.TextIOWrapper) -> None:
        self._text = text
        self._back: deque[str] = deque()

    def next(self) -> str:
        return self._back.popleft() if self._back else self._text.readline(MAX_LINE + 2)

    def put_back(self, lines: list[str]) -> None:
        self._back.extendleft(reversed(lines))


def _rows(text: io.TextIOWrapper, file: FileTable) -> Iterator[SourceRow]:
    lines = _Lines(text)
    quote = QUOTES[file.quote]
    delimiter = file.delimiter or ","
    number = 1
    while line := lines.next():
        body = line.rstrip("\r\n")
        if not quote or quote not in body:  # nothing is quoted: the delimiter alone parts the cells
            cells = body.split(delimiter) if body else []
            yield SourceRow(number, cells, body, fault=NUL if "\0" in body else None)
            number += 1
            continue
        taken = [line]
        yield _quoted(taken, lines, delimiter, quote, number)
        number += len(taken)


def _quoted(taken: list[str], lines: _Lines, delimiter: str, quote: str, number: int) -> SourceRow:
    """A row with quotation marks; appends to `taken` the lines over which it runs."""
    size = len(taken[0])
    following = taken[0]
    while following:
        if quote in following:  # only then can the cell end here
            joined = "".join(taken)
            try:
                found = next(csv.reader((joined,), delimiter=delimiter, quotechar=quote, strict=True), [])
            except csv.Error as error:
                if _OPEN not in str(error):
                    break
            else:
                body = joined.rstrip("\r\n")
                return SourceRow(number, found, body, fault=NUL if "\0" in body else None)
        following = lines.next() if len(taken) < MAX_QUOTED_LINES and size < MAX_LINE else ""
        if following:
            taken.append(following)
            size += len(following)
    several = len(taken) > 1
    lines.put_back(taken[1:])
    del taken[1:]
    body = taken[0].rstrip("\r\n")
    alone = _parse_fault(taken[0], delimiter, quote)
    fault = alone or Fault(
        "unclosed-quote",
        f"a quotation mark ({quote}) is opened and not closed" + (
            f" in the {MAX_QUOTED_LINES} lines that a cell may run over" if several else ""
        ) + "; only this line is held back, reading went on with the next",
    )
    return SourceRow(number, [], body, fault=NUL if "\0" in body else fault)


def _parse_fault(line: str, delimiter: str, quote: str) -> Fault | None:
    """The fault of one line that is wrong in itself, whatever follows; None when it only lacks its end."""
    try:
        list(csv.reader((line,), delimiter=delimiter, quotechar=quote, strict=True))
    except csv.Error as error:
        if _OPEN in str(error):
            return None
        if "field limit" in str(error):
            return Fault("cell-too-long", "a cell is longer than can be read")
        return Fault("bad-quote", f"after a closing quotation mark ({quote}) stands something other than the delimiter "
                                  f"{delimiter!r}")
    return None
