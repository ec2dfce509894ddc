"""Order distances d1, d2, d3: by counter within one tool, by time else, asserted only where known."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from evenpull.proof import decide
from tests.proof.build import START, flags, only, plan, prove, record, without, work


def _in_order(at, steps, **changes):
    """Records of (fastener, pass) in that order, 5 min apart."""
    return [
        record(at, fastener, number, place, time=START + timedelta(minutes=5 * place), **changes)
        for place, (fastener, number) in enumerate(steps)
    ]


PLANNED = [(n, p) for p in (1, 2, 3) for n in (1, 2, 3, 4)]


def test_as_planned():
    at = plan()
    for summary in prove(at, _in_order(at, PLANNED)).summaries:
        assert (summary.displaced, summary.order_distance, summary.mixed) == (0, 0, 0)


def test_one_fastener_taken_out_of_place():
    """4 first: all four stand elsewhere than planned, one has to move."""
    at = plan()
    proof = prove(at, _in_order(at, [(4, 1), (1, 1), (2, 1), (3, 1), *PLANNED[4:]]))
    assert (proof.summaries[0].displaced, proof.summaries[0].order_distance) == (4, 1)
    assert not only(proof, "out of order").blocking
    strict = plan(strict_order=True)
    flag = only(prove(strict, _in_order(strict, [(4, 1), (1, 1), (2, 1), (3, 1), *PLANNED[4:]])), "out of order")
    assert flag.blocking and flag.pass_number == 1


def test_pass_begun_before_the_pass_before_was_complete():
    steps = [*PLANNED[:2], (1, 2), *PLANNED[2:4], *PLANNED[5:]]
    at = plan()
    proof = prove(at, _in_order(at, steps))
    assert proof.summaries[1].mixed == 1
    flag = next(f for f in flags(proof, "out of order") if f.blocking)
    assert (flag.fastener, flag.pass_number) == (1, 2)
    assert decide(at, proof).state == "not released"
    loose = plan(strict_passes=False)
    proof = prove(loose, _in_order(loose, steps))
    assert proof.summaries[1].mixed == 1 and proof.open_flags == ()
    assert decide(loose, proof).state == "released"


def test_the_counter_goes_before_the_clock_within_one_tool():
    """The clock of the tool stood two hours fast for one record; its counter shows the planned order."""
    at = plan()
    records = _in_order(at, PLANNED)
    records[2] = replace(records[2], time=records[2].time + timedelta(hours=2))
    proof = prove(at, records)
    assert proof.open_flags == () and proof.summaries[1].mixed == 0
    assert not only(proof, "time in doubt").blocking


def test_between_two_tools_an_order_within_their_clocks_is_not_asserted():
    """Two tools, no counters: one pull of pass 2 ten seconds before the last of pass 1, by another clock."""
    at = plan(count=2, passes="[50, 100]")
    steps = [(1, 1, "TW-1", 0), (1, 2, "TW-1", 990), (2, 1, "TW-4", 1000), (2, 2, "TW-4", 1300)]
    records = [
        record(at, n, p, place, tool=tool, counter=None, time=START + timedelta(seconds=s))
        for place, (n, p, tool, s) in enumerate(steps)
    ]
    assert prove(at, records).open_flags == ()
    records[1] = replace(records[1], time=START + timedelta(seconds=100))
    assert prove(at, records).summaries[1].mixed == 1


def test_fasteners_pulled_at_the_same_time_have_no_order_among_them():
    at = plan()
    together = tuple(replace(one, order=((1, 3), (2, 4))) for one in at.passes)
    at = replace(at, passes=together)
    steps = [(n, p) for p in (1, 2, 3) for n in (3, 1, 4, 2)]
    proof = prove(at, _in_order(at, steps))
    assert [s.order_distance for s in proof.summaries] == [0, 0, 0]
    assert proof.flags == ()


def test_missing_in_a_pass_that_was_never_complete():
    at = plan()
    proof = prove(at, without(_in_order(at, PLANNED), 3, 2))
    assert not only(proof, "pass not complete").blocking
    assert only(proof, "missing").blocking


def test_done_after_the_check_pass_needs_a_new_check_pass():
    """Left out in pass 3, found on the check pass, done then: the first check pass came too early."""
    at = plan(checks=1, limit="5 deg")
    late = [*without(work(at), 3, 3), record(at, 3, 3, 70, time=START + timedelta(hours=2))]
    proof = prove(at, late)
    assert flags(proof, "missing") == []
    assert any(f.blocking and f.pass_number == 4 for f in flags(proof, "out of order"))
    again = [record(at, n, 4, 70 + n, time=START + timedelta(hours=7, minutes=n)) for n in (1, 2, 3, 4)]
    proof = prove(at, [*late, *again])
    assert proof.open_flags == ()
    assert decide(at, proof).state == "released"
