"""The envelope of one fact: what is digested, logged and exported."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from typing import Any

from evenpull.evidence.canonical import canonical


@dataclass(frozen=True, slots=True)
class Envelope:
    """One fact. `seq` is its leaf in the log; times are ISO 8601 UTC texts; `body` is plain JSON."""

    seq: int
    kind: str
    joint: str  # "" when the fact belongs to no joint
    key: str  # unique; says what the fact is about
    author: str
    received_at: str  # when it reached the program
    written_at: str  # when it was written; never the time at which it happened, which is in the body
    body: Any

    def canonical(self) -> bytes:
        return canonical(asdict(self))

    def digest(self) -> bytes:
        """SHA-256 of the canonical JSON: the leaf of the log (32 bytes)."""
        return hashlib.sha256(self.canonical()).digest()

