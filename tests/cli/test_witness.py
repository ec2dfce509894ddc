"""Commands by which the log is held against itself and against what lies elsewhere."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from evenpull.demo import scenario
from evenpull.evidence.sign import read_secret_key
from tests.cli.calling import call
from tests.evidence.stamping import authority, pem

BY = ("--by", "Ines Harrowgate")


@pytest.fixture
def desk(dossier: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A dossier with tools and one joint, and a folder to work in."""
    folder = tmp_path / "desk"
    folder.mkdir()
    monkeypatch.chdir(folder)
    for name in ("kn-cw-008", "kn-cw-014"):
        Path(f"{name}.toml").write_text(scenario.joint_text(name), encoding="utf-8")
    Path("tools.toml").write_text(scenario.tools_text(), encoding="utf-8")
    call("add", "tools.toml", "kn-cw-008.toml", *BY)
    return folder


def say(*words: str | Path, code: int = 0) -> str:
    result = call(*words, code=code)
    return result.stdout + result.stderr


def test_from_a_receipt_to_a_proof_for_somebody_else(desk: Path) -> None:
    told = say("checkpoint", "-o", "receipt.txt")
    receipt = desk / "receipt.txt"
    assert "the state of 2 facts" in told and receipt.read_bytes().count(b"\n") == 1
    say("bundle", "-o", "first.zip")
    say("add", "kn-cw-014.toml", *BY)
    assert "accepted: the log holds the state of 2 facts" in say("verify", "--checkpoint", "receipt.txt")
    told = say("bundle", "KN-CW-014", "-o", "second.zip", "--since", "receipt.txt")
    told = say("verify", "second.zip", "--checkpoint", "receipt.txt", "--earlier", "first.zip")
    assert told.count("accepted: the log holds") == 2 and "earlier signed states" in told
    assert "not judged" in say("verify", "first.zip", "--earlier", "second.zip", code=1)
    (desk / "forged.txt").write_bytes(receipt.read_bytes().replace(b'"size":2', b'"size":1'))
    assert "not accepted" in say("verify", "--checkpoint", "forged.txt", code=1)
    assert "not accepted" in say("verify", "second.zip", "--checkpoint", "forged.txt", code=1)
    assert "never had the state" in say("bundle", "--since", "forged.txt", code=2)
    for words in (["verify"], ["verify", "--checkpoint", "tools.toml"],
                  ["verify", "second.zip", "--earlier", "tools.toml"]):  # fmt: skip
        say(*words, code=2)


def test_the_whole_log_is_read_again(desk: Path) -> None:
    told = say("check-log")
    assert told.startswith("whole: ") and "evenpull checkpoint" in told


def test_a_damaged_database_is_named(desk: Path, dossier: Path) -> None:
    with sqlite3.connect(next(dossier.glob("*.sqlite3"))) as base:
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f"DROP TRIGGER {name}")
        base.execute("UPDATE fact SET author = 'Somebody Else' WHERE seq = 1")
    told = say("check-log", code=1)
    assert "NOT WHOLE" in told and "fact 1 " in told


def test_the_key_is_renewed_and_a_time_stamp_kept(desk: Path, dossier: Path) -> None:
    first = read_secret_key(dossier / "signing-key.pem").public.fingerprint
    assert f"{first}  from the beginning" in say("key")
    say("key", "--renew", code=2)  # nobody says who
    told = say("key", "--renew", *BY)
    second = read_secret_key(dossier / "signing-key.pem").public.fingerprint
    assert first in told and second in told and second != first
    assert say("key").splitlines()[-1].startswith(f"{second}  from fact ")

    clock = authority(desk / "clock", curve=True)
    (desk / "root.pem").write_bytes(pem(clock.root))
    say("time-stamp", "--request", "ask.tsq", *BY)
    (desk / "got.tsr").write_bytes(clock.answer((desk / "ask.tsq").read_bytes()))
    assert "kept: " in say("time-stamp", "--keep", "got.tsr", "--ca", "root.pem", *BY)
    assert "certificate leads to the authority given" in say("time-stamp")
    for words in (["--keep", "tools.toml", *BY], ["--request", "a", "--keep", "got.tsr"]):
        say("time-stamp", *words, code=2)
    say("bundle", "-o", "stamped.zip")
    told = say("verify", "stamped.zip", "--key", first)
    assert "renewed 1 times" in told and "Kestrel Narrows test clock" in told
    assert say("check-log").startswith("whole: ")
    assert "keeping: " in say("gates", "KN-CW-008")
