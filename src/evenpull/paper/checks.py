"""What is said while a page is keyed, and of what two people keyed: slips of typing, totals that do not fit.

A note stops nobody: what stands on the paper is keyed even where it is wrong. That two neighbouring digits changed
places shows in a difference divisible by 9 (common practice in book-keeping, no source; it follows from 10a + b less
10b + a = 9(a - b)).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from evenpull.paper.answer import Answer
from evenpull.paper.page import Box, Page

Answers = Mapping[str, Answer]


@dataclass(frozen=True, slots=True)
class Window:
    """What a value of a pass should be, in the unit of the card; `aim` is what was to be dialled."""

    low: Decimal
    aim: Decimal
    high: Decimal


Windows = Mapping[tuple[int, int], Window]  # by pass and fastener


@dataclass(frozen=True, slots=True)
class Note:
    """`box` "" where it is about the page."""

    box: str
    text: str


def neighbours_swapped(one: str, other: str) -> bool:
    """Whether one becomes the other when two neighbouring digits change places; their difference is divisible by 9."""
    a, b = one.replace(".", ""), other.replace(".", "")
    if len(a) != len(b) or a == b or not (a + b).isdecimal() or (int(a) - int(b)) % 9:
        return False
    unlike = [i for i, (x, y) in enumerate(zip(a, b, strict=True)) if x != y]
    return len(unlike) == 2 and unlike[1] == unlike[0] + 1 and a[unlike[0]] == b[unlike[1]]


def unlikeness(one: Answer, other: Answer) -> str:
    """How two keyings of a box differ, in words; "" where no usual slip explains it."""
    if one.state != "written" or other.state != "written":
        return "one of the two could not read it or found it empty" if one.state != other.state else ""
    if neighbours_swapped(one.text, other.text):
        return "two neighbouring digits changed places (the difference is divisible by 9)"
    try:
        a, b = Decimal(one.text), Decimal(other.text)
    except ArithmeticError:
        return ""
    if a != b and 0 not in (a, b) and (a / b in (10, 100) or b / a in (10, 100)):
        return "the decimal point was shifted"
    return ""


def value_note(box: Box, text: str, window: Window | None) -> str:
    """What is odd about a value that was keyed; "" when nothing is."""
    value = Decimal(text)
    whole, _, decimals = text.partition(".")
    if len(decimals) > box.decimals or (box.whole and len(whole) > box.whole):
        return f"the box has room for {box.whole} digits and {box.decimals} decimals"
    if window is None or window.low <= value <= window.high:
        return ""
    outside = f"{text} is outside {window.low} to {window.high}"
    for factor, words in ((10, "the decimal point one place to the left"), (Decimal("0.1"), "one place to the right")):
        if window.low <= value / factor <= window.high:
            return f"{outside}; it would be inside with {words}: look again"
    digits = text.replace(".", "")
    for i in range(len(digits) - 1):
        swapped = digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]
        turned = Decimal(swapped).scaleb(-len(decimals))
        if turned != value and window.low <= turned <= window.high:
            return f"{outside}; {turned} would be inside, with two neighbouring digits changed: look again"
    return f"{outside}: look again; if it stands so on the paper, key it so"


def page_notes(page: Page, answers: Answers, windows: Windows) -> tuple[Note, ...]:
    """Everything that is odd about the answers so far. Boxes not keyed yet are passed over."""
    found = [
        Note(box.name, text)
        for box in page.boxes
        if box.field == "got" and (said := answers.get(box.name)) is not None and said.state == "written"
        and (text := value_note(box, said.text, windows.get((box.line, box.fastener))))
    ]  # fmt: skip
    ticked = {box.fastener: _ticked(box, answers) for box in page.boxes if box.field == "done"}
    if page.passes and None not in ticked.values():
        found += _totals(page, answers, sum(1 for one in ticked.values() if one))
    for box in page.boxes:
        said = answers.get(box.name)
        if box.field != "got" or said is None or box.fastener not in ticked:
            continue
        if said.state == "written" and ticked[box.fastener] is False:
            found.append(Note(box.name, "a value stands here and the row is not ticked as done"))
    return tuple(found)


def _ticked(box: Box, answers: Answers) -> bool | None:
    if box.seen in ("ticked", "empty"):
        return box.seen == "ticked"
    said = answers.get(box.name)
    return None if said is None or said.state == "cannot read" else said.state == "ticked"


def _number(page: Page, field: str, answers: Answers) -> int | None:
    box = page.box(field)
    said = None if box is None else answers.get(box.name)
    return int(said.text) if said is not None and said.state == "written" and said.text.isdecimal() else None


def _totals(page: Page, answers: Answers, ticks: int) -> list[Note]:
    found = []
    counted = _number(page, "ticks_counted", answers)
    if counted is not None and counted != ticks:
        found.append(Note("", f"{counted} ticks were counted on the paper, {ticks} are there"))
    start, end = (_number(page, f"pass_counter_{which}", answers) for which in ("start", "end"))
    if start is not None and end is not None and end - start != ticks:
        found.append(Note("", f"the counter of the tool ran from {start} to {end}, which is {end - start} pulls; "
                              f"{ticks} rows of this page are ticked"))  # fmt: skip
    return found
