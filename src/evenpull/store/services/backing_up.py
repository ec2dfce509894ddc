"""Making a back-up while others write.

No lock and no long transaction is needed: what lies below a signed state never changes, on either database. The state
is read first, then the facts below it; what is written meanwhile belongs to the next back-up. Facts are checked on the
way, so that a damaged log gives no back-up that cannot be restored.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from evenpull import __version__
from evenpull.evidence import backup as form
from evenpull.evidence import moment
from evenpull.evidence.backup_facts import NAMES_FILE, named_file
from evenpull.evidence.bundle import BundleFact
from evenpull.evidence.canonical import canonical
from evenpull.evidence.fact import Envelope
from evenpull.evidence.merkle import Frontier
from evenpull.store.models import Account, ApiClient, ApiRequest, Checkpoint, Fact, Finding
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import MADE
from evenpull.store.services.log import BATCH, New, append, checked_author, make_checkpoint_from, next_key, writing
from evenpull.store.services.place import CHUNK, checked_raw, home, signing_key

# What is compared after a restore: all of a finding but its seal, which is made with a key of the folder.
FINDING = ("joint", "rules", "good_until", "state", "joint_class", "words", "alike", "ratio", "sheet", "summary")


@dataclass(frozen=True)
class BackupRow:
    """A back-up that was made; `where` is the path as it was given."""

    where: str
    facts: int
    root: str
    files: int
    secrets: bool


def back_up(target: Path, author: str, *, secrets: bool = False) -> BackupRow:
    """Write a back-up to `target` (a folder, or a tar file by its name), and the fact that it was made.

    Refused when something has that name, when the log does not lead to its signed root, or when a file that a fact
    rests on is not as it was received. `secrets`: with the signing keys, password hashes and digests of tokens.
    """
    who = checked_author(author)
    last = Checkpoint.objects.order_by("-size").first()
    if last is None:
        raise Refused("there is nothing to back up yet: nothing has been written to this dossier")
    folder = target.absolute()
    if home() == folder or home() in folder.parents:
        raise Refused(f"{target} lies in the folder of the dossier itself; a back-up has to lie elsewhere")
    try:
        with form.writing(folder) as out:
            out.add(form.README, [form.TEXT.encode()])
            needed: set[str] = set()
            out.add(form.FACTS, _facts(last, needed))
            out.add(form.CHECKPOINTS, _checkpoints(last.size))
            out.add(form.KEY, [signing_key().public.pem])
            out.add(form.FINDINGS, _findings(last.size))
            out.add(form.ACCOUNTS, [canonical(_accounts(secrets)) + b"\n"])
            out.add(form.REQUESTS, _requests())
            _raw(out, needed)
            if secrets:
                for path in sorted(home().glob("signing-key*.pem")):
                    out.add(f"{form.SECRETS}{path.name}", [path.read_bytes()])
            made = out.finish(
                signing_key(), made_at=moment(datetime.now(UTC)), program=__version__, facts=last.size, root=last.root,
                secrets=secrets,
            )  # fmt: skip
    except form.BackupError as error:
        raise Refused(f"no back-up: {error}") from error
    except OSError as error:
        raise Refused(f"no back-up: {error.filename or target}: {error.strerror}. Nothing is left of it.") from error
    row = BackupRow(str(target), made.facts, made.root, made.files, secrets)
    body = {
        "what": f"back-up of {row.facts} facts and {row.files} files to {row.where}",
        "where": row.where, "facts": row.facts, "root": row.root, "files": row.files, "secrets": secrets,
        "manifest": made.signature, "made_at": made.made_at,
    }  # fmt: skip
    with writing():
        append([New(MADE, next_key(MADE), body)], who)
    return row


def _facts(last: Checkpoint, needed: set[str]) -> Iterator[bytes]:
    """Lines of the facts; `needed` gathers the SHA-256 of the files they rest on."""
    frontier, pending, count = Frontier(), list[bytes](), 0
    for fact in Fact.objects.filter(seq__lt=last.size).order_by("seq").iterator(BATCH):
        text = Envelope(
            fact.seq, fact.kind, fact.joint, fact.key, fact.author, fact.received_at, fact.written_at, None
        ).canonical(fact.body.encode())
        if fact.kind in NAMES_FILE:
            needed.add(named_file(fact.kind, fact.data))
        pending.append(bytes.fromhex(fact.digest))
        count += 1
        if len(pending) == BATCH:
            frontier, pending = frontier.extended(pending), []
        if hashlib.sha256(text).hexdigest() != fact.digest:
            raise form.BackupError(f"fact {fact.seq} is not what was digested; say: evenpull check-log")
        yield BundleFact(fact.seq, text, fact.digest).line
    frontier = frontier.extended(pending)
    if count != last.size or frontier.root.hex() != last.root:
        raise form.BackupError("the facts do not lead to the signed root; say: evenpull check-log")


def _checkpoints(size: int) -> Iterator[bytes]:
    for row in Checkpoint.objects.filter(size__lte=size).order_by("size").iterator(BATCH):
        yield make_checkpoint_from(row).text


def _findings(size: int) -> Iterator[bytes]:
    """Findings that are not marked old: what they say is what the facts below `size` give."""
    for row in Finding.objects.filter(stale=False, upto__lte=size).order_by("joint").iterator(BATCH):
        yield canonical(finding_of(row)) + b"\n"


def finding_of(row: Finding) -> dict[str, Any]:
    """A finding as it is compared; the ratio by its digits."""
    said = {name: getattr(row, name) for name in FINDING}
    return {**said, "ratio": repr(row.ratio)}


def _accounts(secrets: bool) -> dict[str, Any]:
    people = [
        {"login": a.login, "full_name": a.full_name, "folded": a.folded, "role": a.role, "closed": a.closed,
         **({"password": a.password} if secrets else {})}
        for a in Account.objects.order_by("pk")
    ]  # fmt: skip
    programs = [
        {"pk": c.pk, "name": c.name, "folded": c.folded, "role": c.role, "closed": c.closed,
         **({"token": c.token} if secrets else {})}
        for c in ApiClient.objects.order_by("pk")
    ]  # fmt: skip
    return {"form": "evenpull accounts 1", "accounts": people, "programs": programs}


def _requests() -> Iterator[bytes]:
    for row in ApiRequest.objects.order_by("pk").iterator(BATCH):
        said = {"client": row.client, "key": row.key, "digest": row.digest, "answer": row.answer}
        yield json.dumps(said, ensure_ascii=True, sort_keys=True).encode() + b"\n"


def _raw(out: form.Writer, needed: set[str]) -> None:
    """Every file that is kept, each checked against its name; those that a fact rests on have to be there."""
    kept = {path.name for path in (home() / "raw").glob("??/*") if len(path.name) == 64}
    if missing := sorted(needed - kept):
        raise form.BackupError(f"the file {missing[0]} is not kept any more, and a fact rests on it; put it back first")
    for sha in sorted(kept):
        out.add(f"{form.RAW}{sha[:2]}/{sha}", _chunks(checked_raw(sha)))


def _chunks(path: Path) -> Iterable[bytes]:
    with path.open("rb") as stream:
        while chunk := stream.read(CHUNK):
            yield chunk
