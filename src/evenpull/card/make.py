"""A plan becomes a printed card."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Literal

import rfc8785

from evenpull.card.codes import CardIdentity, code_svg, page_payload
from evenpull.card.content import card_content, time_shown
from evenpull.card.paper import paper as paper_form
from evenpull.card.serial import parse_serial
from evenpull.card.tool_choice import CardRefused, choose_tools
from evenpull.card.typesetting import count_pages, typeset
from evenpull.plan.model import Plan

TEMPLATE = Path(__file__).with_name("card.typ")


@dataclass(frozen=True, slots=True)
class CardPDF:
    """`fingerprint`: first 8 of the SHA-256 over the printed content; `payload`: text of the code on the front."""

    pdf: bytes
    serial: str
    fingerprint: str
    payload: str
    pages: int
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
    form = paper_form(paper, draft=draft)
    choice = choose_tools(plan, tools, not_fit, at_hand)
    stops = (*stop_reasons(plan), *choice.unfit)
    if stops and not draft:
        raise CardRefused(plan.spec.id, (*stops, *(at_hand if choice.unfit else ())))

    content = card_content(
        plan, choice, form, serial=serial, issued_at=issued_at, valid_until=valid_until, stops=stops, draft=draft
    )
    fingerprint = sha256(rfc8785.dumps(content)).hexdigest()[:8].upper()
    identity = CardIdentity(
        serial,
        plan.spec.id,
        plan.spec.source.document,
        plan.spec.source.revision,
        plan.spec.digest,
        fingerprint,
        plan.spec.fasteners.count,
        len(plan.passes),
        choice.unit,
        issued_at.isoformat(),
        valid_until.isoformat(),
    )
    payload = identity.payload()
    card = json.dumps({**content, "fingerprint": fingerprint}, ensure_ascii=False, sort_keys=True)
    codes: dict[str, object] = {"main": code_svg(payload), "pages": []}
    # Codes of the pages need the number of pages: counted once without them; their place is kept.
    pages = count_pages(TEMPLATE, {"card": card, "codes": json.dumps(codes)})
    codes["pages"] = [code_svg(page_payload(serial, fingerprint, n)) for n in range(1, pages + 1)]
    pdf = typeset(TEMPLATE, {"card": card, "codes": json.dumps(codes)}, at=issued_at)
    return CardPDF(pdf, serial, fingerprint, payload, pages, tuple(tool.serial for tool in choice.tools))
