"""A file of an unknown layout in hostile hands: answers, names and texts that are none, files and names of others."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from evenpull.intake.limits import MAX_MAPPING, MAX_ROWS
from evenpull.store import services
from tests.hostile.test_pages import sha_of, text_of
from tests.store.test_suggesting import HEAD, ROWS, ZONE, line, listed

ADDRESS = "/intake/suggest/"
SETTLED = {"a:time.zone": ZONE["time.zone"]}
SPOILED = ["", "a = 1\x00", "a=" + "[" * 5000, "a = " + "9" * 6000, "#" * (MAX_MAPPING + 1), "form = 1"]


def send(client: Client, data: bytes, name: str = "list.csv") -> Any:
    return client.post(ADDRESS, {"file": SimpleUploadedFile(name, data)})


def waits(client: Client, data: bytes, **more: str) -> dict[str, str]:
    """What a form of the page sends for a file that waits."""
    return {"sha256": sha_of(send(client, data)), "name": "list.csv", **more}


def confirmed(client: Client, form: dict[str, str], **more: str) -> Any:
    """What the last button of the page sends, with other fields in it."""
    page = text_of(client.post(ADDRESS, form | SETTLED))
    found = re.search(r'action="([^"]+)"[^>]* id="confirm"', page)
    assert found is not None
    return client.post(found[1], form | SETTLED | {"do": "commit"} | more)


def mapping_in(response: Any) -> str:
    found = re.search(r'name="text" value="([^"]*)"', text_of(response))
    assert found is not None
    return html.unescape(found[1])


@pytest.mark.parametrize(
    "answer",
    ['Europe/London"\n[columns]\njoint = "x', "Europe/London\x00", "Europe/London\x1b[0m", "\u202eEurope/London",
     "../../etc/passwd", "/etc/localtime", "Europe", ".", "x" * 5000],
)  # fmt: skip
def test_an_answer_that_is_none_stays_open(unharmed: Path, person: Client, answer: str) -> None:
    page = person.post(ADDRESS, waits(person, listed(*ROWS), **{"a:time.zone": answer}))
    assert page.status_code == 200 and "is no answer to it" in text_of(page)
    assert 'id="confirm"' not in text_of(page) and "What you have to say (1)" in text_of(page)


@pytest.mark.parametrize("key", ["columns.joint", "torque.unit", "file.decimal", "particular.heat", "nonsense", ""])
@pytest.mark.parametrize("answer", ['a"b\n[x]', "\x00", "9" * 400])
def test_answers_to_what_was_not_asked_write_nothing(unharmed: Path, person: Client, key: str, answer: str) -> None:
    page = person.post(ADDRESS, waits(person, listed(*ROWS), **SETTLED, **{f"a:{key}": answer}))
    assert page.status_code in (200, 422)


@pytest.mark.parametrize("do", ["edit", "commit"])
@pytest.mark.parametrize("text", SPOILED)
def test_a_text_that_is_no_mapping(unharmed: Path, person: Client, text: str, do: str) -> None:
    form = waits(person, listed(*ROWS))
    if do == "commit":
        page = confirmed(person, form, text=text)
    else:
        page = person.post(ADDRESS, form | SETTLED | {"do": do, "text": text})
        if not text:  # nothing was typed: the suggestion stands
            assert page.status_code == 200
            return
    assert page.status_code == 422 and "nothing was written" in text_of(page)


def test_names_of_files_and_places_of_others(unharmed: Path, person: Client) -> None:
    form = waits(person, listed(*ROWS), **SETTLED)
    for sha in ("../../records.sqlite3", "0" * 64, "", "A" * 64):
        assert person.post(ADDRESS, form | {"sha256": sha}).status_code == 302
    shown = person.post(ADDRESS, form | {"name": "a/../../etc/passwd"})
    assert shown.status_code == 200 and "passwd" in text_of(shown) and "../" not in text_of(shown)
    assert person.post(ADDRESS, form | {"name": "x" * 300}).status_code == 302  # refused in words


def test_a_text_that_was_never_shown_needs_the_same_care(furnished: Path, person: Client) -> None:
    """The one who confirms is the one who writes: under the name of the session, whatever the form says."""
    text = services.suggest_mapping("list.csv", listed(*ROWS), ZONE).text
    form = waits(person, listed(*ROWS))
    assert confirmed(person, form, text=text, author="Somebody Else", by="Somebody Else").status_code == 302
    assert {row.author for row in services.files()} == {"Ines Harrowgate"}
    assert services.check_log() == []


def test_a_stranger_takes_nothing_in(unharmed: Path, stranger: Client) -> None:
    page = send(stranger, listed(*ROWS))
    assert page.status_code == 302 and page["location"].startswith("/who/")
    waiting = unharmed / "incoming"
    assert not waiting.exists() or not list(waiting.iterdir())


def test_the_name_of_the_mapping_never_renames_a_column(furnished: Path, person: Client) -> None:
    """A text edited by hand spells its name in its own way; the name asked for is the mapping's all the same."""
    data = listed(*(f"{one};WO-7" for one in ROWS), head=f"{HEAD};Work order")
    form = waits(person, data, **SETTLED)
    text = mapping_in(person.post(ADDRESS, form)).replace("name = ", "name=", 1)
    page = confirmed(person, form, text=text, title="heat")
    assert page.status_code == 302
    assert "heat" in [row.name for row in services.mappings()]
    (record, *_) = services.joint("KN-CW-008").tightenings
    assert record.particulars["work_order"].text == "WO-7" and "heat" not in record.particulars


@pytest.mark.parametrize("title", ["x" * 201, "a\x1bb", "\u202eb"])
def test_a_name_no_mapping_can_have(unharmed: Path, person: Client, title: str) -> None:
    form = waits(person, listed(*ROWS), **SETTLED)
    text = mapping_in(person.post(ADDRESS, form))
    page = confirmed(person, form, text=text, title=title)
    assert page.status_code == 422 and "the name of the mapping" in text_of(page)


def test_more_rows_than_a_file_may_have(unharmed: Path, person: Client) -> None:
    """Refused in words at the preview at the latest; the suggestion itself looks at the first rows only."""
    data = listed(*[line(100 + n, 1 + n % 8) for n in range(50)] * (MAX_ROWS // 50 + 1))
    page = send(person, data)
    if page.status_code == 200:
        page = person.post(ADDRESS, {"sha256": sha_of(page), "name": "list.csv", **SETTLED})
    assert page.status_code in (302, 422)
    said = text_of(page if page.status_code == 422 else person.get("/intake/"))
    assert f"{MAX_ROWS:,}" in said or str(MAX_ROWS) in said
