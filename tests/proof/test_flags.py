"""Each flag: what raises it, whether it blocks, what it does to the place. Expectations follow docs/proof-rules.md."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from typing import Any, get_args

import pytest

from evenpull.intake.record import Particular
from evenpull.plan.model import Problem
from evenpull.proof import decide
from evenpull.proof.model import FlagCode, Proof
from tests.proof.build import (
    changed,
    flags,
    only,
    plan,
    prove,
    record,
    unread,
    verdict,
    without,
    work,
)


def test_work_as_planned_raises_no_flag_and_is_released():
    at = plan()
    proof = prove(at, work(at))
    assert proof.flags == ()
    assert {cell.verdict for cell in proof.cells} == {"accepted"}
    assert len(proof.cells) == 12 and proof.records == 12
    decision = decide(at, proof)
    assert decision.state == "released" and decision.signable
    assert decision.reasons[0] == "all 12 planned tightenings are accepted: 4 fasteners in 3 passes"


def test_missing():
    at = plan()
    proof = prove(at, without(work(at), 3, 2))
    flag = only(proof, "missing")
    assert flag.blocking and (flag.fastener, flag.pass_number) == (3, 2)
    assert verdict(proof, 3, 2) == "not judged"
    assert "fastener 3 has no record in pass 2" in decide(at, proof).reasons


def test_no_record_at_all_is_one_reason():
    at = plan()
    decision = decide(at, prove(at, []))
    assert decision.state == "not released" and not decision.signable
    assert decision.reasons[0] == (
        "no record has been received: all 12 planned tightenings are missing (4 fasteners in 3 passes)"
    )


@pytest.mark.parametrize("fastener", [0, 5, 99])
def test_fastener_beyond_the_count(fastener):
    at = plan()
    proof = prove(at, [*work(at), record(at, fastener, 3, 50)])
    flag = only(proof, "unknown fastener")
    assert flag.blocking and flag.fastener == fastener
    assert decide(at, proof).state == "not released"


def test_unknown_pass():
    at = plan()
    proof = prove(at, [*work(at), record(at, 2, 7, 50)])
    assert only(proof, "unknown pass").blocking


def test_doubled_blocks_when_the_earlier_record_was_good():
    at = plan()
    again = record(at, 4, 3, 50, torque=355.0)
    proof = prove(at, [*work(at), again])
    flag = only(proof, "doubled")
    assert flag.blocking and (flag.fastener, flag.pass_number) == (4, 3)
    cell = next(c for c in proof.cells if (c.fastener, c.pass_number) == (4, 3))
    assert cell.proving == again and len(cell.records) == 2


def test_doubled_is_a_note_when_the_earlier_record_fell_short():
    at = plan()
    short = changed(work(at), 4, 3, torque=250.0, end_cause="stopped by user")
    proof = prove(at, [*short, record(at, 4, 3, 50)])
    assert not only(proof, "doubled").blocking
    assert verdict(proof, 4, 3) == "accepted"
    assert proof.open_flags == ()


def test_the_later_record_counts_even_when_it_is_worse():
    at = plan()
    proof = prove(at, [*work(at), record(at, 4, 3, 50, torque=300.0)])
    assert verdict(proof, 4, 3) == "not accepted"
    assert decide(at, proof).state == "not released"


def test_two_records_without_a_known_order_prove_nothing():
    at = plan()
    timeless = {"counter": None, "time": None, "time_doubt": "no time is stated"}
    both = [record(at, 4, 3, 50, **timeless), record(at, 4, 3, 51, torque=300.0, **timeless)]
    records = [*without(work(at), 4, 3), *both]
    proof = prove(at, records)
    assert verdict(proof, 4, 3) == "not judged"
    assert only(proof, "doubled").blocking


def test_too_high_blocks_even_when_pulled_again():
    at = plan()
    high = changed(work(at), 2, 3, torque=471.5)
    proof = prove(at, [*high, record(at, 2, 3, 50)])
    flag = only(proof, "out of window")
    assert flag.blocking and "471.5" in flag.text and "367.5" in flag.text


@pytest.mark.parametrize(
    ("torque", "words"), [(298.0, "298 N·m is below 332.5 N·m"), (400.0, "400 N·m is above 367.5 N·m")]
)
def test_out_of_window_says_the_numbers(torque, words):
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, torque=torque))
    assert only(proof, "out of window").blocking
    assert verdict(proof, 2, 3) == "not accepted"
    first = decide(at, proof).reasons[0]
    assert words in first and "fastener 2, pass 3" in first


def test_each_pass_has_its_own_window():
    at = plan()
    proof = prove(at, changed(work(at), 2, 1, torque=350.0))
    flag = only(proof, "out of window")
    assert flag.pass_number == 1 and "110.2" in flag.text


@pytest.mark.parametrize("torque", [332.5, 367.5])
def test_the_ends_of_the_window_belong_to_it(torque):
    at = plan()
    assert verdict(prove(at, changed(work(at), 1, 3, torque=torque)), 1, 3) == "accepted"


def test_unit_slip_is_a_note_beside_the_block():
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, torque=350.0 / 1.3558179483))
    assert not only(proof, "unit slip suspected").blocking
    assert only(proof, "out of window").blocking


def test_loosened_later_un_proves_all_passes():
    at = plan()
    off = record(at, 2, 3, 60, direction="loosen", event="loosen")
    proof = prove(at, [*work(at), off])
    assert only(proof, "loosened later").blocking
    assert [verdict(proof, 2, number) for number in (1, 2, 3)] == ["not accepted"] * 3
    assert verdict(proof, 1, 3) == "accepted"


def test_loosened_and_tightened_in_the_last_pass_only_is_not_enough():
    at = plan()
    off = record(at, 2, 3, 60, direction="loosen", event="loosen")
    proof = prove(at, [*work(at), off, record(at, 2, 3, 61)])
    assert only(proof, "loosened later").blocking
    assert decide(at, proof).state == "not released"


def test_loosened_and_tightened_again_in_all_passes_is_a_note():
    at = plan()
    again = [record(at, 2, number, 60 + number) for number in (1, 2, 3)]
    proof = prove(at, [*work(at), record(at, 2, 3, 60, direction="loosen", event="loosen"), *again])
    assert not only(proof, "loosened later").blocking
    assert proof.open_flags == ()
    assert decide(at, proof).state == "released"


def test_wrong_direction_of_a_pull_that_is_called_a_tightening():
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, direction="loosen", event="step"))
    assert only(proof, "wrong direction").blocking
    assert verdict(proof, 2, 3) != "accepted"


@pytest.mark.parametrize("cause", ["stopped by user", "limit", "error"])
def test_not_reached_although_the_torque_is_inside(cause):
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, end_cause=cause))
    assert only(proof, "not reached").blocking
    assert verdict(proof, 2, 3) == "not accepted"


def test_angle_out_of_window_and_no_angle():
    at = plan(window='["15 deg", "40 deg"]')
    good = [replace(r, angle=math.radians(25.0)) for r in work(at)]
    assert prove(at, good).flags == ()
    proof = prove(at, changed(good, 2, 3, angle=math.radians(71.5)))
    flag = only(proof, "angle out of window")
    assert flag.blocking and "71.5" in flag.text and verdict(proof, 2, 3) == "not accepted"
    proof = prove(at, changed(good, 2, 3, angle=None))
    assert only(proof, "no angle").blocking and verdict(proof, 2, 3) == "not judged"


def test_moved_on_check_pass_needs_another_check_of_all():
    at = plan(checks=1, limit="5 deg")
    moved = changed(work(at), 2, 4, angle=math.radians(23.5))
    assert only(prove(at, moved), "moved on check pass").blocking
    one_more = [*moved, record(at, 2, 4, 70)]
    assert only(prove(at, one_more), "moved on check pass").blocking
    all_again = [*moved, *(record(at, n, 4, 70 + n) for n in range(1, 5))]
    proof = prove(at, all_again)
    assert not only(proof, "moved on check pass").blocking and proof.open_flags == ()


def test_movement_not_recorded_is_not_judged():
    at = plan(checks=1, limit="5 deg")
    proof = prove(at, changed(work(at), 2, 4, angle=None))
    assert only(proof, "no angle").blocking and verdict(proof, 2, 4) == "not judged"


def test_wrong_tool():
    at = plan()
    proof = prove(at, changed(work(at), 2, 2, tool="TM-0044"))
    flag = only(proof, "wrong tool")
    assert flag.blocking and "TM-0044" in flag.text and verdict(proof, 2, 2) == "not accepted"


@pytest.mark.parametrize("tool", ["", "TW-9"])
def test_tool_not_known(tool):
    at = plan()
    proof = prove(at, changed(work(at), 2, 2, tool=tool))
    assert only(proof, "tool not known").blocking and verdict(proof, 2, 2) == "not judged"


@pytest.mark.parametrize(("days", "valid"), [(-1, True), (0, False)])
def test_certificate_on_the_day_of_use(days, valid):
    """TW-2 is certified until 2026-03-17; START is the 18th."""
    at = plan()
    records = [replace(r, tool="TW-2", time=r.time + timedelta(days=days)) for r in work(at)]
    proof = prove(at, records)
    if valid:
        assert proof.flags == ()
    else:
        flag = only(proof, "certificate not valid")
        assert flag.blocking and "2026-03-17" in flag.text
        assert "accepted" not in {c.verdict for c in proof.cells}


def test_no_torque():
    at = plan()
    proof = prove(at, changed(work(at), 2, 2, torque=None, torque_text=""))
    assert only(proof, "no torque").blocking and verdict(proof, 2, 2) == "not judged"


def test_pass_told_from_window_and_order_is_a_note():
    at = plan()
    proof = prove(at, changed(work(at), 2, 2, pass_number=None, event="step"))
    assert [f.blocking for f in flags(proof, "pass not stated")] == [False]
    assert verdict(proof, 2, 2) == "accepted"


def test_pass_that_cannot_be_told_blocks_and_proves_nothing():
    at = plan()
    proof = prove(at, changed(work(at), 2, 2, pass_number=None, torque=180.0))
    assert only(proof, "pass not stated").blocking
    assert verdict(proof, 2, 2) == "not judged"


def test_without_any_stated_pass_all_is_told():
    at = plan(checks=1, limit="5 deg")
    records = [replace(r, pass_number=None, event="check pass" if r.pass_number == 4 else "step") for r in work(at)]
    proof = prove(at, records)
    assert {c.verdict for c in proof.cells} == {"accepted"}
    assert not any(f.blocking for f in flags(proof, "pass not stated"))


def test_time_in_doubt_with_counter_is_a_note():
    at = plan()
    doubted = changed(work(at), 2, 2, time=None, time_doubt="01:30 did not exist")
    proof = prove(at, doubted)
    assert not only(proof, "time in doubt").blocking
    assert verdict(proof, 2, 2) == "accepted"


def test_unknown_day_of_use_is_not_judged():
    at = plan()
    proof = prove(at, [replace(r, time=None, counter=None, time_doubt="no time is stated") for r in work(at)])
    assert any(f.blocking for f in flags(proof, "time in doubt"))
    assert "accepted" not in {c.verdict for c in proof.cells}


def test_unread_row_that_names_the_joint_blocks():
    at = plan()
    proof = prove(at, work(at), unread=[unread(at)])
    flag = only(proof, "unread row")
    assert flag.blocking and "see card" in flag.text and proof.unread == 1
    assert decide(at, proof).state == "not released"


def test_unread_row_of_another_joint_does_not():
    at = plan()
    assert prove(at, work(at), unread=[replace(unread(at), joint="KN-YY-002")]).open_flags == ()


def test_source_that_accepts_what_we_do_not_is_a_note():
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, torque=400.0, source_verdict="accepted", result_text="inside"))
    flag = only(proof, "source disagrees")
    assert not flag.blocking and "inside" in flag.text


def test_a_record_that_lacks_the_minimum_is_not_proven():
    for change, words in (
        ({"operator": " "}, "who worked"),
        *(({"operator": filler}, "who worked") for filler in ("-", "?", "n/a", "N/A", "--", "unknown", " . ")),
        ({"torque_unit": ""}, "the unit of the torque"),
        ({"time": None, "time_text": ""}, "when it was made"),  # its counter tells between which others
        ({"pass_number": None, "event": "unstated"}, "fastener 2 does not state the pass or the kind of event"),
    ):
        at = plan(joint_class="C")
        proof = prove(at, changed(work(at), 2, 3, **change))
        assert words in only(proof, "not proven").text and only(proof, "not proven").blocking
        assert verdict(proof, 2, 3) == "not judged" and verdict(proof, 2, 2) == "accepted"


@pytest.mark.parametrize("name", ["R. F.", "Na", "Li Ng", "7", "王"])
def test_short_names_are_names(name: str) -> None:
    at = plan()
    assert prove(at, changed(work(at), 2, 3, operator=name)).flags == ()


@pytest.mark.parametrize("event", ["first", "step", "touch-up", "re-tighten after service"])
def test_a_tightening_that_names_the_check_pass_checks_nothing(event: str) -> None:
    at = plan(checks=1, limit="5 deg")
    proof = prove(at, changed(work(at), 2, 4, event=event))
    flag = only(proof, "unknown pass")
    assert flag.blocking and f"called {event!r}" in flag.text and verdict(proof, 2, 4) == "not judged"
    checked = [*changed(work(at), 2, 4, event=event), record(at, 2, 4, 30)]
    assert verdict(prove(at, checked), 2, 4) == "accepted"  # looked at afterwards


@pytest.mark.parametrize("stated", [True, False])
def test_a_check_pass_that_the_plan_does_not_have_tightens_nothing(stated: bool) -> None:
    """It neither stands for the last pass nor closes what a loosening opened."""
    at = plan()
    number = 3 if stated else None
    checked = record(at, 2, number, 30, event="check pass")
    alone = prove(at, [*without(work(at), 2, 3), checked])
    assert only(alone, "unknown pass").blocking and verdict(alone, 2, 3) == "not judged"
    loosened = record(at, 2, None, 29, event="loosen", direction="loosen")
    again = [record(at, 2, n, 30 + n, event="check pass") for n in (1, 2, 3)]
    proof = prove(at, [*work(at), loosened, *again])
    assert verdict(proof, 2, 3) == "not judged" and next(s for s in proof.states if s.fastener == 2).owed


def test_movement_in_a_column_of_its_own_counts() -> None:
    """The larger of angle and movement: neither hides the other."""
    at = plan(checks=1, limit="5 deg")

    def moved(degrees: float | None, **changes: Any) -> Proof:
        stated = Particular("as written", "deg", None if degrees is None else math.radians(degrees))
        return prove(at, changed(work(at), 2, 4, particulars={"movement": stated}, **changes))

    assert verdict(moved(1.0, angle=None), 2, 4) == "accepted"
    assert "turned 12°" in only(moved(12.0, angle=None), "moved on check pass").text
    assert "turned 12°" in only(moved(12.0), "moved on check pass").text
    assert "turned 9°" in only(moved(1.0, angle=math.radians(9)), "moved on check pass").text
    assert only(moved(None, angle=None), "no angle").blocking  # a text that is no angle


def test_conflicting_records_of_one_counter_prove_nothing():
    at = plan()
    first = next(r for r in work(at) if (r.fastener, r.pass_number) == (2, 3))
    other = record(at, 2, 3, 50, counter=first.counter, torque=351.0)
    proof = prove(at, [*work(at), other])
    assert only(proof, "conflicting record").blocking
    assert verdict(proof, 2, 3) != "accepted"


@pytest.mark.parametrize("event", ["residual check", "check-device pull"])
def test_checks_prove_no_place(event):
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, event=event))
    assert not only(proof, "not a proving event").blocking
    assert only(proof, "missing").pass_number == 3


def test_specification_stop_cannot_be_disposed_of():
    at = replace(plan(), problems=(Problem("overload", "stop", "the target overloads the fastener"),))
    proof = prove(at, work(at))
    assert only(proof, "specification stop").blocking
    decision = decide(at, proof)
    assert not decision.signable and "overloads" in decision.reasons[0]


def test_series_each_unit_needs_every_fastener():
    at = plan(series=True, passes="[100]", count=2)
    whole = work(at, unit_id="W-1")
    one = [record(at, 1, 1, 40, unit_id="W-2")]
    proof = prove(at, [*whole, *one])
    assert proof.units == ("W-1", "W-2")
    flag = only(proof, "missing")
    assert (flag.unit_id, flag.fastener) == ("W-2", 2)
    assert any("W-2" in reason for reason in decide(at, proof).reasons)


def test_series_record_without_unit_and_unit_on_a_single_joint():
    at = plan(series=True, passes="[100]", count=2)
    assert only(prove(at, [*work(at, unit_id="W-1"), record(at, 1, 1, 40)]), "extra").blocking
    single = plan()
    assert only(prove(single, changed(work(single), 1, 1, unit_id="W-1")), "extra").blocking


def test_drag_is_noted_when_the_target_has_one():
    at = plan()
    wish = replace(at.spec.target, prevailing_torque=at.spec.target.torque)
    at = replace(at, spec=replace(at.spec, target=wish))
    assert not only(prove(at, work(at)), "prevailing not recorded").blocking




def test_every_flag_code_has_a_test():
    from pathlib import Path

    text = "".join(
        path.read_text() for path in sorted(Path(__file__).parents[1].glob("*/test_*.py"))
    )
    assert [code for code in get_args(FlagCode) if f'"{code}")' not in text] == []




def test_source_that_rejects_what_we_accept_blocks_until_a_person_decides():
    at = plan()
    proof = prove(at, changed(work(at), 2, 3, source_verdict="not accepted", result_text="outside"))
    flag = only(proof, "source disagrees")
    assert flag.blocking and "350 N·m is inside" in flag.text
    assert decide(at, proof).state == "not released"
