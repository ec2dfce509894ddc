"""What curves say against a joint, as flags: one for each curve that names its fastener, and what closes it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenpull.curve.verdicts import VERDICTS
from evenpull.proof import check_together, prove
from evenpull.proof.curve_flags import HARM
from evenpull.proof.dispositions import DispositionError
from evenpull.proof.surroundings import CurveSaid, CurvesHere, CurvesOfRecord, Surroundings
from tests.proof import build

SAID = CurveSaid(7, "traces.csv", 3, "SP-1/A/4", "", "", 2, 1, ("re-hit",), ("re-hit: no run-down",))


PLAN = build.plan()
WORK = build.work(PLAN)


def flags(here: CurvesHere | None):
    proof = prove(PLAN, WORK, around=Surroundings(curves=here))
    return [flag for flag in proof.flags if flag.code.startswith("curve")], proof


def test_without_curves_a_joint_is_as_before():
    found, proof = flags(None)
    assert not found and proof == prove(PLAN, WORK)
    assert flags(CurvesHere(5))[0] == []


def test_every_verdict_is_either_harm_or_doubt():
    assert set(HARM) < set(VERDICTS)
    for verdict in VERDICTS:
        (flag,), _ = flags(CurvesHere(1, said=(replace(SAID, verdicts=(verdict,)),)))
        assert flag.code == ("curve finding" if verdict in HARM else "curve in doubt") and flag.blocking
        assert verdict in flag.text and "look before it is released" in flag.text and flag.fastener == 2


def test_another_verdict_is_another_point():
    (one,), _ = flags(CurvesHere(1, said=(SAID,)))
    (other,), _ = flags(CurvesHere(1, said=(replace(SAID, verdicts=("slip or stripping",)),)))
    assert one.key != other.key, "a decision on the one does not cover the other"


def test_curves_without_fastener_are_one_flag_for_each_file_and_verdict():
    many = tuple(replace(SAID, number=n, run=f"r{n}", fastener=None, pass_number=None) for n in range(9))
    found, _ = flags(CurvesHere(9, said=(*many, replace(many[0], file=8, name="other.csv"))))
    assert len(found) == 2 and "9 curves of traces.csv" in found[0].text and "and 3 more" in found[0].text


def test_places_that_the_plan_has_not_are_told_all_the_same():
    for fastener, number in ((99, 1), (0, 1), (2, 77), (2, None)):
        (flag,), _ = flags(CurvesHere(1, said=(replace(SAID, fastener=fastener, pass_number=number),)))
        assert flag.blocking and flag.fastener == fastener


def test_conflicts_and_what_cannot_be_judged_block_and_what_is_alone_is_noted():
    twice = CurvesOfRecord("TW-1/A/4/abc", "", 2, 1, ("a.csv no. 0", "b.csv no. 3"))
    here = CurvesHere(9, bare=2, without=1, keyless=3, elsewhere=1, again=4, conflicts=3, twice=(twice,),
                      unjudged=(("c.csv", "it was changed on the disk"),), more=((7, "d.csv", 98_000),),
                      differ=2)  # fmt: skip
    found, proof = flags(here)
    assert len(build.flags(proof, "curves contradict")) == 3
    codes = sorted((flag.code, flag.blocking) for flag in found)
    assert codes == [("curve finding", True), ("curve in doubt", True), ("curves and records", False),
                     *[("curves contradict", True)] * 3]
    assert any("98,000 more curves of d.csv" in flag.text for flag in found)
    assert any("2 curves state other fasteners" in flag.text for flag in found)
    note = next(flag for flag in found if not flag.blocking)
    for words in ("2 records have no curve", "1 curve names a record that is not here", "3 curves name no tool",
                  "1 curve has its record on another joint", "4 curves came a second time"):
        assert words in note.text


@pytest.mark.parametrize(("action", "closes"), [("engineering review", True), ("replace", False)])
def test_what_closes_a_curve_finding(action: str, closes: bool):
    here = CurvesHere(1, said=(SAID,))
    (flag,), _ = flags(here)
    given = build.disposed(flag, action)
    proof = prove(PLAN, WORK, dispositions=[given], around=Surroundings(curves=here))
    assert (flag.key not in {one.key for one in proof.open_flags}) is closes, "replaced only once it is tightened anew"
    with pytest.raises(DispositionError, match="cannot close 'curve finding'"):
        check_together(PLAN, proof, [replace(given, action="redo")])
