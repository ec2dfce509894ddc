"""Paper sizes and the room that each part of a pass sheet takes, in mm. The template draws what is planned here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from evenpull.plan.model import Pass

GAP, GAP_EVERY = 1.6, 4
COLUMN_GAP = 5.0
SETTING, _SETTING_LINE = 15.0, 5.4
_PASS_HEAD, _LINE, _STRIPS, _COLUMN_HEAD, _PASS_FOOT = 20.0, 5.2, 32.5, 11.0, 14.0
_LETTERS_PER_MM = 0.52  # of the 11 point text above the settings, on the safe side
LARGEST_MAP = 120.0
SIZES = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
# Sizes of boxes, common practice, no source. "large" is for gloves and red light: wider boxes, and as every version
# black alone. "clean room" is for coated stock: no area is filled with toner, which would come off.
Version = Literal["plain", "large", "clean room"]
VERSIONS: tuple[Version, ...] = get_args(Version)


@dataclass(frozen=True, slots=True)
class Paper:
    name: str
    width: float
    height: float
    side: float = 12.0
    top: float = 33.0
    bottom: float = 22.0
    code: float = 44.0  # on the front
    head_code: float = 24.0  # each, with its quiet zone
    foot_code: float = 15.0
    version: str = "plain"

    @property
    def large(self) -> bool:
        return self.version == "large"

    @property
    def cell(self) -> float:
        """Width of the cell of one digit."""
        return 11.0 if self.large else 8.0

    @property
    def box(self) -> float:
        """Height of a box to write in, width of one to tick."""
        return 12.0 if self.large else 9.0

    @property
    def row(self) -> float:
        return 14.0 if self.large else 10.0

    @property
    def largest_row(self) -> float:
        return 17.0 if self.large else 13.0

    @property
    def room(self) -> tuple[float, float]:
        """Width and height of the text area."""
        return self.width - 2 * self.side, self.height - self.top - self.bottom


def paper(name: str, *, draft: bool = False, version: str = "plain") -> Paper:
    if name not in SIZES:
        raise ValueError(f"paper {name!r} is not known; allowed: {', '.join(SIZES)}")
    if version not in VERSIONS:
        raise ValueError(f"version {version!r} of a card is not known; allowed: {', '.join(VERSIONS)}")
    return Paper(name, *SIZES[name], top=43.0 if draft else 33.0, version=version)


@dataclass(frozen=True, slots=True)
class RowPlan:
    """One row of a pass sheet; `gap` adds air above it, `order` is shared by fasteners pulled together."""

    order: int
    fastener: int
    gap: bool


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """One page of a pass: columns of rows; `map_room` is (width, height, beside the columns?) or None."""

    columns: tuple[tuple[RowPlan, ...], ...]
    row: float  # height of a row
    map_room: tuple[float, float, bool] | None


def column_widths(
    one: Pass, whole: int, decimals: int, on: Paper, *, angle: bool, own: tuple[float, ...] = ()
) -> tuple[float, ...]:
    """order, number, [setting and its words], tick, value cells, [angle cells], [moved tick, degrees cells]."""
    order, number = (9.0, 12.5) if sum(len(group) for group in one.order) < 100 else (10.5, 13.0)
    # Four digits without decimals share one open box as wide as three cells (see the template).
    value = on.cell * (whole + decimals) + 2.6 if decimals else on.cell * min(whole, 3)
    widths = [order, number, *own, on.box + 1.0, value + 1.0]
    if angle:
        widths.append(3 * on.cell + 1.0)
    if one.check:
        widths += [max(14.0, on.box + 1.0), 2 * on.cell + 1]
    return tuple(widths)


def setting_height(tool: str, chain: str, words: str, problem: str) -> float:
    """Height of the line of one setting; long texts need more than the usual two lines."""
    lines = max(
        -(-len(tool) // 14) + -(-len(chain) // 20),
        -(-len(words) // 34),
        -(-(len(problem) + 26) // 60) if problem else 0,
    )
    return max(SETTING, lines * _SETTING_LINE + 2)


def smallest_map(count: int) -> float:
    """Least width and height at which every number of a ring has its place beside its neighbours."""
    return max(60.0, 25.4 + 3.06 * count)


def plan_sheets(one: Pass, widths: tuple[float, ...], settings: float, how: str, on: Paper) -> tuple[SheetPlan, ...]:
    """Rows in pulling order, down each column, as few pages as hold them; `settings` is the height of their lines.

    Raises ValueError when not even three rows fit.
    """
    width, height = on.room
    most_columns = max(1, int((width + COLUMN_GAP) // (sum(widths) + COLUMN_GAP)))
    groups = list(enumerate(one.order, start=1))
    sheets: list[SheetPlan] = []
    head = _PASS_HEAD + _LINE * -(-len(how) // int(_LETTERS_PER_MM * width)) + settings
    while groups:
        room = height - head - _COLUMN_HEAD - _PASS_FOOT - (0 if sheets else _STRIPS)
        per_column = _rows_in(room, on.row)
        if per_column < 3:
            raise ValueError("the settings of so many tools leave no room for the fasteners; choose fewer tools")
        columns, rest = _fill(groups, per_column, most_columns)
        # The fewest rows that still need no more columns: columns of about the same length.
        longest = next(n for n in range(1, per_column + 1) if len(_fill(groups, n, len(columns))[1]) == len(rest))
        columns, groups = _fill(groups, longest, len(columns))
        length = max(len(column) for column in columns)
        map_room = None
        if not sheets and not groups:
            beside = width - len(columns) * (sum(widths) + COLUMN_GAP)
            map_room = _map_room(beside, width, room, length, on.row, smallest_map(sum(len(c) for c in columns)))
        row = on.row
        if map_room is None or map_room[2]:
            # Room is left: larger rows for gloves.
            row = max(on.row, min(on.largest_row, (room - (length - 1) // GAP_EVERY * GAP) / length))
        sheets.append(SheetPlan(columns, row, map_room))
    return tuple(sheets)


Groups = list[tuple[int, tuple[int, ...]]]  # place in the order, fasteners pulled at the same time


def _fill(groups: Groups, per_column: int, most_columns: int) -> tuple[tuple[tuple[RowPlan, ...], ...], Groups]:
    """Columns of rows and the groups that are left over. Only a group longer than a column is split."""
    columns: list[list[RowPlan]] = []
    for done, (place, fasteners) in enumerate(groups):
        left = fasteners
        while left:
            free = per_column - len(columns[-1]) if columns else 0
            if free < min(len(left), per_column):
                if len(columns) == most_columns:
                    return tuple(map(tuple, columns)), [(place, left), *groups[done + 1 :]]
                columns.append([])
                free = per_column
            column = columns[-1]
            for fastener in left[:free]:
                column.append(RowPlan(place, fastener, bool(column) and len(column) % GAP_EVERY == 0))
            left = left[free:]
    return tuple(map(tuple, columns)), []


def _rows_in(room: float, row: float) -> int:
    rows = int(room // row)
    while rows and rows * row + (rows - 1) // GAP_EVERY * GAP > room:
        rows -= 1
    return rows


def _map_room(
    beside: float, width: float, room: float, rows: int, row: float, least: float
) -> tuple[float, float, bool] | None:
    below = room - rows * row - (rows - 1) // GAP_EVERY * GAP - 6
    side_by_side, under = min(beside, room), min(width, below)
    if max(side_by_side, under) < least:
        return None
    if side_by_side >= under:
        return side_by_side, min(room, LARGEST_MAP), True
    return min(width, LARGEST_MAP), under, False
