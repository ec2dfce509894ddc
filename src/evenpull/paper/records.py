"""A keyed page becomes rows of typed records: one for each row that is ticked, with what two people agree on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenpull.paper.answer import Answer
from evenpull.paper.keying import PageState, Proven
from evenpull.paper.page import Box


@dataclass(frozen=True)
class CardFacts:
    """What the card on record says for its rows. `lines`: (pass, fastener) -> line on the sheet of its pass; `events`:
    pass -> event. `zone`: the clock that the work is dated by."""

    serial: str
    joint: str
    unit: str
    lines: Mapping[tuple[int, int], int]
    events: Mapping[int, str]
    zone: str


def rows_of(state: PageState, head: PageState, card: CardFacts, *, late: str = "") -> list[dict[str, str]]:
    """Rows for `intake.keyed.keyed_file`, with the fields of scanned records.

    `head` is the page with the head of the pass (tool, name, date): the first sheet of it, or `state` itself. Rows that
    are not ticked give nothing, nor does a row that two or three people could not read as ticked: it stays missing.
    Raises ValueError unless both pages are proven.
    """
    if "proven" not in (state.stage, head.stage) or state.stage != head.stage:
        raise ValueError(f"page {state.page.page} of {card.serial} is not proven: {state.stage}, head {head.stage}")
    rows = []
    for box in state.page.boxes:
        if box.field != "done" or (done := state.proven.get(box.name)) is None or done.answer.state != "ticked":
            continue
        rows.append(_row(state, head, card, box, late))
    return rows


def _row(state: PageState, head: PageState, card: CardFacts, box: Box, late: str) -> dict[str, str]:
    line, fastener = box.line, box.fastener
    got = state.page.box("got", fastener) or box
    cited = [f"{name}.{fastener}.{line}" for name in ("done", "got", "angle")]
    headed = {name: f"{name}.0.{line}" for name in ("pass_tool", "pass_name", "pass_date", "pass_end")}
    proofs = [state.proven[n] for n in cited if n in state.proven] + [
        head.proven[n] for n in headed.values() if n in head.proven
    ]
    first, second = state.keyed[:2]
    third = ", ".join(dict.fromkeys(p.by[2] for p in proofs if p.settled))
    text = {name: _text(head.proven, place) for name, place in headed.items()}
    value = _text(state.proven, cited[1])
    row = {
        "joint": card.joint, "unit": "", "fastener": str(fastener), "pass": str(line),
        "event": card.events.get(line, "unstated"), "torque": value, "torque unit": card.unit if value else "",
        "angle": _text(state.proven, cited[2]), "tool": text["pass_tool"],
        "operator": text["pass_name"] or "not stated on the card", "date": text["pass_date"],
        "card serial": card.serial, "card line": str(card.lines.get((line, fastener), 0) or ""),
        "keyed by": first.by, "keyed again by": second.by, "resolved by": third, "basis": "from paper",
        "why late": late,
        "page image": f"{state.page.scan} picture {state.page.picture} box {' '.join(map(str, got.crop))}",
    }  # fmt: skip
    # The time of a row is not on the paper, only that of its pass: a moment for each would be invented.
    return row


def _text(proven: Mapping[str, Proven], box: str) -> str:
    found: Answer | None = proven[box].answer if box in proven else None
    return found.text if found is not None and found.state == "written" else ""


def span_of(head: PageState, line: int) -> tuple[int, int] | None:
    """Readings of the tool's counter before and after the pass, None where not both are written."""
    texts = [_text(head.proven, f"pass_counter_{which}.0.{line}") for which in ("start", "end")]
    return (int(texts[0]), int(texts[1])) if all(text.isdecimal() for text in texts) else None
