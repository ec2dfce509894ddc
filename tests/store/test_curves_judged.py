"""Curves judged in the dossier: by the plan of their day, by learned windows, again by other rules, and what the joint
says then; on both databases."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from evenpull.curve.judged_table import read_findings, read_head
from evenpull.curve.version import RULES_VERSION, THRESHOLDS_TEXT, version_of
from evenpull.demo import scenario
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import curves_judging as judging
from evenpull.store.services import curves_kept as kept
from evenpull.store.services import curves_learning as learning
from evenpull.store.services import curves_rejudging as rejudging
from evenpull.store.services import findings, index_check
from tests.store.curve_files import STEEL_JOINT, csv_of, simulated
from tests.store.samples import AUTHOR, MAPPING
from tests.store.test_curves import furnished, records, take

FAULTS = ["none", "none", "re-hit", "slip"]
REASON = "looked at with the fitter on site"


def words(path: Path, name: str = "verdict") -> list[str]:
    return [word for part in read_findings(path, [name]) for word in part.table.column(name).to_pylist()]


def codes_of(joint: str = STEEL_JOINT) -> list[tuple[str, int | None]]:
    return [(f.code, f.fastener) for f in services.joint(joint).proof.open_flags if f.code.startswith("curve")]


def test_findings_say_all_they_rest_on(anywhere: Path) -> None:
    furnished()
    row = take(csv_of(simulated(FAULTS), range(1, 5)))
    path = judging.judged(row)
    head = read_head(path)
    assert path.parent.name == f"rules={RULES_VERSION}" and path.name.startswith(row.content)
    assert (head.rules, head.thresholds, head.content, head.joint) == (
        RULES_VERSION, THRESHOLDS_TEXT, row.content, STEEL_JOINT)
    ((basis, without),) = head.bases
    assert basis == "KN-SPEC-0420 revision A, pass 1 of 2 (40 %)" and "turn to the seat" in without[0]
    assert words(path)[2:] == ["re-hit", "slip or stripping"] or words(path)[3] == "slip or stripping"
    assert words(path, "answer_learned") == ["no learned windows"] * 4
    table = pq.read_table(path, partitioning=None)
    assert table.column("limit T_low").to_pylist() == [pytest.approx(36.1)] * 4
    assert table.column("counter").to_pylist() == [1, 2, 3, 4] and len(table.schema) > 55
    found = {one.number: one for one in judging.found_in(path)}
    assert "Do not tighten on" in " ".join(found[3].words) and "theta_low" in " ".join(found[2].words)
    assert judging.judged(row) == path and judging.findings_of(row) == [path]


def test_judged_by_the_revision_of_its_day_and_by_its_pass(anywhere: Path) -> None:
    furnished()
    later = scenario.joint_text("kn-gb-006").replace('revision = "A"', 'revision = "B"')
    start = later.index("in_force_from = ") + len("in_force_from = ")
    later = later[:start] + "2026-09-01" + later[start + 10 :]
    services.add_joint(later.replace("passes = [40, 100]", "passes = [60, 100]"), "b.toml", AUTHOR)
    services.commit_file("r.csv", records(range(1, 4)), MAPPING, AUTHOR)  # of March
    row = take(csv_of(simulated(FAULTS), range(1, 5)))  # the last without a record: of today
    named = [basis for basis, _ in read_head(judging.judged(row)).bases]
    assert named == ["KN-SPEC-0420 revision A, pass 1 of 2 (40 %)", "KN-SPEC-0420 revision B, pass 1 of 2 (60 %)"]
    low = pq.read_table(judging.judged(row), partitioning=None).column("limit T_low").to_pylist()
    assert low == [pytest.approx(36.1)] * 3 + [pytest.approx(54.15)]
    # Its record comes: then it is judged by the revision of that day, and the older finding stays.
    before = judging.judged(row)
    services.commit_file("late.csv", records(range(4, 5)), MAPPING, AUTHOR)
    after = judging.judged(row)
    assert before != after and before.exists() and judging.findings_of(row) == [before, after]
    assert len(read_head(after).bases) == 1


def test_a_later_pass_begins_tight(anywhere: Path) -> None:
    furnished()
    row = take(csv_of(simulated(["re-hit", "re-hit"]), [1, 2], number="2"))
    path = judging.judged(row)
    assert "begins tight" in read_head(path).bases[0][1][0]
    assert "re-hit" not in words(path)
    part = next(read_findings(path))
    assert not part.verdicts(read_head(path), {}).of("re-hit").any()
    odd = take(csv_of(simulated(["none"], seed=3), [9], number="7"))
    assert words(judging.judged(odd), "answer") == ["not judged"]
    assert "no such pass: 7" in read_head(judging.judged(odd)).bases[0][1][0]


def test_windows_are_learned_by_a_person_and_hold_for_what_comes_later(anywhere: Path) -> None:
    furnished()
    first = take(csv_of(simulated(["none"] * 24, coarse=3), range(1, 25)))
    with pytest.raises(services.Refused, match=r"24 accepted|accepted tightenings, at least 25"):
        learning.learn("gearbox", [STEEL_JOINT], 1, "the plan does not state the turn to the seat", AUTHOR)
    assert not Fact.objects.filter(kind="learned windows").exists()
    take(csv_of(simulated(["none"] * 30, seed=21, coarse=3), range(101, 131)), "more.csv")
    made = learning.learn("gearbox", [STEEL_JOINT], 1, "the plan does not state the turn to the seat", AUTHOR)
    assert made.learned.n >= 25 and {"run", "k_el"} <= {one.name for one in made.learned.windows}
    assert sum(n for _, n in made.sources) == made.learned.n
    before = judging.judged(first)
    assert words(before, "answer_learned") == ["no learned windows"] * 24, "not judged by what was learned from it"
    later = take(csv_of(simulated(["none", "none", "missing part"], seed=5, coarse=3), range(201, 204)), "later.csv")
    path = judging.judged(later)
    assert read_head(path).learned == made.learned and "no learned windows" not in words(path, "answer_learned")
    assert "missing part" in words(path, "verdict_learned") and "missing part" not in words(path), "both bases told"
    moved = take(csv_of(simulated(["none"] * 8, seed=6, coarse=3), range(301, 309)), "moved.csv")
    drift = learning.drift_of(STEEL_JOINT)
    assert drift is not None and drift.row.seq == made.seq and 5 <= drift.curves <= 11 and "drift" in drift.words
    # Learned anew: the older windows stay, and so does what they found.
    newer = learning.learn("gearbox, again", [STEEL_JOINT], 1, "new lot of bolts", AUTHOR)
    assert [one.seq for one in learning.learned(STEEL_JOINT)] == [made.seq, newer.seq]
    assert judging.judged(later) == path and read_head(judging.judged(moved)).learned == made.learned
    last = take(csv_of(simulated(["none"], seed=8, coarse=3), [401]), "last.csv")
    assert read_head(judging.judged(last)).learned_by == Fact.objects.get(seq=newer.seq).key
    assert learning.learned("KN-CW-008") == []
    one = [STEEL_JOINT]
    for name, joints, number, why in (("", one, 1, REASON), ("x", [], 1, REASON), ("x", one, 0, REASON),
                                      ("x", one, 1, "no"), ("x", one, 2, REASON)):
        with pytest.raises(services.Refused):
            learning.learn(name, joints, number, why, AUTHOR)


def test_judged_again_by_other_thresholds(anywhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    furnished()
    row = take(csv_of(simulated(["none"] * 6 + ["slip", "yield"]), range(1, 9)))
    old = judging.judged(row)
    was = words(old)
    report = rejudging.rejudge(AUTHOR)
    assert (report.changed, report.first, report.rules_before) == (0, 0, ()), "nothing changed since it came"
    text = THRESHOLDS_TEXT.replace("fallen = 0.85", "fallen = 1.01").replace("still = 0.5", "still = 0.6")
    assert text != THRESHOLDS_TEXT
    rules = version_of(2, text)
    for module in (judging, rejudging):
        monkeypatch.setattr(module, "RULES_VERSION", rules)
    monkeypatch.setattr(judging, "THRESHOLDS_TEXT", text)
    heard: list[tuple[int, int]] = []
    report = rejudging.rejudge(AUTHOR, lambda done, of: heard.append((done, of)))
    new = judging.judged(row)
    assert old.exists() and new != old and words(old) == was and heard == [(1, 1)]
    now = words(new)
    changed = [n for n, (a, b) in enumerate(zip(was, now, strict=True)) if a != b]
    assert changed and all(now[n] == "slip or stripping" for n in changed)
    assert report.rules_before == (RULES_VERSION,) and report.rules == rules
    assert set(report.thresholds) == {("slip.fallen", 0.85, 1.01), ("sensor.still", 0.5, 0.6)}
    moves = {(a, b): n for basis, a, b, n in report.moves if basis == "mechanics of the joint"}
    assert sum(moves.values()) == 8 and sum(n for (a, b), n in moves.items() if a != b) == len(changed)
    assert ("slip or stripping", "threshold slip.fallen", "0.85 -> 1.01") in {one[:3] for one in report.causes}
    table = pq.read_table(rejudging.changes_of(report), partitioning=None).to_pylist()
    assert {one["number"] for one in table} >= set(changed)
    one = next(one for one in table if one["number"] == changed[0])
    assert (one["joint"], one["file"], one["cause"], one["before"], one["now"], one["quantity"]) == (
        STEEL_JOINT, row.seq, "threshold slip.fallen", 0.85, 1.01, "off_ratio")
    assert 0.85 <= one["value"] < 1.01
    lines = list(csv.DictReader(io.StringIO("".join(rejudging.as_csv(report)))))
    assert [int(line["number"]) for line in lines] == [one["number"] for one in table]
    again = rejudging.rejudge(AUTHOR)
    assert again.changed == 0 and rejudging.report(report.seq) == report and len(rejudging.reports()) == 3
    with pytest.raises(services.Unknown):
        rejudging.report(0)


def test_judged_again_after_another_plan_and_where_the_rule_changed(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    furnished()
    row = take(csv_of(simulated(["none"] * 3, coarse=1), range(1, 4)))
    assert words(judging.judged(row), "answer") == ["accepted"] * 3
    rejudging.rejudge(AUTHOR)
    text = scenario.joint_text("kn-gb-006").replace("passes = [40, 100]", "passes = [60, 100]")
    services.add_joint(text, "b.toml", AUTHOR)
    report = rejudging.rejudge(AUTHOR)
    assert report.changed == 3 and report.thresholds == ()
    assert {cause for _, cause, _, _ in report.causes} == {"limit T_low"}
    # The code of a rule changed: the present one does not give the old verdict from the old numbers.
    from evenpull.curve import verdicts as code

    monkeypatch.setitem(code._RULES, "step order", lambda g: (np.ones(len(g.f), bool), np.ones(len(g.f), bool)))
    for module in (judging, rejudging):
        monkeypatch.setattr(module, "RULES_VERSION", version_of(99, THRESHOLDS_TEXT))
    report = rejudging.rejudge(AUTHOR)
    assert report.changed == 3 and {(rule, cause) for rule, cause, _, _ in report.causes} == {
        ("step order", "the rule itself")}


def test_what_a_curve_says_is_open_until_a_person_decides(anywhere: Path) -> None:
    furnished()
    services.commit_file("r.csv", records(range(1, 5)), MAPPING, AUTHOR)
    before = services.joint(STEEL_JOINT)
    assert before.around.curves is None and codes_of() == []
    row = take(csv_of(simulated(["none", "none", "re-hit", "stopped"], coarse=1), range(1, 5)))
    view = services.joint(STEEL_JOINT)
    assert codes_of() == [("curve finding", 3), ("curve in doubt", 4)]
    flag = next(f for f in view.proof.open_flags if f.code == "curve finding")
    assert "fastener 3, pass 1" in flag.text and "re-hit" in flag.text and "look before it is released" in flag.text
    assert flag.records and flag.key in next(
        c for c in view.proof.cells if (c.fastener, c.pass_number) == (3, 1)).flags
    assert any("curve" in reason for reason in view.decision.reasons)
    with pytest.raises(services.Refused, match="cannot close 'curve finding'"):
        services.dispose(STEEL_JOINT, flag.key, "accept as is", REASON, AUTHOR)
    assert services.dispose(STEEL_JOINT, flag.key, "engineering review", REASON, AUTHOR)
    assert codes_of() == [("curve in doubt", 4)]
    # The other cells and flags are as they were.
    flags = {f.key for f in services.joint(STEEL_JOINT).proof.flags}
    assert {f.key for f in before.proof.flags} <= flags and [c.verdict for c in view.proof.cells] == [
        c.verdict for c in before.proof.cells]
    kept.withdraw(row.seq, "traces of the test bench", AUTHOR)
    assert services.joint(STEEL_JOINT).around.curves is None and codes_of() == []


def test_without_record_the_fastener_that_the_curve_states_counts(anywhere: Path) -> None:
    furnished()
    take(csv_of(simulated(["slip", "none"], coarse=1), [70, 71]))
    (flag,) = [f for f in services.joint(STEEL_JOINT).proof.open_flags if f.code == "curve finding"]
    assert flag.fastener == 1 and not flag.records and "no record of it is here" in flag.text
    note = next(f for f in services.joint(STEEL_JOINT).proof.flags if f.code == "curves and records")
    assert not note.blocking and "2 curves name records that are not here" in note.text
    assert services.joint("KN-CW-008").around.curves is None


def test_the_list_of_joints_knows_of_it(anywhere: Path) -> None:
    furnished()
    findings.refresh()
    held = {one.id: one.open_flags for one in services.joints()}
    take(csv_of(simulated(["slip", "none"], coarse=1), [1, 2]))
    findings.refresh()
    assert findings.differing() == []
    now = {one.id: one.open_flags for one in services.joints()}
    assert now[STEEL_JOINT] == held[STEEL_JOINT] + 1 and now["KN-CW-008"] == held["KN-CW-008"]
    services.commit_file("late.csv", records(range(1, 3)), MAPPING, AUTHOR)
    findings.refresh()
    assert findings.differing() == [] and index_check.differences() == []
