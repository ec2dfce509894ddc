"""The facts of a back-up: each against its digest, all against the signed roots, and the files that they name."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from evenpull.evidence.backup import CHECKPOINTS, FACTS, RAW, BackupError, Manifest, Reader
from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.checking_second import STAMP
from evenpull.evidence.checkpoint import Checkpoint, read_checkpoint
from evenpull.evidence.fact import Envelope
from evenpull.evidence.merkle import Frontier
from evenpull.evidence.sign import PublicKey
from evenpull.evidence.succession import KIND, KeyChain, SuccessionError, key_chain, read_succession

# kind of fact -> the name in its body under which the SHA-256 of a kept file stands
NAMES_FILE = {
    "file": "sha256", STAMP: "token", "card": "pdf_sha256", "study card": "pdf_sha256", "work pack": "pdf_sha256",
    "release": "report_sha256", "certificate": "raw", "scan": "sha256", "scanned page": "straight_sha256",
    "carrier made": "sha256", "carrier taken in": "sha256", "curve file": "sha256",
    "curves judged again": "changes_sha256",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One fact as it is kept: `body` is its canonical text, `data` the same as values."""

    envelope: Envelope
    body: str
    digest: str

    @property
    def data(self) -> Any:
        return self.envelope.body


@dataclass(frozen=True)
class Stretch:
    """The facts of one transaction with the signed state after them."""

    rows: tuple[Row, ...]
    checkpoint: Checkpoint
    frontier: Frontier


def stretches(source: Reader, manifest: Manifest, key: PublicKey) -> Iterator[Stretch]:
    """All facts in their order, checked. BackupError for the first thing that does not fit; nothing counts before the
    end is reached."""
    chain, frontier = _chain(source, key), Frontier()
    facts, last = enumerate(source.lines(FACTS)), Checkpoint(0, "", "", "", "")
    for number, line in enumerate(source.lines(CHECKPOINTS), 1):
        try:
            last = read_checkpoint(line)
        except ValueError as error:
            raise BackupError(f"{CHECKPOINTS} line {number}: {error}") from error
        if last.size <= frontier.size:
            raise BackupError(f"{CHECKPOINTS} line {number}: the states are not in their order")
        rows: list[Row] = []
        while len(rows) < last.size - frontier.size:
            place, text = next(facts, (-1, b""))
            if place < 0:
                raise BackupError(f"{FACTS}: ends before the state of {last.size} facts")
            rows.append(_row(place, text))
        for row in rows:
            _file_of(source, row)
        frontier = frontier.extended([bytes.fromhex(row.digest) for row in rows])
        if frontier.root.hex() != last.root:
            raise BackupError(f"{FACTS}: the first {last.size} facts do not lead to the root that was signed")
        if not last.signed_by(chain.at(last.size)):
            raise BackupError(f"{CHECKPOINTS} line {number}: not signed by the key that was in force then")
        yield Stretch(tuple(rows), last, frontier)
    if (last.size, last.root) != (manifest.facts, manifest.root):
        raise BackupError(f"{CHECKPOINTS}: does not end in the state of {manifest.facts} facts that was signed")
    if next(facts, None) is not None:
        raise BackupError(f"{FACTS}: has more facts than were signed")


def _row(place: int, line: bytes) -> Row:
    """A line of `facts.jsonl`; the number of a line is the place of its fact plus one."""
    where = f"{FACTS} line {place + 1}"
    try:
        data = json.loads(line)
        fact, digest = data["fact"], data["digest"]
        body = canonical(fact["body"])
        one = Envelope(
            fact["seq"], fact["kind"], fact["joint"], fact["key"], fact["author"], fact["received_at"],
            fact["written_at"], fact["body"],
        )  # fmt: skip
        known = line == b'{"digest":"%b","fact":%b,"seq":%d}\n' % (digest.encode(), one.canonical(body), one.seq)
        fits = one.digest(body).hex() == digest and one.seq == place
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, CanonicalError) as error:
        raise BackupError(f"{where}: cannot be read as a fact") from error
    if not known or not fits:
        raise BackupError(f"{where}: the fact is not what was digested, or not in its place")
    return Row(one, body.decode(), digest)


def named_file(kind: str, body: Any) -> str:
    """SHA-256 of the kept file that a fact rests on, "" when it rests on none."""
    return str(body[NAMES_FILE[kind]]) if kind in NAMES_FILE else ""


def _file_of(source: Reader, row: Row) -> None:
    sha = named_file(row.envelope.kind, row.data)
    if sha and f"{RAW}{sha[:2]}/{sha}" not in source.names:
        raise BackupError(f"fact {row.envelope.seq} ({row.envelope.kind}) rests on the file {sha}, which is missing")


def _chain(source: Reader, last: PublicKey) -> KeyChain:
    """The keys of the log, from the statements by which one took over."""
    mark, found = b'"kind":"%b"' % KIND.encode(), []
    for place, line in enumerate(source.lines(FACTS)):
        if mark not in line:
            continue
        row = _row(place, line)
        if row.envelope.kind == KIND:
            try:
                found.append(read_succession(row.data))
            except SuccessionError as error:
                raise BackupError(f"{FACTS} line {place + 1}: {error}") from error
    try:
        return key_chain(found, last)
    except SuccessionError as error:
        raise BackupError(f"{FACTS}: {error}") from error
