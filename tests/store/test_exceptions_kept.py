"""Exceptions from gates in the dossier: what each covers is fixed when it is written, and one that would cover nothing
is refused."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from evenpull.demo import scenario
from evenpull.ledger.entry import Entry
from evenpull.proof.model import GateResult
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import findings
from tests.store.samples import AUTHOR, MAPPING, file_of, row
from tests.store.test_dossier import hall

__all__ = ["hall"]
JOINT, OTHER = "KN-BH-021", "S. Quillfeather"


def moved(counter: int, bolt: int) -> None:
    """A check pass on one fastener, which turned 30 degrees."""
    mapping = scenario.mapping_text("semicolon-log").replace('"C" = "4"', '"C" = "3"')  # this joint has two passes
    services.add_mapping(mapping, "semicolon-log.toml", AUTHOR)
    text = row(counter, joint=JOINT, tool="TW-0241", moment="36,0", bolt=bolt, day="24.03.2026")
    text = text.replace(f";{bolt};1;", f";{bolt};C;").replace("12,0", "30,0")
    services.commit_file(f"late-{counter}.csv", file_of([text]), MAPPING, AUTHOR)


def excepted(author: str = OTHER, gate: str = "last pass", **more: Any) -> Entry:
    values = {"gate": gate, "authority": "engineer of record"}
    return services.add_entry("exception", JOINT, values, author, reason="the cover is load-free", **more)


def last_pass() -> GateResult:
    return next(one for one in services.joint(JOINT).proof.gates if one.name == "last pass")


def test_it_is_written_with_what_it_covers_and_settles_that(hall: Path) -> None:
    moved(9001, 2)
    against = last_pass().against
    assert len(against) == 1 and services.joint(JOINT).decision.state == "not released"
    made = excepted(fasteners="2")
    assert made.covers == against == tuple(Fact.objects.get(seq=made.seq).data["covers"])
    view = services.joint(JOINT)
    assert last_pass().state == "excepted" and view.decision.state == "released with follow-up"
    assert any("rest is not shown" in one and OTHER in one for one in view.decision.follow_ups)
    moved(9002, 3)  # another one, received later
    assert last_pass().state == "not met" and "only fastener 2 excepted" in last_pass().reason
    assert services.joint(JOINT).decision.state == "not released"


@pytest.mark.parametrize(
    ("more", "words"),
    [({"gate": "pass order"}, "nothing stands against it"), ({"fasteners": "4"}, "on other fasteners"),
     ({"at": datetime(2026, 3, 23, tzinfo=UTC)}, "not known to be older")],
)  # fmt: skip
def test_one_that_would_cover_nothing_is_refused_and_leaves_nothing(
    hall: Path, more: dict[str, Any], words: str
) -> None:
    moved(9001, 2)
    count = Fact.objects.count()
    with pytest.raises(services.Refused, match=words):
        excepted(**more)
    assert Fact.objects.count() == count and last_pass().state == "not met"


def test_an_operator_of_the_joint_writes_none(hall: Path) -> None:
    moved(9001, 2)
    operator = services.joint(JOINT).tightenings[0].operator
    with pytest.raises(services.Refused, match="needs another person"):
        excepted(operator)


def test_one_written_before_the_records_came_covers_none_of_them(hall: Path) -> None:
    with pytest.raises(services.Refused, match="nothing stands against it now"):
        excepted()
    moved(9001, 2)
    later = services.joint(JOINT).files[-1].received_at + timedelta(microseconds=1)
    assert excepted(at=later).covers == last_pass().against


def test_it_is_made_of_the_facts_again(hall: Path) -> None:
    moved(9001, 2)
    excepted()
    before = services.joint(JOINT).proof
    findings.rebuild()
    assert services.joint(JOINT).proof == before and not findings.differing()
