"""People of a report by what entries and records say about them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from evenpull.intake.record import Particular
from evenpull.ledger.check import check
from evenpull.ledger.entry import Entry
from evenpull.plan.model import GateRules
from evenpull.proof.surroundings import Surroundings
from evenpull.report import release_report, stated
from tests.report import fixture
from tests.report.test_content import pages

NOW = datetime(2026, 11, 26, 12, 0, tzinfo=UTC)


def entry(
    kind: str, name: str, values: dict[str, str], seq: int, count: int | None = None, by: str = "Q. Lead"
) -> Entry:
    made = check(
        kind, values, name=name, unit="", fasteners="", at=datetime(2026, 3, 18, 9, tzinfo=UTC), at_uncertainty=0.0,
        basis="from paper", reason="from the crew's sheet", by=by, written_at=NOW, count=count,
    )  # fmt: skip
    return replace(made, seq=seq)


def test_a_person_with_two_parts_keeps_the_qualification_of_the_days_of_use() -> None:
    plan = fixture.plan(4)
    plan = replace(plan, spec=replace(plan.spec, gates=GateRules(qualification="flange assembly")))
    records = fixture.pulls(plan)
    who = records[0].operator
    day = min(r.time for r in records if r.time is not None).date()
    held = entry("qualification", who, {
        "qualification": "flange assembly", "issued_by": "School", "from": str(day - timedelta(days=30)),
        "until": str(day + timedelta(days=5)),  # ended long before the report is made
    }, 1)  # fmt: skip
    took = entry("hand-over", plan.spec.id, {"from": "A. Other", "to": who, "pass": "2"}, 2, 4)
    seen = entry("checked", plan.spec.id, {"seen": "all marks in line", "result": "in order"}, 3, 4, "I. Brannoch")
    hours = entry("duty", who, {"date": str(day), "hours": "11.5", "days": "6"}, 4)
    around = Surroundings(now=NOW, entries=(took, seen), people={who.casefold(): (held, hours)})
    records = [replace(records[0], particulars={"hours_on_shift": Particular("12")}), *records[1:]]
    people = stated.people(plan, around, records)
    assert f"held from {day - timedelta(days=30)}" in str(people[0].qualification) and "not on" not in str(people[0])
    notes = stated.notes(around, records)
    assert notes["hours on duty"] == f"{who} 11.5 h on {day}, day 6 in a row; {who} 12 h, as the records state"
    context = fixture.context(plan, records, people=people, notes=notes, around=around)
    whole = " ".join(pages(release_report(plan, fixture.proof(plan, records), fixture.RELEASED, context)))
    assert f"held from {day - timedelta(days=30)}" in whole and "took over in pass 2, from A. Other" in whole
    assert "Hours on duty: " + who in whole and "Independent checker: I. Brannoch" in whole
    later = replace(held, values=dict(held.values) | {"until": str(day - timedelta(days=1))})
    around = replace(around, people={who.casefold(): (later,)})
    assert f"not on {day}" in str(stated.people(plan, around, records)[0].qualification)
