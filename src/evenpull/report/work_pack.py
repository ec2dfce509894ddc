"""The front of a work pack: what a crew carries for one shift beside the cards themselves."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from evenpull.card import typesetting
from evenpull.card.content import attached
from evenpull.card.paper import paper as paper_form
from evenpull.catalogue.cautions import Caution, caution, cautions_for
from evenpull.plan.model import Plan
from evenpull.report.glyphs import safe
from evenpull.report.words import moment

TEMPLATE = Path(typesetting.__file__).with_name("work_pack.typ")
Variant = Literal["plain", "large"]
VARIANTS: tuple[Variant, ...] = ("plain", "large")
SCALE: dict[Variant, float] = {"plain": 1.0, "large": 1.3}  # for gloves and red light; no source for how much larger
NOTE = "Black on white alone, so that it is read under red light and copied onto clean-room paper."
MOST_JOINTS = 60


@dataclass(frozen=True, slots=True)
class PackCard:
    """A card that goes along; `spare` when another one of its joint is to be used first."""

    serial: str
    pages: int
    valid_until: datetime
    spare: bool = False


@dataclass(frozen=True, slots=True)
class PackJoint:
    plan: Plan
    cards: tuple[PackCard, ...]


def work_pack(
    joints: Sequence[PackJoint], *, crew: str, shift: str, at: datetime, paper: Literal["a4", "us-letter"] = "a4",
    variant: Variant = "plain",
) -> bytes:
    """The PDF (PDF/UA-1), joints in the order of the walk. ValueError for no joint, too many, one without a card, or
    a time without zone; TypesettingError with typst's own message."""
    if not 1 <= len(joints) <= MOST_JOINTS:
        raise ValueError(f"a work pack has 1 to {MOST_JOINTS} joints, not {len(joints)}")
    if at.utcoffset() is None:
        raise ValueError(f"at {at.isoformat()} has no time zone")
    for one in joints:
        if not any(not card.spare for card in one.cards):
            raise ValueError(f"no card of {one.plan.spec.id} is out and valid: issue one first")
    pack = json.dumps(_content(joints, crew, shift, at, paper, variant), ensure_ascii=False, sort_keys=True)
    return typesetting.typeset(TEMPLATE, {"pack": pack}, at=at)


def _content(
    joints: Sequence[PackJoint], crew: str, shift: str, at: datetime, paper: Literal["a4", "us-letter"],
    variant: Variant,
) -> dict[str, Any]:
    form = paper_form(paper)
    cards = [
        [str(number), safe(f"{one.plan.spec.id}: {one.plan.spec.place}"), card.serial,
         f"{card.pages}, valid until {card.valid_until:%Y-%m-%d %H:%M %Z}"]
        for number, one in enumerate(joints, start=1) for card in one.cards if not card.spare
    ]  # fmt: skip
    spares = [[safe(one.plan.spec.id), card.serial, str(card.pages)] for one in joints for card in one.cards
              if card.spare]  # fmt: skip
    return {
        "title": safe(f"Work pack: {crew}, {shift}"), "name": safe(f"{crew}, {shift}"),
        "issued": f"printed {moment(at)}; {len(joints)} joints, {len(cards)} cards, {len(spares)} spare",
        "date": {"year": at.year, "month": at.month, "day": at.day}, "scale": SCALE[variant], "note": NOTE,
        "paper": {"width": form.width, "height": form.height, "side": form.side},
        "cards": cards, "spares": spares, "settings": _settings(joints),
        "cautions": [{"title": safe(c.task), "hazard": safe(c.hazard), "stop": safe(c.stop),
                      "decides": safe(c.who_decides)} for c in _cautions(joints)],
        "handover": [safe(one.plan.spec.id) for one in joints],
    }  # fmt: skip


def _settings(joints: Sequence[PackJoint]) -> list[list[str]]:
    """Tool, joint, pass, setting in digits and words, with the attachment where the chain has one."""
    found = []
    for one in joints:
        tools = {tool.serial: attached(tool) for tool in one.plan.tools}
        for each in one.plan.passes:
            for setting in each.settings:
                said = f"{setting.digits} {setting.unit.replace('.', '·')} ({setting.words})"
                if setting.problems:
                    said = f"DO NOT USE for this pass: {'; '.join(setting.problems)}"
                with_it = tools.get(setting.tool, "") or "no adapter"
                found.append([safe(f"{setting.tool}, {with_it}"), safe(one.plan.spec.id), str(each.number), safe(said)])
            if each.own:
                found.append(["as on the card", safe(one.plan.spec.id), str(each.number),
                              "each fastener has its own setting: see its row on the card"])  # fmt: skip
    return found


def _cautions(joints: Sequence[PackJoint]) -> list[Caution]:
    found: dict[str, Caution] = {}
    for one in joints:
        spec = one.plan.spec
        kinds = {tool.kind for tool in one.plan.tools}
        some = cautions_for(spec.kind, kinds, spec.fasteners.strength_class, spec.fasteners.tapped_material, "work")
        for each in (*some, *(caution(key) for key in spec.cautions)):
            found.setdefault(each.key, each)
    return list(found.values())
