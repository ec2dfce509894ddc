"""The form of a back-up: a folder, or the same files in one tar file, that any text editor and sha256sum can read.

    README.txt         what this is and how to restore it
    facts.jsonl        one fact a line, as in an evidence bundle
    checkpoints.jsonl  every signed state of the log, one a line
    key.pem            public key in force
    findings.jsonl     what was judged, to be compared after a restore
    accounts.json      who may log in and which programs may write; passwords and tokens only with the secrets
    requests.jsonl     requests of programs that were carried out, so that none is twice
    raw/ab/<sha256>    files and papers, byte for byte
    secrets/...        signing keys, only where they were asked for
    files.txt          SHA-256 of every file above, as `sha256sum -c` reads it
    backup.json        what it holds and the SHA-256 of files.txt, signed; written last

It is proven by the log itself: each fact by its digest, the facts by the roots, the roots by the signatures, raw files
by their names. What the log does not cover (accounts, requests, findings) is covered by the signature on backup.json.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tarfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.sign import KeyFileError, PublicKey, SecretKey, read_public_key

FORM = "evenpull back-up 1"
README, FACTS, CHECKPOINTS, KEY = "README.txt", "facts.jsonl", "checkpoints.jsonl", "key.pem"
FINDINGS, ACCOUNTS, REQUESTS, RAW = "findings.jsonl", "accounts.json", "requests.jsonl", "raw/"
SECRETS, LIST, MANIFEST = "secrets/", "files.txt", "backup.json"
CHUNK = 1 << 20
LARGEST_SMALL = 1 << 28  # bytes of a file that is read whole
TEXT = """Back-up of an evenpull dossier

Restore it into an empty folder:
    evenpull --home NEW-FOLDER restore THIS --by "Your Name" [--key signing-key.pem]
Test it, and put the test on record in the dossier it came from:
    evenpull --home DOSSIER backup --check THIS --by "Your Name"

By hand: `sha256sum -c files.txt` compares every file; facts.jsonl has one fact a line with its SHA-256; the digests are
the leaves of the tree (RFC 6962) whose roots stand, signed (Ed25519), in checkpoints.jsonl. Files of raw/ are named by
their SHA-256. backup.json says what there is and is signed by the key of key.pem; compare that with the key you know.
"""


class BackupError(ValueError):
    """A back-up that is not whole, or not as it was made; the message names file and line."""


@dataclass(frozen=True)
class Manifest:
    """`backup.json`. `facts`: size of the log; `root`: its signed root; `secrets`: whether keys and hashes are in."""

    made_at: str
    program: str
    facts: int
    root: str
    key: str
    files: int
    secrets: bool
    list_sha256: str
    signature: str = ""

    @property
    def message(self) -> bytes:
        """The bytes that are signed."""
        body = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "signature"}
        return canonical({"form": FORM, **body})

    @property
    def text(self) -> bytes:
        return canonical({**json.loads(self.message), "signature": self.signature}) + b"\n"


def read_manifest(text: bytes) -> Manifest:
    """Raises BackupError unless `text` is spelt as `Manifest.text` spells it."""
    try:
        data = json.loads(text)
        found = Manifest(**{name: data[name] for name in Manifest.__dataclass_fields__})
        known = data["form"] == FORM and found.text == text and type(found.facts) is int
        bytes.fromhex(found.signature)
    except (ValueError, KeyError, TypeError, RecursionError, CanonicalError) as error:
        raise BackupError(f"{MANIFEST}: cannot be read as what a back-up holds") from error
    if not known:
        raise BackupError(f"{MANIFEST}: not byte for byte in the form in which it is written")
    return found


class Writer:
    """Puts files into the back-up and remembers their digests; `Writing` decides where they go."""

    def __init__(self, put: Callable[[str, Iterable[bytes]], tuple[str, int]]) -> None:
        self._put = put
        self.sums: dict[str, str] = {}

    def add(self, name: str, chunks: Iterable[bytes]) -> str:
        """Its SHA-256."""
        self.sums[name], _ = self._put(name, chunks)
        return self.sums[name]

    def finish(self, key: SecretKey, **said: Any) -> Manifest:
        """Write list and manifest, last of all."""
        listed = "".join(f"{sha}  {name}\n" for name, sha in sorted(self.sums.items())).encode()
        sha, _ = self._put(LIST, [listed])
        unsigned = Manifest(**said, key=key.public.fingerprint, files=len(self.sums), list_sha256=sha)
        made = Manifest(**{**unsigned.__dict__, "signature": key.sign(unsigned.message).hex()})
        self._put(MANIFEST, [made.text])
        return made


@contextmanager
def writing(target: Path) -> Iterator[Writer]:
    """A back-up at `target`: a tar file where the name ends in .tar, else a folder. It has that name only once it is
    whole and on the disk; before that, and after a fault, the name begins with a dot and ends in .part.

    Raises BackupError where something of that name is there already.
    """
    if target.exists() or target.is_symlink():
        raise BackupError(f"{target} is there already, and a back-up takes the place of nothing; choose another name")
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        if target.suffix == ".tar":
            with tarfile.open(part, "x:", format=tarfile.PAX_FORMAT) as tar:
                yield Writer(lambda name, chunks: _into_tar(tar, part, name, chunks))
            onto_disk(part)
        else:
            part.mkdir()
            yield Writer(lambda name, chunks: _into_folder(part, name, chunks))
            for folder in [part, *(p for p in part.rglob("*") if p.is_dir())]:
                onto_disk(folder)
        if target.exists():
            raise BackupError(f"{target} has appeared meanwhile; choose another name")
        part.rename(target)
        onto_disk(target.parent)
    finally:
        if part.is_dir():
            shutil.rmtree(part, ignore_errors=True)
        else:
            part.unlink(missing_ok=True)


def _into_folder(folder: Path, name: str, chunks: Iterable[bytes]) -> tuple[str, int]:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    mode = 0o600 if name.startswith(SECRETS) or name == ACCOUNTS else 0o644
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as out:
        return _copy(chunks, out)


def _into_tar(tar: tarfile.TarFile, part: Path, name: str, chunks: Iterable[bytes]) -> tuple[str, int]:
    """A tar file says the size before the content, so that the content is spooled beside it first."""
    spool = part.with_name(f"{part.name}.spool")
    try:
        with spool.open("w+b") as out:
            spool.chmod(0o600)
            sha, size = _copy(chunks, out, sync=False)
            entry = tarfile.TarInfo(name)
            entry.size = size
            entry.mode = 0o600 if name.startswith(SECRETS) or name == ACCOUNTS else 0o644
            out.seek(0)
            tar.addfile(entry, out)
    finally:
        spool.unlink(missing_ok=True)
    part.chmod(0o600)
    return sha, size


def _copy(chunks: Iterable[bytes], out: IO[bytes], sync: bool = True) -> tuple[str, int]:
    running, size = hashlib.sha256(), 0
    for chunk in chunks:
        running.update(chunk)
        out.write(chunk)
        size += len(chunk)
    out.flush()
    if sync:
        os.fsync(out.fileno())
    return running.hexdigest(), size


def onto_disk(path: Path) -> None:
    """A file or folder onto the disk. A renamed file is only safe once its folder is on the disk as well (POSIX)."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


class Reader:
    """The files of a back-up by name. `open` gives a stream; BackupError for a name that is not there."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._tar: tarfile.TarFile | None = None
        self._members: dict[str, tarfile.TarInfo] = {}
        if path.is_dir():
            names = [str(p.relative_to(path)) for p in sorted(path.rglob("*")) if not p.is_dir() or p.is_symlink()]
            if odd := next((n for n in names if (path / n).is_symlink() or not (path / n).is_file()), None):
                raise BackupError(f"{path}/{odd}: is no ordinary file")
            self.names = set(names)
            return
        try:
            self._tar = tarfile.open(path, "r:")  # noqa: SIM115 - closed by `close`
            for member in self._tar.getmembers():
                if not member.isreg() or member.name in self._members:
                    raise BackupError(f"{path}: {member.name!r} is no ordinary file, or is in it twice")
                self._members[member.name] = member
        except (tarfile.TarError, EOFError) as error:
            self.close()
            raise BackupError(f"{path}: no folder and no tar file that can be read: {error}") from error
        except BackupError:
            self.close()
            raise
        self.names = set(self._members)

    def close(self) -> None:
        if self._tar is not None:
            self._tar.close()

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def open(self, name: str) -> Iterator[IO[bytes]]:
        if name not in self.names:
            raise BackupError(f"{self.path}: {name} is missing")
        if self._tar is None:
            with (self.path / name).open("rb") as stream:
                yield stream
            return
        found = self._tar.extractfile(self._members[name])
        assert found is not None, "ordinary files only"
        with found:
            yield found

    def read(self, name: str) -> bytes:
        """A small file whole."""
        with self.open(name) as stream:
            data = stream.read(LARGEST_SMALL + 1)
        if len(data) > LARGEST_SMALL:
            raise BackupError(f"{self.path}: {name} has more than {LARGEST_SMALL} bytes")
        return data

    def chunks(self, name: str) -> Iterator[bytes]:
        with self.open(name) as stream:
            while chunk := stream.read(CHUNK):
                yield chunk

    def lines(self, name: str) -> Iterator[bytes]:
        """Lines with their end. BackupError for a last line that has none."""
        with self.open(name) as stream:
            for number, line in enumerate(stream, 1):
                if not line.endswith(b"\n"):
                    raise BackupError(f"{self.path}: {name} line {number}: is cut off")
                yield line


def check_files(source: Reader) -> tuple[Manifest, PublicKey]:
    """Manifest, signature, list, and every file against the list. BackupError names the first that does not fit."""
    manifest = read_manifest(source.read(MANIFEST))
    try:
        key = read_public_key(source.read(KEY))
    except KeyFileError as error:
        raise BackupError(f"{source.path}: {KEY}: {error}") from error
    if key.fingerprint != manifest.key or not key.signed(bytes.fromhex(manifest.signature), manifest.message):
        raise BackupError(f"{source.path}: {MANIFEST}: the signature does not fit")
    listed = source.read(LIST) if LIST in source.names else b""
    if hashlib.sha256(listed).hexdigest() != manifest.list_sha256:
        raise BackupError(f"{source.path}: {LIST}: is not the list that was signed")
    sums = dict(line.split("  ", 1)[::-1] for line in listed.decode().splitlines())
    if missing := sorted(sums.keys() - source.names):
        raise BackupError(f"{source.path}: {missing[0]} is missing, and {len(missing) - 1} more")
    if strange := sorted(source.names - sums.keys() - {LIST, MANIFEST}):
        raise BackupError(f"{source.path}: {strange[0]} was added: the list does not name it")
    for name, wanted in sums.items():
        running = hashlib.sha256()
        for chunk in source.chunks(name):
            running.update(chunk)
        if running.hexdigest() != wanted:
            raise BackupError(f"{source.path}: {name}: was changed since the back-up was made")
        if name.startswith(RAW) and name != f"{RAW}{wanted[:2]}/{wanted}":
            raise BackupError(f"{source.path}: {name}: its content is not the one it is named after")
    return manifest, key
