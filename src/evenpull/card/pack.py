"""The sheets of a work pack: what leads one crew through one shift of cards. Nothing is computed anew."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from pypdf import PdfReader, PdfWriter

from evenpull.card.content import CLASS_MEANING, CORRECTION_RULE, time_shown, unit_shown
from evenpull.card.own_settings import for_the_pass
from evenpull.card.paper import Paper, Version
from evenpull.card.paper import paper as paper_form
from evenpull.card.texts import printed
from evenpull.card.tool_choice import attached
from evenpull.card.typesetting import typeset
from evenpull.catalogue.cautions import Caution, caution, cautions_for
from evenpull.plan.model import Pass, Plan, Tool

TEMPLATE = Path(__file__).with_name("pack.typ")
MOST_CARDS = 60
STOCK: dict[Version, str] = {
    "plain": "",
    "large": "Large boxes, for gloves and red light: black print alone, all of it to be read under a red lamp.",
    "clean room": "For stock that the room allows; no area is filled with toner, no staples. Whether a sheet may leave "
    "the room, the rules of the room say; a picture through the window can be read back as well.",
}
HAND_OVER_RULES = (
    "Go through the open cards together, at the joints, before anybody leaves.",
    "Where nobody can say which fasteners are done in a pass: stop, leave all as it is, ask the person in charge.",
    "A pass is never finished from memory, and no box is ticked for another person.",
    "Permits and isolations are handed over under the rules of the site, not by this sheet.",
)


@dataclass(frozen=True, slots=True)
class PackHead:
    serial: str
    crew: str
    shift: str
    issued_by: str
    issued_at: datetime
    paper: Literal["a4", "us-letter"]
    version: Version


@dataclass(frozen=True, slots=True)
class PackCard:
    """One card of a pack; `tools`: serials that stand on it."""

    plan: Plan
    serial: str
    fingerprint: str
    pages: int
    tools: tuple[str, ...]
    valid_until: datetime


def make_pack(head: PackHead, cards: Sequence[PackCard], spares: Sequence[PackCard]) -> bytes:
    """The sheets before the cards, `cards` in walking order; tagged PDF (PDF/UA-1), the same bytes for the same input.
    TypesettingError for a character that no font has."""
    on = paper_form(head.paper, version=head.version)
    content = pack_content(head, cards, spares, on)
    return typeset(TEMPLATE, {"pack": json.dumps(content, ensure_ascii=False, sort_keys=True)}, at=head.issued_at)


def bound(front: bytes, cards: Sequence[bytes]) -> tuple[bytes, int]:
    """One file to print, the sheets and then every card, and how many pages it has. Each card is kept beside it as it
    was issued: a copy in here has lost its tags."""
    writer = PdfWriter()
    for one in (front, *cards):
        writer.append(PdfReader(io.BytesIO(one)), import_outline=False)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue(), len(writer.pages)


def pack_content(
    head: PackHead, cards: Sequence[PackCard], spares: Sequence[PackCard], on: Paper
) -> dict[str, Any]:
    """All that is printed, as plain data for the template."""
    return {
        "title": f"Work pack {head.serial}",
        "serial": head.serial,
        "date": {"year": head.issued_at.year, "month": head.issued_at.month, "day": head.issued_at.day},
        "paper": {"width": on.width, "height": on.height, "version": on.version, "cell": on.cell, "box": on.box},
        "facts": [
            ["Crew", printed(head.crew)],
            ["Shift", printed(head.shift)],
            ["Given out by", printed(head.issued_by)],
            ["Given out", time_shown(head.issued_at)],
            ["First card runs out", time_shown(min(one.valid_until for one in cards))],
            ["Cards", f"{len(cards)}, and {len(spares)} spare" if spares else f"{len(cards)}, no spare"],
        ],
        "stock": STOCK[head.version],
        "stops": [_stop(one, number) for number, one in enumerate(cards, start=1)],
        "spares": [_stop(one, None) for one in spares],
        "pages": sum(one.pages for one in (*cards, *spares)),
        "tools": _tools(cards),
        "cautions": _cautions(cards),
        "hand_over_rules": list(HAND_OVER_RULES),
        "correction_rule": CORRECTION_RULE,
    }


def _stop(one: PackCard, number: int | None) -> dict[str, Any]:
    spec = one.plan.spec
    return {
        "number": "" if number is None else str(number),
        "joint": printed(spec.id, 14),
        "name": printed(spec.name),
        "place": printed(spec.place),
        "class": CLASS_MEANING[spec.joint_class].partition(":")[0],
        "fasteners": f"{spec.fasteners.count} × {spec.fasteners.thread}",
        "card": one.serial,
        "content": one.fingerprint,
        "pages": str(one.pages),
        "passes": len(one.plan.passes),
    }


def _tools(cards: Sequence[PackCard]) -> list[dict[str, Any]]:
    """Each tool with its attachments and what it is set to at every stop, one stage a line."""
    by_serial: dict[str, tuple[Tool, list[dict[str, Any]]]] = {}
    for number, one in enumerate(cards, start=1):
        there = {tool.serial: tool for tool in one.plan.tools}
        for serial in one.tools:
            lines = by_serial.setdefault(serial, (there[serial], []))[1]
            lines.extend(_line(number, one, step, serial) for step in one.plan.passes)
    return [
        {
            "serial": printed(tool.serial, 14),
            "name": printed(tool.name),
            "attachments": printed(attached(tool) or "no attachment"),
            "certificate": printed(f"certificate {tool.certificate}, until {tool.certificate_until.isoformat()}"),
            "lines": lines,
        }
        for tool, lines in by_serial.values()
    ]


def _line(number: int, one: PackCard, step: Pass, serial: str) -> dict[str, Any]:
    tool = next(tool for tool in one.plan.tools if tool.serial == serial)
    setting = for_the_pass(step, tool) if step.own else next(s for s in step.settings if s.tool == serial)
    said = "; ".join(setting.problems)
    return {
        "stop": str(number),
        "joint": printed(one.plan.spec.id, 14),
        "pass": printed(step.name),
        "set": "" if said or not setting.digits else f"{setting.digits} {unit_shown(setting.unit)}",
        "words": printed(f"do not use for this pass: {said}" if said else setting.words),
    }


def _cautions(cards: Sequence[PackCard]) -> list[dict[str, Any]]:
    """Each caution once, with the stops that it is for."""
    found: dict[str, tuple[Caution, list[str]]] = {}
    for number, one in enumerate(cards, start=1):
        spec = one.plan.spec
        kinds = {tool.kind for tool in one.plan.tools if tool.serial in one.tools}
        own = cautions_for(
            spec.kind, kinds, spec.fasteners.strength_class, spec.fasteners.tapped_material, "work"
        )
        for each in {c.key: c for c in (*own, *(caution(key) for key in spec.cautions))}.values():
            found.setdefault(each.key, (each, []))[1].append(str(number))
    return [
        {
            "title": printed(each.task), "hazard": printed(each.hazard), "stop": printed(each.stop),
            "decides": printed(each.who_decides),
            "stops": "all stops" if len(stops) == len(cards) else f"stop {', '.join(stops)}",
        }
        for each, stops in found.values()
    ]  # fmt: skip
