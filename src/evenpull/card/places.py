"""The boxes of a card and where each stands on its page, as the layout says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

BoxKind = Literal["tick", "value", "written"]
POINT_WIDTH = 2.6  # mm, the printed decimal point between digit cells
OPEN_DIGITS = 3  # more whole digits without decimals share one open box (see the template)


@dataclass(frozen=True, slots=True)
class Field:
    """A kind of box. `code` stands for `name` in the code of a page and is never given to another name. `framed`: a
    frame is printed around it, by which a reader finds it on a bent page."""

    code: int
    name: str
    kind: BoxKind
    words: str
    framed: bool = True


FIELDS = (
    Field(1, "tag", "written", "tag at the joint"),
    Field(2, "second_mark", "written", "second mark at the joint"),
    Field(3, "series", "written", "number of the unit"),
    Field(4, "identity_agrees", "tick", "tag and mark agree with the card"),
    Field(5, "identity_initials", "written", "initials: identity"),
    Field(6, "permit", "written", "permit number"),
    Field(7, "isolation", "written", "isolation number"),
    Field(8, "proven_by", "written", "no pressure, no stored energy: proven by"),
    Field(9, "proven_date", "written", "date of that proof"),
    Field(10, "proven_time", "written", "time of that proof"),
    Field(11, "tool", "written", "tool serial"),
    Field(12, "tool_in_date", "written", "certificate in date?"),
    Field(13, "tool_counter_start", "written", "counter at start"),
    Field(14, "tool_counter_end", "written", "counter at end"),
    Field(15, "condition", "written", "material, weather, clock"),
    Field(16, "pass_tool", "written", "tool of the pass"),
    Field(17, "pass_counter_start", "written", "counter at start of the pass"),
    Field(18, "pass_counter_end", "written", "counter at end of the pass"),
    Field(19, "pass_name", "written", "name of who pulled"),
    Field(20, "pass_initials", "written", "initials of who pulled"),
    Field(21, "pass_date", "written", "date of the pass"),
    Field(22, "pass_start", "written", "start of the pass"),
    Field(23, "pass_end", "written", "end of the pass"),
    Field(24, "done", "tick", "done"),
    Field(25, "got", "value", "value got"),
    Field(26, "angle", "value", "angle"),
    Field(27, "moved", "tick", "moved?"),
    Field(28, "moved_by", "value", "moved by"),
    Field(29, "ticks_counted", "written", "ticks counted"),
    Field(30, "count_initials", "written", "initials: ticks counted"),  # on cards printed before 51 took its place
    Field(31, "change_from", "written", "change: from"),
    Field(32, "change_to", "written", "change: to"),
    Field(33, "change_tool", "written", "change: tool"),
    Field(34, "change_pass", "written", "change: pass"),
    Field(35, "change_last", "written", "change: last fastener done"),
    Field(36, "change_time", "written", "change: date and time"),
    Field(37, "odd", "written", "I stopped because, what was odd", framed=False),
    Field(38, "grid", "tick", "checker's grid"),
    Field(39, "grid_count", "written", "ticks of a pass in the grid"),
    Field(40, "check_name", "written", "name of the checker"),
    Field(41, "check_signature", "written", "signature of the checker"),
    Field(42, "check_date", "written", "date of the check"),
    Field(43, "check_time", "written", "time of the check"),
    Field(44, "check_seen", "written", "what was seen"),
    Field(45, "witness_marks", "tick", "witness marks made"),
    Field(46, "return_to", "written", "handed in to"),
    Field(47, "return_date", "written", "handed in: date"),
    Field(48, "return_time", "written", "handed in: time"),
    Field(49, "return_pages", "written", "handed in: pages"),
    Field(50, "value_sum", "written", "sum of the values of the last torque pass"),
    Field(51, "pass_signature", "written", "signature of who pulled and counted"),
)
FIELD_OF_NAME = {field.name: field for field in FIELDS}
FIELD_OF_CODE = {field.code: field for field in FIELDS}


@dataclass(frozen=True, slots=True)
class BoxPlace:
    """One box: x, y of its top left corner from that of the page, width and height, all in tenths of a millimetre.

    `fastener` is 0 where the box is not of one; `line` is the pass of a row, else the line of its table, else 0.
    `whole` and `decimals` are the digits of a value box.
    """

    field: str
    fastener: int
    line: int
    whole: int
    decimals: int
    x: int
    y: int
    width: int
    height: int

    @property
    def kind(self) -> BoxKind:
        return FIELD_OF_NAME[self.field].kind

    @property
    def framed(self) -> bool:
        return FIELD_OF_NAME[self.field].framed

    @property
    def rectangle(self) -> tuple[float, float, float, float]:
        """Left, top, width, height in mm."""
        return self.x / 10, self.y / 10, self.width / 10, self.height / 10

    def cells(self) -> tuple[tuple[float, float, float, float], ...]:
        """The digit cells of a value box, as rectangles in mm; one open box where cells are not drawn."""
        if self.kind != "value" or (self.decimals == 0 and self.whole > OPEN_DIGITS):
            return (self.rectangle,)
        left, top, width, height = self.rectangle
        point, digits = POINT_WIDTH if self.decimals else 0.0, self.whole + self.decimals
        cell = (width - point) / digits
        return tuple((left + cell * n + (point if n >= self.whole else 0.0), top, cell, height) for n in range(digits))


def pages_of_layout(spots: Iterable[Mapping[str, Any]], pages: int) -> tuple[tuple[BoxPlace, ...], ...]:
    """The boxes of each page, in the order of the layout, from what the template tells of each (lengths in mm)."""
    found: list[list[BoxPlace]] = [[] for _ in range(pages)]
    for spot in spots:
        x, y, width, height = (round(10 * float(spot[name])) for name in ("x", "y", "width", "height"))
        fastener, line, whole, decimals = (int(spot[name]) for name in ("fastener", "line", "whole", "decimals"))
        found[int(spot["page"]) - 1].append(
            BoxPlace(str(spot["field"]), fastener, line, whole, decimals, x, y, width, height)
        )
    return tuple(map(tuple, found))
