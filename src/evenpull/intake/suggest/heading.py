"""Where the table begins and ends: banner lines, rows of the heading, first record, footer."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from evenpull.intake.heading import column_names
from evenpull.intake.record import IntakeError
from evenpull.intake.sources import tidy
from evenpull.intake.suggest.grid import Row
from evenpull.plan.values import line_text

_LOOKED = 60  # rows from the top among which the heading is looked for
_VALUE = re.compile(r"[+-]?[0-9][0-9.,:/'’ TZ+-]*(?: ?[AaPp][Mm])?")  # a number, a date, a time
_MARKING = re.compile(r"[^\W\d_][^\d:=]{2,}")  # words with which a footer begins, as far as they do not change


@dataclass(frozen=True)
class Layout:
    """Rows by their number in the file. `footer`: text a footer begins with, "" for none."""

    header_rows: tuple[int, ...]
    first_row: int
    names: tuple[str, ...]
    banner: tuple[Row, ...]
    body: tuple[Row, ...]
    footer: str
    why: str
    why_footer: str


def is_value(row: Row, column: int) -> bool:
    """The cell holds a number, a date or a time."""
    if column < len(row.values) and isinstance(row.values[column], int | float | date | datetime | time | timedelta):
        return True
    return column < len(row.cells) and _VALUE.fullmatch(row.cells[column]) is not None


def find_layout(rows: Sequence[Row], complete: bool, name: str) -> Layout:
    """Raises IntakeError "no-heading" where no row stands over the records as their heading."""
    width = max(Counter(len(row.cells) for row in rows if row.filled() >= 2).items(), key=lambda item: item[1],
                default=(0, 0))[0]
    used = [row for row in rows if row.filled() >= max(2, width * 0.4)]
    tail = used[len(used) // 4 :]  # a heading, banner or footer is no large part of a file
    shares = [sum(is_value(row, column) for row in tail) / max(len(tail), 1) for column in range(width)]
    numeric = [column for column, share in enumerate(shares) if share >= 0.6]

    def is_record(row: Row) -> bool:
        if row.filled() < max(2, width * 0.4):
            return False
        return sum(is_value(row, column) for column in numeric) >= max(1, len(numeric) * 0.6)

    first = next((at for at, row in enumerate(rows) if is_record(row)), None) if numeric else None
    if first is None or first == 0 or first > _LOOKED:
        raise IntakeError("no-heading", name, "no row was found that stands over the records as their heading; a file "
                          "without headings cannot be mapped: write a row of names above the records",
                          field="file.header_rows")
    heads = _heads(rows, first, width)
    if not heads:
        raise IntakeError("no-heading", name, f"records seem to begin in row {rows[first].number}, and no row of names "
                          "stands above them", line=rows[first].number, field="file.header_rows")
    last = max(at for at, row in enumerate(rows) if is_record(row))
    footer, why_footer = _footer(rows, first, last, complete)
    names = tuple(column_names([rows[at].cells for at in heads]))
    why = (f"{'sure' if len(heads) == 1 and heads[0] == 0 else 'likely'}: row {rows[first].number} is the first that "
           "holds numbers or times where the records do")
    return Layout(
        tuple(rows[at].number for at in heads), rows[first].number, names, tuple(rows[: heads[0]]),
        tuple(rows[first : last + 1]), footer, why, why_footer,
    )


def _heads(rows: Sequence[Row], first: int, width: int) -> list[int]:
    at = first - 1
    while at >= 0 and rows[at].filled() < 2:
        at -= 1
    if at < 0 or first - at > 3:
        return []
    heads = [at]
    units = _is_units(rows[at])
    while at > 0 and len(heads) < 3:
        above, here = rows[at - 1], rows[at]
        if above.filled() < 2 or any(is_value(above, c) for c in range(len(above.cells))):
            break
        if any(":" in cell or "=" in cell for cell in above.cells):
            break  # "Site: ..." is a banner
        groups = above.filled() < here.filled() and above.filled() <= width * 0.8
        doubled = max(Counter(cell for cell in here.cells if cell).values(), default=0) > 1
        if not (units or groups or doubled) or (not units and _widest(above) < 2 and not doubled):
            break
        heads.insert(0, at - 1)
        at -= 1
        units = False
    return heads


def _is_units(row: Row) -> bool:
    """A row of units under the names: short cells, most in brackets or blank."""
    cells = [cell for cell in row.cells if cell]
    return bool(cells) and all(len(cell) <= 9 for cell in cells) and (
        len(cells) < len(row.cells) * 0.6 or all(cell[0] in "[(-" for cell in cells))


def _widest(row: Row) -> int:
    """Columns under the widest group of a row of groups: a filled cell and the blank ones after it."""
    best = run = 0
    for cell in row.cells:
        run = 1 if cell else run + (run > 0)
        best = max(best, run)
    return best


def _footer(rows: Sequence[Row], first: int, last: int, complete: bool) -> tuple[str, str]:
    after = [row for row in rows[last + 1 :] if row.filled()]
    if not complete:
        return "", "the end of the file was not looked at: it is too long"
    if not after:
        return "", ""
    start = next(cell for cell in after[0].cells if cell)
    found = _MARKING.match(start)
    mark = tidy(found[0]) if found else ""
    taken = any(next((cell for cell in row.cells if cell), "").startswith(mark) for row in rows[first : last + 1])
    try:
        line_text(mark)
    except ValueError:
        mark = ""
    if not mark or taken:
        return "", f"row {after[0].number} after the records is no record; it will stay unread"
    return mark, f"likely: row {after[0].number} and all after it hold no record"
