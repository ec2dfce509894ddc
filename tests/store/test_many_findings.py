"""Findings of many joints made together are those that each joint gets by itself, whoever writes meanwhile."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from evenpull.intake import from_json
from evenpull.intake.record import Tightening
from evenpull.store import services
from evenpull.store.models import Fact, Finding
from evenpull.store.services import around, facts, findings, judging, register
from tests.store.samples import AUTHOR, MAPPING, file_of, many, row
from tests.store.test_dossier import hall

__all__ = ["hall"]


def kept() -> list[tuple[Any, ...]]:
    names = [field.name for field in Finding._meta.fields]
    return list(Finding.objects.order_by("joint").values_list(*names))


def test_together_and_one_by_one_give_the_same(hall: Path) -> None:
    names = register.joint_ids()
    assert len(names) > 1
    services.commit_file("more.csv", many(5, start=700, joint=names[0].lower(), tool="TW-0207"), MAPPING, AUTHOR)
    together = [(one.joint, one.summary, one.sheet, one.good_until, one.upto) for one in findings.compute_many(names)]
    alone = [findings.compute(name) for name in names]
    assert together == [(one.joint, one.summary, one.sheet, one.good_until, one.upto) for one in alone]


def test_rebuilt_findings_have_every_value_of_the_stored_ones(hall: Path) -> None:
    services.refresh()
    before, heard = kept(), list[tuple[int, int]]()
    assert before and all(one[0] for one in before)
    assert findings.rebuild(lambda done, count: heard.append((done, count))) == len(before)
    assert kept() == before and heard[-1] == (len(before), len(before))
    Finding.objects.filter(joint=before[0][0]).update(state="released", joint_class="A", summary="{}")
    assert findings.differing(lambda done, count: heard.append((done, count))) == [before[0][0]]
    findings.rebuild()
    Finding.objects.filter(joint=before[0][0]).update(seal="0" * 64)
    assert findings.differing() == [before[0][0]]


def test_who_writes_meanwhile_is_seen(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The facts of all joints are read, then somebody writes: nothing made from the old facts is kept as fresh."""
    names, real = register.joint_ids(), findings.compute
    written = list[str]()

    def compute(name: str) -> Finding:
        if not written:
            written.append(name)
            services.commit_file("now.csv", many(3, start=800, joint=name), MAPPING, AUTHOR)
        return real(name)

    monkeypatch.setattr(findings, "compute", compute)
    Finding.objects.update(stale=True)
    findings.refresh()
    assert written and findings.differing() == []
    sizes = set(Finding.objects.filter(joint__in=names).values_list("upto", flat=True))
    assert sizes == {judging.log_size()}


def test_held_facts_are_those_of_the_database(hall: Path) -> None:
    names = register.joint_ids()
    wanted = {name: [fact.seq for fact in facts.of_joint(name)] for name in names}
    last = {name: facts.last_of_joint(name, "specification") for name in names}
    places = list(Fact.objects.values_list("seq", flat=True))
    with facts.held(names):
        assert {name: [fact.seq for fact in facts.of_joint(name)] for name in names} == wanted
        assert {name: facts.last_of_joint(name, "specification") for name in names} == last
        assert facts.last_of_joint(names[0].lower(), "specification") is None
        once, again = facts.by_seq(places), facts.by_seq([*places, 10**9])
        assert [fact.seq for fact in once] == sorted(places) == [fact.seq for fact in again]
        assert [fact.data for fact in once] == [fact.data for fact in Fact.objects.order_by("seq")]
        assert facts.of_joint("KN-NOT-THERE") == []
    assert not facts.is_held()


def test_pulls_elsewhere_are_found_as_by_comparing_each_with_each(hall: Path) -> None:
    """Same tool, torque and angle within two seconds: the quick way against the plain one."""
    one, other = register.joint_ids()[:2]
    numbers = range(900, 960)
    moments = ("41,2", "41,3", "40,9")
    services.commit_file("a.csv", file_of(row(n, joint=one, moment=moments[n % 3]) for n in numbers), MAPPING, AUTHOR)
    services.commit_file(
        "b.csv", file_of(row(n + 3000, joint=other, moment=moments[n % 2]) for n in range(0, 900)), MAPPING, AUTHOR
    )
    services.commit_file(
        "c.csv", file_of(row(n, joint=other, moment=moments[n % 2], memory="B") for n in numbers), MAPPING, AUTHOR
    )

    def of(name: str) -> list[Tightening]:
        found = (from_json(fact.data) for fact in facts.of_joint(name, "tightening"))
        return [record for record in found if isinstance(record, Tightening)]

    mine = [r for r in of(one) if r.time is not None]
    plain = {
        r.key for name in register.joint_ids() if name != one for r in of(name)
        for m in mine
        if r.time is not None and m.time is not None and r.tool == m.tool and (r.torque, r.angle) == (m.torque, m.angle)
        and abs((r.time - m.time).total_seconds()) <= around.CLOSE
    }  # fmt: skip
    found = {r.key for r in around._elsewhere(register.specification(one), mine)}
    assert found == plain and len(plain) > 5
