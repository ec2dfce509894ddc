"""Pages of a card with known boxes, and answers for them."""

from __future__ import annotations

from evenpull.paper.answer import Answer, answer_of
from evenpull.paper.keying import Keyed
from evenpull.paper.page import Box, Page

VALUES = {1: "90.5", 2: "91.0", 3: "89.5", 4: "90.0"}
HEAD = {
    "pass_tool": "TW-0207", "pass_counter_start": "1204", "pass_counter_end": "1208", "pass_name": "J. Mwangale",
    "pass_date": "2026-03-17", "pass_start": "09:10", "pass_end": "09:40", "ticks_counted": "4",
}  # fmt: skip


def box(field: str, fastener: int = 0, line: int = 0, *, whole: int = 0, decimals: int = 0, seen: str = "") -> Box:
    at = 10 * len(field) + fastener
    return Box(field, fastener, line, whole, decimals, seen, "", (at, at, at + 80, at + 80), (0.0,) * 8)


def sheet(line: int = 1, *, seen: dict[int, str] | None = None, head: bool = True) -> Page:
    """A pass sheet of four fasteners; `seen` what the reader saw of their ticks."""
    found = [box(name, line=line) for name in HEAD] if head else []
    for fastener in VALUES:
        found.append(box("done", fastener, line, seen=(seen or {}).get(fastener, "ticked")))
        found.append(box("got", fastener, line, whole=3, decimals=1))
    return Page("a" * 64, 1, "KN-CW-014-0001-26", "0F1E2D3C", 4, 9, "N.m", tuple(found))


def answers(page: Page, **other: str) -> dict[str, Answer]:
    """As the paper says; `other` by the name of the box with points as underscores, or of its field."""
    found = {}
    for one in page.to_key:
        text = HEAD.get(one.field) or VALUES.get(one.fastener, "")
        text = other.get(one.name.replace(".", "_"), other.get(one.field, text))
        if one.kind == "tick":
            found[one.name] = answer_of(one, other.get(one.name.replace(".", "_"), "ticked"), "")
        elif text in ("empty", "cannot read"):
            found[one.name] = answer_of(one, text, "")
        else:
            found[one.name] = answer_of(one, "written", text)
    return found


def by(who: str, page: Page, **other: str) -> Keyed:
    return Keyed(who, answers(page, **other))
