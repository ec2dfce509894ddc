"""Certificates of time-stamp authorities: their signature, their purpose, and the way to one that is trusted.

RFC 5280 as far as a time-stamp needs it (RFC 3161 2.3). Revocation is not looked up: that would need a network.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, padding, rsa
from cryptography.x509.oid import ExtendedKeyUsageOID

STRONG: dict[str, hashes.HashAlgorithm] = {
    "sha256": hashes.SHA256(), "sha384": hashes.SHA384(), "sha512": hashes.SHA512(),
}  # fmt: skip
LONGEST = 8  # certificates from the authority to the trusted one
LEAST_BITS = 2048  # of an RSA key; NIST SP 800-131A (from memory, not re-read)


class AuthorityError(ValueError):
    """A certificate or signature of a time-stamp authority that does not hold."""


def new_hash(method: str, data: bytes, *, identify: bool = False) -> bytes:
    """Digest of `data`. SHA-1 only to `identify` a certificate (RFC 2634), never for what is signed."""
    if method not in STRONG and not (identify and method == "sha1"):
        raise AuthorityError(f"the hash {method} is not accepted; accepted are {', '.join(STRONG)}")
    return hashlib.new(method, data).digest()


def check_signature(
    certificate: x509.Certificate, algorithm: Any, digest: str, signature: bytes, message: bytes
) -> None:
    """Raise AuthorityError unless the key of `certificate` signed `message` (`algorithm`: RFC 5652 identifier)."""
    key, kind = certificate.public_key(), algorithm.signature_algo
    try:
        if isinstance(key, rsa.RSAPublicKey):
            if key.key_size < LEAST_BITS:
                raise AuthorityError(f"an RSA key of {key.key_size} bits is too short; at least {LEAST_BITS}")
            if kind == "rsassa_pkcs1v15":
                # The plain identifier rsaEncryption names no hash; the one of the signer counts then (RFC 5754 3.2).
                named = digest if algorithm["algorithm"].native == "rsassa_pkcs1v15" else algorithm.hash_algo
                key.verify(signature, message, padding.PKCS1v15(), _strong(named))
            elif kind == "rsassa_pss":
                method = _strong(algorithm.hash_algo)
                given = algorithm["parameters"]
                mask = padding.MGF1(_strong(given["mask_gen_algorithm"]["parameters"]["algorithm"].native))
                key.verify(signature, message, padding.PSS(mask, given["salt_length"].native), method)
            else:
                raise AuthorityError(f"a signature of the kind {kind} does not fit an RSA key")
        elif isinstance(key, ec.EllipticCurvePublicKey):
            key.verify(signature, message, ec.ECDSA(_strong(algorithm.hash_algo)))
        elif isinstance(key, ed25519.Ed25519PublicKey):
            key.verify(signature, message)
        else:
            raise AuthorityError(f"keys of the kind {type(key).__name__} are not accepted")
    except InvalidSignature as error:
        raise AuthorityError("the signature of the authority does not fit: the time-stamp was changed") from error


def _strong(method: str) -> hashes.HashAlgorithm:
    if method not in STRONG:
        raise AuthorityError(f"the hash {method} is not accepted; accepted are {', '.join(STRONG)}")
    return STRONG[method]


def check_stamping_certificate(certificate: x509.Certificate, at: datetime) -> None:
    """Raise AuthorityError unless it was valid `at` and is for time-stamping and nothing else (RFC 3161 2.3)."""
    try:
        purpose = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage)
    except x509.ExtensionNotFound as error:
        raise AuthorityError("the certificate of the authority has no purpose (extendedKeyUsage)") from error
    if list(purpose.value) != [ExtendedKeyUsageOID.TIME_STAMPING] or not purpose.critical:
        raise AuthorityError("the certificate of the authority is not for time-stamping alone, marked critical")
    _check_time(certificate, at)


def _check_time(certificate: x509.Certificate, at: datetime) -> None:
    first, last = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if not first <= at <= last:
        name = certificate.subject.rfc4514_string()
        raise AuthorityError(f"the certificate {name} is valid from {first:%F %T} to {last:%F %T} UTC, not {at:%F %T}")


def read_authorities(pem: bytes) -> tuple[x509.Certificate, ...]:
    """Certificates in PEM of the authorities that are trusted. AuthorityError when there is none."""
    try:
        return tuple(x509.load_pem_x509_certificates(pem))
    except ValueError as error:
        raise AuthorityError("no certificate in PEM can be read") from error


def lead_to(
    certificate: x509.Certificate, others: Sequence[x509.Certificate], trusted: Sequence[x509.Certificate], at: datetime
) -> x509.Certificate:
    """The trusted certificate that `certificate` leads to by way of `others`. AuthorityError when it leads to none."""
    current, seen = certificate, [certificate]
    while current not in trusted:
        if len(seen) > LONGEST:
            break
        issuer = next((c for c in (*trusted, *others) if c not in seen and _issued(c, current, len(seen) - 1)), None)
        if issuer is None:
            break
        _check_time(issuer, at)
        seen.append(issuer)
        current = issuer
    if current not in trusted:
        raise AuthorityError(
            f"the certificate {certificate.subject.rfc4514_string()} does not lead to an authority you gave; "
            f"the way ends at {current.issuer.rfc4514_string()}"
        )
    return current


def _issued(issuer: x509.Certificate, certificate: x509.Certificate, below: int) -> bool:
    """Whether `issuer` may and did issue `certificate`, with `below` other issuers under it."""
    try:
        limits = issuer.extensions.get_extension_for_class(x509.BasicConstraints).value
        certificate.verify_directly_issued_by(issuer)
    except (x509.ExtensionNotFound, InvalidSignature, ValueError, TypeError, UnsupportedAlgorithm):
        return False
    if not limits.ca or (limits.path_length is not None and limits.path_length < below):
        return False
    try:
        return issuer.extensions.get_extension_for_class(x509.KeyUsage).value.key_cert_sign
    except x509.ExtensionNotFound:
        return True
