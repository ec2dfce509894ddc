"""Gates, revisions in force, times that cannot be: hand-made cases. Names and numbers are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from evenpull.card.serial import joint_check_character
from evenpull.ledger.entry import Entry
from evenpull.ledger.kinds import GATES
from evenpull.plan.model import GateRules, Plan
from evenpull.proof import ACTIONS, decide, prove
from evenpull.proof.model import GateResult, Proof
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import START, changed, disposed, flags, only, plan, record, verdict, work

WITHIN = {"result": "within limits"}
BEFORE, AFTER = START - timedelta(hours=1), START + timedelta(hours=8)


def entry(
    kind: str, at: Any = AFTER, by: str = "Q. Arkwright", fasteners: tuple[int, ...] = (), **values: str
) -> Entry:
    subject = "tool" if kind.startswith(("tool", "shift")) else "person" if kind.startswith("qual") else "joint"
    return Entry(f"{kind} {at} {by}", kind, subject, "KN-XX-001", "", fasteners, at, 0.0, "did it", "a reason", by, at,
                 values, 1)  # fmt: skip


def asking(**gates: Any) -> Plan:
    at = plan(joint_class=gates.pop("joint_class", "B"))
    return replace(at, spec=replace(at.spec, gates=GateRules(**gates)))


def proven(at: Plan, *entries: Entry, **around: Any) -> Proof:
    return prove(at, work(at), around=Surroundings(entries=entries, **around))


def gate(proof: Proof, name: str) -> GateResult:
    return next(one for one in proof.gates if one.name == name)


TAG = {"tag": "kn-xx-001", "check": joint_check_character("KN-XX-001"), "second_source": "drawing",
       "second_text": "sheet 4, KN-XX-001"}  # fmt: skip


@pytest.mark.parametrize(
    ("at", "change", "state"),
    [
        (BEFORE, {}, "met"),
        (AFTER, {}, "not met"),
        (BEFORE, {"tag": "KN-XX-010"}, "not met"),
        (BEFORE, {"check": "?"}, "not met"),
        (BEFORE, {"second_text": "KN-XX-010"}, "not met"),
    ],
)
def test_identity_by_two_sources_before_the_first_touch(at: Any, change: dict[str, str], state: str) -> None:
    proof = proven(asking(identity=True), entry("identity confirmed", at, **(TAG | change)))
    assert gate(proof, "identity").state == state
    assert bool(flags(proof, "gate not met")) is (state == "not met")
    assert decide(asking(identity=True), proof).signable is (state == "met")


def test_isolation_before_a_loosening_that_was_only_entered() -> None:
    at = asking(isolation=True)
    given = entry("isolation confirmed", BEFORE, permit="P-1", isolation="I-1", proven_by="V. Sunde", how="vented")
    assert gate(proven(at, given), "isolation").state == "met"
    loosened = entry("loosened", BEFORE - timedelta(hours=1), fasteners=(1,), why="valve")
    assert gate(proven(at, given, loosened), "isolation").state == "not met"


@pytest.mark.parametrize("name", ["identity", "isolation"])
@pytest.mark.parametrize("kind", ["loosened", "removed", "disturbed", "loosen", "remove", "residual check"])
def test_the_first_touch_is_found_in_entries_and_records_alike(name: str, kind: str) -> None:
    at = asking(**{name: True})
    told = {"permit": "P-1", "isolation": "I-1", "proven_by": "V. Sunde", "how": "vented"}
    given = entry(f"{name} confirmed", BEFORE, **(TAG if name == "identity" else told))
    for minutes, state in ((-30, "not met"), (30, "met")):
        when = BEFORE + timedelta(minutes=minutes)
        if kind in ("loosened", "removed", "disturbed"):
            proof = proven(at, given, entry(kind, when, fasteners=(1,), why="valve"))
        else:
            off = record(at, 1, None, 0, event=kind, direction="loosen", time=when, tool="TW-4", counter=1)
            proof = prove(at, [off, *work(at)], around=Surroundings(entries=(given,)))
        assert gate(proof, name).state == state, minutes


def test_a_first_touch_of_unknown_time_meets_no_gate() -> None:
    at = asking(isolation=True)
    given = entry("isolation confirmed", BEFORE, permit="P-1", isolation="I-1", proven_by="V. Sunde", how="vented")
    off = record(at, 1, None, 0, event="loosen", direction="loosen", time=None, tool="", counter=None)
    found = gate(prove(at, [off, *work(at)], around=Surroundings(entries=(given,))), "isolation")
    assert found.state == "not met" and "is not known" in found.reason
    assert gate(prove(at, [], around=Surroundings(entries=(given,))), "isolation").state == "met"


HOLDS = {"never_loosen": (2, 3)}


@pytest.mark.parametrize("kind", ["loosened", "removed", "disturbed"])
def test_a_fastener_that_holds_the_pressure_was_opened_by_an_entry(kind: str) -> None:
    at = asking(**HOLDS)
    off = entry(kind, AFTER, fasteners=(1, 2), why="to take the actuator off")
    proof = proven(at, off)
    flag = only(proof, "not to be loosened")
    assert flag.blocking and flag.fastener == 2 and "to take the actuator off" in flag.text
    assert "no isolation is stated" in flag.text
    assert decide(at, proof).reasons[0] == flag.text  # at the top of the page and of the report
    assert not flags(proven(at, entry(kind, AFTER, fasteners=(1, 4), why="x")), "not to be loosened")
    given = entry("isolation confirmed", BEFORE, permit="P-1", isolation="I-1", proven_by="V. Sunde", how="vented")
    assert "no energy proven by V. Sunde (vented)" in only(proven(at, off, given), "not to be loosened").text


@pytest.mark.parametrize("event", ["loosen", "remove", "replace", "residual check"])
def test_a_fastener_that_holds_the_pressure_was_opened_by_a_record(event: str) -> None:
    at = asking(**HOLDS)
    direction = "tighten" if event == "replace" else "loosen"
    off = record(at, 3, 3, 50, event=event, direction=direction)
    proof = prove(at, [*work(at), off])
    flag = only(proof, "not to be loosened")
    assert flag.blocking and flag.fastener == 3 and flag.records == (off.key,)
    other = record(at, 4, 3, 50, event=event, direction=direction)
    assert not flags(prove(at, [*work(at), other]), "not to be loosened")


def test_only_the_engineer_decides_on_a_fastener_that_holds_the_pressure() -> None:
    at = asking(**HOLDS)
    off = record(at, 3, None, 50, event="loosen", direction="loosen")
    records = [*work(at), off, *(record(at, 3, n, 60 + n) for n in (1, 2, 3))]
    flag = only(prove(at, records), "not to be loosened")
    for action in ACTIONS:
        proof = prove(at, records, dispositions=[disposed(flag, action)])
        assert (flag.key in {f.key for f in proof.open_flags}) is (action != "engineering review")
    excepted = [entry("exception", AFTER, gate=name, authority="x") for name in GATES]
    told = [replace(e, covers=(flag.key,)) for e in excepted]
    proof = prove(at, records, around=Surroundings(entries=tuple(told)))
    assert flag.key in {f.key for f in proof.open_flags}
    # decided, it says nothing on a pull: the fastener that was not tightened again stays open
    bare = prove(at, [*work(at), off], dispositions=[disposed(flag, "engineering review")])
    assert not decide(at, bare).signable
    # and one more loosening is another matter
    more = record(at, 3, None, 90, event="loosen", direction="loosen")
    again = [*records, more, *(record(at, 3, n, 95 + n) for n in (1, 2, 3))]
    proof = prove(at, again, dispositions=[disposed(flag, "engineering review")])
    assert [f.records for f in proof.open_flags if f.code == "not to be loosened"] == [(more.key,)]


def test_the_checker_is_no_operator_and_sees_all_after_the_last_pull() -> None:
    at = asking(independent_check=True)
    seen = {"seen": "marks in line", "result": "in order"}
    operator = work(at)[0].operator
    assert gate(proven(at, entry("checked", **seen)), "independent check").state == "met"
    own = gate(proven(at, entry("checked", by=f" {operator.upper()} ", **seen)), "independent check")
    assert own.state == "not met" and "cannot check it" in own.reason
    assert gate(proven(at, entry("checked", BEFORE, **seen)), "independent check").state == "not met"
    part = gate(proven(at, entry("checked", fasteners=(1, 2), **seen)), "independent check")
    assert part.state == "not met" and part.fasteners == (3, 4)
    later = entry("checked", AFTER + timedelta(hours=1), fasteners=(2,), seen="loose", result="not in order")
    assert gate(proven(at, entry("checked", **seen), later), "independent check").fasteners == (2,)


def test_an_exception_counts_for_its_gate_and_says_so() -> None:
    at = asking(independent_check=True, joint_class="A")
    given = {"gate": "independent check", "authority": "engineer of record"}
    excepted = gate(proven(at, entry("exception", **given)), "independent check")
    assert excepted.state == "excepted" and "engineer of record" in excepted.reason
    own = entry("exception", by=work(at)[0].operator, **given)
    assert gate(proven(at, own), "independent check").state == "not met"
    assert gate(proven(at, entry("exception", gate="test", authority="x")), "independent check").state == "not met"


@pytest.mark.parametrize(
    ("first", "last", "withdrawn", "state"),
    [("2026-01-01", "2026-12-31", None, "met"), ("2026-01-01", "2026-03-17", None, "not met"),
     ("2026-01-01", "2026-12-31", BEFORE, "not met"), ("2026-01-01", "2026-12-31", AFTER + timedelta(days=2), "met")],
)  # fmt: skip
def test_qualification_on_the_day_of_the_pull(first: str, last: str, withdrawn: Any, state: str) -> None:
    at = asking(qualification="flange assembly")
    given = {"qualification": "Flange assembly", "issued_by": "KN school", "from": first, "until": last}
    entries = [entry("qualification", BEFORE, **given)]
    if withdrawn:
        entries.append(entry("qualification withdrawn", withdrawn, qualification="flange assembly"))
    name = " ".join(work(at)[0].operator.split()).casefold()
    assert gate(proven(at, people={name: tuple(entries)}), "qualification").state == state
    assert gate(proven(at), "qualification").state == "not met"


@pytest.mark.parametrize(
    ("entries", "state"),
    [
        ([("tool blocked", BEFORE, {})], "not met"),
        ([("tool blocked", AFTER, {})], "met"),
        ([("tool blocked", BEFORE - timedelta(hours=2), {}), ("tool unblocked", BEFORE, {})], "met"),
        ([("tool dropped", BEFORE, {"what": "fell 2 m"})], "not met"),
        ([("tool lost", BEFORE, {"what": "not in its box since the night shift"})], "not met"),
        ([("tool lost", BEFORE - timedelta(hours=2), {}), ("shift check", BEFORE, WITHIN)], "met"),
        ([("tool dropped", BEFORE - timedelta(hours=2), {}), ("shift check", BEFORE, WITHIN)], "met"),
        ([("tool blocked", BEFORE - timedelta(hours=2), {}), ("shift check", BEFORE, WITHIN)], "not met"),
        ([("shift check", BEFORE, {"result": "outside limits"})], "not met"),
    ],
)  # fmt: skip
def test_a_tool_that_must_not_be_used(entries: Any, state: str) -> None:
    about = tuple(entry(kind, at, **values) for kind, at, values in entries)
    assert gate(proven(asking(), tools={"TW-1": about}), "tool fit").state == state


def test_the_test_comes_after_the_last_pull_and_has_passed() -> None:
    at = asking(test="leak test")
    passed = {"test": "Leak test", "result": "passed", "value": "3 bar"}
    assert gate(proven(at, entry("test", **passed)), "test").state == "met"
    assert gate(proven(at, entry("test", BEFORE, **passed)), "test").state == "not met"
    again = entry("test", AFTER + timedelta(hours=1), **(passed | {"result": "not passed"}))
    assert gate(proven(at, entry("test", **passed), again), "test").state == "not met"


def revised(at: Plan, since: date, tolerance: float) -> Plan:
    """The same joint with another tolerance, in force since a day."""
    source = replace(at.spec.source, in_force_from=since, revision="D")
    share = tolerance / at.spec.target.tolerance
    passes = tuple(
        replace(p, lower=p.torque - (p.torque - p.lower) * share, upper=p.torque + (p.upper - p.torque) * share)
        for p in at.passes
    )
    return replace(at, spec=replace(at.spec, source=source), passes=passes)


def test_a_wider_tolerance_written_later_does_not_accept_what_was_outside_that_day() -> None:
    at = plan()
    one = at.passes[2]
    records = changed(work(at), 2, 3, torque=one.upper * 1.01)
    wider = revised(at, date(2026, 4, 1), 0.10)
    proof = prove(wider, records, around=Surroundings(revisions=(at,)))
    assert verdict(proof, 2, 3) == "not accepted"
    assert "outside the window of its day" in only(proof, "earlier revision").text
    assert verdict(prove(revised(at, date(2026, 3, 1), 0.10), records), 2, 3) == "accepted"


def test_a_narrower_one_does_not_let_it_pass_in_silence() -> None:
    at = plan()
    records = changed(work(at), 2, 3, torque=at.passes[2].upper * 0.999)
    proof = prove(revised(at, date(2026, 4, 1), 0.02), records, around=Surroundings(revisions=(at,)))
    assert "was right on its day and is not any more" in only(proof, "earlier revision").text
    assert verdict(proof, 2, 3) == "not accepted" and gate(proof, "revision").state == "not met"


def test_a_pull_before_any_revision_was_in_force_is_not_judged() -> None:
    at = revised(plan(), date(2026, 4, 1), 0.05)
    proof = prove(at, work(at))
    assert {cell.verdict for cell in proof.cells} == {"not judged"}
    assert "before any revision was in force" in only(proof, "earlier revision").text


def test_a_pull_later_than_its_receipt_was_not_made_when_it_says() -> None:
    at = plan()
    records = work(at)
    late = {records[0].file_sha256: records[3].time - timedelta(hours=2)}
    proof = prove(at, records, around=Surroundings(received=late))
    assert all(flag.blocking for flag in flags(proof, "time in doubt")) and flags(proof, "time in doubt")
    fine = {records[0].file_sha256: AFTER}
    assert not flags(prove(at, records, around=Surroundings(received=fine)), "time in doubt")


def test_a_late_entry_is_a_note() -> None:
    late = replace(entry("conditions", BEFORE), written_at=AFTER + timedelta(days=3))
    assert not only(proven(plan(), late), "late entry").blocking
