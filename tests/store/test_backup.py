"""Back-ups: consistent while others write, restored on either database, refused for any byte that is not as it was."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connections

from evenpull.evidence import backup as form
from evenpull.store import services
from evenpull.store.models import Account, ApiClient, Checkpoint, Fact
from evenpull.store.services import accounts, findings, index_check, restoring
from evenpull.store.services.place import signing_key
from tests import databases
from tests.store.people import PASSWORD, fast_hashing
from tests.store.postgres import Server
from tests.store.samples import AUTHOR, MAPPING, file_of, furnish, many, row
from tests.store.test_index_check import lived

__all__ = ["fast_hashing"]  # a fixture


def said() -> list[tuple[Any, ...]]:
    """Every fact and signed state, as the tables hold them."""
    facts = list(Fact.objects.order_by("seq").values_list())
    return facts + list(Checkpoint.objects.order_by("size").values_list())


def made(home: Path, name: str = "backup", **more: Any) -> Path:
    target = home.parent / name
    services.back_up(target, AUTHOR, **more)
    return target


@contextmanager
def other(settings: Any, home: Path, address: str = "") -> Iterator[Path]:
    """Another, empty folder and database for what follows."""
    held, key = settings.EVENPULL_HOME, settings.SECRET_KEY
    settings.EVENPULL_HOME = home
    entry = databases.postgres(address) if address else databases.sqlite(home / "records.sqlite3")
    try:
        with databases.database(entry):
            yield home
    finally:
        settings.EVENPULL_HOME, settings.SECRET_KEY = held, key


@pytest.mark.parametrize("name", ["backup", "backup.tar"])
@pytest.mark.parametrize("into", ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def test_what_is_restored_is_what_was_backed_up(
    anywhere: Path, settings: Any, request: pytest.FixtureRequest, name: str, into: str
) -> None:
    lived()
    backup = made(anywhere, name, secrets=True)
    size, key = Fact.objects.count(), signing_key().public.fingerprint
    server: Server | None = request.getfixturevalue("server") if into == "postgres" else None
    with other(settings, anywhere.parent / "new", server.url(server.create()) if server else ""):
        found = restoring.restore(backup, AUTHOR)
        assert found.facts == size - 1, "the fact that it was made is not in it"
        last = Fact.objects.order_by("-seq").first()
        assert last is not None and (last.kind, last.author, last.data["root"]) == ("restored", AUTHOR, found.root)
        assert found.same == 1 and not found.other
        services.prepare()
        assert services.check_log() == [] and index_check.differences() == [] and findings.differing() == []
        assert signing_key().public.fingerprint == key
        services.commit_file("later.csv", many(3, start=900), MAPPING, AUTHOR)
        assert services.check_log() == []


def test_every_fact_comes_back_to_the_byte(dossier: Path, settings: Any) -> None:
    lived()
    before = said()
    size = Fact.objects.count()
    raw = {path.name: path.read_bytes() for path in (dossier / "raw").glob("??/*")}
    backup = made(dossier, secrets=True)
    with other(settings, dossier.parent / "new") as home:
        restoring.restore(backup, AUTHOR)
        facts = list(Fact.objects.filter(seq__lt=size).order_by("seq").values_list())
        assert facts + list(Checkpoint.objects.filter(size__lte=size).order_by("size").values_list()) == before
        assert {path.name: path.read_bytes() for path in (home / "raw").glob("??/*")} == raw


def test_a_back_up_made_while_others_write_is_one_state_of_the_log(anywhere: Path, settings: Any) -> None:
    furnish()
    services.commit_file("first.csv", many(300), MAPPING, AUTHOR)
    on, wrote = threading.Event(), list[int]()

    def work() -> None:
        for number in range(20):
            if on.is_set():
                break
            services.commit_file(f"{number}.csv", file_of([row(2000 + number)]), MAPPING, AUTHOR)
            wrote.append(number)
        connections.close_all()

    writer = threading.Thread(target=work)
    writer.start()
    backups = [made(anywhere, f"backup-{number}") for number in range(3)]
    on.set()
    writer.join()
    assert wrote
    for number, backup in enumerate(backups):
        with other(settings, anywhere.parent / f"new-{number}"):
            restoring.restore(backup, AUTHOR, testing=True)
            assert index_check.differences() == []


def test_every_changed_byte_is_refused_and_leaves_nothing(dossier: Path, settings: Any) -> None:
    lived()
    backup = made(dossier, secrets=True)
    for path in sorted(p for p in backup.rglob("*") if p.is_file()):
        data = path.read_bytes()
        for place in {0, len(data) // 2, len(data) - 1} if data else set():
            path.chmod(0o644)
            path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
            with other(settings, dossier.parent / "new") as home, pytest.raises(services.Refused):
                restoring.restore(backup, AUTHOR)
            assert not home.exists(), (path, place)
        path.write_bytes(data)
        path.rename(f"{path}.away")
        with other(settings, dossier.parent / "new"), pytest.raises(services.Refused):
            restoring.restore(backup, AUTHOR)
        Path(f"{path}.away").rename(path)
    (backup / "raw" / "more").write_text("x")
    with other(settings, dossier.parent / "new"), pytest.raises(services.Refused, match="was added"):
        restoring.restore(backup, AUTHOR)


def sealed_again(backup: Path) -> None:
    """A forger who has the key seals what he changed."""
    told = form.read_manifest((backup / form.MANIFEST).read_bytes())
    names = sorted(str(p.relative_to(backup)) for p in backup.rglob("*") if p.is_file())
    sums = [(n, hashlib.sha256((backup / n).read_bytes()).hexdigest()) for n in names
            if n not in (form.LIST, form.MANIFEST)]  # fmt: skip
    (backup / form.LIST).write_text("".join(f"{sha}  {name}\n" for name, sha in sums))
    listed = hashlib.sha256((backup / form.LIST).read_bytes()).hexdigest()
    one = form.Manifest(**{**told.__dict__, "list_sha256": listed, "files": len(sums), "signature": ""})
    signed = form.Manifest(**{**one.__dict__, "signature": signing_key().sign(one.message).hex()})
    (backup / form.MANIFEST).write_bytes(signed.text)


def test_a_fact_that_was_changed_and_sealed_again_is_refused_by_the_log(dossier: Path, settings: Any) -> None:
    lived()
    backup = made(dossier, secrets=True)
    facts = (backup / form.FACTS).read_text().splitlines(keepends=True)
    whole = "".join(facts)
    one = json.loads(facts[5])
    one["fact"]["author"] = "Somebody Else"
    spelt = json.dumps(one, separators=(",", ":"), sort_keys=True, ensure_ascii=False) + "\n"
    digest = hashlib.sha256(
        json.dumps(one["fact"], separators=(",", ":"), sort_keys=True, ensure_ascii=False).encode()
    ).hexdigest()
    for text, why in (
        ("".join([*facts[:5], spelt, *facts[6:]]), "not what was digested"),
        ("".join([*facts[:5], spelt.replace(one["digest"], digest), *facts[6:]]), "do not lead to the root"),
        ("".join(facts[:-1]), "ends before"),
        ("".join([*facts, facts[-1]]), "more facts than were signed"),
        ("".join([facts[1], facts[0], *facts[2:]]), "not in its place"),
    ):
        (backup / form.FACTS).write_text(text)
        sealed_again(backup)
        with other(settings, dossier.parent / "new") as home, pytest.raises(services.Refused, match=why):
            restoring.restore(backup, AUTHOR)
        assert (home / "restore-under-way").exists()
        with other(settings, home), pytest.raises(services.Refused, match="under way"):
            services.prepare()
        shutil.rmtree(home)
    (backup / form.FACTS).write_text(whole)
    kept = next(p for p in (backup / "raw").glob("??/*"))
    kept.unlink()
    sealed_again(backup)
    with other(settings, dossier.parent / "new"), pytest.raises(services.Refused, match="which is missing"):
        restoring.restore(backup, AUTHOR)


def test_a_restore_goes_into_empty_places_only(anywhere: Path, settings: Any) -> None:
    furnish()
    backup = made(anywhere, secrets=True)
    with pytest.raises(services.Refused, match="not empty"):
        restoring.restore(backup, AUTHOR)
    with pytest.raises(services.Refused, match="there already"):
        services.back_up(backup, AUTHOR)
    with pytest.raises(services.Refused, match="folder of the dossier itself"):
        services.back_up(anywhere / "backup", AUTHOR)


@pytest.mark.postgres
def test_a_database_with_facts_is_refused(anywhere: Path, settings: Any) -> None:
    furnish()
    backup = made(anywhere, secrets=True)
    settings.EVENPULL_HOME = anywhere.parent / "other folder, same database"
    if connections["default"].vendor == "postgresql":
        with pytest.raises(services.Refused, match="holds facts already"):
            restoring.restore(backup, AUTHOR)


def test_without_secrets_there_is_no_key_no_password_and_no_token(
    dossier: Path, settings: Any, fast_hashing: None
) -> None:
    furnish()
    accounts.add_account("ines", "Ines Harrowgate", "administrator", PASSWORD, "Ines Harrowgate")
    hashed = Account.objects.get().password
    ApiClient.objects.create(name="gate", folded="gate", role="operator", token="ab" * 32)
    open_one, shut = made(dossier, "shut.tar"), made(dossier, "open.tar", secrets=True)
    secret = (dossier / "signing-key.pem").read_bytes()
    for words in (hashed.encode(), b"ab" * 32, secret[30:60]):
        assert words not in open_one.read_bytes() and words in shut.read_bytes()
    assert shut.stat().st_mode & 0o077 == 0
    with other(settings, dossier.parent / "new") as home:
        with pytest.raises(services.Refused, match="holds no signing key"):
            restoring.restore(open_one, AUTHOR)
        assert not home.exists()
        restoring.restore(open_one, AUTHOR, key=dossier / "signing-key.pem")
        assert accounts.in_use(), "a dossier with accounts stays one"
        with pytest.raises(accounts.WrongPassword):
            accounts.log_in("ines", PASSWORD, "192.0.2.7")
        accounts.set_password("ines", PASSWORD, "Ines Harrowgate")
        assert accounts.log_in("ines", PASSWORD, "192.0.2.7").role == "administrator"
    with other(settings, dossier.parent / "newer"):
        restoring.restore(shut, AUTHOR)
        assert accounts.log_in("ines", PASSWORD, "192.0.2.7").full_name == "Ines Harrowgate"
        assert ApiClient.objects.get().token == "ab" * 32


def test_a_key_that_was_renewed_is_followed(dossier: Path, settings: Any) -> None:
    lived()
    services.renew_key(AUTHOR)
    services.commit_file("later.csv", many(3, start=900), MAPPING, AUTHOR)
    backup = made(dossier, secrets=True)
    with other(settings, dossier.parent / "new"):
        restoring.restore(backup, AUTHOR)
        services.prepare()
        assert services.check_log() == [] and len(services.keys_of_log().keys) == 2


def test_a_test_of_a_back_up_is_a_fact_with_its_result(dossier: Path) -> None:
    lived()
    backup = made(dossier)
    found, why = services.try_backup(backup, AUTHOR)
    assert found is not None and why == "" and found.same == 1 and not found.other
    fact = Fact.objects.get(kind="restore tested")
    assert (fact.data["result"], fact.data["root"], fact.author) == ("whole", found.root, AUTHOR)
    (backup / form.ACCOUNTS).write_text("{}")
    found, why = services.try_backup(backup, AUTHOR)
    assert found is None and "was changed since" in why
    assert Fact.objects.filter(kind="restore tested").order_by("-seq")[0].data["result"] == "not whole"
    count = Fact.objects.count()
    with pytest.raises(services.Refused, match="no back-up that can be read"):
        services.try_backup(dossier.parent / "nowhere", AUTHOR)
    assert Fact.objects.count() == count


def test_a_damaged_dossier_gives_no_back_up(dossier: Path) -> None:
    lived()
    kept = next(p for p in (dossier / "raw").glob("??/*"))
    kept.chmod(0o644)
    kept.write_bytes(b"something else")
    with pytest.raises(services.Refused, match="was changed on the disk"):
        made(dossier)
    assert [p.name for p in dossier.parent.iterdir()] == ["home"]
    kept.unlink()
    with pytest.raises(services.Refused, match="not kept any more"):
        made(dossier)


def test_a_full_disk_leaves_no_back_up(dossier: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lived()
    whole, calls = form._copy, [0]
    for last in range(1, 60):

        def full(chunks: Any, out: Any, sync: bool = True, last: int = last) -> tuple[str, int]:
            calls[0] += 1
            if calls[0] == last:
                out.write(b"half")
                raise OSError(28, "No space left on device")
            return whole(chunks, out, sync)

        for name in ("backup", "backup.tar"):
            calls[0] = 0
            monkeypatch.setattr(form, "_copy", full)
            try:
                made(dossier, name)
            except services.Refused as error:
                assert "No space left" in str(error)
                assert [p.name for p in dossier.parent.iterdir()] == ["home"]
                continue
            finally:
                monkeypatch.undo()
            return
    raise AssertionError("it never came to the end")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["backup", "backup.tar"])
def test_killed_at_any_moment_there_is_a_whole_back_up_or_none(dossier: Path, name: str) -> None:
    lived()
    target = dossier.parent / name
    words = [sys.executable, "-c", KILLED, str(dossier), str(target)]
    for last in (1, 2, 5, 9, 14, 20, 27, 4000):
        ended = subprocess.run([*words, str(last)], env=os.environ, capture_output=True, text=True)
        assert ended.returncode in (0, -signal.SIGKILL), ended.stderr
        if target.exists():
            with form.Reader(target) as source:
                form.check_files(source)
        if ended.returncode == 0:
            return
        names = {p.name for p in target.parent.iterdir()} - {"home", name}
        assert all(half.startswith(".") and ".part" in half for half in names)
        for left in target.parent.iterdir():
            if left.name != "home":
                shutil.rmtree(left) if left.is_dir() else left.unlink()
    raise AssertionError("it never came to the end")


# Put into a program of its own: it is killed at the call no. `last` of what is wrapped.
TICK = """count = 0
def tick(call):
    def counted(*words, **named):
        global count
        count += 1
        if count == last:
            os.kill(os.getpid(), signal.SIGKILL)
        return call(*words, **named)
    return counted
"""
KILLED = """
import os, signal, sys
from pathlib import Path
home, target, last = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
os.environ["EVENPULL_HOME"] = home
os.environ["DJANGO_SETTINGS_MODULE"] = "evenpull.store.settings"
import django
django.setup()
from evenpull.store import services
services.prepare()
""" + TICK + """os.fsync, Path.rename, Path.mkdir = tick(os.fsync), tick(Path.rename), tick(Path.mkdir)
services.back_up(target, "Ines Harrowgate")
"""


@pytest.mark.slow
def test_a_restore_that_was_killed_is_refused_until_it_is_done_again(dossier: Path) -> None:
    lived()
    backup, new = made(dossier, secrets=True), dossier.parent / "new"
    env = os.environ | {"EVENPULL_HOME": str(new), "DJANGO_SETTINGS_MODULE": "evenpull.store.settings"}
    halves = 0
    for last in (2, 20, 60, 90, 4000):
        ended = subprocess.run(
            [sys.executable, "-c", CUT_OFF, str(backup), str(last)], env=env, capture_output=True, text=True
        )
        assert ended.returncode in (0, -signal.SIGKILL), ended.stderr
        if (new / "restore-under-way").exists():
            halves += 1
            assert "restore again" in asked(env, 2)
    assert ended.returncode == 0 and halves >= 2
    assert "whole" in asked(env, 0)


def asked(env: dict[str, str], code: int) -> str:
    """What `evenpull check-log` says of the dossier there."""
    words = [sys.executable, "-m", "evenpull.cli.main", "check-log"]
    ran = subprocess.run(words, env=env, capture_output=True, text=True)
    assert ran.returncode == code, ran.stderr
    return ran.stdout + ran.stderr


CUT_OFF = """
import os, signal, sys
from pathlib import Path
backup, last = Path(sys.argv[1]), int(sys.argv[2])
import django
django.setup()
from django.db import connection
from evenpull.store.services import restoring
""" + TICK + """os.fsync, Path.replace, Path.unlink = tick(os.fsync), tick(Path.replace), tick(Path.unlink)
connection.execute_wrappers.append(lambda execute, *rest: tick(execute)(*rest))
restoring.restore(backup, "Ines Harrowgate")
"""
