"""The folder of the records damaged between two uses: said on pages, papers and commands; never written over."""

from __future__ import annotations

import errno
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import InMemoryUploadedFile
from django.db import connection
from django.test import Client
from typer.testing import CliRunner

from evenpull.cli.main import app
from evenpull.store import services
from tests.hostile.test_pages import PULL, text_of, upload
from tests.store import samples


def call(*words: str | Path, code: int = 2) -> str:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exit_code == code, (result.output, result.exception)
    assert "Traceback" not in result.output
    return result.output


@pytest.fixture
def changed(furnished: Path) -> str:
    """SHA-256 of a file taken in whose raw copy was changed on the disk afterwards."""
    sha256 = services.commit_file("pulls.csv", PULL, samples.MAPPING, samples.AUTHOR).sha256
    path = services.raw_path(sha256)
    path.chmod(0o644)
    path.write_bytes(PULL.replace(b"41,2", b"45,0"))
    return sha256


def test_a_changed_raw_file_is_said_on_the_pages(changed: str, stranger: Client) -> None:
    page = stranger.get(f"/files/{changed}/")
    assert page.status_code == 200 and "was changed on the disk" in text_of(page)
    assert "pulls.csv is not on the disk as it was received" in text_of(stranger.get("/joints/KN-CW-008/"))
    for address in (f"/files/{changed}/raw", "/joints/KN-CW-008/report.pdf", "/joints/KN-CW-008/bundle.zip"):
        page = stranger.get(address)
        assert page.status_code == 409 and "was changed on the disk" in text_of(page)


def test_a_changed_raw_file_is_said_by_the_commands(changed: str, tmp_path: Path) -> None:
    paper, bundle = tmp_path / "r.pdf", tmp_path / "b.zip"
    assert "was changed on the disk" in call("report", "KN-CW-008", "-o", paper)
    assert "was changed on the disk" in call("bundle", "KN-CW-008", "-o", bundle)
    assert "was changed on the disk" in call("matrix", "KN-CW-008", code=0)
    assert not paper.exists() and not bundle.exists()


def test_a_raw_file_that_is_gone(changed: str, stranger: Client) -> None:
    services.raw_path(changed).unlink()
    assert "restore it from a copy" in text_of(stranger.get(f"/files/{changed}/"))
    assert stranger.get(f"/files/{changed}/raw").status_code == 404
    assert "is not on the disk as it was received" in call("report", "KN-CW-008")


def test_the_signing_key_is_gone_or_damaged(unharmed: Path, person: Client) -> None:
    key = unharmed / "signing-key.pem"
    kept = key.read_bytes()
    key.unlink()
    page = upload(person, PULL)
    assert page.status_code == 200, "a preview needs no key"
    page = person.post("/tools/", {"file": io.BytesIO(b"x")})
    assert page.status_code == 302
    with pytest.raises((services.Refused, OSError)):
        services.commit_file("pulls.csv", PULL, samples.MAPPING, samples.AUTHOR)
    assert person.get("/log/").status_code == 503
    assert "Put it back from your copy" in call("status")
    assert not key.exists(), "no new key takes the place of a lost one"
    key.write_text("garbage")
    key.chmod(0o600)
    assert "not a secret key in PEM" in call("status")
    key.write_bytes(kept)


def test_an_empty_database_does_not_take_the_place_of_a_lost_one(furnished: Path) -> None:
    services.commit_file("pulls.csv", PULL, samples.MAPPING, samples.AUTHOR)
    connection.close()
    moved = furnished / "elsewhere.sqlite3"
    (furnished / "records.sqlite3").rename(moved)
    for rest in furnished.glob("records.sqlite3-*"):
        rest.unlink()
    assert "Put the database back from your copy" in call("status")
    assert not (furnished / "records.sqlite3").exists()


def test_a_database_that_cannot_be_written(unharmed: Path, person: Client) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = 1")
    try:
        seen = upload(person, PULL)
        values = {"sha256": text_of(seen).split('name="sha256" value="')[1][:64], "name": "a.csv"}
        page = person.post("/intake/commit/", values | {"mapping": samples.MAPPING})
        assert page.status_code == 503
        assert "The database refused" in text_of(page) and "Nothing was written" in text_of(page)
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA query_only = 0")


def test_a_full_disk_leaves_no_half_file(unharmed: Path, person: Client, monkeypatch: Any) -> None:
    """The page's own write fails as the system would let it fail."""

    def full(*_: object) -> Iterator[bytes]:
        yield b"half"
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(InMemoryUploadedFile, "chunks", full)
    page = upload(person, PULL)
    assert page.status_code == 507 and "The disk is full" in text_of(page) and "Nothing was written" in text_of(page)
    assert not list((unharmed / "incoming").iterdir())


def test_a_joint_that_newer_rules_refuse_hides_no_other(furnished: Path, stranger: Client, monkeypatch: Any) -> None:
    from evenpull.plan import SpecificationError
    from evenpull.plan.errors import Fault
    from evenpull.store.services import register

    def stricter(text: str, file: str) -> None:
        raise SpecificationError([Fault(file, 7, "joint.kind", "'x'", "is not allowed any more", "")])

    monkeypatch.setattr(register, "_specification", stricter)
    page = stranger.get("/")
    assert page.status_code == 200 and "written under earlier rules" in text_of(page)
    page = stranger.get("/joints/KN-CW-008/")
    assert page.status_code == 409 and "Write a new revision" in text_of(page)
