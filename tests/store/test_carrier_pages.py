"""The page of carriers: made and saved, looked into, taken in once, refused with what was filled in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from evenpull.carrier import read_carrier
from evenpull.store import services
from evenpull.store.models import Fact
from tests.store.people import logged_in, opened
from tests.store.samples import AUTHOR, JOINT, MAPPING, furnish, many
from tests.store.two import another


def person(name: str) -> Client:
    client = Client(HTTP_HOST="127.0.0.1")
    client.post("/who/", {"name": name})
    return client


def test_made_here_and_taken_in_there_on_the_pages(anywhere: Path, tmp_path: Path, settings: Any) -> None:
    with another(tmp_path / "there", settings):
        furnish()
        card, _ = services.issue_card(JOINT, "a4", AUTHOR)
        client = person(AUTHOR)
        form = {"subject": "to gallery 3", "joints": f"{JOINT}\n", "cards": card.serial, "mappings": [MAPPING],
                "tools": "on", "records-mapping": MAPPING}  # fmt: skip
        before = Fact.objects.count()
        wrong = client.post("/carriers/", form | {"joints": "KN-CW-777"})
        assert wrong.status_code == 422 and "No carrier was made" in wrong.content.decode()
        assert card.serial in wrong.content.decode() and Fact.objects.count() == before
        bad = {"records": SimpleUploadedFile("run.csv", b"#!/bin/sh")}
        assert "nothing executable" in client.post("/carriers/", form | bad).content.decode()
        assert client.post("/carriers/", form | {"records": SimpleUploadedFile("m.csv", many(3))}).status_code == 302
        (row,) = services.carriers()
        assert row.made and f"/carriers/{row.sha256}.zip" in client.get("/carriers/").content.decode()
        answer = client.get(f"/carriers/{row.sha256}.zip")
        data = answer.content
        assert answer["Content-Disposition"].startswith("attachment") and read_carrier(data).subject == "to gallery 3"
        assert client.get(f"/carriers/{'0' * 64}.zip").status_code == 404
        key = services.log_status().key_id
    client = person("Odile Farrant")
    assert client.get(f"/carriers/{row.sha256}.zip").status_code == 404  # not made here

    def look(given: bytes, with_key: str) -> Any:
        return client.post("/carriers/look/", {"file": SimpleUploadedFile("in.zip", given), "key": with_key})

    for given, with_key, words in ((data, "", "sealed by the key"), (b"PK", key, "no whole carrier")):
        answer = look(given, with_key)
        assert answer.status_code == 422 and words in answer.content.decode()
    looked = look(data, key)
    assert looked.status_code == 200 and "Nothing has been written yet" in looked.content.decode()
    assert Fact.objects.count() == 0
    form = {"sha256": row.sha256, "name": "in.zip", "key": key}
    assert client.post("/carriers/take/", form | {"key": ""}).status_code == 422 and Fact.objects.count() == 0
    assert client.post("/carriers/take/", form).status_code == 302
    size = Fact.objects.count()
    page = client.get("/carriers/").content.decode()
    assert "6 of 6 parts were new" in page and "taken in; made by" in page and f"{card.serial}.json" in page
    assert client.post("/carriers/take/", form).status_code == 422  # it waits no more
    look(data, key)
    assert client.post("/carriers/take/", form).status_code == 302 and Fact.objects.count() == size
    assert "carried in; issued in the dossier of the key" in client.get("/audit/cards/").content.decode()


def test_a_refused_part_gives_no_button(anywhere: Path, tmp_path: Path, settings: Any) -> None:
    with another(tmp_path / "there", settings):
        furnish()
        card, _ = services.issue_card(JOINT, "a4", AUTHOR)
        data, key = services.carry_out("x y", AUTHOR, cards=[card.serial]), services.log_status().key_id
    answer = person(AUTHOR).post("/carriers/look/", {"file": SimpleUploadedFile("in.zip", data), "key": key})
    text = answer.content.decode()
    assert "carry the joint too" in text and "/carriers/take/" not in text


def test_only_the_lead_carries(dossier: Path) -> None:
    for role, status in (("operator", 403), ("tool keeper", 403), ("tightening lead", 422)):
        client = logged_in(opened(role))
        assert client.post("/carriers/", {"subject": "x"}).status_code == status, role
        assert client.get("/carriers/").status_code == 200
