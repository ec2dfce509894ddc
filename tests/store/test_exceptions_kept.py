"""Exceptions from gates in the dossier: what each covers is fixed when it is written, and one that would cover nothing
is refused."""

from __future__ import annotations

import inspect
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from evenpull.demo import scenario
from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.entry import Entry, EntryError
from evenpull.proof.model import GateResult
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import findings
from tests.store.samples import AUTHOR, MAPPING, file_of, furnish, row
from tests.store.test_dossier import hall

__all__ = ["hall"]
JOINT, PUMP, OTHER = "KN-BH-021", "KN-CW-008", "S. Quillfeather"


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


@pytest.mark.parametrize("kind", ["hand-over", "interruption", "tool change", "method change"])
def test_a_change_in_the_middle_of_a_pass_keeps_the_state_it_happened_in(anywhere: Path, kind: str) -> None:
    furnish()
    rows = [row(n, bolt=n) for n in range(1, 6)]  # five of eight fasteners of the first round
    services.commit_file("first.csv", file_of(rows), MAPPING, AUTHOR)
    values = {
        "hand-over": {"from": "A. Vance", "to": "B. Quayle", "pass": "1", "last": "5"},
        "interruption": {"why": "storm", "pass": "1", "last": "5"},
        "tool change": {"from": "TW-0207", "to": "TW-0219", "why": "dropped", "pass": "1"},
        "method change": {"from": "torque", "to": "turn", "evidence": "marks photographed", "authority": "engineer"},
    }[kind]
    more = {"reason": "the wrench fell"} if kind == "method change" else {}
    view = services.joint(PUMP)
    made = services.add_entry(kind, PUMP, values, OTHER, **more)
    state = Fact.objects.get(seq=made.seq).data["state"]
    accepted = {(c.pass_number, c.fastener) for c in view.proof.cells if c.verdict == "accepted"}
    assert {(int(place.split("|")[1]), n) for place, numbers in state["accepted"].items() for n in numbers} == accepted
    assert state["records"] == 5 and state["open"] == len(view.proof.open_flags)
    assert state["proof"] == view.proof_digest
    services.commit_file("second.csv", file_of([row(n, bolt=n) for n in range(6, 9)]), MAPPING, AUTHOR)
    assert Fact.objects.get(seq=made.seq).data["state"] == state  # as it was, whatever comes later


def test_a_time_of_writing_cannot_be_given(anywhere: Path) -> None:
    """What happened may lie back and says so; when it was written is the program's own clock."""
    furnish()
    before = datetime.now(UTC)
    long_ago = before - timedelta(days=40)
    with pytest.raises(EntryError, match="more than a day after it happened"):
        services.add_entry("interruption", PUMP, {"why": "storm", "pass": "1"}, OTHER, at=long_ago)
    made = services.add_entry(
        "interruption", PUMP, {"why": "storm", "pass": "1"}, OTHER, at=long_ago, basis="was told",
        reason="the card came back today",
    )  # fmt: skip
    fact = Fact.objects.get(seq=made.seq)
    assert made.late and made.at == long_ago and made.basis == "was told"
    assert read_moment(fact.written_at) >= before and read_moment(fact.received_at) >= before
    assert "written_at" not in inspect.signature(services.add_entry).parameters
    assert "at" not in inspect.signature(services.dispose).parameters
    assert any(flag.code == "late entry" for flag in services.joint(PUMP).proof.flags)


def test_it_is_made_of_the_facts_again(hall: Path) -> None:
    moved(9001, 2)
    excepted()
    before = services.joint(JOINT).proof
    findings.rebuild()
    assert services.joint(JOINT).proof == before and not findings.differing()
