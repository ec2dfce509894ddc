"""The release report names each tool with its chain, certificates, uncertainty against the window and risk. The numbers
are those of tests/equipment/test_gate.py."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

from evenpull.equipment import Holdings
from evenpull.equipment.tool_fitness import ToolFitness
from evenpull.plan import Plan
from evenpull.proof import decide, prove
from evenpull.proof.surroundings import Surroundings
from evenpull.report import fitness, release_report
from tests.equipment.fit import held, plan
from tests.proof.test_tool_fit import AT, pulls
from tests.report import fixture
from tests.report.readback import pages


def printed(known: Holdings, at: Plan, records: list[Any]) -> dict[str, Any]:
    around = Surroundings(fit=ToolFitness(known))
    found = fitness.fitness(at, replace(fixture.context(at, records), around=around))
    clean = [[cell.replace("\u200b", "") for cell in row] for row in found["rows"]]
    return {"rows": clean, "notes": [note.replace("\u200b", "") for note in found["notes"]]}


def test_a_fit_tool_with_its_numbers() -> None:
    """At 60 N.m u = 0.456878 N.m, U = 0.914 N.m in a window of +-3 N.m: 4 * 0.456878/6 = 30.5 % of half of it."""
    (row,) = printed(held(), plan(), pulls(plan()))["rows"]
    assert row[:4] == ["TW-0301", "TW-0301", "KNC-26-0412", "2026-04-15"]
    assert row[4].startswith("0.914 N·m in pass 1 of 3 (40 %); 30.5 % of half the window")
    assert row[5:] == ["below 0.01 %", "fit"]


def test_a_chain_names_its_parts_and_each_certificate() -> None:
    at = plan(("CH-0007",), torque="1500 N.m", passes="[60, 80, 100]", tolerance="10 %")
    (row,) = printed(held(), at, pulls(at, "CH-0007"))["rows"]
    assert row[1] == "TW-0301 + TM-0051" and row[2] == "KNC-26-0412 + KNC-26-0413" and row[6] == "fit"


def test_only_the_passes_in_which_it_pulled_are_asked() -> None:
    """20 % are 30 N.m, below the scale; who used the tool for the other passes used a fit one."""
    at = plan(passes="[20, 70, 100]")
    records = pulls(at)
    (whole,) = printed(held(), at, records)["rows"]
    assert whole[6].startswith("NOT FIT: pass 1 of 3 (20 %): 30 N·m is below the lowest marked value")
    (part,) = printed(held(), at, [r for r in records if r.pass_number != 1])["rows"]
    assert part[6] == "fit"
    (unsaid,) = printed(held(), at, [replace(r, pass_number=None) for r in records[-3:]])["rows"]
    assert unsaid[6].startswith("NOT FIT")


def test_days_of_which_the_same_is_said_stand_together_and_others_apart() -> None:
    at, records = plan(), pulls(plan())
    for days in (1, 400):
        more = pulls(at, when=AT + timedelta(days=days))
        records += [replace(r, counter=(r.counter or 0) + 100 * days) for r in more]
    rows = printed(held(), at, records)["rows"]
    assert [row[3] for row in rows] == ["2026-04-15 to 2026-04-16 (2 days)", str((AT + timedelta(days=400)).date())]
    assert rows[1][2] == "NONE" and "ran out on 2027-03-01" in rows[1][6]


def test_what_was_not_judged_is_said_once() -> None:
    at = plan()
    records = [*pulls(at, "TW-0207"), *pulls(at, when=AT + timedelta(days=1))]
    notes = printed(held(), at, records)["notes"]
    assert notes[0].startswith("TW-0207: the joint is of class B; the tool stands in the simple register")
    assert len(notes) == 2 and not any("TW-0301" in note for note in notes)


def test_it_stands_on_the_paper() -> None:
    at, records = plan(), pulls(plan())
    around = Surroundings(fit=ToolFitness(held()))
    proof = prove(at, records, around=around, register=held().as_tools("TW-0301"))
    found = release_report(at, proof, decide(at, proof, around), replace(fixture.context(at, records), around=around))
    text = " ".join(" ".join(pages(found)).split())
    assert "Fit for the pulls of the plan on the days of use" in text and "KNC-26-0412" in text
