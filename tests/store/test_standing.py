"""What a joint counts as: released only while a signature covers the specification, the records and the decisions."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from evenpull.demo import scenario
from evenpull.plan import make_plan
from evenpull.proof import decide, prove
from evenpull.store import services
from evenpull.store.models import Finding
from tests.store.samples import AUTHOR, MAPPING, file_of, row
from tests.store.test_dossier import WORDS, hall

__all__ = ["hall"]
JOINT = "KN-BH-021"


def listed() -> str:
    return next(row.state for row in services.joints() if row.id == JOINT)


def test_nobody_signed_so_it_is_not_released(hall: Path) -> None:
    view = services.joint(JOINT)
    assert view.decision.state == "released" and view.decision.signable
    assert view.standing == listed() == services.READY
    services.sign_release(JOINT, AUTHOR, WORDS, seen=view.proof_digest)
    assert services.joint(JOINT).standing == listed() == "released"


def test_a_signature_on_something_the_signer_has_not_seen_is_refused(hall: Path) -> None:
    seen = services.joint(JOINT).proof_digest
    text = scenario.joint_text("kn-bh-021")
    services.add_joint(text.replace('tolerance = "5 %"', 'tolerance = "4 %"'), "newer.toml", AUTHOR)
    assert services.joint(JOINT).proof_digest != seen
    with pytest.raises(services.Refused, match="has changed since you read it"):
        services.sign_release(JOINT, AUTHOR, WORDS, seen=seen)
    assert services.joint(JOINT).releases == ()


def test_a_revision_after_signing_takes_the_release_away(hall: Path) -> None:
    services.sign_release(JOINT, AUTHOR, WORDS)
    text = scenario.joint_text("kn-bh-021")
    assert '"36 N.m"' in text
    services.add_joint(text.replace('"36 N.m"', '"30 N.m"'), "newer.toml", AUTHOR)
    view = services.joint(JOINT)
    assert not view.covers(view.releases[0]) and view.standing == listed() == "not released"


def test_a_finding_that_somebody_wrote_into_the_table_is_not_believed(hall: Path) -> None:
    assert listed() == services.READY
    finding = Finding.objects.get(joint=JOINT)
    forged = finding.summary.replace(services.READY, "released")
    assert forged != finding.summary
    Finding.objects.filter(joint=JOINT).update(summary=forged)
    assert listed() == services.READY


def test_a_certificate_that_ends_later_takes_nothing_from_work_done_while_it_held(hall: Path) -> None:
    view = services.joint(JOINT)
    register = services.tools()
    last = max(tool.certificate_until for tool in register)
    day = date(last.year + 3, 1, 1)
    plan = make_plan(view.spec, services.tools_in_force(day), day)
    assert any(problem.code == "no valid certificate" for problem in plan.problems)
    assert decide(plan, prove(plan, view.tightenings, register=register)).state == "released"


def test_a_loosening_under_the_id_in_small_letters_reaches_the_joint(hall: Path) -> None:
    """Otherwise the joint would stay released while somebody opened it."""
    services.sign_release(JOINT, AUTHOR, WORDS)
    before = services.joint(JOINT)
    services.add_mapping(scenario.mapping_text("semicolon-log"), "semicolon-log.toml", AUTHOR)
    late = row(9001, joint=JOINT.lower(), bolt=2, day="24.03.2026").replace(";right;", ";left;")
    services.commit_file("late.csv", file_of([late]), MAPPING, AUTHOR)
    assert services.unplaced() == []
    view = services.joint(JOINT)
    assert len(view.tightenings) == len(before.tightenings) + 1
    assert JOINT.lower() in view.tightenings[-1].remarks[-1]
    assert view.standing == listed() == "not released"
    assert any(f.name == "late.csv" for f in view.files)
