"""Calculations are facts: written once, kept as received, revised, and computed again when they are looked at."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenpull.demo import scenario
from evenpull.evidence import verify
from evenpull.plan import SpecificationError
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import calculating
from tests.calculation.files import changed, plain
from tests.store.samples import AUTHOR, furnish

NAME = "kn-cw-014-c1"
ID = "KN-CW-014-C1"


@pytest.fixture
def kept(anywhere: Path) -> Path:
    furnish("kn-cw-014")
    services.add_calculation(scenario.calculation_text(NAME), f"{NAME}.toml", AUTHOR)
    return anywhere


def test_the_text_is_kept_as_received_and_the_outcome_with_it(kept: Path) -> None:
    text = scenario.calculation_text(NAME)
    view = services.calculation(ID)
    assert view.sheet.calculation.text == text and view.row.digest == view.sheet.calculation.digest
    assert view.row.author == AUTHOR and view.row.joint == "KN-CW-014" and view.latest and not view.differs
    titles = [part.rule_set.title for part in view.sheet.parts]
    assert [title for title, _ in view.row.outcome] == titles
    assert services.check_log() == []


def test_the_same_text_again_changes_nothing(kept: Path) -> None:
    before = services.log_status()
    row = services.add_calculation(scenario.calculation_text(NAME), "copy.toml", AUTHOR)
    assert not row.changed and services.log_status() == before


def test_a_revision_leaves_the_earlier_one_readable(kept: Path) -> None:
    text = changed(scenario.calculation_text(NAME), 'torque = "520 N.m"', 'torque = "560 N.m"')
    text = changed(text, 'revision = "A"', 'revision = "B"')
    services.add_calculation(text, "second.toml", AUTHOR)
    now, then = services.calculation(ID), services.calculation(ID, 1)
    assert (now.row.number, now.row.revision, len(now.revisions)) == (2, "B", 2)
    assert not then.latest and then.sheet.calculation.case.tightening.torque == 520.0
    assert now.sheet.calculation.case.tightening.torque == 560.0
    assert [row.id for row in services.calculations()] == [ID] == [row.id for row in services.calculations("KN-CW-014")]
    assert services.calculations("KN-TB-001") == []


def test_another_outcome_of_a_later_version_is_seen(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # As if this version computed something else than was kept when the revision was written.
    monkeypatch.setattr(calculating, "outcome", lambda sheet: (("Flange assembly by root area", "not accepted"),))
    assert services.calculation(ID).differs


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('joint = "KN-CW-014"', 'joint = "KN-CW-041"', "near: KN-CW-014"),
        ('id = "KN-CW-014-C1"', 'id = "kn-cw-014-c1"', "only in capitals"),
    ],
)
def test_refusals_write_nothing(kept: Path, old: str, new: str, says: str) -> None:
    before = services.log_status()
    with pytest.raises(services.Refused, match=says):
        services.add_calculation(changed(scenario.calculation_text(NAME), old, new), "x.toml", AUTHOR)
    assert services.log_status() == before


def test_faults_and_a_missing_name_write_nothing(kept: Path) -> None:
    before = services.log_status()
    with pytest.raises(SpecificationError):
        services.add_calculation("form = 1", "x.toml", AUTHOR)
    with pytest.raises(services.Refused, match="own name"):
        services.add_calculation(plain(), "x.toml", " ")
    assert services.log_status() == before


def test_unknown_names_get_near_ones(kept: Path) -> None:
    with pytest.raises(services.Unknown, match=ID):
        services.calculation("KN-CW-014-C2")
    with pytest.raises(services.Unknown, match="1 to 1"):
        services.calculation(ID, 2)


def test_a_text_that_later_rules_refuse_is_said_not_hidden(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from evenpull.plan.errors import Fault

    def stricter(text: str, file: str) -> None:
        raise SpecificationError([Fault(file, 3, "bolt.thread", "", "is refused now", "")])

    monkeypatch.setattr(calculating, "_sheet", stricter)
    with pytest.raises(services.Refused, match="earlier rules"):
        services.calculation(ID)


def test_sheet_as_pdf_and_in_the_bundle_of_its_joint(kept: Path, tmp_path: Path) -> None:
    pdf = services.calculation_pdf(ID)
    assert "KN-CW-014-C1" in PdfReader(BytesIO(pdf)).pages[0].extract_text()
    with pytest.raises(services.Refused, match="no paper"):
        services.calculation_pdf(ID, paper="a3")
    bundle = services.export_bundle("KN-CW-014", tmp_path / "one.zip")
    assert verify(bundle).ok
    assert Fact.objects.filter(kind="calculation", joint="KN-CW-014").count() == 1


def test_a_calculation_changes_no_verdict_of_the_joint(kept: Path) -> None:
    before = services.joint("KN-CW-014")
    services.add_calculation(
        changed(scenario.calculation_text(NAME), f'id = "{ID}"', 'id = "OTHER-1"'), "other.toml", AUTHOR
    )
    after = services.joint("KN-CW-014")
    assert (before.standing, before.proof_digest) == (after.standing, after.proof_digest)
