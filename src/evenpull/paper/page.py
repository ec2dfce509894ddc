"""A scanned page of a card as it is kept: its boxes, what the reader saw of the ticks, and what people have to key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from evenpull.card.places import FIELD_OF_NAME

Kind = Literal["number", "text", "date", "time", "tick"]
# Written boxes that are keyed. Initials and signatures are looked at on the scan: who signed is no text.
KEYED: Mapping[str, Kind] = {
    "tag": "text", "second_mark": "text", "series": "text", "pass_tool": "text", "pass_counter_start": "number",
    "pass_counter_end": "number", "pass_name": "text", "pass_date": "date", "pass_start": "time", "pass_end": "time",
    "got": "number", "angle": "number", "moved_by": "number", "ticks_counted": "number",
    "value_sum": "number",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Box:
    """One box. `seen` is what the reader of ticks decided, "" where a person has to say; `crop` left, top, right,
    bottom in pixels of the straightened page; `corners` in the picture as it was taken, x and y in turn."""

    field: str
    fastener: int
    line: int
    whole: int
    decimals: int
    seen: str
    reason: str
    crop: tuple[int, int, int, int]
    corners: tuple[float, ...]

    @property
    def name(self) -> str:
        """Names the box on its page."""
        return f"{self.field}.{self.fastener}.{self.line}"

    @property
    def kind(self) -> Kind | None:
        """How people key it; None where nobody keys it."""
        if FIELD_OF_NAME[self.field].kind == "tick":
            return "tick" if self.seen == "ambiguous" else None
        return KEYED.get(self.field)

    @property
    def words(self) -> str:
        at = f", fastener {self.fastener}" if self.fastener else ""
        return FIELD_OF_NAME[self.field].words + at + (f", pass {self.line}" if self.line else "")


@dataclass(frozen=True, slots=True)
class Page:
    """`scan` SHA-256 of the file, `picture` its picture from 1; `serial`, `content` and `page` as the codes say."""

    scan: str
    picture: int
    serial: str
    content: str
    page: int
    pages: int
    unit: str
    boxes: tuple[Box, ...]

    @property
    def to_key(self) -> tuple[Box, ...]:
        """In the order of the paper."""
        return tuple(box for box in self.boxes if box.kind is not None)

    def box(self, field: str, fastener: int = 0) -> Box | None:
        return next((b for b in self.boxes if b.field == field and b.fastener == fastener), None)

    @property
    def passes(self) -> tuple[int, ...]:
        """Passes whose rows stand on this page; empty on front and close."""
        return tuple(sorted({box.line for box in self.boxes if box.field == "done"}))


def box_to_plain(box: Box) -> list[Any]:
    return [box.field, box.fastener, box.line, box.whole, box.decimals, box.seen, box.reason, list(box.crop),
            list(box.corners)]  # fmt: skip


def box_of_plain(plain: Sequence[Any]) -> Box:
    field, fastener, line, whole, decimals, seen, reason, crop, corners = plain
    left, top, right, bottom = crop
    return Box(field, fastener, line, whole, decimals, seen, reason, (left, top, right, bottom), tuple(corners))
