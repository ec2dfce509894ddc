"""Writing facts: one transaction, a dense sequence, a digest for each, one signed checkpoint at the end."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from django.db import connection, transaction
from django.db.models import Max

from evenpull.evidence import checkpoint as evidence
from evenpull.evidence.canonical import canonical
from evenpull.evidence.checkpoint import make_checkpoint, moment, read_moment
from evenpull.evidence.fact import spelled
from evenpull.evidence.merkle import Frontier
from evenpull.evidence.sign import SecretKey
from evenpull.store.models import Checkpoint, Fact
from evenpull.store.services import index
from evenpull.store.services.bulk import insert
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import CLOCK
from evenpull.store.services.place import signing_key
from evenpull.store.services.rows import FactRow, LogStatus

_LOCK = 0x6576656E  # any number, the same for every process that writes this database
BATCH = 1_000
LEAST_REASON = 5  # characters
FEW = 100
COLUMNS = ("seq", "kind", "joint", "key", "author", "received_at", "written_at", "body", "digest")


@dataclass(frozen=True)
class New:
    """A fact to be written. `body` is plain JSON; `received_at` defaults to the moment of writing."""

    kind: str
    key: str
    body: Any
    joint: str = ""
    received_at: datetime | None = None
    text: bytes | None = None  # the canonical form of the body, where the caller has it already


def next_key(kind: str) -> str:
    """A key that no fact has: the kind and the place that the next fact gets. Inside `writing()`."""
    last = Checkpoint.objects.order_by("-size").first()
    return f"{kind}:{0 if last is None else last.size}"


def behind(now: datetime) -> float:
    """Seconds by which this machine's clock stands behind the latest time that the log has signed; 0 when it does not.

    Above 0 the clock was set back, or was wrong before: how much later it really is, nobody can tell from the log.
    """
    latest = Checkpoint.objects.aggregate(latest=Max("time"))["latest"]
    return 0.0 if latest is None else max(0.0, (read_moment(latest) - now).total_seconds())


@contextmanager
def writing() -> Iterator[None]:
    """A transaction in which this process is the only writer from the first statement on."""
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])
        # On SQLite the transaction began IMMEDIATE (settings), which is the same promise.
        yield


def checked_author(author: str) -> str:
    """A person's name, tidied. Refused when it is empty or absurdly long."""
    name = " ".join(author.split())
    if not 2 <= len(name) <= 80 or not name.isprintable():
        raise Refused("say who does this: a person's own name with 2 to 80 characters. Nothing was written.")
    return name


def checked_reason(why: str, what: str) -> str:
    """The reason of an act, tidied; `what` is done. Refused when it says nothing."""
    reason = " ".join(why.split())
    if len(reason) < LEAST_REASON:
        raise Refused(f"{what} needs its reason in words ({LEAST_REASON} characters or more). Nothing was written.")
    return reason


def append(facts: Iterable[New], author: str, key: SecretKey | None = None) -> list[Fact]:
    """Append facts to the log; must be called inside `writing()`. The checkpoint is signed in the same transaction.

    Gives the facts back where they are few; many are looked up by their keys. `key` only where these facts are the
    statement by which it takes over from the one in force.
    """
    last = Checkpoint.objects.order_by("-size").first()
    frontier = Frontier() if last is None else Frontier(last.size, _hashes(last.frontier))
    now = datetime.now(UTC)
    written_at = moment(now)
    if last is not None and written_at < last.time:
        back = (read_moment(last.time) - now).total_seconds()
        what = (
            f"the clock of this machine stands {back:,.0f} s behind the last checkpoint ({last.time}): it was set "
            "back, or it was wrong before; facts stay in the order in which they were written"
        )
        facts = (New(CLOCK, f"{CLOCK}:{last.size}", {"what": what, "seconds": round(back, 6)}), *facts)
    rows: list[tuple[Any, ...]] = []
    digests: list[bytes] = []
    indexed: list[index.Written] = []
    for seq, fact in enumerate(facts, start=frontier.size):
        received = written_at if fact.received_at is None else moment(fact.received_at)
        body = canonical(fact.body) if fact.text is None else fact.text
        whole = spelled(seq, fact.kind, fact.joint, fact.key, author, received, written_at, body)
        digest = sha256(whole)
        digests.append(digest.digest())
        text = body.decode()
        rows.append((seq, fact.kind, fact.joint, fact.key, author, received, written_at, text, digest.hexdigest()))
        indexed.append(index.Written(seq, fact.kind, fact.joint, fact.key, author, written_at, fact.body))
    if not rows:
        return []
    insert(Fact, COLUMNS, rows, guarded=True)
    index.write(indexed)
    frontier = frontier.extended(digests)
    signer = signing_key() if key is None else key
    if key is None and last is not None and signer.public.fingerprint != last.key:
        raise Refused(
            f"the signing key of this folder ({signer.public.fingerprint}) is not the one in force in the log "
            f"({last.key}); put that one back. Nothing was written."
        )
    signed = make_checkpoint(frontier.size, frontier.root, now, signer)
    Checkpoint.objects.bulk_create(
        [
            Checkpoint(
                size=signed.size,
                root=signed.root,
                frontier=" ".join(h.hex() for h in frontier.hashes),
                time=signed.time,
                key=signed.key,
                signature=signed.signature,
            )
        ]
    )
    return [Fact(*row) for row in rows if row[1] != CLOCK] if len(rows) <= FEW else []


def _hashes(text: str) -> tuple[bytes, ...]:
    return tuple(bytes.fromhex(item) for item in text.split())


def log_status() -> LogStatus:
    """Size and root of the log as last signed."""
    last = Checkpoint.objects.order_by("-size").first()
    key_id = signing_key().public.fingerprint
    if last is None:
        return LogStatus(0, Frontier().root.hex(), None, key_id)
    return LogStatus(last.size, last.root, read_moment(last.time), last.key)


def latest_facts(count: int) -> list[FactRow]:
    """The last `count` facts, newest first."""
    return [
        FactRow(f.seq, f.kind, f.joint, f.author, read_moment(f.written_at), f.digest)
        for f in Fact.objects.order_by("-seq")[:count]
    ]


def make_checkpoint_from(row: Checkpoint) -> evidence.Checkpoint:
    """The evidence value of a stored checkpoint."""
    return evidence.Checkpoint(row.size, row.root, row.time, row.key, row.signature)
