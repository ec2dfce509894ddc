"""What must hold for any set of records."""

from __future__ import annotations

import math
from collections import Counter
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.proof import decide, to_json
from tests.proof.build import START, plan, prove, record, work

AT = plan(checks=1, limit="5 deg")
SERIES = plan(series=True, count=2, passes="[50, 100]")
QUICK = settings(max_examples=120, deadline=None)


@st.composite
def records(draw, at=AT):
    """Pulls with every kind of trouble, in any number."""
    made = []
    for place in range(draw(st.integers(0, 24))):
        number = draw(st.sampled_from([1, 2, 3, 4, 4, None, 9]))
        one = None if number is None else at.pass_by_number(number)
        base = at.target.torque if one is None else one.torque
        timed = draw(st.sampled_from(["both", "both", "both", "counter", "time", "none"]))
        made.append(
            record(
                at, draw(st.integers(1, 5)), number, place,
                torque=draw(st.sampled_from([base, base, base * 0.8, base * 1.3, None])),
                angle=draw(st.sampled_from([None, 0.0, math.radians(30)])),
                tool=draw(st.sampled_from(["TW-1", "TW-1", "TW-4", "TW-2", "TW-9", "TM-1", ""])),
                counter=draw(st.integers(1, 30)) if timed in ("both", "counter") else None,
                time=START + timedelta(seconds=draw(st.integers(0, 5000))) if timed in ("both", "time") else None,
                time_doubt="" if timed in ("both", "time") else "no time is stated",
                event=draw(st.sampled_from(["unstated", "unstated", "step", "check pass", "loosen", "remove", "replace",
                                            "touch-up", "residual check"])),
                direction=draw(st.sampled_from(["tighten", "tighten", "unknown", "loosen"])),
                end_cause=draw(st.sampled_from(["reached", "unknown", "limit", "stopped by user"])),
                operator=draw(st.sampled_from(["", "R. F."])),
                source_verdict=draw(st.sampled_from(["none", "accepted", "not accepted"])),
            )
        )  # fmt: skip
    return made


@given(records(), st.randoms(use_true_random=False))
@QUICK
def test_the_order_in_which_records_arrive_does_not_matter(found, chance):
    shuffled = list(found)
    chance.shuffle(shuffled)
    assert to_json(prove(AT, found)) == to_json(prove(AT, shuffled))


@given(records(), st.data())
@QUICK
def test_a_record_received_again_changes_nothing_but_its_count(found, data):
    again = data.draw(st.lists(st.sampled_from(found))) if found else []
    one, other = to_json(prove(AT, found)), to_json(prove(AT, [*found, *again]))
    assert other.pop("repeated") - one.pop("repeated") == len(again)
    assert one == other


@given(records())
@QUICK
def test_what_is_not_accepted_always_has_a_blocking_flag(found):
    proof = prove(AT, found)
    blocking = {flag.key for flag in proof.flags if flag.blocking}
    for cell in proof.cells:
        if cell.verdict == "accepted":
            assert cell.proving is not None and cell.proving.torque is not None and cell.records
        else:
            assert blocking.intersection(cell.flags), (cell, proof.flags)
        assert cell.reason


@given(records())
@QUICK
def test_flags_and_state_fit_each_other(found):
    proof = prove(AT, found)
    decision = decide(AT, proof)
    assert max(Counter(f.key for f in proof.flags).values(), default=1) == 1
    assert {f.key for f in proof.open_flags} == {f.key for f in proof.flags if f.blocking}
    assert decision.signable == (decision.state != "not released") == (not proof.open_flags)
    assert decision.reasons
    assert sum(s.planned for s in proof.summaries) == len(proof.cells) == 16
    assert all(s.accepted + s.not_accepted + s.not_judged == s.planned for s in proof.summaries)
    known = {r.key for r in found}
    assert all(set(f.records) <= known for f in proof.flags)


@given(st.integers(0, 3), st.booleans())
@QUICK
def test_without_a_proving_record_of_the_last_pass_nothing_is_released(index, low_first):
    at = plan()
    done = work(at)
    if low_first:  # the good record is the second pull; the first fell short
        done[-1:] = [record(at, 4, 3, 11, torque=200.0), record(at, 4, 3, 12)]
    proof = prove(at, done)
    assert decide(at, proof).state == "released"
    last = [c.proving for c in proof.cells if c.pass_number == 3]
    left = [r for r in done if r is not last[index]]
    assert len(left) == len(done) - 1
    assert decide(at, prove(at, left)).state == "not released"


@given(st.permutations(range(8)), st.integers(0, 8))
@QUICK
def test_flag_keys_do_not_depend_on_unrelated_records(order, count):
    """The keys of unit W-1 stay the same whatever comes in for W-2."""
    first = [r for r in work(SERIES, unit_id="W-1") if (r.fastener, r.pass_number) != (2, 2)]
    first.append(record(SERIES, 1, 2, 20, unit_id="W-1", torque=500.0))
    other = [record(SERIES, 1 + n % 2, 1 + n % 2, 40 + n, unit_id="W-2") for n in order][:count]
    alone = {f.key for f in prove(SERIES, first).flags}
    together = {f.key for f in prove(SERIES, [*other, *first]).flags if f.unit_id != "W-2"}
    assert alone == together
