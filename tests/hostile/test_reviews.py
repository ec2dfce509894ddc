"""The pages of reviews: what a person sees and does there, and what a hostile hand sends."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact
from tests.store.review_story import TOOL, finding, tell
from tests.store.samples import AUTHOR

FORM = {"serial": TOOL, "kind": "out of tolerance", "words": "reads high at all points", "at": "2026-09-01 15:00",
        "certificate": "KNC-26-0900", "operator": "0 %"}  # fmt: skip


def text_of(answer: Any) -> str:
    return str(answer.content.decode())


@pytest.fixture
def told(dossier: Path) -> Path:
    tell()
    return dossier


@pytest.fixture
def opened(told: Path) -> Path:
    from evenpull.store.services import reviewing

    reviewing.open_review(finding(), AUTHOR)
    return told


def test_looking_writes_nothing_and_opening_writes_once(told: Path, person: Client) -> None:
    size = Fact.objects.count()
    looked = text_of(person.post("/new-review/", FORM | {"do": "look"}))
    assert "surely too little" in looked and "Open the review</button>" in looked
    assert Fact.objects.count() == size
    form = FORM | {"do": "open", "once": "0123456789abcdef"}
    assert person.post("/new-review/", form)["Location"] == "/reviews/1/"
    person.post("/new-review/", form)
    assert Fact.objects.filter(kind="tool review").count() == 1


def test_a_stranger_opens_none(told: Path, stranger: Client) -> None:
    assert "/who/" in stranger.post("/new-review/", FORM | {"do": "open"})["Location"]
    assert not Fact.objects.filter(kind="tool review").exists()


def test_many_joints_are_decided_in_one_act_and_the_joint_says_so(opened: Path, person: Client) -> None:
    person.post("/reviews/1/decide/", {"which": "all", "worst": "surely out", "act": "re-tighten",
                                       "reason": "by its own file"})
    person.post("/reviews/1/decide/", {"which": "ticked", "joint": ["KN-XX-1"], "act": "engineering review",
                                       "reason": "test rig, scrapped"})
    assert Fact.objects.filter(kind="tool review disposition").count() == 2
    page = text_of(person.get("/reviews/1/"))
    assert "re-tighten" in page and "0 of 2 joints without a disposition" in page
    assert "review 1: TW-0301" in text_of(person.get("/joints/KN-CW-008/"))
    for what in ("cause", "action", "same type", "notices"):
        person.post("/reviews/1/said/", {"kind": what, "text": f"words on {what}"})
    page = text_of(person.get("/reviews/1/"))
    digest = page.split('name="seen" value="')[1][:64]
    person.post("/reviews/1/close/", {"statement": "all was looked at", "seen": digest})
    assert Fact.objects.filter(kind="tool review closed").count() == 1
    assert "Record the disposition" not in text_of(person.get("/reviews/1/"))
    assert "Open a review of it" in text_of(person.get(f"/audit/find/?what=tool&name={TOOL}"))


@pytest.mark.parametrize("form", [
    {"which": "ticked", "act": "re-tighten", "reason": "no joint ticked"},
    {"which": "ticked", "joint": "KN-CW-009", "act": "re-tighten", "reason": "not of it"},
    {"which": "all", "act": "burn it", "reason": "no such act"}, {"which": "all", "act": "re-tighten", "reason": "x"},
    {"which": "all", "act": "re-tighten", "reason": "elsewhere", "back": "//evil.example/", "worst": "surely in"},
])
def test_decisions_that_are_none(opened: Path, person: Client, form: dict[str, str]) -> None:
    answer = person.post("/reviews/1/decide/", form)
    assert answer.status_code == 302 and answer["Location"].startswith("/reviews/1/")
    assert not Fact.objects.filter(kind="tool review disposition").exists()


def test_words_are_shown_as_words(told: Path, person: Client) -> None:
    person.post("/new-review/", FORM | {"do": "open", "words": "<script>alert(1)</script>"})
    for path in ("/reviews/", "/reviews/1/", "/reviews/1/joint/?joint=KN-CW-008"):
        assert "<script>alert" not in text_of(person.get(path))
    assert person.get("/reviews/1/review.pdf").content[:5] == b"%PDF-"


@pytest.mark.parametrize("path", [
    "/reviews/2/", "/reviews/1/joint/?joint=nope", "/reviews/1/joint/", "/reviews/9/review.pdf"])
def test_what_is_not_there(opened: Path, person: Client, path: str) -> None:
    assert person.get(path).status_code == 404


@pytest.mark.parametrize("query", ["page=99999", "page=-1", "sort=x&worst=x&state=x&joint_class=x", "words=%00%3C"])
def test_odd_questions_are_answered(opened: Path, person: Client, query: str) -> None:
    assert person.get(f"/reviews/1/?{query}").status_code == 200


def test_lists_are_files(opened: Path, person: Client) -> None:
    csv = person.get("/reviews/1/tightenings.csv")
    assert csv["Content-Disposition"] == 'attachment; filename="review-1.csv"' and csv.content.count(b"\n") == 15
    assert person.get("/reviews/1/tightenings.xlsx").content[:2] == b"PK"
    assert services.check_log() == []
