"""Corrections: the new fact names the old value; what is judged is the corrected record, and both stay readable."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from evenpull.ledger.corrections import apply, check_correction
from evenpull.ledger.entry import Entry
from evenpull.proof import DispositionError, check_disposition, decide, prove
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import START, changed, disposed, flags, only, plan, verdict, without, work

AT = plan()


def correction(record: str, field: str, old: str, new: str, seq: int = 1) -> Entry:
    at = START + timedelta(days=1)
    values = {"record": record, "field": field, "old": old, "new": new}
    name, why, by = "KN-XX-001", "misread on the card", "S. Quillfeather"
    return Entry(f"entry:{seq}", "correction", "joint", name, "", (), at, 0.0, "from paper", why, by, at, values, seq)


def test_a_corrected_torque_is_judged_and_both_values_are_said() -> None:
    records = changed(work(AT), 2, 3, torque=35.0, torque_text="35,0")
    bad = next(r for r in records if r.torque == 35.0)
    assert verdict(prove(AT, records), 2, 3) == "not accepted"
    around = Surroundings(entries=(correction(bad.key, "torque", "35,0", "350.0 N.m"),))
    proof = prove(AT, records, around=around)
    assert verdict(proof, 2, 3) == "accepted" and decide(AT, proof).signable
    flag = only(proof, "corrected")
    assert not flag.blocking and "'35,0' corrected to '350.0 N.m'" in flag.text and "misread" in flag.text
    (held,) = (r for c in proof.cells for r in c.records if r.key == bad.key)
    assert held.raw_sha256 == bad.raw_sha256 and any("35,0" in remark for remark in held.remarks)


@pytest.mark.parametrize(
    ("field", "old", "new", "words"),
    [
        ("torque", "36", "350 N.m", "the record says"),
        ("torque", "35,0", "350 parsecs", "is no torque"),
        ("pass", "3", "0", "1 to 10000"),
        ("event", "unstated", "pull", "none of"),
        ("time", "2026-03-18 09:30", "2026-03-18T10:00:00", "no offset"),
    ],
)
def test_what_does_not_fit_blocks_and_changes_nothing(field: str, old: str, new: str, words: str) -> None:
    records = changed(work(AT), 2, 3, torque=35.0, torque_text="35,0", time_text="2026-03-18 09:30")
    bad = next(r for r in records if r.torque == 35.0)
    entry = correction(bad.key, field, old, new)
    said = check_correction(records, (), entry)
    assert words in said.fault and said.at == ("old" if words == "the record says" else "new")
    assert apply(records, [entry])[0] == tuple(records)
    assert words in only(prove(AT, records, around=Surroundings(entries=(entry,))), "corrected").text
    assert only(prove(AT, records, around=Surroundings(entries=(entry,))), "corrected").blocking


def test_a_correction_of_a_correction_names_the_value_that_stands() -> None:
    records = changed(work(AT), 2, 3, operator="R. Fjeldgard")
    bad = next(r for r in records if r.operator == "R. Fjeldgard")
    first = correction(bad.key, "operator", "R. Fjeldgard", "R. Fjeldgaard")
    again = correction(bad.key, "operator", "R. Fjeldgaard", "D. Okereke-Holm", seq=2)
    made, notes = apply(records, [again, first])
    assert {r.operator for r in made if r.key == bad.key} == {"D. Okereke-Holm"}
    assert [note.fault for note in notes] == ["", ""]
    assert check_correction(records, (first,), replace(again, seq=-1)).fault == ""
    assert "the record says 'R. Fjeldgard'" in check_correction(records, (), replace(again, seq=-1)).fault
    assert check_correction(records, (first,), correction("no such", "pass", "1", "2")).at == "record"


def test_a_record_moved_to_another_fastener_or_joint() -> None:
    records = changed(work(AT), 2, 3, fastener=3)
    moved = next(r for r in records if r.fastener == 3 and r.pass_number == 3 and r not in work(AT))
    proof = prove(AT, records, around=Surroundings(entries=(correction(moved.key, "fastener", "3", "2"),)))
    assert not flags(proof, "missing") and verdict(proof, 2, 3) == "accepted"
    away = prove(AT, work(AT), around=Surroundings(
        entries=(correction(work(AT)[-1].key, "joint", "KN-XX-001", "KN-XX-002"),)))  # fmt: skip
    assert len(flags(away, "missing")) == 1


def test_no_one_decides_on_his_own_work_in_class_a() -> None:
    for joint_class, refused in (("A", True), ("B", False)):
        at = plan(joint_class=joint_class)
        records = without(work(at), 2, 3)
        proof = prove(at, records)
        flag = only(proof, "missing")
        own = replace(disposed(flag, "engineering review"), by=" r.  FJELDGAARD ")
        if refused:
            with pytest.raises(DispositionError, match="another person"):
                check_disposition(at, proof, own)
        else:
            check_disposition(at, proof, own)
        assert bool(prove(at, records, dispositions=[own]).open_flags) is refused
        assert not prove(at, records, dispositions=[disposed(flag, "engineering review")]).open_flags
