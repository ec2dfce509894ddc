"""The report where fasteners have settings of their own: each place with its window, the loads as predicted."""

from __future__ import annotations

from dataclasses import replace

from evenpull.intake.record import Tightening
from evenpull.plan import Plan
from evenpull.proof import decide, prove
from evenpull.report import release_report
from evenpull.report.results import matrix
from evenpull.report.words import Scale
from tests.report import fixture
from tests.report.readback import pages


def own() -> Plan:
    """Four fasteners at 624, 572, 546 and 520 N.m in pass 2."""
    return fixture.plan(4, "[30, 100]\nsettings = [[30], [120, 110, 105, 100]]\nsettings_limit = 120", 0,
                        kind="general assembly", circle=200)  # fmt: skip


def records(at: Plan) -> list[Tightening]:
    made = fixture.pulls(at)
    return [replace(r, torque=at.passes[r.pass_number - 1].torque_of(r.fastener)) for r in made]


def test_each_place_shows_its_own_window() -> None:
    at = own()
    shown = matrix(at, prove(at, records(at)), {}, Scale.of(at))
    assert [p["name"] for p in shown["passes"]] == ["pass 1, 30 %", "pass 2, own settings"]
    assert [p["window"] for p in shown["passes"]] == ["148.2 to 163.8", "window beside each"]
    assert [row["cells"][1]["angle"].partition("(")[2] for row in shown["rows"]] == [
        "592.8 to 655.2)", "543.4 to 600.6)", "518.7 to 573.3)", "494.0 to 546.0)"]  # fmt: skip
    assert all("(" not in row["cells"][0]["angle"] for row in shown["rows"])


def test_the_report_says_that_the_loads_are_predicted() -> None:
    at = own()
    made = records(at)
    proof = prove(at, made)
    text = " ".join(pages(release_report(at, proof, decide(at, proof), fixture.context(at, made))))
    assert "each against the window of its own setting; the loads left are predicted, not proven" in text
    assert "which load is left is predicted, not proven" in text
    assert "(592.8 to 655.2)" in text
