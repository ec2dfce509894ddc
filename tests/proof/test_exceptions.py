"""Exceptions from gates: what each covers, and what it never covers. Hand-made cases; names are invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.plan.model import GateRules, PartRules, Plan
from evenpull.proof import decide, prove
from evenpull.proof.model import Proof
from evenpull.proof.surroundings import Surroundings
from evenpull.report.deviations import deviations
from evenpull.report.stated import section
from tests.proof.build import FILE, START, changed, disposed, flags, only, plan, record, work
from tests.proof.test_gates import gate, revised
from tests.proof.test_ledger import N_M, again, asking, entry
from tests.report import fixture

HOUR = timedelta(hours=1)
AUTHORITY = "engineer of record"


def exception(name: str, hours: float, *covers: str, fasteners: tuple[int, ...] = (), **changes: Any) -> Entry:
    made = entry("exception", hours, fasteners=fasteners, seq=50, gate=name, authority=AUTHORITY)
    return replace(made, covers=covers, **changes)


def around(*entries: Entry, received: float = 4, **more: Any) -> Surroundings:
    return Surroundings(entries=entries, received={FILE: START + received * HOUR}, **more)


def mixed(at: Plan) -> list[Tightening]:
    """Pass 3 begun on fastener 2 before pass 2 was complete."""
    records = work(at)
    early = next(r for r in records if (r.fastener, r.pass_number) == (2, 3))
    return [*[r for r in records if r is not early], replace(early, counter=104, time=START + timedelta(seconds=135))]


def moving(at: Plan) -> list[Tightening]:
    return changed(work(at), 3, at.passes[-1].number, angle=0.3)


CHECKED = {"checks": 1, "limit": "5 deg"}
CASES: dict[str, tuple[Plan, Any]] = {
    "pass order": (plan(), mixed),
    "last pass": (plan(**CHECKED), moving),  # type: ignore[arg-type]
}


def faulty(name: str, **more: Any) -> tuple[Plan, list[Tightening], dict[str, Any]]:
    if name == "revision":
        at = plan()
        records = changed(work(at), 2, 3, torque=at.passes[2].upper * 0.999)
        return revised(at, date(2026, 4, 1), 0.04), records, {"revisions": (at,)}
    at, make = CASES[name]
    return at, make(at), {}


def proven(name: str, *entries: Entry, dispositions: Sequence[Any] = (), received: float = 4) -> tuple[Plan, Proof]:
    at, records, more = faulty(name)
    proof = prove(at, records, around=around(*entries, received=received, **more), dispositions=dispositions)
    return at, proof


NAMES = ("pass order", "last pass", "revision")


@pytest.mark.parametrize("name", NAMES)
def test_an_exception_with_authority_settles_what_made_the_gate_unmet(name: str) -> None:
    at, bare = proven(name)
    against = gate(bare, name).against
    assert gate(bare, name).state == "not met" and against and set(against) <= {f.key for f in bare.open_flags}
    at, proof = proven(name, exception(name, 8, *against))
    found = gate(proof, name)
    assert found.state == "excepted" and AUTHORITY in found.reason and {e.key for e in found.excepted} == set(against)
    # the flags stay readable, blocking as they were, and are not open any more
    assert {f.key for f in proof.flags} == {f.key for f in bare.flags} and not set(against) & {
        f.key for f in proof.open_flags
    }  # fmt: skip
    others = [f for f in bare.open_flags if f.key not in against]
    done = [disposed(f, "engineering review") for f in others]
    _, settled = proven(name, exception(name, 8, *against), dispositions=done)
    decision = decide(at, settled)
    assert decision.state == "released with follow-up" and decision.signable
    assert any(f"gate {name!r} not met, excepted" in r and AUTHORITY in r for r in decision.reasons)
    assert any(AUTHORITY in one for one in decision.follow_ups)
    assert not decide(at, proven(name, dispositions=done)[1]).signable


def test_rest_that_was_not_shown_stays_to_be_done() -> None:
    at, bare = proven("last pass")
    at, proof = proven("last pass", exception("last pass", 8, *gate(bare, "last pass").against))
    decision = decide(at, proof)
    assert decision.state == "released with follow-up"
    (more,) = [one for one in decision.follow_ups if "rest is not shown" in one]
    assert "fastener 3" in more and "not that the joint holds" in more and "until none moves" in more
    cell = next(c for c in proof.cells if (c.fastener, c.pass_number) == (3, at.passes[-1].number))
    assert cell.verdict == "not accepted"  # a decision proves no pull


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "change",
    [{"at": START - HOUR}, {"covers": ()}, {"fasteners": (4,)}, {"unit": "8731"},
     {"written_at": START + 3 * HOUR}],
)  # fmt: skip
def test_what_it_does_not_cover(name: str, change: dict[str, Any]) -> None:
    """Before the fault, not naming it, for other fasteners, for a unit, written before the record was received."""
    _, bare = proven(name)
    given = replace(exception(name, 8, *gate(bare, name).against), **change)
    _, proof = proven(name, given)
    assert gate(proof, name).state == "not met" and not gate(proof, name).excepted
    assert {f.key for f in proof.open_flags} == {f.key for f in bare.open_flags}


def test_a_fault_that_comes_later_is_not_covered() -> None:
    at = plan(**CHECKED)
    bare = prove(at, moving(at), around=around())
    given = exception("last pass", 8, *gate(bare, "last pass").against)
    last = at.passes[-1].number
    late = record(at, 1, last, 9 * 120, angle=0.4, file_sha256="f" * 64)  # moved an hour after the exception
    received = {FILE: START + 4 * HOUR, "f" * 64: START + 10 * HOUR}
    proof = prove(at, [*moving(at), late], around=replace(around(given), received=received))
    found = gate(proof, "last pass")
    assert found.state == "not met" and "only fastener 3 excepted" in found.reason
    assert [f.fastener for f in proof.open_flags if f.code == "moved on check pass"] == [1]
    assert not decide(at, proof).signable


def test_a_time_that_is_not_known_is_older_only_by_its_receipt() -> None:
    at = plan(**CHECKED)
    records = changed(moving(at), 3, at.passes[-1].number, time=None, counter=None)
    against = gate(prove(at, records, around=around()), "last pass").against
    given = exception("last pass", 8, *against)
    assert gate(prove(at, records, around=around(given)), "last pass").state == "excepted"
    assert gate(prove(at, records, around=around(given, received=9)), "last pass").state == "not met"
    unknown = Surroundings(entries=(given,))
    assert gate(prove(at, records, around=unknown), "last pass").state == "not met"


def test_no_operator_of_a_class_a_joint_excepts_his_own_work() -> None:
    at = plan(joint_class="A", **CHECKED)
    records = moving(at)
    against = gate(prove(at, records, around=around()), "last pass").against
    own = exception("last pass", 8, *against, by=records[0].operator)
    assert gate(prove(at, records, around=around(own)), "last pass").state == "not met"
    other = exception("last pass", 8, *against, by="S. Quillfeather")
    assert gate(prove(at, records, around=around(other)), "last pass").state == "excepted"
    # neither by a correction that takes the name away, nor by leaving the records out
    named = [
        replace(entry("correction", 7, seq=60 + n), values={
            "record": r.key, "field": "operator", "old": r.operator, "new": "J. Abara",
        }) for n, r in enumerate(records)
    ]  # fmt: skip
    proof = prove(at, records, around=around(own, *named))
    assert gate(proof, "last pass").state == "not met"


def test_a_decision_after_the_exception_takes_its_place() -> None:
    _, bare = proven("last pass")
    flag = only(bare, "moved on check pass")
    given = exception("last pass", 8, flag.key)
    _, proof = proven("last pass", given, dispositions=[disposed(flag, "redo", hours=9)])
    assert flag.key in {f.key for f in proof.open_flags}
    _, proof = proven("last pass", given, dispositions=[disposed(flag, "redo", hours=7)])
    assert flag.key not in {f.key for f in proof.open_flags}


def test_a_gate_whose_flags_were_decided_one_by_one_says_so() -> None:
    _, bare = proven("last pass")
    decided = [disposed(f, "engineering review") for f in flags(bare, "moved on check pass")]
    _, proof = proven("last pass", dispositions=decided)
    assert gate(proof, "last pass").state == "decided" and "decided flag by flag" in gate(proof, "last pass").reason


def test_people_and_tools_are_excepted_pull_by_pull() -> None:
    at = plan()
    at = replace(at, spec=replace(at.spec, gates=GateRules(qualification="flange assembly")))
    records = work(at)
    bare = gate(prove(at, records, around=around()), "qualification")
    assert len(bare.against) == len(records)
    given = exception("qualification", 8, *bare.against)
    assert gate(prove(at, records, around=around(given)), "qualification").state == "excepted"
    blocked = replace(entry("tool blocked", -1), subject="tool", name="TW-1")
    tools = {"TW-1": (blocked,)}
    unfit = gate(prove(at, records, around=around(given, tools=tools)), "tool fit")
    covers = exception("tool fit", 8, *unfit.against)
    assert unfit.state == "not met"
    assert gate(prove(at, records, around=around(covers, tools=tools)), "tool fit").state == "excepted"
    # another fault of the same pulls, told later: not the one that was excepted
    worse = replace(entry("tool dropped", -0.5, seq=90, what="fell 3 m"), subject="tool", name="TW-1")
    told = around(covers, tools={"TW-1": (blocked, worse)})
    assert gate(prove(at, records, around=told), "tool fit").state == "not met"
    later = [*records, record(at, 1, 3, 9 * 120, file_sha256="f" * 64)]
    assert gate(prove(at, later, around=around(given)), "qualification").state == "not met"


def test_a_test_that_failed_after_the_exception() -> None:
    at = plan()
    at = replace(at, spec=replace(at.spec, gates=GateRules(test="leak test")))
    given = exception("test", 8)
    assert gate(prove(at, work(at), around=around(given)), "test").state == "excepted"
    failed = entry("test", 9, seq=51, test="leak test", result="not passed")
    assert gate(prove(at, work(at), around=around(given, failed)), "test").state == "not met"
    told_later = entry("test", 7, seq=51, test="leak test", result="not passed")  # happened before, written after
    assert gate(prove(at, work(at), around=around(given, told_later)), "test").state == "not met"
    off = entry("loosened", 9, fasteners=(1,), seq=51)
    assert gate(prove(at, work(at), around=around(given, off)), "test").state == "not met"


def test_a_joint_found_not_in_order_after_the_exception_from_the_check() -> None:
    at = asking(check=True)
    given = exception("independent check", 8)
    assert gate(prove(at, work(at), around=around(given)), "independent check").state == "excepted"
    bad = entry("checked", 9, seq=51, seen="a gap", result="not in order")
    assert gate(prove(at, work(at), around=around(given, bad)), "independent check").state == "not met"


def test_a_part_that_became_unfit_after_the_exception() -> None:
    at = replace(plan(), spec=replace(plan().spec, parts=PartRules(lots_needed=("nut",), drag_window=None)))
    told = entry("parts fitted", 5, part="nut", condition="new", lot="KL-9", seq=2)
    given = exception("parts", 8)
    stop = replace(entry("lot blocked", 6, seq=3), reason="cracks")
    for bad, fine in ((stop, True), (replace(stop, seq=51), False), (replace(stop, at=START + 9 * HOUR), False)):
        proof = prove(at, work(at), around=around(told, given, lots={"KL-9": (bad,)}))
        assert bool(flags(proof, "part not fit")) is not fine


def test_a_drag_outside_its_window_measured_after_the_exception() -> None:
    at = asking(drag_window=N_M)
    given = exception("drag", 8)
    assert not flags(prove(at, work(at), around=around(given)), "open item")
    low = entry("drag measured", 9, fasteners=(2,), drag="1 N.m", seq=51)
    assert only(prove(at, work(at), around=around(given, low)), "part not fit").fastener == 2


def test_a_loosening_that_was_received_after_the_exception_is_not_covered() -> None:
    at = asking(locking="split pin")
    given = exception("locking", 8)
    off = record(at, 2, None, 0, counter=150, time=START + 2 * HOUR, direction="loosen", event="loosen",
                 file_sha256="f" * 64)  # fmt: skip
    pulled = [*work(at), off, *again(at, 2, 3)]
    known = around(given)
    for received, covered in ((4, True), (9, False)):
        proof = prove(at, pulled, around=replace(
            known, received={**known.received, "f" * 64: START + received * HOUR}
        ))  # fmt: skip
        assert bool(flags(proof, "open item")) is not covered
    told = entry("loosened", 2, fasteners=(3,), seq=51)  # happened before, written after the exception
    proof = prove(at, [*work(at), *again(at, 3, 3)], around=around(given, told))
    assert [f.fastener for f in flags(proof, "open item")] == [3]


def test_a_tag_that_named_another_joint_after_the_exception() -> None:
    at = plan()
    at = replace(at, spec=replace(at.spec, gates=GateRules(identity=True)))
    given = exception("identity", 8)
    assert gate(prove(at, work(at), around=around(given)), "identity").state == "excepted"
    wrong = entry("identity confirmed", 9, seq=51, tag="KN-XX-010", check="?", second_source="drawing", second_text="x")
    assert gate(prove(at, work(at), around=around(given, wrong)), "identity").state == "not met"


def test_the_report_names_what_was_excepted_and_by_whom() -> None:
    at, bare = proven("last pass")
    at, proof = proven("last pass", exception("last pass", 8, *gate(bare, "last pass").against))
    flag = only(proof, "moved on check pass")
    made = deviations(at, proof, fixture.context(at, moving(at)))
    (row,) = [row for row in made["rows"] if row["code"] == flag.code]
    assert row["text"] == flag.text and row["blocking"] and not row["open"]
    ((action, by, _, reason),) = row["decisions"]
    assert AUTHORITY in action and "last pass" in action and by == "Q. Arkwright" and reason == "why"
    assert [flag.code, "–", "1", "–"] in made["summary"]
    ((name, rule, state, why),) = [g for g in section(at, proof, around(), moving(at))["gates"] if g[0] == "last pass"]
    assert rule and state == "excepted" and AUTHORITY in why and name == "last pass"
