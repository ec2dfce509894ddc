"""Predictions on the pages: written with a name only, faults shown with line, nothing in a text is run or trusted."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from evenpull.prediction.guide import ring_template
from evenpull.store import services
from tests.hostile.test_calculations import SCRIPT, text_of
from tests.prediction.files import PLAIN, changed, line_of

PAGE = "/predictions/T-R1/"


def post(client: Client, text: str, do: str = "save", **more: Any) -> Any:
    return client.post("/new-prediction/", {"text": text, "do": do, **more})


def test_a_prediction_is_written_from_text_and_from_a_file(furnished: Path, person: Client) -> None:
    assert post(person, PLAIN).status_code == 302
    page = text_of(person.get(PAGE))
    for words in ("cover", "predicted, not measured", "interaction only", "does not show that an order", "<svg"):
        assert words in page, words
    other = changed(PLAIN, 'id = "T-R1"', 'id = "T-R2"')
    assert post(person, "", file=SimpleUploadedFile("two.toml", other.encode())).status_code == 302
    assert [row.id for row in services.predictions()] == ["T-R1", "T-R2"]
    assert services.prediction("T-R2").row.file == "two.toml"
    listed = text_of(person.get("/predictions/"))
    assert "T-R1" in listed and "T-R2" in listed and services.check_log() == []


def test_the_template_can_be_checked_as_it_is_and_writes_nothing(unharmed: Path, person: Client) -> None:
    page = post(person, ring_template(), "check")
    assert page.status_code == 200 and "Nothing has been written yet" in text_of(page)


def test_without_a_name_nothing_is_written(unharmed: Path, stranger: Client) -> None:
    answer = post(stranger, PLAIN)
    assert answer.status_code == 302 and answer["Location"].startswith("/who/")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("count = 8", "count = 2", "bolt.count"), ('thread = "M20"', 'thread = "M21"', "bolt.thread"),
        ('circle = "290 mm"', 'circle = "150 mm"', "bolt.circle"),
        ('["0.3 mm", "60 MPa"]', '["0.3 mm", "4 MPa"]', "facing.curve"),
        ('id = "T-R1"', 'id = "T-R1"\njoint = "NO-SUCH"', "no joint"),
        ('name = "cover"', 'name = "co\\u0000v"', "U+0000"),
        ("passes = [0.5, 1.0]", "passes = [1e400]", "passes"),
    ],
)  # fmt: skip
def test_faults_are_shown_with_their_place_and_nothing_is_lost(
    unharmed: Path, person: Client, old: str, new: str, says: str
) -> None:
    text = changed(PLAIN, old, new)
    page = post(person, text)
    assert page.status_code == 422 and says in text_of(page)
    assert page.context["text"] == text


def test_a_fault_names_its_line(unharmed: Path, person: Client) -> None:
    text = changed(PLAIN, 'thread = "M20"', 'thread = "M21"')
    assert f"ring.toml:{line_of(text, 'M21')}" in text_of(post(person, text))


@pytest.mark.parametrize("text", ["", "form = [", "x = 1\n" * 90_000, 'form = "evenpull joint 1"'])
def test_what_is_no_ring_file_is_refused(unharmed: Path, person: Client, text: str) -> None:
    assert post(person, text).status_code == 422


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"\x00" * 10, b"PK\x03\x04"])
def test_a_file_that_is_no_text_is_refused(unharmed: Path, person: Client, data: bytes) -> None:
    assert post(person, "", file=SimpleUploadedFile("x.toml", data)).status_code == 422


def test_texts_are_shown_and_not_run(furnished: Path, person: Client) -> None:
    text = PLAIN.replace('name = "cover"', f'name = "{SCRIPT}"').replace("T-SPEC 1", SCRIPT)
    text = text.replace('name = "star"', f'name = "{SCRIPT}</script>"').replace("T-SHEET 2", SCRIPT)
    assert post(person, text).status_code == 302
    for path in ("/predictions/", PAGE, f"{PAGE}?a=1&b=1", f"{PAGE}change/", f"{PAGE}plan/"):
        page = text_of(person.get(path))
        assert SCRIPT not in page and "&lt;script&gt;" in page, path
    assert person.get(f"{PAGE}prediction.pdf").status_code == 200


def test_addresses_that_are_none(furnished: Path, person: Client) -> None:
    post(person, PLAIN)
    for path in ("/predictions/T-R9/", f"{PAGE}?revision=9", f"{PAGE}?revision=x", f"{PAGE}?a=2", f"{PAGE}?a=0",
                 f"{PAGE}?b=-1", f"{PAGE}?pull_a=25", f"{PAGE}?pull_a=99999999", f"{PAGE}plan/?procedure=7",
                 f"{PAGE}plan/?joint=NO-SUCH", f"{PAGE}prediction.pdf?revision=0", "/predictions/T-R9/plan/"):
        assert person.get(path).status_code == 404, path
    assert person.get(f"{PAGE}prediction.pdf?paper=a9").status_code == 409
    assert person.get(f"{PAGE}intervals/").status_code == 409  # no scatter is stated
    for path in (PAGE, f"{PAGE}plan/", f"{PAGE}found/"):
        assert person.post(path).status_code == 405


def test_each_pull_can_be_asked_for_without_scripts(furnished: Path, person: Client) -> None:
    post(person, PLAIN)
    outcome = services.prediction("T-R1").result.outcomes[0]
    for pull in (0, 5, 24):
        page = text_of(person.get(f"{PAGE}?pull_a={pull}"))
        load = outcome.loads[pull - 1][0] if pull else 0.0
        assert f'<li data-bolt="1"><b>1</b> <span class="kn">{load / 1e3:.1f} kN</span>' in page
    (bolt,) = outcome.procedure.pulls[4].bolts
    assert f"pull 5 of 24: bolt {bolt} to 50 %" in text_of(person.get(f"{PAGE}?pull_a=5"))


def test_a_draft_of_a_plan_writes_nothing_and_says_why_it_cannot_be(furnished: Path, person: Client) -> None:
    text = changed(PLAIN, 'id = "T-R1"', 'id = "T-R1"\njoint = "KN-CW-008"')
    short = text + '[[procedure]]\nname = "short"\norder = "star"\npasses = [0.5, 0.9]\n'
    assert post(person, short).status_code == 302
    before = services.log_status()
    good = person.get(f"{PAGE}plan/?procedure=1")
    assert good.status_code == 200 and "nobody yet" in text_of(good) and "passes = [50, 100]" in text_of(good)
    bad = person.get(f"{PAGE}plan/?procedure=2")
    assert bad.status_code == 409 and "a plan ends at 100 %" in text_of(bad)
    assert services.log_status() == before


def test_a_revision_keeps_its_id(furnished: Path, person: Client) -> None:
    post(person, PLAIN)
    other = changed(PLAIN, 'id = "T-R1"', 'id = "T-R3"')
    page = person.post(f"{PAGE}change/", {"text": other, "do": "save"})
    assert page.status_code == 422 and "keeps its id T-R1" in text_of(page)
    again = changed(PLAIN, 'revision = "A"', 'revision = "B"')
    assert person.post(f"{PAGE}change/", {"text": again, "do": "save"}).status_code == 302
    assert "revision B" in text_of(person.get(PAGE)) and "earlier revision" in text_of(person.get(f"{PAGE}?revision=1"))
