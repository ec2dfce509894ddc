"""Paths by which fasteners came loose in public accident reports, and by which a debt might slip: all stay shut.

The patterns (opened for access and not closed, locking nut used again, pin missing, found loose twice, washer missing,
half of the passes redone) are common to reports of aviation, rail and wind turbine accidents; the joints are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from evenpull.intake.record import Particular, Tightening
from evenpull.ledger.entry import Entry
from evenpull.plan.model import PartRules, Plan
from evenpull.proof import ACTIONS, decide, prove
from evenpull.proof.model import Disposition, Proof
from evenpull.proof.rules import RULES
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import START, changed, disposed, flags, only, plan, record, verdict, work
from tests.proof.test_ledger import N_M, again, asking, entry, proven


def decided(at: Plan, records: list[Tightening], *entries: Entry, **around: object) -> Proof:
    """The proof once the engineer who answers for the joint has reviewed all that the rules leave to a review."""
    around_it = Surroundings(entries=entries, **around)  # type: ignore[arg-type]
    given: list[Disposition] = []
    proof = prove(at, records, around=around_it)
    for turn in range(3):
        reviewed = [f for f in proof.open_flags if "engineering review" in RULES[f.code].closed_by]
        given += [disposed(flag, "engineering review", hours=100.0 + turn) for flag in reviewed]
        proof = prove(at, records, around=around_it, dispositions=given)
    return proof


def owes(proof: Proof, what: str) -> bool:
    return any(debt.what == what for state in proof.states for debt in state.debts)


@pytest.mark.parametrize("kind", ["loosened", "removed", "disturbed"])
def test_opened_for_access_and_not_closed(kind: str) -> None:
    at = plan()
    proof = decided(at, work(at), entry(kind, fasteners=(2,)))
    assert owes(proof, "tightening") and not decide(at, proof).signable
    assert not decide(at, decided(at, [*work(at), *again(at, 2, 10, (3,))], entry(kind, fasteners=(2,)))).signable


@pytest.mark.parametrize("event", ["loosen", "remove", "step"])
def test_loosened_by_record_before_anything_and_never_tightened(event: str) -> None:
    """A review of the missing pulls does not tighten what a record says was opened, whatever its event is called."""
    at = plan()
    opened = record(at, 2, 3, 0, direction="loosen", event=event, counter=1, time=START - timedelta(hours=1))
    rest = [r for r in work(at) if r.fastener != 2]
    proof = decided(at, [*rest, opened])
    assert owes(proof, "tightening") and not decide(at, proof).signable
    assert decide(at, decided(at, [*work(at), opened])).signable  # tightened after it


def test_nobody_reviews_away_that_a_fastener_was_loosened_later() -> None:
    at = plan()
    records = [*work(at), record(at, 2, 3, 60, direction="loosen", event="loosen")]
    assert RULES["loosened later"].closed_by == ("redo", "replace") and RULES["open item"].closed_by == ()
    assert not decide(at, decided(at, records)).signable


def test_a_loosening_is_not_taken_away_as_superseded() -> None:
    at = plan()
    opened = record(at, 2, 3, 0, direction="loosen", event="loosen", counter=1, time=START - timedelta(hours=1))
    rest = [r for r in work(at) if r.fastener != 2]
    flag = only(prove(at, [*rest, opened]), "not a proving event")
    proof = prove(at, [*rest, opened], dispositions=[disposed(flag, "superseded")])
    assert owes(proof, "tightening")
    away = prove(at, [*rest, opened], dispositions=[disposed(flag, "not this joint")])
    assert not owes(away, "tightening")


def test_a_correction_that_takes_a_loosening_away_needs_another_person() -> None:
    at = plan()
    off = record(at, 2, 3, 60, direction="loosen", event="unstated")
    values = {"record": off.key, "field": "direction", "old": "loosen", "new": "tighten"}
    flag = only(proven(at, entry("correction", **values), records=[*work(at), off]), "corrected")
    assert flag.blocking and "it was a loosening" in flag.text
    values = {"record": off.key, "field": "operator", "old": "R. Fjeldgaard", "new": "T. Vantongeren"}
    assert not only(proven(at, entry("correction", **values), records=[*work(at), off]), "corrected").blocking


def test_replaced_twice_and_the_second_one_tightened_in_the_last_pass_only() -> None:
    at = plan()
    first = [record(at, 2, n, 60 + n, event="replace") for n in (1, 2, 3)]
    assert decide(at, prove(at, [*work(at), *first])).signable
    second = record(at, 2, 3, 90, event="replace")
    proof = decided(at, [*work(at), *first, second])
    assert verdict(proof, 2, 1) == "not accepted" and verdict(proof, 2, 3) == "accepted"
    assert owes(proof, "tightening") and not decide(at, proof).signable
    whole = [record(at, 2, n, 90 + n, event="replace") for n in (1, 2, 3)]
    assert decide(at, prove(at, [*work(at), *first, *whole])).signable


def test_parts_of_a_fastener_that_was_replaced() -> None:
    at = asking(single_use=("nut",))
    fitted = entry("parts fitted", -1, part="nut", condition="new")
    new = [record(at, 2, n, 240 + n, event="replace") for n in (1, 2, 3)]  # two hours later
    assert owes(proven(at, fitted, records=[*work(at), *new]), "new or used nut")
    between = entry("parts fitted", 1.5, fasteners=(2,), part="nut", condition="new", seq=2)
    assert not owes(proven(at, fitted, between, records=[*work(at), *new]), "new or used nut")
    whole = replace(between, fasteners=())  # it does not name the fastener that was replaced
    assert owes(proven(at, fitted, whole, records=[*work(at), *new]), "new or used nut")


def test_the_pin_is_missing_although_the_check_found_it_in_order() -> None:
    at = asking(check=True, locking="split pin")
    seen = entry("checked", 9, seen="all in order", result="in order")
    proof = decided(at, work(at), seen)
    assert owes(proof, "locking") and owes(proof, "independent check") and not decide(at, proof).signable
    pin = entry("locking fitted", 10, device="split pin", seq=2)
    late = decided(at, work(at), seen, pin)  # fitted after it was checked: nobody has seen it
    assert not owes(late, "locking") and owes(late, "independent check") and not decide(at, late).signable
    assert "after its last pull and locking" in only(late, "open item").text
    again_seen = entry("checked", 11, seen="pins", result="in order", seq=3)
    assert decide(at, decided(at, work(at), seen, pin, again_seen)).signable
    same = replace(again_seen, at=pin.at)  # which of the two was first is not known
    assert not decide(at, decided(at, work(at), pin, same)).signable


def test_a_pull_after_the_pin_and_within_a_minute_of_it() -> None:
    at = asking(locking="split pin")
    pin = entry("locking fitted", 9, device="split pin")
    assert decide(at, proven(at, pin)).signable
    touched = [*work(at), record(at, 2, 3, 1200, event="touch-up")]  # at ten hours
    assert only(proven(at, pin, records=touched), "open item").fastener == 2
    last = max(r.time for r in work(at) if r.time)
    close = replace(pin, at=last + timedelta(seconds=30))  # the clocks are not compared that closely
    assert "fasteners 3, 4: locking" in only(proven(at, close), "open item").text


def test_a_residual_check_pulls_at_what_was_locked() -> None:
    at = asking(locking="split pin")
    pin = entry("locking fitted", 9, device="split pin")
    tried = record(at, 2, None, 1200, event="residual check")
    assert only(proven(at, pin, records=[*work(at), tried]), "open item").fastener == 2


def test_nothing_was_pulled_and_a_review_takes_it_as_it_is() -> None:
    """What is not locked stays owed even where somebody answers for the missing records."""
    at = asking(locking="split pin")
    pin = entry("locking fitted", 9, device="split pin", fasteners=(1, 3, 4))
    proof = decided(at, [r for r in work(at) if r.fastener != 2], pin)
    assert not decide(at, proof).signable and "no entry" in only(proof, "open item").text


def test_the_washer_is_missing() -> None:
    at = asking(stack=("bolt", "washer", "nut"))
    short = entry("parts fitted", 0, part="bolt", condition="new", complete="no")
    proof = proven(at, short)
    assert owes(proof, "stack") and "not complete" in only(proof, "part not fit").text
    assert proof.states[0].state == "not fitted" and proof.states[0].owed
    full = entry("parts fitted", 1, part="washer", condition="new", complete="yes", seq=2)
    assert not flags(proven(at, short, full), "part not fit") and not flags(proven(at, short, full), "open item")
    unsure = replace(full, at_uncertainty=7200.0)  # which of the two is the last is not known
    assert only(proven(at, short, unsure), "part not fit").blocking


def test_a_statement_and_its_correction_for_the_same_moment() -> None:
    at = asking(single_use=("nut",))
    wrong = entry("parts fitted", 0, part="nut", condition="used", seq=1)
    right = replace(wrong, values=wrong.values | {"condition": "new"}, seq=2)
    assert not flags(proven(at, wrong, right), "part not fit")
    assert flags(proven(at, replace(right, seq=1), replace(wrong, seq=2)), "part not fit")


def test_a_locking_nut_used_again_is_never_a_plain_release() -> None:
    at = asking(single_use=("nut",), drag_window=N_M)
    used = entry("parts fitted", -1, part="nut", condition="used")
    drag = entry("drag measured", -1, drag="9 N.m")
    assert proven(at, used, drag).states[0].faults and not decide(at, proven(at, used, drag)).signable
    assert decide(at, decided(at, work(at), used, drag)).state == "released with follow-up"


def test_the_drag_counts_by_when_it_was_measured_not_by_where_it_stands() -> None:
    at = asking(drag_window=N_M)
    weak = [replace(r, particulars={"drag": Particular("3", "N.m", 3.0)}) for r in work(at)]
    after = entry("drag measured", 9, drag="9 N.m")
    assert not flags(proven(at, after, records=weak), "part not fit")
    before = entry("drag measured", -9, drag="9 N.m")
    assert "below its window" in only(proven(at, before, records=weak), "part not fit").text


def test_a_blocked_lot_until_new_parts_are_stated() -> None:
    at = asking(lots_needed=("nut",))
    seen = [replace(r, particulars={"nut_lot": Particular("KL-7", "", None)}) for r in work(at)]
    blocked = {"KL-7": (replace(entry("lot blocked", 9), name="KL-7"),)}
    assert "KL-7, which is blocked" in only(proven(at, records=seen, lots=blocked), "part not fit").text
    off = entry("removed", 8, fasteners=(1, 2, 3, 4))
    pulled = [*seen, *(r for n in (1, 2, 3, 4) for r in again(at, n, 10 + n))]
    proof = proven(at, off, records=pulled, lots=blocked)
    assert owes(proof, "lot of the nut") and flags(proof, "part not fit")  # the old lot says nothing on the new nuts
    fitted = entry("parts fitted", 9, part="nut", condition="new", lot="KL-8", seq=2)
    proof = proven(at, off, fitted, records=pulled, lots=blocked)
    assert not owes(proof, "lot of the nut") and not flags(proof, "part not fit")


def test_the_lot_of_the_specification_is_not_that_of_what_came_after() -> None:
    at = asking(lots_needed=("bolt",))
    assert not flags(proven(at), "open item")
    off = entry("removed", fasteners=(2,))
    assert owes(proven(at, off, records=[*work(at), *again(at, 2, 10)]), "lot of the bolt")
    turned = entry("loosened", fasteners=(2,))
    assert not owes(proven(at, turned, records=[*work(at), *again(at, 2, 10)]), "lot of the bolt")


def test_an_exception_ends_when_the_fastener_is_undone() -> None:
    at = asking(locking="split pin")
    given = entry("exception", 7, gate="locking", authority="the engineer who answers for it")
    proof = proven(at, given)
    assert not flags(proof, "open item") and "exception by Q. Arkwright" in proof.states[0].excepted[0]
    off = entry("disturbed", 8, fasteners=(2,))
    pulled = [*work(at), *again(at, 2, 10)]
    assert only(proven(at, given, off, records=pulled), "open item").fastener == 2
    anew = entry("exception", 12, gate="locking", authority="the engineer who answers for it", seq=2)
    assert not flags(proven(at, given, off, anew, records=pulled), "open item")
    assert flags(proven(at, off, anew), "open item")  # never the tightening


def test_an_independent_check_excepted_before_it_was_undone() -> None:
    at = asking(check=True)
    given = entry("exception", 7, gate="independent check", authority="the engineer who answers for it")
    assert decide(at, proven(at, given)).signable
    off = entry("disturbed", 8, fasteners=(2,))
    proof = decided(at, [*work(at), *again(at, 2, 10)], given, off)
    assert owes(proof, "independent check") and not decide(at, proof).signable


def test_a_check_that_finds_the_whole_joint_not_in_order() -> None:
    at = plan()  # it asks for no check, and one was made
    bad = entry("checked", 9, seen="gasket displaced", result="not in order")
    proof = decided(at, work(at), bad)
    assert [state.disturbances for state in proof.states] == [1] * 4
    assert owes(proof, "tightening") and not decide(at, proof).signable


def test_two_people_tell_of_the_same_loose_nut() -> None:
    at = plan()
    told = {"leaking": "no", "marks": "broken", "loose": "3"}
    one, other = entry("as found", 8, **told), entry("as found", 9, by="T. Vantongeren", seq=2, **told)
    pulled = [*work(at), *again(at, 3, 12)]
    assert not flags(proven(at, one, other, records=pulled), "loose again")
    later = entry("as found", 14, seq=3, **told)
    proof = proven(at, one, other, later, records=pulled)
    assert "2 times" in only(proof, "loose again").text
    earlier = entry("as found", -400 * 24, seq=0, **told)  # in another job
    assert "2 times" in only(proven(at, earlier, one, records=pulled), "loose again").text


def test_a_leak_that_was_tightened_again_and_leaks_again() -> None:
    at = plan()
    leak = {"leaking": "yes", "marks": "intact"}
    first = entry("as found", -48, **leak)
    assert not flags(proven(at, first), "leaking again")
    second = entry("as found", 30, seq=2, **leak)
    flag = only(proven(at, first, second), "leaking again")
    assert flag.blocking and "2 times" in flag.text and "no repair" in flag.text
    told_twice = entry("as found", -47, seq=2, by="T. Vantongeren", **leak)
    assert not flags(proven(at, first, told_twice), "leaking again")
    failed = entry("test", 9, seq=3, test="Leak test", result="not passed")
    assert "2 times" in only(proven(at, first, failed), "leaking again").text
    for action in ACTIONS:
        proof = prove(at, work(at), around=Surroundings(entries=(first, second)), dispositions=[disposed(flag, action)])
        assert (flag.key in {f.key for f in proof.open_flags}) is (action != "engineering review")
    more = entry("as found", 90, seq=4, **leak)  # decided for two findings, not for the third
    proof = prove(at, work(at), around=Surroundings(entries=(first, second, more)),
                  dispositions=[disposed(flag, "engineering review")])  # fmt: skip
    assert [f.code for f in proof.open_flags] == ["leaking again"]


@pytest.mark.parametrize(
    ("kind", "bad", "good"),
    [("faces seen", {"result": "not in order", "seen": "a scratch across the groove"}, {"result": "in order",
      "seen": "lapped"}), ("alignment", {"gap": "3 mm", "pulled_in": "yes"}, {"gap": "0.1 mm", "pulled_in": "no"})],
)  # fmt: skip
def test_what_was_found_before_the_tightening(kind: str, bad: dict[str, str], good: dict[str, str]) -> None:
    at = plan()
    flag = only(proven(at, entry(kind, -2, **bad)), "found before tightening")
    assert flag.blocking and any(value in flag.text for value in bad.values())
    assert not flags(proven(at, entry(kind, -2, **bad), entry(kind, -1, seq=2, **good)), "found before tightening")
    assert flags(proven(at, entry(kind, -1, **bad), entry(kind, -2, seq=2, **good)), "found before tightening")
    around = Surroundings(entries=(entry(kind, -2, **bad),))
    for joint_class, action, closes in (("B", "accept as is", True), ("A", "accept as is", False),
                                        ("A", "engineering review", True), ("B", "redo", False)):  # fmt: skip
        one = plan(joint_class=joint_class)
        proof = prove(one, work(one), around=around, dispositions=[disposed(flag, action)])
        assert (not proof.open_flags) is closes and decide(one, proof).state != "released"


def test_loosened_because_it_was_found_loose() -> None:
    at = plan()
    first = replace(entry("loosened", 8, fasteners=(3,)), values={"why": "found loose on the round"})
    second = replace(entry("removed", 20, fasteners=(3,), seq=2), values={"why": "it had come loose"})
    proof = proven(at, first, second, records=[*work(at), *again(at, 3, 12), *again(at, 3, 24)])
    assert only(proof, "loose again").fastener == 3 and not flags(proof, "open item")
    plain = replace(second, values={"why": "to get at the valve"})
    assert not flags(proven(at, first, plain, records=[*work(at), *again(at, 3, 12), *again(at, 3, 24)]), "loose again")


def test_loose_on_two_workpieces_is_not_loose_twice() -> None:
    at = plan(series=True)
    told = {"leaking": "no", "marks": "broken", "loose": "3"}
    both = [replace(entry("as found", 8 + n, seq=n, **told), unit=unit) for n, unit in ((1, "A"), (2, "B"))]
    records = [*work(at, unit_id="A"), *work(at, unit_id="B", begin=200)]
    proof = proven(at, *both, records=records)
    assert not flags(proof, "loose again") and {(s.unit, s.fastener) for s in proof.states if s.debts} == {
        ("A", 3), ("B", 3),
    }  # fmt: skip


def test_clocks_of_two_tools_that_overlap() -> None:
    """Loosened by one tool and pulled by another within a minute: which came first is not known."""
    at = plan()
    off = record(at, 2, None, 0, tool="TW-4", counter=1, direction="loosen", event="loosen",
                 time=START + timedelta(hours=10, seconds=20))  # fmt: skip
    records = [*work(at), off, *again(at, 2, 10)]
    proof = decided(at, records)
    assert not decide(at, proof).signable
    apart = replace(off, time=START + timedelta(hours=9))
    assert decide(at, prove(at, [*work(at), apart, *again(at, 2, 10)])).signable


def test_a_record_that_says_too_little_closes_nothing() -> None:
    """It would be accepted by its torque; without an operator it does not prove that somebody tightened it."""
    at = plan()
    off = entry("disturbed", fasteners=(2,))
    nameless = [replace(r, operator="") for r in again(at, 2, 10)]
    proof = decided(at, [*work(at), *nameless], off)
    assert flags(proof, "not proven") and owes(proof, "tightening") and not decide(at, proof).signable


def test_a_pull_out_of_its_window_closes_nothing_that_was_opened() -> None:
    at = plan()
    off = entry("disturbed", fasteners=(2,))
    low = changed([*work(at)[:0], *again(at, 2, 10)], 2, 3, torque=200.0)
    proof = decided(at, [*work(at), *low], off)
    assert owes(proof, "tightening") and not decide(at, proof).signable


@pytest.mark.parametrize(
    ("kind", "strength", "coating", "refused"),
    [("structural connection", "10.9", "", True), ("structural connection", "8.8", "hot-dip galvanised", True),
     ("structural connection", "8.8", "", False), ("general assembly", "10.9", "hot dip galvanized", True),
     ("general assembly", "10.9", "zinc flake", False), ("general assembly", "8.8", "galvanised", False)],
)  # fmt: skip
@pytest.mark.parametrize("part", ["bolt", "nut"])
def test_a_used_fastener_that_is_galvanised_or_of_high_grade(
    kind: str, strength: str, coating: str, refused: bool, part: str
) -> None:
    at = plan(kind=kind, strength=strength)
    used = entry("parts fitted", -1, part=part, condition="used", coating=coating)
    proof = proven(at, used)
    assert bool(flags(proof, "part not fit")) is refused
    if refused:
        assert "tightened once" in only(proof, "part not fit").text and not decide(at, proof).signable
        stated = replace(at, spec=replace(at.spec, parts=PartRules(most_uses={part: 3})))
        second = entry("parts fitted", -1, part=part, condition="used", coating=coating, use="2")
        assert not flags(proven(stated, second), "part not fit")  # the joint file takes the place of the rule
        new = entry("parts fitted", -0.5, part=part, condition="new", coating=coating, seq=2)
        assert not flags(proven(at, used, new), "part not fit")
    assert not flags(proven(at, entry("parts fitted", -1, part="washer", condition="used", coating=coating)),
                     "part not fit")  # fmt: skip


def test_used_fasteners_by_the_specification_itself() -> None:
    at = plan(kind="structural connection", strength="10.9")
    used = replace(at, spec=replace(at.spec, fasteners=replace(at.spec.fasteners, condition="used")))
    assert not flags(proven(at), "part not fit")
    assert "fasteners 1–4" in only(proven(used), "part not fit").text
    new = entry("parts fitted", -1, part="bolt", condition="new")
    assert not flags(proven(used, new), "part not fit")


@pytest.mark.parametrize(
    ("rules", "said", "words"),
    [({"single_use": ("bolt",)}, {"condition": "Used"}, "used once only"), ({"most_uses": {"bolt": 2}}, {"use": "3"},
     "at most 2"), ({"protrusion": (1.0, 5.0)}, {"protrusion": "0,5 threads"}, "0.5 threads"),
     ({"stack": ("bolt", "washer")}, {"stack_complete": "no"}, "stack is not complete")],
)  # fmt: skip
def test_what_a_record_says_of_the_parts_counts_like_an_entry(
    rules: dict[str, Any], said: dict[str, str], words: str
) -> None:
    at = asking(**rules)
    records = work(at)
    particulars = {name: Particular(text) for name, text in said.items()}
    telling = [replace(r, particulars=particulars) if (r.fastener, r.pass_number) == (2, 3) else r for r in records]
    flag = only(proven(at, records=telling), "part not fit")
    assert flag.fastener == 2 and words in flag.text
    fine = {"condition": "new", "use": "1", "protrusion": "2", "stack_complete": "yes"}
    good = {name: Particular(fine[name]) for name in said}
    assert not flags(proven(at, records=[replace(r, particulars=good) for r in records]), "part not fit")
