"""Fasteners with settings of their own: each record against its own window, never against its neighbour's."""

from __future__ import annotations

from itertools import permutations

import pytest

from evenpull.proof import compare_source, decide, prove
from tests.proof.build import changed, flags, only, plan, record, verdict, work

# percent of 350 N.m, window 5 %: 420, 385, 350 and 315 N.m do not overlap
AT = plan(passes="[30, 100]", settings="[[30], [120, 110, 100, 90]]")
OWN = {1: 420.0, 2: 385.0, 3: 350.0, 4: 315.0}


def test_records_at_their_own_settings_are_accepted_and_released() -> None:
    records = work(AT)
    assert {r.fastener: r.torque for r in records if r.pass_number == 2} == pytest.approx(OWN)
    proof = prove(AT, records)
    assert {cell.verdict for cell in proof.cells} == {"accepted"} and not proof.open_flags
    decision = decide(AT, proof)
    assert decision.state == "released"
    assert any("its own setting" in text and "predicted, not proven" in text for text in decision.reasons)


@pytest.mark.parametrize(("fastener", "neighbour"), list(permutations(OWN, 2)))
def test_the_setting_of_a_neighbour_is_not_accepted(fastener: int, neighbour: int) -> None:
    proof = prove(AT, changed(work(AT), fastener, 2, torque=OWN[neighbour]))
    assert verdict(proof, fastener, 2) == "not accepted"
    assert only(proof, "out of window").fastener == fastener
    assert [v for v in OWN if verdict(proof, v, 2) != "accepted"] == [fastener]


@pytest.mark.parametrize(("torque", "expected"), [(399.0, "accepted"), (398.9, "not accepted"), (441.0, "accepted"),
                                                  (441.1, "not accepted")])  # fmt: skip
def test_the_window_lies_round_the_own_setting(torque: float, expected: str) -> None:
    proof = prove(AT, changed(work(AT), 1, 2, torque=torque))
    assert verdict(proof, 1, 2) == expected
    cell = next(c for c in proof.cells if (c.fastener, c.pass_number) == (1, 2))
    assert ("399 to 441 N·m" if expected == "accepted" else "399 N·m" if torque < 400 else "441 N·m") in cell.reason


def test_the_target_itself_is_no_measure_of_the_last_pass() -> None:
    """Fastener 4 at 90 %: pulled to the target's 350 N.m it is above its setting."""
    proof = prove(AT, changed(work(AT), 4, 2, torque=350.0))
    assert verdict(proof, 4, 2) == "not accepted" and "above 330.8" in only(proof, "out of window").text


def test_a_record_without_a_pass_is_told_by_the_window_of_its_fastener() -> None:
    at = plan(passes="[60, 100]", settings="[[60], [120, 66, 100, 90]]")  # fastener 2: 210 and 231 N.m
    records = [r for r in work(at) if (r.fastener, r.pass_number) != (1, 2)]
    proof = prove(at, [*records, record(at, 1, None, 20, torque=420.0, event="step")])
    assert verdict(proof, 1, 2) == "accepted"
    stray = prove(at, [*records, record(at, 1, None, 20, torque=231.0, event="step")])  # of fastener 2, not of 1
    assert verdict(stray, 1, 2) == "not judged" and any("window of no pass" in f.text for f in
                                                        flags(stray, "pass not stated"))


def test_the_comparison_with_the_source_uses_the_own_window() -> None:
    records = changed(work(AT), 2, 2, torque=420.0, source_verdict="accepted")
    records = changed(records, 1, 2, source_verdict="accepted")
    rows = {(r.fastener, r.pass_number): r for r in compare_source(AT, records, prove(AT, records)).rows}
    assert rows[1, 2].code == "same verdict" and rows[1, 2].by_torque == "accepted"
    assert rows[2, 2].code == "torque above the window" and "365.8 to 404.2" in rows[2, 2].text


def test_a_check_pass_stays_at_the_target() -> None:
    at = plan(passes="[100]", settings="[[120, 110, 100, 90]]", checks=1, limit="5 deg")
    proof = prove(at, work(at))
    assert {c.verdict for c in proof.cells} == {"accepted"}
    proof = prove(at, changed(work(at), 1, 2, torque=420.0))  # the check pass is pass 2, at 350 N.m
    assert verdict(proof, 1, 2) == "not accepted"
