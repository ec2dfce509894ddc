"""The printed card of a study: its readings in the drawn order, with boxes; typed back on the page by its serial."""

from __future__ import annotations

import json
import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

import rfc8785

from evenpull.card import typesetting
from evenpull.card.codes import code_svg, page_payload
from evenpull.card.paper import paper as paper_form
from evenpull.card.serial import parse_serial
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import moment
from evenpull.study.model import Study
from evenpull.study.order import drawn_order
from evenpull.study.safety import cautions_of, rules_of
from evenpull.study.words import between, listed, with_unit

TEMPLATE = Path(typesetting.__file__).with_name("study_card.typ")
MOST_LINES = 400  # readings on one card
CORRECTION_RULE = "Corrections: one line through, the right value beside it, initials, date. No correction fluid."
ROOM = 1.2  # a reading may be so many times the largest target
MOST_WHOLE = 6
EVERYBODY = "all persons"


@dataclass(frozen=True, slots=True)
class StudyCard:
    """`lines` readings on `pages`; `fingerprint` first 8 of the SHA-256 over the printed content."""

    pdf: bytes
    serial: str
    fingerprint: str
    pages: int
    lines: int


def study_card(
    study: Study, *, serial: str, number: int, printed_at: datetime, person: str = "", tool_kinds: Collection[str] = (),
    paper: Literal["a4", "us-letter"] = "a4",
) -> StudyCard:
    """The card of one person, or of all; tagged PDF (PDF/UA-1), the same bytes for the same input. `number`: revision
    of the study. ValueError for a serial of another study, a person who is not in it, too many readings, a time
    without zone; TypesettingError with typst's own message."""
    if parse_serial(serial).joint != study.id:
        raise ValueError(f"card serial {serial} does not belong to study {study.id}")
    if printed_at.utcoffset() is None:
        raise ValueError(f"printed_at {printed_at.isoformat()} has no time zone")
    if person and person not in study.persons:
        raise ValueError(f"{person!r} is not a person of {study.id}; there are: {listed(study.persons)}")
    content = _content(study, serial, number, printed_at.astimezone(UTC), person, tool_kinds, paper)
    lines = len(content["rows"])
    if lines > MOST_LINES:
        raise ValueError(f"{lines} readings do not fit on one card: at most {MOST_LINES}; print one for each person, "
                         "or take the readings in from a file")
    fingerprint = sha256(rfc8785.dumps(content)).hexdigest()[:8].upper()
    card = json.dumps({**content, "fingerprint": fingerprint}, ensure_ascii=False, sort_keys=True)
    # Codes of the pages need the number of pages: counted once without them; their place is kept.
    pages = typesetting.count_pages(TEMPLATE, {"card": card, "codes": "[]"})
    codes = [code_svg(page_payload(serial, fingerprint, n)) for n in range(1, pages + 1)]
    pdf = typesetting.typeset(TEMPLATE, {"card": card, "codes": json.dumps(codes)}, at=printed_at)
    return StudyCard(pdf, serial, fingerprint, pages, lines)


def _content(
    study: Study, serial: str, number: int, at: datetime, person: str, tool_kinds: Collection[str], paper: str
) -> dict[str, Any]:
    form = paper_form(paper)
    rows = [
        {"order": place, "person": safe(name, NARROW), "part": safe(part), "number": str(replicate)}
        for place, (name, part, replicate) in enumerate(drawn_order(study), start=1) if not person or name == person
    ]  # fmt: skip
    whole, decimals = digits_of(study)
    return {
        "title": f"Card {serial} of study {safe(study.id)}", "serial": serial, "study": safe(study.id),
        "revision": safe(f"revision {study.revision} ({number})"), "name": safe(study.name),
        "person": safe(person or EVERYBODY), "printed": moment(at),
        "date": {"year": at.year, "month": at.month, "day": at.day, "hour": at.hour, "minute": at.minute,
                 "second": at.second},
        "facts": [[name, safe(text)] for name, text in _facts(study)],
        "rules": [safe(rule) for rule in rules_of(study)],
        "cautions": [{"title": safe(c.task), "hazard": safe(c.hazard), "stop": safe(c.stop),
                      "decides": safe(c.who_decides)} for c in cautions_of(study, tool_kinds)],
        "order": "The number of the order stands beside its boxes on the page where this card is typed in. "
                 "One reading in each row.",
        "rows": rows, "count": len(rows), "persons": bool(study.persons) and not person, "parts": bool(study.parts),
        "part_word": study.part_word, "unit": safe(f"read, {_unit(study)}"), "whole": whole, "decimals": decimals,
        "correction_rule": CORRECTION_RULE, "plan": study.digest,
        "paper": {"width": form.width, "height": form.height, "side": form.side, "top": form.top,
                  "bottom": form.bottom},
    }  # fmt: skip


def _unit(study: Study) -> str:
    return study.unit.replace(".", "·")


def _facts(study: Study) -> list[tuple[str, str]]:
    facts = [("Kind", study.kind), ("Tools", listed(study.tools) if study.tools else "none"),
             ("Check device", study.device or "not stated"), ("Document", study.basis), ("Led by", study.led_by)]
    target = study.window.target
    if target is not None and not any(part.target is not None for part in study.parts):
        facts.append(("Target", with_unit(target, _unit(study))))
    if study.window.stated:
        scale = "" if study.analysed == "value" else f" ({study.analysed})"
        facts.append(("Window", between(study.window.lower, study.window.upper, study.scale_unit, 5) + scale))
    if study.resolution is not None:
        facts.append(("Display", f"steps of {with_unit(study.resolution, _unit(study))}"))
    return facts


def digits_of(study: Study) -> tuple[int, int]:
    """How many boxes before and behind the decimal point a reading needs: enough before it for the largest target and
    `ROOM`, behind it as many as the display shows, else one."""
    decimals = 1
    if study.resolution is not None:
        decimals = max(0, min(4, math.ceil(-math.log10(study.resolution) - 1e-9)))
    sizes = [abs(part.target) for part in study.parts if part.target is not None]
    sizes += [] if study.window.target is None else [abs(study.window.target)]
    if study.analysed == "value":
        sizes += [abs(limit) for limit in (study.window.lower, study.window.upper) if limit is not None]
    largest = max(sizes, default=999.0) * ROOM
    return min(MOST_WHOLE, len(str(int(largest)))), decimals
