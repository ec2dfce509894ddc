"""Predictions are facts: written once, kept as received, revised, and computed again when they are looked at."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from evenpull.evidence import verify
from evenpull.plan import SpecificationError
from evenpull.plan.errors import Fault
from evenpull.ring.stepping import SteppingError
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import predicting
from tests.prediction.files import PLAIN, changed
from tests.store.samples import AUTHOR, JOINT, furnish

ID = "T-R1"
TEXT = changed(PLAIN, f'id = "{ID}"', f'id = "{ID}"\njoint = "{JOINT}"')


@pytest.fixture
def kept(anywhere: Path) -> Path:
    furnish()
    services.add_prediction(TEXT, "t-r1.toml", AUTHOR)
    return anywhere


def test_the_text_is_kept_as_received_and_what_came_out_with_it(kept: Path) -> None:
    view = services.prediction(ID)
    assert view.result.prediction.text == TEXT and view.row.digest == view.result.prediction.digest
    assert view.row.author == AUTHOR and view.row.joint == JOINT and view.latest and not view.differs
    (one,) = view.row.outcome
    outcome = view.result.outcomes[0]
    assert (one.name, one.pulls, one.verdict) == ("star", 24, outcome.verdict)
    assert one.least == pytest.approx(outcome.final.min() / 98e3, abs=1e-6)
    assert one.spread == pytest.approx((outcome.final.max() - outcome.final.min()) / 98e3, abs=2e-6)
    assert services.check_log() == []


def test_the_same_text_again_changes_nothing(kept: Path) -> None:
    before = services.log_status()
    assert not services.add_prediction(TEXT, "copy.toml", AUTHOR).changed
    assert services.log_status() == before


def test_a_revision_leaves_the_earlier_one_readable(kept: Path) -> None:
    text = changed(changed(TEXT, "passes = [0.5, 1.0]", "passes = [1.0]"), 'revision = "A"', 'revision = "B"')
    services.add_prediction(text, "second.toml", AUTHOR)
    now, then = services.prediction(ID), services.prediction(ID, 1)
    assert (now.row.number, now.row.revision, len(now.revisions)) == (2, "B", 2)
    assert now.row.outcome[0].pulls == 16 and then.row.outcome[0].pulls == 24 and not then.latest
    assert [row.id for row in services.predictions()] == [ID] == [row.id for row in services.predictions(JOINT)]
    assert services.predictions("KN-TB-001") == []


def test_another_outcome_of_a_later_version_is_seen_and_rounding_is_not(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (one,) = services.prediction(ID).now
    monkeypatch.setattr(predicting, "outcome", lambda _: (replace(one, least=one.least + 1e-4),))
    assert not services.prediction(ID).differs
    # As if this version computed something else than was kept when the revision was written.
    monkeypatch.setattr(predicting, "outcome", lambda _: (replace(one, least=one.least + 0.02),))
    view = services.prediction(ID)
    ((name, then, now),) = view.changes
    assert view.differs and name == "star" and then != now and f"least {100 * one.least:.1f} %" in then
    monkeypatch.setattr(predicting, "outcome", lambda _: ())
    assert services.prediction(ID).changes[0][2] == "not there"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (f'joint = "{JOINT}"', 'joint = "KN-CW-080"', f"near: {JOINT}"),
        ('id = "T-R1"', 'id = "t-r1"', "only in capitals"),
    ],
)
def test_refusals_write_nothing(kept: Path, old: str, new: str, says: str) -> None:
    before = services.log_status()
    with pytest.raises(services.Refused, match=says):
        services.add_prediction(changed(TEXT, old, new), "x.toml", AUTHOR)
    assert services.log_status() == before


def test_faults_and_a_missing_name_write_nothing(kept: Path) -> None:
    before = services.log_status()
    with pytest.raises(SpecificationError, match="count"):
        services.add_prediction(changed(TEXT, "count = 8", "count = 2"), "x.toml", AUTHOR)
    with pytest.raises(services.Refused, match="own name"):
        services.add_prediction(TEXT, "x.toml", " ")
    assert services.log_status() == before


def test_a_ring_without_equilibrium_is_refused_and_not_written(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(prediction: object) -> None:
        raise SteppingError("the gasket finds no equilibrium")

    monkeypatch.setattr(predicting, "predict", never)
    with pytest.raises(services.Refused, match=r"own\.toml: no prediction: the gasket finds no equilibrium"):
        services.add_prediction(PLAIN, "own.toml", AUTHOR)
    assert services.predictions() == []


def test_unknown_names_get_near_ones(kept: Path) -> None:
    with pytest.raises(services.Unknown, match=ID):
        services.prediction("T-R2")
    with pytest.raises(services.Unknown, match="1 to 1"):
        services.prediction(ID, 2)


def test_a_text_that_later_rules_refuse_is_said_not_hidden(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stricter(text: str, file: str) -> None:
        raise SpecificationError([Fault(file, 3, "bolt.thread", "", "is refused now", "")])

    monkeypatch.setattr(predicting, "result_of", stricter)
    with pytest.raises(services.Refused, match="earlier rules"):
        services.prediction(ID)


def test_it_goes_into_the_bundle_of_its_joint_and_changes_no_verdict(kept: Path, tmp_path: Path) -> None:
    before = services.joint(JOINT)
    services.add_prediction(changed(TEXT, f'id = "{ID}"', 'id = "OTHER-1"'), "other.toml", AUTHOR)
    after = services.joint(JOINT)
    assert (before.standing, before.proof_digest) == (after.standing, after.proof_digest)
    assert verify(services.export_bundle(JOINT, tmp_path / "one.zip")).ok
    assert Fact.objects.filter(kind="prediction", joint=JOINT).count() == 2
