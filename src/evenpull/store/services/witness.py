"""The log against itself and against what others kept of it: whole check, checkpoints, consistency, its keys."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from evenpull.evidence import checkpoint as evidence
from evenpull.evidence.compare import Comparison, judge, read_receipt
from evenpull.evidence.merkle import Frontier, consistency_of_stream
from evenpull.evidence.releases import RELEASE, ReleaseError, check_release
from evenpull.evidence.succession import KIND, KeyChain, Succession, SuccessionError, key_chain, read_succession
from evenpull.store.models import Checkpoint, Fact
from evenpull.store.services.errors import Refused
from evenpull.store.services.log import BATCH, make_checkpoint_from
from evenpull.store.services.place import signing_key

FEW = 500  # so many earlier states a bundle carries all; of more, the last of each day


def check_log() -> list[str]:
    """Every fact against its digest, its place and the signed checkpoints; empty when all fits.

    What a stolen or damaged database file would show: a body that is not what was digested, a gap, a wrong root, a
    checkpoint that the key in force then did not sign.
    """
    problems: list[str] = []
    frontier, marks = Frontier(), {c.size: c for c in Checkpoint.objects.all()}
    try:
        chain = keys_of_log()
    except SuccessionError as error:
        problems.append(f"the keys of the log: {error}")
        chain = KeyChain(signing_key().public)
    for handed in chain.successions:
        state = marks.get(handed.size)
        if state is None or state.root != handed.root:
            problems.append(f"fact {handed.size}: a key took over after a state that the log never had")
    pending: list[bytes] = []
    for expected, fact in enumerate(Fact.objects.order_by("seq").iterator(BATCH)):
        if fact.seq != expected:
            problems.append(f"fact {expected} is missing (next is {fact.seq})")
            return problems
        envelope = fact.envelope()
        digest = envelope.digest()
        if digest.hex() != fact.digest:
            problems.append(f"fact {fact.seq} ({fact.kind}): its content is not what was digested")
        if fact.kind == RELEASE:
            try:
                check_release(fact.seq, fact.joint, envelope.body, chain)
            except ReleaseError as error:
                problems.append(f"fact {fact.seq} (release): {error}")
        pending.append(digest)
        mark = marks.pop(expected + 1, None)
        if mark is None:
            continue
        frontier, pending = frontier.extended(pending), []
        if frontier.root.hex() != mark.root:
            problems.append(f"checkpoint {mark.size}: the facts up to here lead to another root")
        key = chain.at(mark.size)
        if not make_checkpoint_from(mark).signed_by(key):
            problems.append(f"checkpoint {mark.size}: not signed by the key in force then, {key.fingerprint}")
    if pending:
        problems.append(f"the last {len(pending)} facts have no checkpoint")
    problems += [f"checkpoint {size}: there are not that many facts" for size in marks]
    return problems


def successions() -> tuple[Succession, ...]:
    """The statements by which a key took over, in order. SuccessionError where one does not hold."""
    found = []
    for fact in Fact.objects.filter(kind=KIND).order_by("seq"):
        handed = read_succession(fact.data)
        if handed.size != fact.seq:
            raise SuccessionError(f"fact {fact.seq} is a statement made for the place {handed.size}")
        found.append(handed)
    return tuple(found)


def keys_of_log() -> KeyChain:
    """All keys of this log; the last one must be the signing key of this folder. SuccessionError otherwise."""
    return key_chain(successions(), signing_key().public)


def last_checkpoint() -> evidence.Checkpoint:
    """The signed state after the last fact. Refused when nothing has been written."""
    last = Checkpoint.objects.order_by("-size").first()
    if last is None:
        raise Refused("there is no checkpoint yet: nothing has been written to this dossier")
    return make_checkpoint_from(last)


def leaves() -> Iterator[bytes]:
    """The digests of all facts in order, read as they are asked for."""
    for digest in Fact.objects.order_by("seq").values_list("digest", flat=True).iterator(20 * BATCH):
        yield bytes.fromhex(digest)


def consistency(earlier: int, size: int) -> tuple[bytes, bytes, tuple[bytes, ...]]:
    """(root at `earlier`, root at `size`, proof after RFC 6962 2.1.2), from the digests of the facts as they stand now.

    Reads each digest once and keeps none of them. ValueError when the log has no such states.
    """
    return consistency_of_stream(leaves(), earlier, size)


def compare_receipt(text: bytes) -> Comparison:
    """Whether this log still holds the state that a receipt stands for. CompareError when it is no receipt."""
    receipt, last = read_receipt(text), last_checkpoint()
    try:
        chain = keys_of_log()
    except SuccessionError as error:
        return Comparison("not accepted", f"the keys of this log do not hold: {error}")

    def root_at(size: int) -> bytes:
        old, new, _ = consistency(size, last.size)
        if new.hex() != last.root:
            raise Refused("the digests of the facts do not lead to the signed root any more; say: evenpull check-log")
        return old

    if receipt.size == last.size:
        root_at(last.size)  # the facts themselves must still lead to the root that both name
    return judge(receipt, last, chain, root_at)


def known_receipt(text: bytes) -> int:
    """Size of a receipt that this very log gave out. Refused (or CompareError) for any other."""
    receipt = read_receipt(text)
    row = Checkpoint.objects.filter(size=receipt.size).first()
    if row is None or make_checkpoint_from(row) != receipt:
        raise Refused(f"this log never had the state of {receipt.size} facts that the receipt stands for")
    return receipt.size


def earlier_states(size: int, wanted: Collection[int]) -> list[evidence.Checkpoint]:
    """Signed states below `size` for a bundle: all, or of many the last of each day (UTC) and those `wanted`."""
    rows = list(Checkpoint.objects.filter(size__lt=size).order_by("size").values_list("size", "time"))
    sizes = {one for one, _ in rows}
    if len(rows) > FEW:
        sizes = {one for _, one in sorted({time[:10]: one for one, time in rows}.items())} | (sizes & set(wanted))
    kept = []
    for row in Checkpoint.objects.filter(size__lt=size).order_by("size").iterator(BATCH):
        if row.size in sizes:
            kept.append(make_checkpoint_from(row))
    return kept
