"""Reviews over a dossier: what they reach, what counts, what is decided, what a joint says of it; on both databases."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from evenpull.instrument.review import FULL, Verdict
from evenpull.review import FoundPoint, JointState, Other, Outcome, Reason
from evenpull.store import services
from evenpull.store.models import Basis, Fact, Finding, Mention
from evenpull.store.services import (
    bases,
    findings,
    index_check,
    review_lists,
    review_marks,
    review_papers,
    reviewing,
)
from evenpull.store.services.log import writing
from tests.equipment.files import HYDRAULIC, certificate, on, point
from tests.proof import build
from tests.review.cases import FOUND_AT
from tests.store.review_story import TOOL, add, finding, tell
from tests.store.samples import AUTHOR, row

LEAD = "Maren Achterberg"


@pytest.fixture
def store(anywhere: Path) -> Path:
    tell()
    return anywhere


def outcome(**more: object) -> Outcome:
    return reviewing.compute(finding(**more)).outcome


def counts(one: Outcome) -> dict[str, int]:
    return {v.words: n for v, n in one.counts.items() if n}


def test_it_finds_what_the_wrench_tightened_and_nothing_else(store: Path) -> None:
    """41.2 N.m on record, 9 % high: 41.2/1.09 = 37.798 N.m; pass 1 of KN-CW-008 asks 42.75 to 47.25. KN-XX-1 is not
    described; KN-CW-009 was tightened by another tool."""
    one = outcome()
    assert counts(one) == {"cannot be judged": 6, "surely out": 8}
    assert [j.joint for j in one.touched.joints] == ["KN-CW-008", "KN-XX-1"]
    full = one.model(FULL)
    assert full is not None and full.true[:8] == pytest.approx([37.798] * 8, abs=1e-3)
    assert one.reasons() == {Reason.NOT_DESCRIBED: 6}
    assert one.by_joint().sum() == one.touched.count == 14


def test_withdrawn_readings_never_appear(store: Path) -> None:
    sha = add([row(1030 + n, bolt=n, tool=TOOL) for n in range(1, 4)], "d.csv")
    assert outcome().touched.count == 17
    services.withdraw_reading(sha, "read under the wrong mapping", AUTHOR)
    assert outcome().touched.count == 14


def test_a_period_ends_and_begins(store: Path) -> None:
    add([row(1100, bolt=1, tool=TOOL, day="01.03.2026")], "early.csv")  # before the last good certificate
    add([row(1101, bolt=1, tool=TOOL, day="02.09.2026")], "late.csv")  # after it was found
    assert outcome().touched.count == 14
    assert outcome(at=on(9, 3).timestamp()).touched.count == 15


def test_assemblies_and_what_they_show(store: Path) -> None:
    """1320 N.m by the chain of multiplier 13.2: the wrench showed 100, and gave 100/1.09."""
    add([row(5, tool="CH-0007", moment="1320,0", bolt=2)], "chain.csv")
    one = outcome()
    at = int(np.flatnonzero(one.touched.torque > 1000)[0])
    full = one.model(FULL)
    assert one.touched.ratio[at] == 13.2 and full is not None and full.true[at] == pytest.approx(1320 / 1.09)
    multiplier = outcome(kind="attachment wrong", serial="TM-0051", certificate="", deviation=(0.05, 0.01))
    assert multiplier.touched.count == 1 and multiplier.model(FULL).true[0] == pytest.approx(1320 / 1.05)  # type: ignore[union-attr]


def test_a_standard_reaches_the_wrench(store: Path) -> None:
    one = outcome(kind="standard recalled", serial="RS-0001", certificate="")
    assert one.touched.count == 14 and {s.serial for s in one.suspects} == {TOOL}
    assert one.reasons() == {Reason.NOT_DESCRIBED: 6, Reason.NO_CURVE: 8}


@pytest.mark.parametrize(("more", "judged"), [
    ({"kind": "lost", "certificate": "", "at": on(8, 1).timestamp()}, False),
    ({"kind": "dropped", "event": FOUND_AT - 86_400.0}, True),
    ({"kind": "shift check failed", "certificate": "", "points": (FoundPoint(41.2, 0.09, 0.005),),
      "at": on(8, 1).timestamp()}, True),
    ({"kind": "certificate withdrawn", "certificate": "", "withdrawn": "KNC-25-0001",
      "at": on(8, 1).timestamp()}, False),
])
def test_each_kind_of_finding(store: Path, more: dict[str, object], judged: bool) -> None:
    one = outcome(**more)
    assert one.touched.count == 14
    assert (one.reason == Reason.NO_CURVE).any() != judged


def test_loosenings_and_other_tools_are_told(store: Path) -> None:
    """Another tool pulled fastener 1 afterwards: the load of the wrench's pull is asked no more."""
    add([row(3000, bolt=1, tool="TW-0207", day="20.03.2026")], "later.csv")
    one = outcome()
    first = int(np.flatnonzero((one.touched.fastener == 1) & (one.touched.joint == 0))[0])
    assert one.touched.other[first] & Other.SECOND_TOOL and not one.touched.standing[first]
    assert one.load[first] == -1


def test_state_of_the_joint(store: Path) -> None:
    assert set(outcome().touched.state) == {JointState.OPEN}
    services.add_entry("service", "KN-CW-008", {"state": "started"}, AUTHOR)
    one = outcome()
    assert one.by_state()[JointState.IN_SERVICE].sum() == 8
    services.add_entry("handed over", "KN-CW-008", {"to": "the pier crew"}, AUTHOR)
    assert outcome().by_state()[JointState.SHIPPED].sum() == 8


def test_a_passed_test_is_evidence_only_when_it_came_later(store: Path) -> None:
    services.add_entry("test", "KN-CW-008", {"test": "leak test", "result": "passed"}, LEAD)
    one = outcome()
    assert (one.touched.other[one.touched.joint == 0] & Other.TEST).all()


def test_bases_are_kept_with_the_findings_and_a_moved_window_is_seen(store: Path) -> None:
    findings.refresh()
    assert reviewing.compute(finding()).taken.made == 0
    kept = Basis.objects.get(fold="KN-CW-008")
    Basis.objects.filter(fold="KN-CW-008").update(body=kept.body.replace("42.75", "10.0"))
    again = reviewing.compute(finding())
    assert again.taken.made == 1 and counts(again.outcome)["surely out"] == 8
    before = {b.fold: b.body for b in Basis.objects.all()}
    findings.rebuild()
    assert {b.fold: b.body for b in Basis.objects.all()} == before
    with writing():
        Basis.objects.all().delete()
    assert bases.of(["KN-CW-008", "KN-XX-1"]).made == 1


def test_a_review_is_opened_decided_and_closed(store: Path) -> None:
    head = reviewing.open_review(finding(), AUTHOR)
    view = reviewing.review(head.id)
    assert view.same and view.undecided == ["KN-CW-008", "KN-XX-1"] and head.uses == 14
    with pytest.raises(services.Refused, match="go on with that one"):
        reviewing.open_review(finding(), AUTHOR)
    with pytest.raises(services.Refused, match="cannot be closed: cause is not said"):
        reviewing.close(head.id, "all was looked at", LEAD)
    with pytest.raises(services.Refused, match="follows a decision that something is to be done"):
        reviewing.decide(head.id, ["KN-CW-008"], "work done", "they say so", LEAD)
    with pytest.raises(services.Refused, match="does not concern KN-CW-009"):
        reviewing.decide(head.id, ["KN-CW-009"], "accept as is", "not touched", LEAD)
    assert reviewing.decide(head.id, ["kn-cw-008"], "re-tighten", "by its own file", LEAD) == 1
    assert reviewing.decide(head.id, ["KN-XX-1"], "engineering review", "a test rig, scrapped", LEAD) == 1
    for what in ("cause", "action", "same type", "notices"):
        reviewing.say(head.id, what, f"words on {what}", AUTHOR)
    closed = reviewing.close(head.id, "reviewed with the tool keeper", LEAD, seen=reviewing.review(head.id).now.digest)
    assert closed.by == LEAD and closed.digest == head.digest
    with pytest.raises(services.Refused, match="was closed by"):
        reviewing.decide(head.id, ["KN-CW-008"], "work done", "records of May", LEAD)
    assert reviewing.reviews()[0][1:] == (True, 2)
    assert index_check.differences() == []


def test_the_joint_is_under_review_until_nothing_is_left_to_be_done(store: Path) -> None:
    def flags() -> list[tuple[str, bool]]:
        return [(f.text, f.blocking) for f in build.flags(services.joint("KN-CW-008").proof, "under review")]

    assert flags() == []
    findings.refresh()
    reviewing.open_review(finding(), AUTHOR)
    assert Finding.objects.get(joint="KN-CW-008").stale
    ((text, blocking),) = flags()
    assert blocking and "8 surely outside its window" in text and "no disposition yet" in text
    reviewing.decide(1, ["KN-CW-008"], "re-check all", "with the second wrench", LEAD)
    assert flags()[0][1]
    reviewing.decide(1, ["KN-CW-008"], "work done", "records of 4 September", LEAD)
    ((text, blocking),) = flags()
    assert not blocking and "work done" in text
    assert services.joint("KN-CW-009").around.reviews == ()


def test_later_facts_are_seen_and_the_same_facts_give_the_same_digest(store: Path) -> None:
    head = reviewing.open_review(finding(), AUTHOR)
    assert reviewing.compute(finding()).digest == head.digest
    add([row(1040, bolt=3, tool=TOOL)], "more.csv")
    view = reviewing.review(head.id)
    assert not view.same and "Facts were added" in review_papers.notes(view)[0]


def test_what_is_written_on_reviews_does_not_make_them_anew(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    head, times = reviewing.open_review(finding(), AUTHOR), []
    whole = reviewing.compute
    monkeypatch.setattr(reviewing, "compute", lambda found: times.append(found) or whole(found))
    first = reviewing.review(head.id)
    reviewing.decide(head.id, ["KN-CW-008"], "re-tighten", "by its own file", LEAD)
    reviewing.say(head.id, "cause", "it fell from the stage", AUTHOR)
    second = reviewing.review(head.id)
    assert not times and second.now.outcome is first.now.outcome and second.now.size == first.now.size + 2
    add([row(1040, bolt=3, tool=TOOL)], "more.csv")
    assert reviewing.review(head.id).now.outcome.touched.count == 15 and len(times) == 1


def test_a_form_sent_twice_opens_and_decides_once(store: Path) -> None:
    first = reviewing.open_review(finding(), AUTHOR, once="form-1234567")
    assert reviewing.open_review(finding(), AUTHOR, once="form-1234567") == first
    assert reviewing.decide(1, ["KN-CW-008"], "re-tighten", "by its file", LEAD, once="form-7654321") == 1
    assert reviewing.decide(1, ["KN-CW-008"], "re-tighten", "by its file", LEAD, once="form-7654321") == 0
    assert Fact.objects.filter(kind="tool review disposition").count() == 1


def test_lists_and_papers(store: Path) -> None:
    reviewing.open_review(finding(), AUTHOR)
    view = reviewing.review(1)
    assert [view.now.outcome.touched.joints[n].joint for n in review_lists.matching(view)] == ["KN-CW-008", "KN-XX-1"]
    assert review_lists.matching(view, worst="surely out", joint_class="B") == [0]
    assert review_lists.matching(view, joint_class="none") == [1] and review_lists.matching(view, words="xx") == [1]
    page = review_lists.page(view, 7, review_lists.matching(view, sort="tightenings"))
    assert page.number == 1 and page.rows[0].counts == (0, 0, 0, 8) and page.rows[0].worst is Verdict.SURELY_OUT
    lines = review_lists.csv(view).decode().splitlines()
    assert len(lines) == 15 and lines[0].startswith("joint,class,state") and "surely out" in lines[1]
    assert review_lists.xlsx(view)[:2] == b"PK" and review_papers.pdf(view)[:5] == b"%PDF-"
    with pytest.raises(services.Refused, match="is no paper"):
        review_papers.pdf(view, "a9")
    assert len(review_lists.tightenings(view, "KN-CW-008")) == 8


def test_the_gauge_of_a_hydraulic_set(anywhere: Path) -> None:
    """2000 N.m on record by the set: 500 bar; as found 2 % high: 1960.78 N.m."""
    gauge = certificate("HG-0041", "G-2", points=point("as found", 102, 100, "either") + point(
        "as found", 612, 600, "either")).replace('unit = "N.m"', 'unit = "bar"').replace(
        "calibrated = 2026-03-02", "calibrated = 2027-03-02").replace("valid_until = 2027-03-01",
                                                                      "valid_until = 2028-03-01")
    tell(HYDRAULIC, gauge)
    add([row(1, tool="HS-0041", moment="2000,0", bolt=1)], "hydraulic.csv")
    at = (on(3, 2) + timedelta(days=365)).timestamp()
    one = outcome(serial="HG-0041", certificate="G-2", at=at)
    full = one.model(FULL)
    assert one.touched.count == 1 and full is not None and full.true[0] == pytest.approx(1960.784, abs=1e-3)


def test_marks_of_reviews_are_made_from_the_facts(store: Path) -> None:
    reviewing.open_review(finding(), AUTHOR)
    before = review_marks.of_joint("KN-CW-008")
    findings.rebuild()
    assert review_marks.of_joint("KN-CW-008") == before
    assert Mention.objects.filter(kind="review").count() == 2
    assert [h.id for h in review_marks.of_tool("tw-0301")] == [1]
