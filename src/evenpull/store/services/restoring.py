"""Restoring a back-up into an empty folder, on either database; and testing one in a folder that is thrown away.

Everything is verified before it counts: files against the signed list, facts against their digests and the signed
roots. Facts, signed states, accounts and the fact that it was restored are one transaction. Until it is done a marker
lies in the folder, so that nobody takes half of it for the whole.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.color import no_style
from django.db import connection

from evenpull.evidence import backup as form
from evenpull.evidence.backup import BackupError, Manifest, Reader
from evenpull.evidence.backup_facts import Stretch, stretches
from evenpull.evidence.sign import KEY_FILE, KeyFileError, read_secret_key
from evenpull.store.models import Account, ApiClient, ApiRequest, Checkpoint, Fact, Finding
from evenpull.store.services import findings, index
from evenpull.store.services.backing_up import finding_of
from evenpull.store.services.bulk import insert
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import RESTORED, TESTED
from evenpull.store.services.log import BATCH, COLUMNS, New, append, checked_author, next_key, writing
from evenpull.store.services.place import RESTORING, home, keep_raw, make_cookie_key, migrate, write_whole

NO_PASSWORD = "!restored without its password"


@dataclass(frozen=True)
class Restored:
    """`same`, `other`: findings that are as they were stored, and that are not; `left`: those that another version of
    the rules or an earlier day made, so that they cannot be compared."""

    facts: int
    root: str
    files: int
    made_at: str
    same: int
    other: tuple[str, ...]
    left: int


def restore(path: Path, author: str, *, key: Path | None = None, testing: bool = False) -> Restored:
    """Restore the back-up at `path` into the folder of this dossier, which has to be empty.

    `key`: file with the secret key in force, where the back-up does not hold it. Refused, with nothing left that
    counts, for a back-up that is not whole and for a folder or database in which something is. `testing` needs no key
    and writes no fact of its own.
    """
    who = checked_author(author)
    try:
        with Reader(path) as source:
            manifest, public = form.check_files(source)
            keys = {} if testing else _keys(source, manifest, key)
            _empty(manifest)
            (home() / RESTORING).write_text(f"{manifest.root}\n")
            migrate()
            if Fact.objects.exists():
                _same_as(manifest)  # the restore that was cut off had come to its end
            else:
                _fill(source, stretches(source, manifest, public), manifest, keys, None if testing else who, path)
            make_cookie_key(home())
            (home() / RESTORING).unlink()
            findings.refresh()
            same, other, left = _compared(source)
    except BackupError as error:
        raise Refused(f"nothing was restored: {error}") from error
    return Restored(manifest.facts, manifest.root, manifest.files, manifest.made_at, same, other, left)


def _keys(source: Reader, manifest: Manifest, given: Path | None) -> dict[str, bytes]:
    """Name of each key file -> its content; the one in force among them. Refused where that is not to be had."""
    inside = {
        name.removeprefix(form.SECRETS): source.read(name) for name in source.names if name.startswith(form.SECRETS)
    }
    if odd := next((name for name in inside if Path(name).name != name or not name.startswith("signing-key")), None):
        raise Refused(f"{form.SECRETS}{odd} is no signing key; nothing was restored")
    if given is not None:
        try:
            found = read_secret_key(given).public.fingerprint
        except KeyFileError as error:
            raise Refused(f"--key: {error}. Nothing was restored.") from error
        if found != manifest.key:
            raise Refused(f"--key: {given} is the key {found}, but {manifest.key} is in force. Nothing was restored.")
        inside[KEY_FILE] = given.read_bytes()
    if KEY_FILE not in inside:
        raise Refused(
            f"the back-up holds no signing key, and without the one in force ({manifest.key}) nothing can be written "
            "to its log; give your copy with --key FILE. Nothing was restored."
        )
    return inside


def _empty(manifest: Manifest) -> None:
    """Refused unless the folder is empty, or holds this same restore cut off."""
    folder = home()
    marker = folder / RESTORING
    if marker.exists():
        if marker.read_text().strip() != manifest.root:
            raise Refused(f"{folder} holds another restore that was cut off; choose an empty folder")
        if connection.vendor == "sqlite" and not _has_facts():  # its tables may be half made; it holds nothing yet
            connection.close()
            for end in ("", "-wal", "-shm"):
                Path(f"{connection.settings_dict['NAME']}{end}").unlink(missing_ok=True)
    elif folder.exists() and any(folder.iterdir()):
        raise Refused(f"{folder} is not empty; a back-up is restored into an empty folder. Nothing was restored.")
    elif connection.vendor == "postgresql" and _has_facts():
        raise Refused("the database holds facts already; an empty one is needed. Nothing was restored.")
    folder.mkdir(parents=True, exist_ok=True)


def _has_facts() -> bool:
    return "fact" in connection.introspection.table_names() and Fact.objects.exists()


def _same_as(manifest: Manifest) -> None:
    if not Checkpoint.objects.filter(size=manifest.facts, root=manifest.root).exists():
        raise Refused("the database holds facts of another log; choose an empty one. Nothing was restored.")


def _fill(
    source: Reader, log: Any, manifest: Manifest, keys: dict[str, bytes], who: str | None, path: Path
) -> None:
    for name in sorted(name for name in source.names if name.startswith(form.RAW)):
        keep_raw(source.chunks(name))
    for name, content in keys.items():
        write_whole(home() / name, content)
    if keys and read_secret_key(home() / KEY_FILE).public.fingerprint != manifest.key:
        raise Refused(f"{form.SECRETS}{KEY_FILE} is not the key in force, {manifest.key}; give that with --key")
    with writing():
        if Fact.objects.exists():
            raise Refused("somebody has written into the database meanwhile. Nothing was restored.")
        for stretch in log:
            _write(stretch)
        _accounts(json.loads(source.read(form.ACCOUNTS)))
        for line in source.lines(form.REQUESTS):
            ApiRequest.objects.create(**json.loads(line))
        index.rebuild()
        if who is not None:
            body = {
                "what": f"restored from the back-up {path} of {manifest.facts} facts, made {manifest.made_at}",
                "where": str(path), "facts": manifest.facts, "root": manifest.root, "made_at": manifest.made_at,
                "manifest": manifest.signature, "into": str(home()),
            }  # fmt: skip
            append([New(RESTORED, next_key(RESTORED), body)], who)


def _write(stretch: Stretch) -> None:
    rows = [
        (e.seq, e.kind, e.joint, e.key, e.author, e.received_at, e.written_at, row.body, row.digest)
        for row in stretch.rows for e in [row.envelope]
    ]  # fmt: skip
    for begin in range(0, len(rows), BATCH):
        insert(Fact, COLUMNS, rows[begin : begin + BATCH], guarded=True)
    state = stretch.checkpoint
    frontier = " ".join(part.hex() for part in stretch.frontier.hashes)
    columns = ("size", "root", "frontier", "time", "key", "signature")
    insert(Checkpoint, columns, [(state.size, state.root, frontier, state.time, state.key, state.signature)])


def _accounts(said: dict[str, Any]) -> None:
    """Accounts and programs; without the secrets nobody can log in until a password is given, no program write."""
    for one in said["accounts"]:
        Account.objects.create(**{"password": NO_PASSWORD, **one})
    for one in said["programs"]:
        ApiClient.objects.create(**{"token": f"none: {one['pk']}", **one})
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [ApiClient]):
            cursor.execute(statement)


def _compared(source: Reader) -> tuple[int, tuple[str, ...], int]:
    """(findings as stored, joints whose finding is another one, findings that cannot be compared)."""
    today, same, left, other = datetime.now(UTC).date().isoformat(), 0, 0, list[str]()
    for line in source.lines(form.FINDINGS):
        stored = json.loads(line)
        if stored["rules"] != findings.RULES or (stored["good_until"] and stored["good_until"] <= today):
            left += 1
            continue
        now = Finding.objects.filter(joint=stored["joint"]).first()
        if now is not None and finding_of(now) == stored:
            same += 1
        else:
            other.append(stored["joint"])
    return same, tuple(other), left


def try_backup(path: Path, author: str) -> tuple[Restored | None, str]:
    """Restore a back-up into a folder that is thrown away, with a database of its own, and put the result on record.

    (what was restored, "") or (None, why not). Refused, with nothing on record, for a back-up of another dossier.
    """
    who = checked_author(author)
    try:
        with Reader(path) as source:
            told = form.read_manifest(source.read(form.MANIFEST))
    except (BackupError, OSError) as error:
        raise Refused(f"{path} is no back-up that can be read: {error}. Nothing was put on record.") from error
    if not Checkpoint.objects.filter(size=told.facts, root=told.root).exists():
        raise Refused(f"{path} says that it is of a log that this dossier never had. Nothing was put on record.")
    found, why = _in_a_child(path, who)
    result = "whole" if found is not None and not found.other else "not whole"
    what = f"back-up {path} of {told.facts} facts: {result}"
    if found is None:
        what += f"; {why}"
    else:
        what += f"; {found.same} findings as stored, {len(found.other)} other, {found.left} not to be compared"
    body = {
        "what": what, "where": str(path), "result": result, "why": why, "facts": told.facts, "root": told.root,
        "made_at": told.made_at, "manifest": told.signature,
        **({} if found is None else {"same": found.same, "other": list(found.other)[:50], "left": found.left}),
    }  # fmt: skip
    with writing():
        append([New(TESTED, next_key(TESTED), body)], who)
    return found, why


def _in_a_child(path: Path, who: str) -> tuple[Restored | None, str]:
    """One process has one database; the test needs another one."""
    with tempfile.TemporaryDirectory(prefix="evenpull-restore-") as folder:
        environment = {k: v for k, v in os.environ.items() if k not in ("EVENPULL_DATABASE", "EVENPULL_HOME")}
        words = ["--home", f"{folder}/dossier", "restore", str(path.absolute()), "--by", who, "--test-only"]
        ran = subprocess.run(
            [sys.executable, "-m", "evenpull.cli.main", *words], env=environment, capture_output=True, text=True
        )
    if ran.returncode != 0:
        return None, " ".join((ran.stderr or ran.stdout).split())[-1000:] or f"it ended with {ran.returncode}"
    said = json.loads(ran.stdout)
    return Restored(**{**said, "other": tuple(said["other"])}), ""


def as_json(found: Restored) -> str:
    return json.dumps(asdict(found))
