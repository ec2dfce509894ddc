"""The chapter of the demo on studies: a tool and its persons, an exercise, a plan with its card, a spare in drift."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from pathlib import Path

from evenpull.demo import scenario
from evenpull.demo.stated import KEEPER, LEAD
from evenpull.demo.teller import Teller
from evenpull.store import services

SPARE, DEVICE = "TW-0275", "CD-0003"
PLANNED = "KN-MC-0031"


def studies(tell: Teller, folder: Path) -> None:
    """Write the studies with their readings, print a card of the one that is planned, enter the checks of the spare."""
    tell.chapter("Studies of tools and persons, and a tool that drifts")
    for name in scenario.STUDIES:
        text, readings = scenario.study_texts(name)
        who = LEAD if "-ex-" in name else KEEPER
        row = services.add_study(text, f"{name}.toml", who, readings=readings)
        tell.say(f"{row.id}: {row.name}")
        tell.say(row.outcome.line, 4, 6)
        for demand in services.study(row.id).result.outcome.demands:
            person = f"{demand.person}: " if demand.person else ""
            tell.say(f"{person}{demand.what}: {demand.answer.upper()}; {demand.words}", 4, 6)
    if not services.cards_of_study(PLANNED):
        services.issue_study_card(PLANNED, "a4", KEEPER)
    folder.mkdir(parents=True, exist_ok=True)
    card = services.cards_of_study(PLANNED)[0]
    (folder / f"{card.serial}.pdf").write_bytes(services.study_card_pdf(card.serial))
    tell.say(f"Card {card.serial} of {PLANNED}: {card.lines} pulls in their order, to be typed back by its serial")
    _checks(tell)


def _checks(tell: Teller) -> None:
    rows = list(csv.DictReader(io.StringIO(scenario.shift_checks_text()), delimiter=";"))
    for number, row in enumerate(tell.each(rows, f"shift checks of {SPARE}", len(rows)), start=1):
        services.add_entry(
            "shift check", SPARE,
            {"set": row["set"], "device_value": row["device"], "device": DEVICE, "result": "within limits"}, KEEPER,
            at=datetime.fromisoformat(row["at"]), basis="from paper", reason="from the book of the tool store",
            once=f"demo-shift-check-{number}",
        )  # fmt: skip
    found = services.drift_of(SPARE).drift
    for series in found.series:
        tell.say(f"{SPARE} set to {series.set:.0f} N.m, {len(series.checks)} checks: {series.finding}")
        for said in series.says:
            tell.say(said, 4, 6)
