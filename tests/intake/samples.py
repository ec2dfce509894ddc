"""Small invented files and mappings for the tests of intake."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

from openpyxl import Workbook

from evenpull.intake import Mapping, Reading, read_bytes, read_mapping

SEMICOLON = """form = "evenpull mapping 1"
name = "yard log"
[file]
kind = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
[time]
column = "Tag"
time_column = "Uhr"
format = "%d.%m.%Y %H:%M:%S"
zone = "Europe/London"
[columns]
joint = "Joint"
fastener = "Bolt"
pass = "Pass"
tool = "Wrench"
counter = "No"
direction = "Hand"
end_cause = "End"
operator = "By"
[torque]
column = "Torque"
unit_column = "Unit"
[angle]
column = "Angle"
unit = "deg"
[meaning]
direction.tighten = ["R"]
direction.loosen = ["L"]
end_cause.reached = ["signal"]
end_cause."stopped by user" = ["hand"]
"""
HEAD = "No;Wrench;Tag;Uhr;Joint;Bolt;Pass;Torque;Unit;Angle;Hand;End;By"
GOOD = "41;TW-1;17.03.2026;09:12:00;KN-1;3;2;90,5;Nm;28,0;R;signal;J. Mwangale"


def mapping(text: str = SEMICOLON) -> Mapping:
    """The mapping in a text."""
    return read_mapping(text, "mapping.toml")


def changed(text: str, *pairs: tuple[str, str]) -> Mapping:
    """The mapping in a text after replacing each first text by the second; the first must occur."""
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return read_mapping(text, "mapping.toml")


def rows(*lines: str, head: str = HEAD, end: str = "\r\n") -> bytes:
    """A file of a heading and lines."""
    return (end.join((head, *lines)) + end).encode()


def cell(place: int, value: str, line: str = GOOD) -> str:
    """The good line with one cell (0-based) replaced."""
    cells = line.split(";")
    cells[place] = value
    return ";".join(cells)


def read(*lines: str, how: Mapping | None = None) -> Reading:
    """A reading of lines under the heading of the yard log."""
    return read_bytes(rows(*lines), how or mapping(), "yard.csv")


SHEET = """form = "evenpull mapping 1"
name = "bench sheet"
[file]
kind = "xlsx"
sheet = "Data"
[time]
column = "When"
format = "%Y-%m-%d %H:%M:%S"
zone = "Europe/London"
[columns]
joint = "Joint"
fastener = "Bolt"
tool = "Wrench"
counter = "No"
[torque]
column = "Torque"
unit = "N.m"
negative = "loosening"
"""
SHEET_HEAD = ["No", "Wrench", "When", "Joint", "Bolt", "Torque"]


def workbook(data: Sequence[Sequence[Any]], change: Callable[[Workbook], None] | None = None) -> bytes:
    """Bytes of a workbook with one sheet "Data"; `change` may do more to it before it is saved."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Data"
    for row in data:
        sheet.append(list(row))
    if change is not None:
        change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
