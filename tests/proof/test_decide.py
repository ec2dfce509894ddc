"""State, reasons and follow-ups."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import timedelta

import pytest

from evenpull.proof import decide, to_json
from tests.proof.build import changed, plan, prove, record, unread, without, work


def _late_check(at, hours):
    """The check pass begins so many hours after the last pull."""
    records = work(at)
    end = max(r.time for r in records if not at.pass_by_number(r.pass_number).check)
    return [
        replace(r, time=end + timedelta(hours=hours, seconds=30 * r.fastener - 30))
        if at.pass_by_number(r.pass_number).check else r
        for r in records
    ]  # fmt: skip


@pytest.mark.parametrize(("hours", "state"), [(3.9, "released with follow-up"), (4.0, "released")])
def test_gasketed_flange_dwells(hours, state):
    at = plan(kind="gasketed flange", checks=1, limit="5 deg")
    decision = decide(at, prove(at, _late_check(at, hours)))
    assert decision.state == state
    if hours < 4:
        assert "4 h" in decision.follow_ups[0] and "second-hand" in decision.follow_ups[0]
        assert (
            "No pressure before that is done and recorded; whether pressure may be put on is decided by the person in "
            "charge of the pressure test under the rules of the site."
        ) in decision.follow_ups[0]
        assert "only then" not in decision.follow_ups[0]


def test_gasketed_flange_without_check_pass_always_has_the_follow_up():
    at = plan(kind="gasketed flange")
    assert decide(at, prove(at, work(at))).state == "released with follow-up"


@pytest.mark.parametrize(
    ("strength", "cautions", "asked"),
    [("12.9", "[]", True), ("10.9", '["hydrogen"]', True), ("10.9", "[]", False), ("8.8", '["hydrogen"]', False)],
)
def test_delayed_inspection_of_hard_fasteners(strength, cautions, asked):
    at = plan(strength=strength, cautions=cautions)
    decision = decide(at, prove(at, work(at)))
    assert any("hydrogen" in text and "memory" in text for text in decision.follow_ups) is asked


def test_reasons_come_worst_first_and_grouped():
    at = plan(count=12)
    records = work(at)
    for fastener in (3, 9, 10, 11, 12):
        records = without(records, fastener, 2)
    records = changed(records, 7, 3, torque=298.0)
    records.append(record(at, 1, 3, 200, direction="loosen", event="loosen"))
    reasons = decide(at, prove(at, records)).reasons
    assert reasons[0].startswith("fastener 1") and "loosened" in reasons[0]
    assert reasons[1] == "fasteners 3, 9–12 have no record in pass 2"
    assert reasons[2] == "fastener 7, pass 3: 298 N·m is below 332.5 N·m"
    assert reasons[-1] == "27 of 36 planned tightenings accepted" or "of 36 planned tightenings accepted" in reasons[-1]


def test_many_of_one_kind_are_drawn_together():
    at = plan(count=12)
    records = [replace(r, torque=298.0) if r.pass_number == 3 else r for r in work(at)]
    reasons = decide(at, prove(at, records)).reasons
    assert len(reasons) == 2 and "12 times (fasteners 1–12)" in reasons[0] and "298 N·m is below" in reasons[0]


def test_unread_rows_alone_do_not_hide_that_nothing_is_proven():
    at = plan()
    decision = decide(at, prove(at, [], unread=[unread(at)]))
    assert decision.state == "not released" and any("no record" in reason for reason in decision.reasons)


def test_series_without_any_record():
    at = plan(series=True)
    decision = decide(at, prove(at, []))
    assert decision.state == "not released" and decision.reasons[0] == "no record of any workpiece has been received"


@pytest.mark.parametrize(("units", "said"), [(("1",), "1 unit"), (("1", "2", "3"), "3 units")])
def test_units_are_counted_without_bending_their_name(units, said):
    at = plan(series=True)
    at = replace(at, spec=replace(at.spec, series=replace(at.spec.series, unit_name="use of a housing")))
    records = [r for number, unit in enumerate(units) for r in work(at, unit_id=unit, begin=100 * number)]
    decision = decide(at, prove(at, records))
    assert decision.signable and decision.reasons[0].endswith(f" on {said} (use of a housing)")


def test_plan_and_proof_of_two_joints():
    at = plan()
    with pytest.raises(ValueError, match="KN-YY-002"):
        decide(replace(at, spec=replace(at.spec, id="KN-YY-002")), prove(at, work(at)))


def test_a_place_not_accepted_without_a_flag_is_still_against_the_release():
    """Guards the decision against a fault of the judgement."""
    at = plan()
    proof = prove(at, work(at))
    cell = replace(proof.cells[0], verdict="not judged", reason="no record")
    decision = decide(at, replace(proof, cells=(cell, *proof.cells[1:])))
    assert decision.state == "not released" and not decision.signable


def test_statistics_of_a_pass():
    at = plan()
    records = work(at)
    for fastener, torque in ((1, 340.0), (2, 350.0), (3, 360.0), (4, 350.0)):
        records = changed(records, fastener, 3, torque=torque, tool="TW-4")
    summary = prove(at, records).summaries[2]
    assert (summary.n, summary.minimum, summary.maximum, summary.mean) == (4, 340.0, 360.0, 350.0)
    assert math.isclose(summary.deviation, math.sqrt(200 / 3))  # sum of squares 200 over n - 1


def test_json_is_plain_and_names_records_by_their_key():
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, torque=400.0))
    for found in (proof, decide(at, proof)):
        text = json.dumps(to_json(found), allow_nan=False)
        assert json.loads(text) == to_json(found)
    content = to_json(proof)
    assert content["open_flags"] == [f.key for f in proof.open_flags]
    assert {c["proving"] for c in content["cells"]} == {r.key for c in proof.cells for r in c.records}


def test_a_record_of_another_joint_is_an_error():
    at = plan()
    with pytest.raises(ValueError, match="KN-YY-002"):
        prove(at, [replace(work(at)[0], joint="KN-YY-002")])
