"""The signature that a release carries of itself: over its state, reasons, statement, signer and what was signed."""

from __future__ import annotations

from typing import Any

from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.succession import KeyChain

RELEASE = "release"


class ReleaseError(ValueError):
    """A release whose signature does not hold."""


def check_release(seq: int, joint: object, body: Any, chain: KeyChain) -> None:
    """Raises ReleaseError unless the key in force at the place `seq` of the log signed the release of this joint."""
    try:
        signed, signature = body["signed"], bytes.fromhex(body["signature"])
        known = isinstance(signed, dict) and signature.hex() == body["signature"]
        message = canonical(signed)
        about, name = signed["joint"], body["key"]
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError, CanonicalError) as error:
        raise ReleaseError("cannot be read as a signed release") from error
    key = chain.at(seq + 1)
    if not known or about != joint:
        raise ReleaseError("is not the signed release of its joint")
    if name != key.fingerprint:
        raise ReleaseError(f"names another key than the one in force then, {key.fingerprint}")
    if not key.signed(signature, message):
        raise ReleaseError("its signature does not fit what was signed")
