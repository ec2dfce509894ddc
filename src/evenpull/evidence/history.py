"""Earlier signed states of a log, each with the proof (RFC 6962 2.1.2) that the log only grew since."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.checkpoint import Checkpoint, read_checkpoint
from evenpull.evidence.merkle import ProofError, verify_consistency
from evenpull.evidence.succession import KeyChain


class HistoryError(ValueError):
    """A line of the earlier states that cannot be read or does not hold."""


@dataclass(frozen=True)
class Earlier:
    """`path`: consistency proof from the earlier state to the state of the bundle."""

    checkpoint: Checkpoint
    path: tuple[bytes, ...]

    @property
    def line(self) -> bytes:
        """As it stands in a bundle."""
        steps = b",".join(b'"%b"' % step.hex().encode() for step in self.path)
        return b'{"checkpoint":%b,"path":[%b]}\n' % (self.checkpoint.text.rstrip(b"\n"), steps)


def read_earlier(line: bytes) -> Earlier:
    """Raises HistoryError unless `line` is spelt as `Earlier.line` spells it."""
    try:
        data = json.loads(line)
        found = Earlier(
            read_checkpoint(canonical(data["checkpoint"]) + b"\n"), tuple(bytes.fromhex(step) for step in data["path"])
        )
    except (ValueError, KeyError, TypeError, RecursionError, CanonicalError) as error:
        raise HistoryError("cannot be read as an earlier state of the log") from error
    if found.line != line:
        raise HistoryError("is not byte for byte in the form in which it is written")
    return found


def appended_only(earlier: Checkpoint, later: Checkpoint, path: Sequence[bytes], chain: KeyChain) -> None:
    """Raise HistoryError unless both states are signed by the key in force then and the later one only appended."""
    for state in (earlier, later):
        if not state.signed_by(chain.at(state.size)):
            raise HistoryError(f"the state of {state.size} facts is not signed by the key that was in force then")
    if earlier.size > later.size:
        raise HistoryError(f"the state of {earlier.size} facts is not earlier than that of {later.size} facts")
    try:
        verify_consistency(
            earlier.size, bytes.fromhex(earlier.root), later.size, bytes.fromhex(later.root), list(path)
        )
    except ProofError as error:
        raise HistoryError(str(error)) from error
