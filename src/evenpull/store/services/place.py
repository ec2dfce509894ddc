"""The folder of the dossier: where it is, its keys, and the raw files kept byte for byte."""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
import secrets
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

from evenpull.evidence.backup import onto_disk
from evenpull.evidence.sign import KEY_FILE, NEXT_KEY_FILE, KeyFileError, SecretKey, make_key_file, read_secret_key
from evenpull.store.models import Checkpoint
from evenpull.store.services import index
from evenpull.store.services.errors import Refused, Unknown

CHUNK = 1 << 20
RESTORING = "restore-under-way"  # a file of this name lies here while a back-up is being restored
_PREPARING = 0x70726570  # any number, the same for every process that prepares this database


def home() -> Path:
    """The folder of this dossier."""
    return Path(settings.EVENPULL_HOME)


def prepare() -> None:
    """Make the folder, its keys and the database ready; safe to repeat, also by several processes at once.

    Refused when the log was signed by a key that is not here: another key would break the chain of checkpoints.
    """
    folder = home()
    if (folder / RESTORING).exists():
        raise Refused(
            f"a restore into {folder} is under way or was cut off, so that what lies there is not whole. Say the same "
            "restore again to end it. Nothing was written."
        )
    (folder / "raw").mkdir(parents=True, exist_ok=True)
    _check_database(folder)
    with (folder / "prepare.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with _one_at_a_time():
            migrate()
            _check_key(folder)
            if index.is_missing():
                with transaction.atomic():
                    index.rebuild()
        make_key_file(folder / KEY_FILE)
        make_cookie_key(folder)


def make_cookie_key(folder: Path) -> None:
    """Write the key of the session cookies and of the seals of findings where there is none, and use it from now on.

    An empty file, as a full disk or a kill once left it, counts as none.
    """
    path = folder / "cookie-key"
    if path.exists() and path.stat().st_size:
        return
    made = secrets.token_hex(32)
    write_whole(path, made.encode("ascii"))
    settings.SECRET_KEY = made


def write_whole(path: Path, content: bytes) -> None:
    """Write a small secret file (mode 0600) in the place of what is there: whole and on the disk, or not at all."""
    temporary = path.with_name(f".{path.name}.part")
    try:
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        temporary.replace(path)
        onto_disk(path.parent)
    finally:
        temporary.unlink(missing_ok=True)


def migrate() -> None:
    """Bring the tables of the database up to date: wholly, or not at all where this is killed.

    Step by step, the tables of a step are there before the note that they are, and a kill in between leaves a database
    on which the step fails for ever. Nothing is begun where nothing is to be done: writers are not waited for.
    """
    executor = MigrationExecutor(connection)
    if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return
    connection.disable_constraint_checking()  # SQLite asks for it, and takes no such word within a transaction
    try:
        with transaction.atomic():
            call_command("migrate", verbosity=0, interactive=False)
    finally:
        connection.enable_constraint_checking()


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """PostgreSQL serves several folders: only one of them changes the tables at a time."""
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [_PREPARING])
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [_PREPARING])


def _check_database(folder: Path) -> None:
    """Refused when raw files are kept here but the database of their facts is not: an empty one would hide the loss."""
    if connection.vendor != "sqlite":
        return
    database = Path(connection.settings_dict["NAME"])
    if not database.exists() and next((folder / "raw").glob("??/*"), None) is not None:
        raise Refused(
            f"{database} is missing, but {folder / 'raw'} holds files that were taken in. Put the database back from "
            "your copy (or set EVENPULL_DATABASE if the facts are on a server). Nothing was written."
        )


def _check_key(folder: Path) -> None:
    last = Checkpoint.objects.order_by("-size").first()
    if last is None:
        return
    finish_renewal(folder, last.key)
    path = folder / KEY_FILE
    kept = folder / _retired(last.key)
    where = f"the file {kept.name} beside it is that one: copy it back" if kept.exists() else "put that one back"
    if not path.exists():
        raise Refused(
            f"{path} is missing: the log of this dossier was signed with it (fingerprint {last.key}). Put it back from "
            "your copy; without it nothing can be written to this log."
        )
    found = read_secret_key(path).public.fingerprint
    if found != last.key:
        raise Refused(
            f"{path} has the fingerprint {found}, but the log of this dossier was signed with the key {last.key}; "
            f"{where}. If the key was renewed after this copy of the database was made, use the newer database."
        )


def _retired(fingerprint: str) -> str:
    return f"signing-key-{fingerprint[:16]}.pem"


def finish_renewal(folder: Path, in_force: str) -> None:
    """Put the next key in the place of the old one once the log says so; the old file is kept under its fingerprint.

    What the log says counts: a renewal that was cut off before its fact was written has not happened, one that was
    cut off after it is finished here.
    """
    path, new = folder / KEY_FILE, folder / NEXT_KEY_FILE
    if not new.exists() or read_secret_key(new).public.fingerprint != in_force:
        return
    if path.exists() and (old := read_secret_key(path).public.fingerprint) != in_force:
        path.replace(folder / _retired(old))
    new.replace(path)
    onto_disk(folder)


def signing_key() -> SecretKey:
    """The key that signs checkpoints, releases and bundles of this folder: the one in force after the last fact."""
    path, new = home() / KEY_FILE, home() / NEXT_KEY_FILE
    if new.exists():
        last = Checkpoint.objects.order_by("-size").first()
        try:
            found = _read_key(new, new.stat().st_mtime_ns)
            if last is not None and found.public.fingerprint == last.key:
                return found
        except (FileNotFoundError, KeyFileError):
            if new.exists():  # else another process has just put it in its place
                raise
    return _read_key(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=4)
def _read_key(path: Path, changed_at: int) -> SecretKey:
    return read_secret_key(path)


def raw_path(sha256: str) -> Path:
    """Where the raw file with this hash lies. Unknown when there is none."""
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        raise Unknown(f"{sha256!r} is not a SHA-256 in hexadecimal")
    path = home() / "raw" / sha256[:2] / sha256
    if not path.is_file():
        raise Unknown(f"no raw file with SHA-256 {sha256} is kept in {home()}")
    return path


def checked_raw(sha256: str) -> Path:
    """Where the raw file lies, its content checked against its name. Refused when it was changed on the disk."""
    path = raw_path(sha256)
    with path.open("rb") as stream:
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    if found != sha256:
        raise Refused(f"raw file {sha256} was changed on the disk (its SHA-256 is now {found}); restore it from a copy")
    return path


def raw_damage(sha256: str) -> str:
    """What is wrong with a raw file, in words for a page; "" when it is as it was received.

    A file is read again only when its size or times say that it was touched; papers and bundles always read it.
    """
    try:
        about = raw_path(sha256).stat()
        return _damage(home(), sha256, about.st_size, about.st_mtime_ns, about.st_ctime_ns)
    except Unknown as error:
        return f"{error}; restore it from a copy"


@lru_cache(maxsize=4096)
def _damage(folder: Path, sha256: str, size: int, modified: int, changed: int) -> str:
    try:
        checked_raw(sha256)
    except Refused as error:
        return str(error)
    return ""


def keep_raw(source: bytes | Path | Iterator[bytes]) -> str:
    """Keep bytes, a file or its parts under their SHA-256; complete and on the disk before this returns.

    The same content again changes nothing. Called before the transaction that refers to it: after a crash in between
    a file nobody refers to is harmless.
    """
    folder = home() / "raw"
    folder.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    descriptor, name = tempfile.mkstemp(prefix=".part-", dir=folder)
    temporary = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as out:
            for chunk in _chunks(source):
                digest.update(chunk)
                out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
        sha256 = digest.hexdigest()
        target = folder / sha256[:2] / sha256
        if not target.exists():
            target.parent.mkdir(exist_ok=True)
            temporary.chmod(0o444)
            temporary.replace(target)
            onto_disk(target.parent)
    finally:
        temporary.unlink(missing_ok=True)
    return sha256


def read_raw(sha256: str) -> bytes:
    """The bytes, checked against their name. Refused when the file was changed on the disk."""
    return checked_raw(sha256).read_bytes()


def _chunks(source: bytes | Path | Iterator[bytes]) -> Iterable[bytes]:
    if isinstance(source, bytes):
        return [source]
    if not isinstance(source, Path):
        return source

    def read() -> Iterator[bytes]:
        with source.open("rb") as stream:
            while chunk := stream.read(CHUNK):
                yield chunk

    return read()
