"""The folder of a dossier: keys that must not get lost, raw files that must not change."""

from __future__ import annotations

import errno
import hashlib
import os
from pathlib import Path
from typing import Any

import pytest

from evenpull.evidence import KeyFileError
from evenpull.evidence.sign import KEY_FILE, make_key_file
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import place
from tests.store.samples import AUTHOR, MAPPING, furnish, many


def test_preparing_again_keeps_everything(anywhere: Path) -> None:
    furnish()
    before = services.log_status()
    files = {p.name: p.read_bytes() for p in anywhere.iterdir() if p.suffix == ".pem" or p.name == "cookie-key"}
    services.prepare()
    assert services.log_status() == before
    assert {name: (anywhere / name).read_bytes() for name in files} == files and len(files) == 2
    assert all((anywhere / name).stat().st_mode & 0o077 == 0 for name in files)


def test_a_lost_key_is_not_replaced_silently(anywhere: Path) -> None:
    furnish()
    size, key = Fact.objects.count(), anywhere / KEY_FILE
    kept = key.read_bytes()
    key.unlink()
    with pytest.raises(services.Refused, match="missing"):
        services.prepare()
    assert not key.exists()
    make_key_file(key)  # somebody else's key
    with pytest.raises(services.Refused, match="was signed with the key"):
        services.prepare()
    key.write_bytes(kept)
    services.prepare()
    assert services.check_log() == [] and Fact.objects.count() == size


def test_a_key_that_others_can_read_is_refused(anywhere: Path) -> None:
    furnish()
    (anywhere / KEY_FILE).chmod(0o644)
    with pytest.raises(KeyFileError, match="chmod 600"):
        services.prepare()


def test_raw_files_are_kept_under_their_hash(anywhere: Path, tmp_path: Path) -> None:
    data = b"line one\r\nline two\x00\xff"
    sha256 = place.keep_raw(data)
    assert sha256 == hashlib.sha256(data).hexdigest()
    source = tmp_path / "source"
    source.write_bytes(data)
    assert place.keep_raw(source) == sha256
    path = services.raw_path(sha256)
    assert path.read_bytes() == place.read_raw(sha256) == data
    assert path.stat().st_mode & 0o222 == 0
    assert [p for p in (anywhere / "raw").rglob("*") if p.is_file()] == [path]
    for bad in ("", "../../etc/passwd", "0" * 63, "g" * 64, "0" * 64):
        with pytest.raises(services.Unknown):
            services.raw_path(bad)


def test_a_raw_file_changed_on_the_disk_is_not_given_out_as_true(anywhere: Path, tmp_path: Path) -> None:
    furnish()
    done = services.commit_file("a.csv", many(5), MAPPING, AUTHOR)
    path = services.raw_path(done.sha256)
    path.chmod(0o644)
    path.write_bytes(path.read_bytes().replace(b"41,2", b"51,2"))
    with pytest.raises(services.Refused, match="changed on the disk"):
        place.read_raw(done.sha256)
    with pytest.raises(services.Refused, match="changed on the disk"):
        services.export_bundle(None, tmp_path / "one.zip")
    assert not (tmp_path / "one.zip").exists()


def test_an_empty_cookie_key_as_a_full_disk_leaves_it_locks_nobody_out(anywhere: Path, settings: Any) -> None:
    from evenpull.store import settings as own

    kept = anywhere / "cookie-key"
    kept.write_text("")
    settings.EVENPULL_HOME = anywhere
    services.prepare()
    assert len(kept.read_text()) == 64 and kept.stat().st_mode & 0o077 == 0
    kept.write_text("")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(own, "EVENPULL_HOME", anywhere)
        assert len(own._secret_key()) == 64  # Django starts only with one


def test_a_key_file_that_cannot_be_written_leaves_no_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        make_key_file(tmp_path / KEY_FILE)
    with pytest.raises(OSError, match="No space"):
        place.make_cookie_key(tmp_path)
    assert list(tmp_path.iterdir()) == []
