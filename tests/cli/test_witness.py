"""Commands by which the log is held against itself and against what lies elsewhere."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from evenpull.cli.main import app
from evenpull.demo import scenario
from evenpull.evidence.sign import read_secret_key
from tests.evidence.stamping import authority, pem

PROGRAM = "import sys; from evenpull.cli.main import main; sys.argv[0] = 'evenpull'; main()"
assert app.info.name == "evenpull"


class Desk:
    """Calls the program in a process of its own, as a person would, in one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.home = folder, folder / "home"

    def say(self, *words: str | Path, code: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM, "--home", str(self.home), *map(str, words)], cwd=self.folder,
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        assert done.returncode == code, (words, done.stdout, done.stderr)
        assert "Traceback" not in done.stderr
        return done.stdout + done.stderr


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    desk = Desk(tmp_path_factory.mktemp("desk"))
    for name in ("kn-cw-008", "kn-cw-014"):
        (desk.folder / f"{name}.toml").write_text(scenario.joint_text(name), encoding="utf-8")
    (desk.folder / "tools.toml").write_text(scenario.tools_text(), encoding="utf-8")
    desk.say("add", "tools.toml", "--by", "Ines Harrowgate")
    desk.say("add", "kn-cw-008.toml", "--by", "Ines Harrowgate")
    return desk


def test_from_a_receipt_to_a_proof_for_somebody_else(desk: Desk) -> None:
    told = desk.say("checkpoint", "-o", "receipt.txt")
    receipt = desk.folder / "receipt.txt"
    assert "the state of 2 facts" in told and receipt.read_bytes().count(b"\n") == 1
    desk.say("bundle", "-o", "first.zip")
    desk.say("add", "kn-cw-014.toml", "--by", "Ines Harrowgate")
    assert "accepted: the log holds the state of 2 facts" in desk.say("verify", "--checkpoint", "receipt.txt")
    told = desk.say("bundle", "KN-CW-014", "-o", "second.zip", "--since", "receipt.txt")
    told = desk.say("verify", "second.zip", "--checkpoint", "receipt.txt", "--earlier", "first.zip")
    assert told.count("accepted: the log holds") == 2 and "earlier signed states" in told
    assert "not judged" in desk.say("verify", "first.zip", "--earlier", "second.zip", code=1)
    (desk.folder / "forged.txt").write_bytes(receipt.read_bytes().replace(b'"size":2', b'"size":1'))
    assert "not accepted" in desk.say("verify", "--checkpoint", "forged.txt", code=1)
    assert "not accepted" in desk.say("verify", "second.zip", "--checkpoint", "forged.txt", code=1)
    assert "never had the state" in desk.say("bundle", "--since", "forged.txt", code=2)
    for words in (["verify"], ["verify", "--checkpoint", "tools.toml"],
                  ["verify", "second.zip", "--earlier", "tools.toml"]):  # fmt: skip
        desk.say(*words, code=2)


def test_the_whole_log_is_read_again(desk: Desk) -> None:
    told = desk.say("check-log")
    assert told.startswith("whole: ") and "evenpull checkpoint" in told


def test_a_damaged_database_is_named(tmp_path: Path, desk: Desk) -> None:
    other = Desk(tmp_path)
    shutil.copytree(desk.home, other.home)
    with sqlite3.connect(next(other.home.glob("*.sqlite3"))) as base:
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f"DROP TRIGGER {name}")
        base.execute("UPDATE fact SET body = replace(body, '\"', '\"') || ' ' WHERE seq = 0")
        base.execute("UPDATE fact SET author = 'Somebody Else' WHERE seq = 1")
    told = other.say("check-log", code=1)
    assert "NOT WHOLE" in told and "fact 1 " in told


def test_the_key_is_renewed_and_a_time_stamp_kept(desk: Desk) -> None:
    first = read_secret_key(desk.home / "signing-key.pem").public.fingerprint
    assert f"{first}  from the beginning" in desk.say("key")
    desk.say("key", "--renew", code=2)  # nobody says who
    told = desk.say("key", "--renew", "--by", "Ines Harrowgate")
    second = read_secret_key(desk.home / "signing-key.pem").public.fingerprint
    assert first in told and second in told and second != first
    assert desk.say("key").splitlines()[-1].startswith(f"{second}  from fact ")

    clock = authority(desk.folder / "clock", curve=True)
    (desk.folder / "root.pem").write_bytes(pem(clock.root))
    desk.say("time-stamp", "--request", "ask.tsq", "--by", "Ines Harrowgate")
    (desk.folder / "got.tsr").write_bytes(clock.answer((desk.folder / "ask.tsq").read_bytes()))
    assert "kept: " in desk.say("time-stamp", "--keep", "got.tsr", "--ca", "root.pem", "--by", "Ines Harrowgate")
    assert "certificate leads to the authority given" in desk.say("time-stamp")
    for words in (["--keep", "tools.toml", "--by", "Ines Harrowgate"], ["--request", "a", "--keep", "got.tsr"]):
        desk.say("time-stamp", *words, code=2)
    desk.say("bundle", "-o", "stamped.zip")
    told = desk.say("verify", "stamped.zip", "--key", first)
    assert "renewed 1 times" in told and "Kestrel Narrows test clock" in told
    assert desk.say("check-log").startswith("whole: ")
    assert "keeping: " in desk.say("gates", "KN-CW-008")
