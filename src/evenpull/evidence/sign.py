"""Ed25519 keys (RFC 8032) that sign checkpoints, bundles and releases.

The secret key lies in a file of its own that only its owner may read. A signature shows that the holder of the key
signed; who that was is not in it. Public keys are compared by their fingerprint.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

KEY_FILE = "signing-key.pem"
NEXT_KEY_FILE = "signing-key-next.pem"  # while a renewal is under way


class KeyFileError(ValueError):
    """A key file that is missing, readable by others, or no Ed25519 key."""


@dataclass(frozen=True)
class PublicKey:
    """`raw` is the 32 bytes of RFC 8032 5.1.5."""

    raw: bytes

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the raw public key, 64 hexadecimal characters."""
        return sha256(self.raw).hexdigest()

    @property
    def pem(self) -> bytes:
        """SubjectPublicKeyInfo in PEM (RFC 8410), the one spelling that is accepted back."""
        key = Ed25519PublicKey.from_public_bytes(self.raw)
        return key.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)

    def signed(self, signature: bytes, message: bytes) -> bool:
        """Whether the holder of the secret key signed exactly `message`."""
        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, message)
        except InvalidSignature:
            return False
        return True


def read_public_key(pem: bytes) -> PublicKey:
    """Raises KeyFileError unless `pem` is an Ed25519 public key, spelt exactly as `PublicKey.pem` spells it."""
    try:
        found = serialization.load_pem_public_key(pem)
    except (ValueError, UnsupportedAlgorithm) as error:
        raise KeyFileError("not a public key in PEM") from error
    if not isinstance(found, Ed25519PublicKey):
        raise KeyFileError("not an Ed25519 public key")
    key = PublicKey(found.public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw))
    if key.pem != pem:
        raise KeyFileError("a public key, but not byte for byte in the form in which it is written")
    return key


class SecretKey:
    """Signs; never printed, never exported."""

    def __init__(self, key: Ed25519PrivateKey) -> None:
        self._key = key
        self.public = PublicKey(
            key.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)
        )

    def sign(self, message: bytes) -> bytes:
        """64 bytes, the same for the same message (RFC 8032)."""
        return self._key.sign(message)


def generate() -> SecretKey:
    return SecretKey(Ed25519PrivateKey.generate())


def read_secret_key(path: Path) -> SecretKey:
    """Raises KeyFileError when the file is missing, open to others, or no Ed25519 secret key."""
    try:
        mode, pem = path.stat().st_mode, path.read_bytes()
    except FileNotFoundError as error:
        raise KeyFileError(f"{path}: no signing key here; restore it from your copy") from error
    if mode & 0o077:
        raise KeyFileError(f"{path}: other users may read or write the signing key; say: chmod 600 {path}")
    try:
        found = serialization.load_pem_private_key(pem, password=None)
    except (ValueError, TypeError) as error:
        raise KeyFileError(f"{path}: not a secret key in PEM without a password") from error
    if not isinstance(found, Ed25519PrivateKey):
        raise KeyFileError(f"{path}: not an Ed25519 key")
    return SecretKey(found)


def make_key_file(path: Path) -> SecretKey:
    """Write a new secret key to `path` (mode 0600) and give it back; a key that is there already is kept and read."""
    key = Ed25519PrivateKey.generate()
    pem = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    # Written whole under another name first: two processes that start at once end with one and the same key.
    temporary = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "wb") as out:
            out.write(pem)
            out.flush()
            os.fsync(out.fileno())
        with suppress(FileExistsError):
            os.link(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    return read_secret_key(path)
