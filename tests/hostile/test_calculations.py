"""Calculations on the pages: written with a name only, faults shown with line, nothing in a text is run."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from evenpull.store import services
from tests.calculation.files import changed, plain

SCRIPT = "<script>alert(1)</script>"


def text_of(response: Any) -> str:
    return str(response.content.decode())


def post(client: Client, text: str, do: str = "save", **more: Any) -> Any:
    return client.post("/new-calculation/", {"text": text, "do": do, **more})


def test_a_calculation_is_written_from_text_and_from_a_file(furnished: Path, person: Client) -> None:
    assert post(person, plain()).status_code == 302
    page = text_of(person.get("/calculations/T-1/"))
    assert "Textbook" in page and "T-SPEC 1" in page and "<svg" in page
    other = changed(plain(), 'id = "T-1"', 'id = "T-2"')
    assert post(person, "", file=SimpleUploadedFile("two.toml", other.encode())).status_code == 302
    assert [row.id for row in services.calculations()] == ["T-1", "T-2"]
    assert services.calculation("T-2").row.file == "two.toml"
    assert services.check_log() == []


def test_a_check_writes_nothing(unharmed: Path, person: Client) -> None:
    page = post(person, plain(), "check")
    assert page.status_code == 200 and "Nothing has been written yet" in text_of(page)


def test_without_a_name_nothing_is_written(unharmed: Path, stranger: Client) -> None:
    answer = post(stranger, plain())
    assert answer.status_code == 302 and answer["Location"].startswith("/who/")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (changed(plain(), 'thread = "M12"', 'thread = "M13"'), "bolt.thread"),
        ("", "empty"), ("form = [", "this is no TOML"), ("x = 1\n" * 40_000, "characters"),
        (changed(plain(), 'name = "cover"', 'name = "co\\u0000ver"'), "U+0000"),
        (changed(plain(), "[calculation]", '[calculation]\njoint = "NO-SUCH"'), "no joint"),
    ],
)
def test_faults_are_shown_with_their_place(unharmed: Path, person: Client, text: str, says: str) -> None:
    page = post(person, text)
    assert page.status_code == 422 and says in text_of(page)


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"\x00" * 10, b"PK\x03\x04"])
def test_a_file_that_is_no_text_is_refused(unharmed: Path, person: Client, data: bytes) -> None:
    assert post(person, "", file=SimpleUploadedFile("x.toml", data)).status_code == 422


def test_texts_are_shown_and_not_run(furnished: Path, person: Client) -> None:
    text = plain().replace('name = "cover"', f'name = "{SCRIPT}"').replace("T-SPEC 1", SCRIPT)
    text = text.replace('part = "frame"', f'part = "{SCRIPT}"').replace("bolt steel", SCRIPT)
    assert post(person, text).status_code == 302
    for path in ("/calculations/", "/calculations/T-1/", "/calculations/T-1/change/"):
        page = text_of(person.get(path))
        assert SCRIPT not in page and "&lt;script&gt;" in page, path
    assert person.get("/calculations/T-1/sheet.pdf").status_code == 200


def test_addresses_that_are_none(furnished: Path, person: Client) -> None:
    post(person, plain())
    for path in ("/calculations/T-9/", "/calculations/T-1/?revision=9", "/calculations/T-1/?revision=x",
                 "/calculations/T-1/sheet.pdf?revision=0", "/calculations/T-9/sheet.pdf", "/calculations/T-9/change/"):
        assert person.get(path).status_code == 404, path
    assert person.get("/calculations/T-1/sheet.pdf?paper=a9").status_code == 409
    assert person.post("/calculations/T-1/").status_code == 405


def test_a_revision_keeps_its_id(furnished: Path, person: Client) -> None:
    post(person, plain())
    other = changed(plain(), 'id = "T-1"', 'id = "T-3"')
    page = person.post("/calculations/T-1/change/", {"text": other, "do": "save"})
    assert page.status_code == 422 and "keeps its id T-1" in text_of(page)
    again = changed(plain(), 'revision = "A"', 'revision = "B"')
    assert person.post("/calculations/T-1/change/", {"text": again, "do": "save"}).status_code == 302
    assert "revision B" in text_of(person.get("/calculations/T-1/"))
    assert "earlier revision" in text_of(person.get("/calculations/T-1/?revision=1"))
