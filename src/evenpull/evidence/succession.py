"""A signing key that takes over from another: a statement signed by both, and which key must have signed what.

The statement stands in the log as the fact whose place is `size`: checkpoints of up to `size` facts are signed by the
old key, all later ones by the new key.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.checkpoint import Checkpoint, moment, read_moment
from evenpull.evidence.sign import PublicKey, SecretKey

FORM, KIND = "evenpull key succession 1", "key succeeded"
FIELDS = ("form", "size", "root", "time", "old_key", "new_key", "signature_old", "signature_new")


class SuccessionError(ValueError):
    """A statement of succession that does not hold; the message says what is wrong."""


@dataclass(frozen=True)
class Succession:
    """`size`, `root`: state of the log in which it was made; keys are 32 bytes, signatures 64 bytes."""

    size: int
    root: str
    time: str
    old: PublicKey
    new: PublicKey
    signature_old: bytes
    signature_new: bytes

    @property
    def message(self) -> bytes:
        """The bytes that both keys sign."""
        return canonical(
            {
                "form": FORM,
                "size": self.size,
                "root": self.root,
                "time": self.time,
                "old_key": self.old.raw.hex(),
                "new_key": self.new.raw.hex(),
            }
        )

    @property
    def body(self) -> dict[str, Any]:
        """The body of the fact."""
        return {
            "form": FORM,
            "size": self.size,
            "root": self.root,
            "time": self.time,
            "old_key": self.old.raw.hex(),
            "new_key": self.new.raw.hex(),
            "signature_old": self.signature_old.hex(),
            "signature_new": self.signature_new.hex(),
        }

    @property
    def line(self) -> bytes:
        """As it stands in a bundle."""
        return canonical(self.body) + b"\n"


def make_succession(last: Checkpoint, at: datetime, old: SecretKey, new: SecretKey) -> Succession:
    """`new` takes over from `old` after `last`. Raises SuccessionError when `old` did not sign `last`."""
    if not last.signed_by(old.public):
        raise SuccessionError("only the key that signed the last checkpoint can name the one that takes over")
    unsigned = Succession(last.size, last.root, moment(at), old.public, new.public, b"", b"")
    return read_succession(
        unsigned.body
        | {
            "signature_old": old.sign(unsigned.message).hex(),
            "signature_new": new.sign(unsigned.message).hex(),
        }
    )


def read_succession(body: Any) -> Succession:
    """Raises SuccessionError unless `body` is a statement, spelt as `body` spells it, and both signatures hold."""
    if not isinstance(body, Mapping) or set(body) != set(FIELDS) or body["form"] != FORM:
        raise SuccessionError("not a statement of key succession")
    try:
        found = Succession(
            body["size"], body["root"], body["time"],
            PublicKey(bytes.fromhex(body["old_key"])), PublicKey(bytes.fromhex(body["new_key"])),
            bytes.fromhex(body["signature_old"]), bytes.fromhex(body["signature_new"]),
        )  # fmt: skip
        read_moment(found.time)
        known = type(found.size) is int and found.size > 0 and found.body == dict(body)
        known = known and len(bytes.fromhex(found.root)) == len(found.old.raw) == len(found.new.raw) == 32
        canonical(found.body)
    except (ValueError, TypeError, CanonicalError) as error:
        raise SuccessionError("not a statement of key succession") from error
    if not known:
        raise SuccessionError("a statement of key succession, but not in the form in which it is written")
    if found.old == found.new:
        raise SuccessionError("a key cannot take over from itself")
    for who, key, signature in (
        ("old", found.old, found.signature_old), ("new", found.new, found.signature_new),
    ):  # fmt: skip
        if not key.signed(signature, found.message):
            raise SuccessionError(f"the signature of the {who} key {key.fingerprint} does not fit")
    return found


@dataclass(frozen=True)
class KeyChain:
    """All keys of a log in their order. `first` signed the first checkpoint."""

    first: PublicKey
    successions: tuple[Succession, ...] = ()

    @property
    def last(self) -> PublicKey:
        """The key in force."""
        return self.successions[-1].new if self.successions else self.first

    @property
    def keys(self) -> tuple[PublicKey, ...]:
        """The first key and those that took over, in order."""
        return (self.first, *(s.new for s in self.successions))

    def at(self, size: int) -> PublicKey:
        """The key that must have signed the checkpoint of `size` facts."""
        key = self.first
        for succession in self.successions:
            if size > succession.size:
                key = succession.new
        return key


def key_chain(successions: Sequence[Succession], last: PublicKey) -> KeyChain:
    """Join statements to a chain that ends in `last`. Raises SuccessionError where one does not follow the other."""
    if not successions:
        return KeyChain(last)
    chain = KeyChain(successions[0].old)
    for found in successions:
        if found.old != chain.last:
            raise SuccessionError(f"key {found.old.fingerprint} hands over at {found.size} facts and was not in force")
        if chain.successions and found.size <= chain.successions[-1].size:
            raise SuccessionError("the statements of key succession are not in the order of the log")
        if found.new in chain.keys:
            raise SuccessionError(f"key {found.new.fingerprint} takes over a second time")
        chain = KeyChain(chain.first, (*chain.successions, found))
    if chain.last != last:
        raise SuccessionError(f"the statements lead to the key {chain.last.fingerprint}, not to {last.fingerprint}")
    return chain
