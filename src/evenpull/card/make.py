"""A plan becomes a printed card."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

import rfc8785

from evenpull.card.codes import code_svg, page_payload
from evenpull.card.content import card_content, time_shown
from evenpull.card.own_settings import setting_of
from evenpull.card.paper import Paper, Version
from evenpull.card.paper import paper as paper_form
from evenpull.card.payload import FRONT_ERROR, HEAD_ERROR, CardData, PageData, PassData
from evenpull.card.places import BoxPlace, pages_of_layout
from evenpull.card.serial import parse_serial
from evenpull.card.tool_choice import CardRefused, ToolChoice, choose_tools
from evenpull.card.typesetting import told, typeset
from evenpull.plan.model import Plan

TEMPLATE = Path(__file__).with_name("card.typ")


@dataclass(frozen=True, slots=True)
class CardPDF:
    """`fingerprint`: first 8 of the SHA-256 over the printed content; `payload`: texts of the codes on the front, one a
    line; `places`: what the codes of the pages say, the boxes with their places."""

    pdf: bytes
    serial: str
    fingerprint: str
    payload: str
    pages: int
    places: tuple[PageData, ...]
    tools: tuple[str, ...] = ()


def stop_reasons(plan: Plan) -> tuple[str, ...]:
    """Why this plan may not go to a crew: every problem of severity stop, each once."""
    texts = [p.text for p in plan.problems if p.severity == "stop"]
    texts += [p.text for p in plan.target.problems if p.severity == "stop"]
    return tuple(dict.fromkeys(texts))


def make_card(
    plan: Plan,
    *,
    serial: str,
    paper: Literal["a4", "us-letter"] = "a4",
    version: Version = "plain",
    issued_at: datetime,
    valid_until: datetime,
    tools: Sequence[str] | None = None,
    draft: bool = False,
    not_fit: Mapping[str, str] | None = None,
    at_hand: Sequence[str] = (),
) -> CardPDF:
    """The job card of one joint, tagged PDF (PDF/UA-1), the same bytes for the same input.

    `tools` are serials of the plan; None takes all that share one unit (the card names those left out).
    `not_fit`: serial -> why a tool may stand on no card; `at_hand`: sentences that name the fit ones, said where a card
    is refused for its tools.
    Raises CardRefused when the plan has problems of severity stop or no tool fit for a pass, unless `draft` (then
    DO NOT USE and DRAFT are printed); SerialError for a serial that is not valid; ValueError for a serial of another
    joint, a time without zone or a card that ends before it begins; TypesettingError for a character no font has.
    """
    if parse_serial(serial).joint != plan.spec.id:
        raise ValueError(f"card serial {serial} does not belong to joint {plan.spec.id}")
    for name, moment in (("issued_at", issued_at), ("valid_until", valid_until)):
        if moment.utcoffset() is None:
            raise ValueError(f"{name} {moment.isoformat()} has no time zone")
    if valid_until <= issued_at:
        raise ValueError(f"the card would end {time_shown(valid_until)}, printed {time_shown(issued_at)}")
    form = paper_form(paper, draft=draft, version=version)
    choice = choose_tools(plan, tools, not_fit, at_hand)
    stops = (*stop_reasons(plan), *choice.unfit)
    if stops and not draft:
        raise CardRefused(plan.spec.id, (*stops, *(at_hand if choice.unfit else ())))

    content = card_content(
        plan, choice, form, serial=serial, issued_at=issued_at, valid_until=valid_until, stops=stops, draft=draft
    )
    fingerprint = sha256(rfc8785.dumps(content)).hexdigest()[:8].upper()
    data = _card_data(plan, choice, form, serial, fingerprint, issued_at, valid_until)
    main = data.texts()
    card = json.dumps({**content, "fingerprint": fingerprint}, ensure_ascii=False, sort_keys=True)
    codes: dict[str, object] = {"main": [code_svg(text, FRONT_ERROR) for text in main], "pages": []}
    # Codes of the pages need the places of all boxes: asked of the layout without them; their room is kept.
    layout = _laid_out(card, json.dumps(codes))
    pages = [
        PageData(serial, fingerprint, n, len(layout), data.paper, choice.unit, boxes, _own(plan, choice, boxes), draft)
        for n, boxes in enumerate(layout, start=1)
    ]
    codes["pages"] = [
        {
            "head": [code_svg(text, HEAD_ERROR) for text in page.texts()],
            "foot": code_svg(page_payload(serial, fingerprint, page.page)),
        }
        for page in pages
    ]
    pdf = typeset(TEMPLATE, {"card": card, "codes": json.dumps(codes)}, at=issued_at)
    return CardPDF(
        pdf, serial, fingerprint, "\n".join(main), len(pages), tuple(pages),
        tuple(tool.serial for tool in choice.tools),
    )


def _card_data(
    plan: Plan, choice: ToolChoice, on: Paper, serial: str, content: str, issued_at: datetime, valid_until: datetime
) -> CardData:
    spec = plan.spec
    return CardData(
        serial, content, spec.id, spec.name, spec.place, spec.source.document, spec.source.revision, spec.digest,
        spec.fasteners.count, choice.unit, choice.whole_digits, choice.decimals, issued_at.isoformat(),
        valid_until.isoformat(), (round(10 * on.width), round(10 * on.height)),
        tuple(tool.serial for tool in choice.tools),
        tuple(
            PassData(one.number, one.name, one.check, () if one.own else tuple(
                next(s.digits for s in one.settings if s.tool == tool.serial) for tool in choice.tools))
            for one in plan.passes
        ),
    )  # fmt: skip


# Where the boxes stand follows from what is printed, so that one content is asked once.
@lru_cache(maxsize=32)
def _laid_out(card: str, codes: str) -> tuple[tuple[BoxPlace, ...], ...]:
    values = told(TEMPLATE, {"card": card, "codes": codes}, "metadata")
    spots: list[Mapping[str, Any]] = [value for value in values if isinstance(value, dict)]
    return pages_of_layout(spots, next(v for v in values if isinstance(v, int)))


def _own(plan: Plan, choice: ToolChoice, boxes: Sequence[BoxPlace]) -> tuple[tuple[int, str], ...]:
    """Fastener and setting of each row of this page, in passes whose fasteners have settings of their own."""
    own = {one.number: one for one in plan.passes if one.own}
    return tuple(
        (box.fastener, setting_of(own[box.line], box.fastener, choice.tools[0]).digits)
        for box in boxes
        if box.field == "done" and box.line in own
    )
