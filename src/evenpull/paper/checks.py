"""What is said while a page is keyed, and of what two people keyed: slips of typing, totals that do not fit.

A note stops nobody: what stands on the paper is keyed even where it is wrong. That two neighbouring digits changed
places shows in a difference divisible by 9 (common practice in book-keeping, no source; it follows from 10a + b less
10b + a = 9(a - b)).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from evenpull.paper.answer import Answer
from evenpull.paper.page import Box, Page
from evenpull.quantities import kind_of, to_si, unit_shown, unit_slips

Answers = Mapping[str, Answer]


@dataclass(frozen=True, slots=True)
class Window:
    """What a value of a pass should be, in the unit of the card; `aim` is what was to be dialled."""

    low: Decimal
    aim: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Asked:
    """What the plan asks of the passes of a page: `windows` by pass and fastener, `rows` of each, on all sheets."""

    windows: Mapping[tuple[int, int], Window] = field(default_factory=dict)
    rows: Mapping[int, int] = field(default_factory=dict)


NOTHING_ASKED = Asked()
MANY = 8  # values from which equal ones, or last digits of one kind, are odd (common practice, no source)


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


def value_note(box: Box, text: str, window: Window | None, unit: str = "") -> str:
    """What is odd about a value that was keyed; "" when nothing is. `unit` of the card, for a slip of the unit."""
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
    if unit and kind_of(unit) == "torque" and window.low > 0:
        value_si, low, high = (to_si(float(one), unit, "torque") for one in (value, window.low, window.high))
        if slips := unit_slips(value_si, low, high, written_as=unit):
            return (f"{outside}; as {unit_shown(slips[0].meant)} it would be inside: what unit does the tool show? If "
                    "it stands so on the paper, key it so")  # fmt: skip
    return f"{outside}: look again; if it stands so on the paper, key it so"


def page_notes(page: Page, answers: Answers, asked: Asked = NOTHING_ASKED) -> tuple[Note, ...]:
    """Everything that is odd about the answers so far. Boxes not keyed yet are passed over."""
    values = [(box, said.text) for box in page.boxes
              if box.field == "got" and (said := answers.get(box.name)) is not None and said.state == "written"]
    found = [Note(box.name, text) for box, value in values
             if (text := value_note(box, value, asked.windows.get((box.line, box.fastener)), page.unit))]
    ticked = {box.fastener: _ticked(box, answers) for box in page.boxes if box.field == "done"}
    if page.passes and None not in ticked.values():
        ticks = sum(1 for one in ticked.values() if one)
        found += _totals(page, answers, ticks, alone=asked.rows.get(page.passes[0], len(ticked)) <= len(ticked))
    found += [Note(box.name, "a value stands here and the row is not ticked as done")
              for box, _ in values if ticked.get(box.fastener) is False]
    return (*found, *_too_alike([text for _, text in values]))


def _too_alike(values: Sequence[str]) -> list[Note]:
    """Many values that are one and the same, or end all in 0 or 5: what a tool shows scatters."""
    if len(values) < MANY:
        return []
    if len(set(values)) == 1:
        return [Note("", f"all {len(values)} values are {values[0]}: read on the tool, or copied from the setting?")]
    if all(value[-1] in "05" for value in values):
        return [Note("", f"all {len(values)} values end in 0 or 5: read on the tool, or rounded?")]
    return []


def _ticked(box: Box, answers: Answers) -> bool | None:
    if box.seen in ("ticked", "empty"):
        return box.seen == "ticked"
    said = answers.get(box.name)
    return None if said is None or said.state == "cannot read" else said.state == "ticked"


def _number(page: Page, field: str, answers: Answers) -> int | None:
    box = page.box(field)
    said = None if box is None else answers.get(box.name)
    return int(said.text) if said is not None and said.state == "written" and said.text.isdecimal() else None


def _totals(page: Page, answers: Answers, ticks: int, *, alone: bool) -> list[Note]:
    """`alone`: the pass has no other sheet. Else the counter ran over all of them, and `pass_notes` compares it."""
    found = []
    counted = _number(page, "ticks_counted", answers)
    if counted is not None and counted != ticks:
        found.append(Note("", f"{counted} ticks were counted on the paper, {ticks} are there"))
    span = _counter(page, answers)
    if span is not None and (span[1] - span[0] < ticks or (alone and span[1] - span[0] != ticks)):
        found.append(Note("", f"the counter of the tool ran from {span[0]} to {span[1]}, which is {span[1] - span[0]} "
                              f"pulls; {ticks} rows of this page are ticked"))  # fmt: skip
    return found


def _counter(page: Page, answers: Answers) -> tuple[int, int] | None:
    start, end = (_number(page, f"pass_counter_{which}", answers) for which in ("start", "end"))
    return None if start is None or end is None else (start, end)


def pass_notes(sheets: Sequence[tuple[Page, Answers]]) -> tuple[str, ...]:
    """Where the counter of the tool did not run by the ticks of a pass on several sheets; call with all of them."""
    found = []
    for line in dict.fromkeys(line for page, _ in sheets for line in page.passes):
        own = [(page, answers) for page, answers in sheets if line in page.passes]
        ticks = [_ticked(box, answers) for page, answers in own for box in page.boxes if box.field == "done"]
        span = next((span for page, answers in own if (span := _counter(page, answers)) is not None), None)
        if len(own) > 1 and None not in ticks and span is not None and span[1] - span[0] != sum(map(bool, ticks)):
            found.append(f"pass {line}: the counter of the tool ran from {span[0]} to {span[1]}, which is "
                         f"{span[1] - span[0]} pulls; {sum(map(bool, ticks))} rows are ticked on its {len(own)} sheets")
    return tuple(found)


def sum_notes(sheets: Sequence[tuple[Page, Answers]]) -> tuple[str, ...]:
    """Where the sum made on the paper is not that of the values keyed; call with all sheets of the pass that is summed
    up and the page with the sum."""
    found = []
    for page, answers in sheets:
        for box in page.boxes:
            said = answers.get(box.name) if box.field == "value_sum" else None
            if said is None or said.state != "written":
                continue
            total = sum_of_values(sheets, box.line)
            if total != Decimal(said.text):
                found.append(f"the sum of the values of pass {box.line} is {said.text} on the paper and {total} as "
                             f"keyed, {abs(total - Decimal(said.text))} apart: a slip of the hand or of the keying")
    return tuple(found)


def sum_of_values(sheets: Sequence[tuple[Page, Answers]], line: int) -> Decimal:
    """Sum of the values of a pass: a control total that can be compared with one made on another way."""
    return sum(
        (Decimal(said.text) for page, answers in sheets for box in page.boxes
         if box.field == "got" and box.line == line and (said := answers.get(box.name)) is not None
         and said.state == "written"),
        Decimal(0),
    )  # fmt: skip
