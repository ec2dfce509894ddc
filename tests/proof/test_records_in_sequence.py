"""What is known about the order of records, and on which place a record falls that does not state its pass."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.ledger.words import number_list
from evenpull.proof import decide
from evenpull.proof.moments import CLOCK_MARGIN, MomentSet, before, longest_rising, moments, sequence_key
from evenpull.proof.texts import against
from tests.proof.build import START, changed, flags, only, plan, prove, record, verdict, without, work

AT = plan()
NO_COUNTER = {"counter": None}
NO_TIME = {"time": None, "time_doubt": "no time is stated"}


def _moments(*records):
    found = moments(records)
    return [found[r.key] for r in records]


def test_counter_goes_before_clock():
    one, other = _moments(record(AT, 1, 1, 5, counter=7), record(AT, 2, 1, 1, counter=8))
    assert before(one, other) and not before(other, one)


def test_a_clock_against_its_counter_is_not_relied_on():
    records = [record(AT, 1, 1, place) for place in range(5)]
    records[2] = replace(records[2], time=START - timedelta(days=300))
    found = _moments(*records)
    assert [m.sure for m in found] == [True, True, False, True, True]
    assert (found[2].low, found[2].high) == (found[1].high, found[3].low)
    assert "does not fit its counter" in found[2].doubt


def test_without_time_the_neighbours_in_the_counter_enclose_it():
    records = [record(AT, 1, 1, 0), record(AT, 1, 2, 1, **NO_TIME), record(AT, 1, 3, 2)]
    found = _moments(*records)
    assert (found[1].low, found[1].high) == (found[0].low, found[2].low) and found[1].bounded
    last = _moments(*records[:2])[1]
    assert last.high == math.inf and not last.bounded


def test_an_hour_that_occurred_twice_is_a_span():
    (found,) = _moments(record(AT, 1, 1, 0, counter=None, time_doubt="occurred twice"))
    assert found.low <= START.timestamp() <= found.high and found.high >= START.timestamp() + 3600


def test_clocks_of_two_tools_need_a_margin_and_one_tool_does_not():
    at = {tool: record(AT, 1, 1, 0, tool=tool, **NO_COUNTER) for tool in ("TW-1", "TW-4")}
    for seconds, known in ((CLOCK_MARGIN, False), (CLOCK_MARGIN + 1, True)):
        later = record(AT, 1, 1, 0, tool="TW-4", counter=None, time=START + timedelta(seconds=seconds))
        assert before(*_moments(at["TW-1"], later)) is known
        assert before(*_moments(at["TW-4"], later)) is True


timed = st.tuples(
    st.sampled_from(["TW-1", "TW-4", ""]), st.none() | st.integers(0, 9), st.none() | st.integers(0, 600),
    st.sampled_from(["", "A"]),
)  # fmt: skip


def _record(place, tool, counter, seconds, epoch):
    return record(
        AT, 1, 1, place, tool=tool, counter=counter, epoch=epoch,
        time=None if seconds is None else START + timedelta(seconds=seconds),
        time_doubt="" if seconds is not None else "no time is stated",
    )  # fmt: skip


@given(st.lists(timed, max_size=14))
@settings(max_examples=200, deadline=None)
def test_sequence_contradicts_no_known_order_and_sets_answer_like_pairs(drawn):
    records = [_record(place, *one) for place, one in enumerate(drawn)]
    found = moments(records)
    ordered = sorted(records, key=lambda r: sequence_key(found[r.key], r.key))
    for place, later in enumerate(ordered):
        for earlier in ordered[:place]:
            assert not before(found[later.key], found[earlier.key])
    everything = list(found.values())
    for one in everything:
        assert one.low <= one.high
        rest = MomentSet(everything)
        assert rest.all_before(one) == all(before(other, one) for other in everything)
        assert rest.all_after(one) == all(before(one, other) for other in everything)
        assert rest.any_after(one) == any(before(one, other) for other in everything)


@given(st.lists(st.integers(0, 8).map(float), max_size=9))
def test_longest_rising_is_a_longest_one(values):
    kept = longest_rising(values)
    chosen = [values[place] for place in kept]
    assert kept == sorted(set(kept)) and chosen == sorted(chosen)
    best = [1] * len(values)
    for place in range(len(values)):
        best[place] = 1 + max((best[e] for e in range(place) if values[e] <= values[place]), default=0)
    assert len(kept) == max(best, default=0)


def test_a_touch_up_without_a_pass_does_not_prove_the_check_pass():
    at = plan(checks=1)
    records = [*without(work(at), 2, 4), record(at, 2, None, 60, event="touch-up")]
    proof = prove(at, records)
    assert only(proof, "missing").pass_number == 4
    assert not only(proof, "doubled").blocking and verdict(proof, 2, 3) == "accepted"


def test_a_pass_that_was_stated_but_not_understood_is_not_told_from_the_torque():
    records = changed(work(AT), 2, 2, remarks=("pass: 'late' is no number of a pass (1 to 99)",))
    records = [replace(r, pass_number=None) if r.remarks else r for r in records]
    proof = prove(AT, records)
    assert only(proof, "pass not stated").blocking and verdict(proof, 2, 2) == "not judged"


def test_final_and_check_pass_without_numbers_need_a_known_order():
    at = plan(checks=1)
    blurred = {"pass_number": None, "counter": None, "time": START + timedelta(hours=3)}
    records = [r for r in work(at) if not (r.fastener == 2 and r.pass_number in (3, 4))]
    records += [record(at, 2, 3, 60 + n, **{k: v for k, v in blurred.items() if k != "pass_number"}) for n in (0, 1)]
    records = [replace(r, pass_number=None) if r.counter is None else r for r in records]
    proof = prove(at, records)
    assert [f.blocking for f in flags(proof, "pass not stated")] == [True, True]
    assert {verdict(proof, 2, n) for n in (3, 4)} == {"not judged"}


def test_a_value_that_is_not_understood_is_not_taken_as_good():
    cases = (("direction", "wrong direction"), ("end_cause", "not reached"), ("event", "not a proving event"))
    for field, code in cases:
        changes = {"remarks": (f"{field}: the mapping lists no meaning for 'x'",)}
        if field != "event":
            changes[field] = "unknown"
        proof = prove(AT, changed(work(AT), 2, 2, **changes))
        assert only(proof, code).blocking and verdict(proof, 2, 2) == "not judged"


def test_not_stated_is_said_but_judged_by_what_is_there():
    proof = prove(AT, [replace(r, direction="unknown", end_cause="unknown") for r in work(AT)])
    assert proof.flags == () and {c.verdict for c in proof.cells} == {"accepted"}
    assert all("does not state the direction or the end of the pull" in c.reason for c in proof.cells)


def test_replaced_part_needs_all_passes_again():
    records = [*work(AT), record(AT, 2, 3, 60, event="replace")]
    proof = prove(AT, records)
    assert only(proof, "loosened later").blocking and "replaced" in only(proof, "loosened later").text
    assert [verdict(proof, 2, n) for n in (1, 2, 3)] == ["not accepted", "not accepted", "accepted"]
    again = [*work(AT), *(record(AT, 2, n, 60 + n, event="replace") for n in (1, 2, 3))]
    assert prove(AT, again).open_flags == ()


def test_a_tightening_not_known_to_follow_the_loosening_does_not_count():
    off = record(AT, 2, 3, 60, direction="loosen", event="loosen")
    after = [record(AT, 2, n, 60, tool="TW-4", time=off.time + timedelta(seconds=20 + n)) for n in (1, 2, 3)]
    assert only(prove(AT, [*work(AT), off, *after]), "loosened later").blocking


def test_loosening_before_any_tightening_is_only_noted():
    off = record(AT, 2, None, -5, direction="loosen", event="loosen", torque=None)
    proof = prove(AT, [off, *work(AT)])
    assert not only(proof, "not a proving event").blocking and proof.open_flags == ()


def test_overlapping_exports_without_counters_are_one_record():
    first = [replace(r, counter=None) for r in work(AT)]
    second = [replace(r, file_sha256="e" * 64, row=r.row + 3) for r in first[5:]]
    one, both = prove(AT, first), prove(AT, [*first, *second])
    assert both.repeated == len(second) and both.flags == one.flags and both.cells == one.cells


def test_certificate_covers_the_day_in_the_zone_of_the_record():
    """Half past midnight in Kiritimati (UTC+14) on 18 March is still the 17th in UTC."""
    late = START.replace(hour=10, minute=30, day=17)
    records = [
        replace(r, tool="TW-2", time=late + timedelta(seconds=5 * n), time_basis=zone)
        for zone in ("Pacific/Kiritimati",) for n, r in enumerate(work(AT))
    ]  # fmt: skip
    assert flags(prove(AT, records), "certificate not valid")
    assert prove(AT, [replace(r, time_basis="UTC") for r in records]).open_flags == ()


def test_an_earlier_certificate_in_the_register_covers_earlier_work():
    source = replace(AT.spec.source, in_force_from=AT.spec.source.in_force_from - timedelta(days=90))
    at = replace(AT, spec=replace(AT.spec, source=source))
    records = [replace(r, time=r.time - timedelta(days=60)) for r in work(at)]
    assert flags(prove(at, records), "certificate not valid")
    (tool,) = (t for t in AT.tools if t.serial == "TW-1")
    old = replace(tool, certificate="KNC-25-0001", certificate_from=tool.certificate_from.replace(year=2025),
                  certificate_until=tool.certificate_from - timedelta(days=1))
    assert prove(at, records, register=[old]).open_flags == ()


def test_a_record_of_another_joint_is_an_error():
    with pytest.raises(ValueError, match="KN-YY-002"):
        prove(AT, [replace(work(AT)[0], joint="KN-YY-002")])


def test_nothing_at_all_is_not_released():
    series = plan(series=True, count=2, passes="[100]")
    for at in (AT, series):
        assert decide(at, prove(at, [])).state == "not released"


def test_words():
    assert number_list([12, 3, 9, 10, 11]) == "3, 9–12"
    assert number_list([1, 2]) == "1, 2"
    one, other = against(332.49999, 332.5)
    assert one != other and other == "332.5 N·m"


def test_missing_in_several_passes_is_grouped():
    at = plan(count=12)
    records = work(at)
    for fastener in (3, 9, 10, 11, 12):
        records = without(records, fastener, 2)
    assert any("fasteners 3, 9–12 have no record in pass 2" in r for r in decide(at, prove(at, records)).reasons)


def test_a_loosening_in_unknown_order_to_the_only_tightening_blocks():
    """Same second, no counter on the one: which came first is not known, so nothing is proven."""
    at = plan()
    new = record(at, 2, 1, 60, event="replace")
    off = record(at, 2, 1, 60, counter=None, direction="loosen", event="loosen")
    proof = prove(at, [new, off])
    assert only(proof, "loosened later").blocking and verdict(proof, 2, 1) == "not accepted"


def test_a_record_undone_by_a_later_replacement_is_flagged():
    at = plan()
    records = [record(at, 2, 2, 60, event="replace"), record(at, 2, 1, 61), record(at, 2, 3, 62, event="replace")]
    proof = prove(at, records)
    assert only(proof, "loosened later").blocking and verdict(proof, 2, 1) == "not accepted"
