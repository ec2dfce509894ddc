"""Whether a later log only appended to an earlier one: bundles, and checkpoint receipts kept elsewhere.

A receipt is the one line of `Checkpoint.text`: short enough for an e-mail or a sheet of paper, and enough to show,
years later, whether what it stood for was rewritten.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from evenpull.evidence.bundle import verify
from evenpull.evidence.checkpoint import Checkpoint, read_checkpoint
from evenpull.evidence.history import Earlier
from evenpull.evidence.merkle import consistency_of_stream
from evenpull.evidence.succession import KeyChain

Verdict = Literal["accepted", "not accepted", "not judged"]
LONGEST_RECEIPT = 2_000  # bytes; a checkpoint has some 420


class CompareError(ValueError):
    """A file that is neither a whole bundle nor a checkpoint."""


@dataclass(frozen=True)
class Comparison:
    """`accepted`: the later log holds the earlier one, unchanged. `not judged`: it cannot be said from these files."""

    verdict: Verdict
    text: str


@dataclass(frozen=True)
class State:
    """What a bundle or a receipt says of the log. `chain` None, `earlier` and `leaves` empty where it carries none.

    `leaves`: digests of all facts of the log, when all of them are in the bundle.
    """

    checkpoint: Checkpoint
    chain: KeyChain | None = None
    earlier: tuple[Earlier, ...] = ()
    leaves: tuple[bytes, ...] = ()

    def root_at(self, size: int) -> bytes | None:
        """Proven root of the first `size` facts of this log (below its own size); None when nothing here proves it."""
        for one in self.earlier:
            if one.checkpoint.size == size:
                return bytes.fromhex(one.checkpoint.root)
        if self.leaves:
            return consistency_of_stream(self.leaves, size, len(self.leaves))[0]
        return None


def read_receipt(text: bytes) -> Checkpoint:
    """A checkpoint as it was written to a file; blanks and line ends around it do not count (it may have been mailed).

    Raises CompareError.
    """
    if len(text) > LONGEST_RECEIPT:
        raise CompareError(f"a checkpoint is one line of at most {LONGEST_RECEIPT} bytes; this has {len(text)}")
    try:
        return read_checkpoint(text.strip() + b"\n")
    except ValueError as error:
        raise CompareError(f"{error}: it must be the one line that was written, letter for letter") from error


def read_state(path: Path) -> State:
    """The state in a bundle, which must verify, or in a receipt. Raises CompareError, OSError."""
    with path.open("rb") as stream:
        head = stream.read(4)
    if head[:2] != b"PK":
        if path.stat().st_size > LONGEST_RECEIPT:
            raise CompareError(f"{path}: neither a bundle nor a checkpoint of one line")
        try:
            return State(read_receipt(path.read_bytes()))
        except CompareError as error:
            raise CompareError(f"{path}: {error}") from error
    found = verify(path)
    if not found.ok or found.checkpoint is None or found.chain is None:
        raise CompareError(f"{path}: not whole, so nothing can be compared with it: {found.problems[0]}")
    return State(found.checkpoint, found.chain, found.second.earlier, found.leaves)


def compare(later: State, earlier: State) -> Comparison:
    """Whether `later` only appended to `earlier`."""
    chain = later.chain
    if chain is None and later.checkpoint.size == earlier.checkpoint.size:
        chain = earlier.chain
    if chain is None:
        return Comparison(
            "not judged", "the later one is a checkpoint alone and carries neither key nor proof; give a bundle instead"
        )
    return judge(earlier.checkpoint, later.checkpoint, chain, later.root_at)


def judge(
    earlier: Checkpoint, later: Checkpoint, chain: KeyChain, root_at: Callable[[int], bytes | None]
) -> Comparison:
    """`chain` of the later log; `root_at`: its proven root at an earlier size, None when it is not known."""
    about = f"the state of {earlier.size} facts of {earlier.time}"
    if earlier.size > later.size:
        return Comparison(
            "not judged",
            f"{about} is later than the state of {later.size} facts it is compared with: give them the other way "
            "round. If nothing newer exists, facts were taken away since.",
        )
    if earlier.size < 1:
        return Comparison("not judged", "the earlier state holds no facts")
    key = chain.at(earlier.size)
    if not earlier.signed_by(key):
        named = "its signature does not fit" if earlier.key == key.fingerprint else f"it names the key {earlier.key}"
        return Comparison(
            "not accepted", f"{about} is not signed by the key {key.fingerprint} that was in force in this log: {named}"
        )
    root = bytes.fromhex(later.root) if earlier.size == later.size else root_at(earlier.size)
    if root is None:
        return Comparison(
            "not judged",
            f"nothing here proves how the log stood at {earlier.size} facts; ask its owner for a bundle made with this "
            "checkpoint: evenpull bundle --since FILE",
        )
    if root.hex() != earlier.root:
        return Comparison(
            "not accepted", f"REWRITTEN: the log no longer begins with {about}, although its own key signed that state"
        )
    more = later.size - earlier.size
    added = f"{more} fact{'' if more == 1 else 's'}"
    return Comparison("accepted", f"the log holds {about} unchanged and added {added} since")
