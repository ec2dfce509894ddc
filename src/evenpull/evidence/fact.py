"""The envelope of one fact: what is digested, logged and exported."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import orjson

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

    def canonical(self, body: bytes | None = None) -> bytes:
        """RFC 8785 text of the envelope. `body` is the canonical text of the body where the caller has it already."""
        text = canonical(self.body) if body is None else body
        return spelled(
            self.seq, self.kind, self.joint, self.key, self.author, self.received_at, self.written_at, text
        )

    def digest(self, body: bytes | None = None) -> bytes:
        """SHA-256 of the canonical JSON: the leaf of the log (32 bytes)."""
        return hashlib.sha256(self.canonical(body)).digest()


def spelled(
    seq: int, kind: str, joint: str, key: str, author: str, received_at: str, written_at: str, body: bytes
) -> bytes:
    """RFC 8785 text of an envelope whose body is spelled already: what writing thousands of facts at once needs."""
    plain = {  # in the order of their names: texts and one whole number, which need no further care
        "joint": joint, "key": key, "kind": kind, "received_at": received_at, "seq": seq, "written_at": written_at,
    }  # fmt: skip
    try:
        rest = orjson.dumps(plain) if 0 <= seq < 2**53 else canonical(plain)
    except orjson.JSONEncodeError:
        rest = canonical(plain)  # says why there is no such text
    # The names in order are author, body, joint, ...: the two that come first are put in front of the rest.
    return b'{"author":' + _author(author) + b',"body":' + body + b"," + rest[1:]


@lru_cache(maxsize=16)
def _author(name: str) -> bytes:
    return canonical(name)
