"""The signed state of the log: how many facts, under which root, when."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime

from evenpull.evidence.canonical import canonical
from evenpull.evidence.sign import PublicKey, SecretKey

FORM = "evenpull checkpoint 1"


def moment(at: datetime) -> str:
    """UTC with microseconds, e.g. 2026-03-18T13:40:05.000000Z. Raises ValueError for a time without zone."""
    if at.utcoffset() is None:
        raise ValueError(f"{at.isoformat()} has no time zone")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def read_moment(text: str) -> datetime:
    """The inverse of `moment`; raises ValueError for any other spelling."""
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)


@dataclass(frozen=True)
class Checkpoint:
    """`root` 64 hexadecimal characters; `key` fingerprint of the signer; `signature` 128 hexadecimal characters."""

    size: int
    root: str
    time: str
    key: str
    signature: str

    @property
    def message(self) -> bytes:
        """The bytes that are signed. The form is part of them, so that no other signed text can pass for it."""
        return canonical({"form": FORM, "size": self.size, "root": self.root, "time": self.time, "key": self.key})

    @property
    def text(self) -> bytes:
        """As it stands in a bundle, one line."""
        return canonical({**json.loads(self.message), "signature": self.signature}) + b"\n"

    def signed_by(self, key: PublicKey) -> bool:
        """Whether `key` signed exactly this state."""
        if key.fingerprint != self.key:
            return False
        try:
            signature = bytes.fromhex(self.signature)
        except ValueError:
            return False
        return signature.hex() == self.signature and key.signed(signature, self.message)


def make_checkpoint(size: int, root: bytes, at: datetime, key: SecretKey) -> Checkpoint:
    unsigned = Checkpoint(size, root.hex(), moment(at), key.public.fingerprint, "")
    return Checkpoint(size, root.hex(), unsigned.time, unsigned.key, key.sign(unsigned.message).hex())


def read_checkpoint(text: bytes) -> Checkpoint:
    """Raises ValueError unless `text` is a checkpoint, byte for byte as `Checkpoint.text` writes it."""
    try:
        data = json.loads(text)
        found = Checkpoint(data["size"], data["root"], data["time"], data["key"], data["signature"])
        known = found.text == text and type(found.size) is int and len(bytes.fromhex(found.root)) == 32
        read_moment(found.time)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise ValueError("not a checkpoint") from error
    if not known:
        raise ValueError("a checkpoint, but not byte for byte in the form in which it is written")
    return found
