"""Time-stamp tokens of an outside authority after RFC 3161 (with RFC 5816): make the request, check what comes back.

The program itself reaches no network: the request is a file that a person sends, the token a file that comes back.
Checked are the imprint, the nonce, the signature over the signed attributes, the certificate named in them
(ESSCertID, ESSCertIDv2), its purpose, and that it was valid at the stated time. Whether it had been revoked is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any, ClassVar

from asn1crypto import cms, core, tsp
from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.serialization import Encoding

from evenpull.evidence.authority import (
    AuthorityError,
    check_signature,
    check_stamping_certificate,
    lead_to,
    new_hash,
)

MALFORMED = (
    ValueError, TypeError, KeyError, IndexError, OverflowError, AttributeError, UnsupportedAlgorithm,
    x509.InvalidVersion, x509.DuplicateExtension, x509.UnsupportedGeneralNameType,
)  # fmt: skip
GRANTED = ("granted", "granted_with_mods")


class _Response(core.Sequence):  # type: ignore[misc]
    """TimeStampResp, RFC 3161 2.4.2: a refusal has no token."""

    _fields: ClassVar = [("status", tsp.PKIStatusInfo), ("time_stamp_token", cms.ContentInfo, {"optional": True})]


class TimeStampError(ValueError):
    """A request or token that cannot be read or does not hold; the message says what is wrong."""


class OtherRequestError(TimeStampError):
    """A token, but about another message or for another request."""


@dataclass(frozen=True)
class Request:
    """What was asked: SHA-256 of the message, and the number that the answer must repeat."""

    imprint: bytes
    nonce: int


@dataclass(frozen=True)
class TimeStamp:
    """`at` UTC; `accuracy` in s, None when not stated; `certificate` SHA-256 of the authority's certificate.

    `anchored`: whether authorities were given, to one of which the certificate leads.
    """

    at: datetime
    accuracy: float | None
    policy: str
    serial: int
    nonce: int | None
    imprint: str
    authority: str
    certificate: str
    anchored: bool

    @property
    def words(self) -> str:
        """What it says, for a person."""
        trust = (
            "its certificate leads to the authority you gave"
            if self.anchored
            else "its certificate was not compared with that of an authority you trust"
        )
        about = "" if self.accuracy is None else f" (within {self.accuracy:g} s)"
        return f"existed at {self.at:%Y-%m-%dT%H:%M:%SZ}{about}, says {self.authority}; {trust}"


def make_request(message: bytes, nonce: int) -> bytes:
    """DER of a TimeStampReq (RFC 3161 2.4.1): SHA-256 of `message`, a nonce of at most 64 bits, certificate wanted."""
    if not 0 < nonce < 1 << 64:
        raise TimeStampError("a nonce is a positive whole number of at most 64 bits")
    imprint = {"hash_algorithm": {"algorithm": "sha256"}, "hashed_message": sha256(message).digest()}
    request = {"version": "v1", "message_imprint": imprint, "nonce": nonce, "cert_req": True}
    return bytes(tsp.TimeStampReq(request).dump())


def read_request(der: bytes) -> Request:
    """Raises TimeStampError unless it is a request as `make_request` writes it."""
    try:
        found = tsp.TimeStampReq.load(der, strict=True).native
        request = Request(found["message_imprint"]["hashed_message"], found["nonce"])
    except MALFORMED as error:
        raise TimeStampError("not a time-stamp request in DER") from error
    return request


def check_token(
    token: bytes,
    message: bytes,
    *,
    nonce: int | None = None,
    policy: str | None = None,
    authorities: Sequence[x509.Certificate] | None = None,
) -> TimeStamp:
    """Check a response (.tsr) or a bare token (.p7s), both in DER, over `message`.

    `nonce`, `policy`: what it must carry, None for anything. `authorities`: certificates one of which the chain must
    reach. Raises TimeStampError for the first thing that does not hold.
    """
    try:
        return _check(token, message, nonce, policy, authorities)
    except AuthorityError as error:
        raise TimeStampError(str(error)) from error
    except TimeStampError:
        raise
    except MALFORMED as error:
        raise TimeStampError("cannot be read as a time-stamp token in DER (RFC 3161)") from error


def _check(
    token: bytes,
    message: bytes,
    nonce: int | None,
    policy: str | None,
    authorities: Sequence[x509.Certificate] | None,
) -> TimeStamp:
    signed = _signed_data(token)
    wrapped = signed["encap_content_info"]
    if wrapped["content_type"].native != "tst_info":
        raise TimeStampError("it signs something else than a time-stamp")
    content = bytes(wrapped["content"].contents)
    info = tsp.TSTInfo.load(content, strict=True)
    found = info.native
    imprint = found["message_imprint"]
    if imprint["hash_algorithm"]["algorithm"] != "sha256":
        raise TimeStampError(f"its imprint is made with {imprint['hash_algorithm']['algorithm']}, not with sha256")
    if imprint["hashed_message"] != sha256(message).digest():
        raise OtherRequestError("it is about something else: its imprint is not the SHA-256 of this text")
    if nonce is not None and found["nonce"] != nonce:
        raise OtherRequestError("it answers another request: its nonce is not the one that was sent")
    if policy is not None and found["policy"] != policy:
        raise TimeStampError(f"it was made under the policy {found['policy']}, not {policy}")
    at = found["gen_time"].astimezone(UTC)
    if len(signed["signer_infos"]) != 1:
        raise TimeStampError("a token has one signature, that of the authority")
    certificates = [
        x509.load_der_x509_certificate(choice.chosen.dump()) for choice in signed["certificates"] or ()
        if choice.name == "certificate"
    ]  # fmt: skip
    own = _check_signer(signed["signer_infos"][0], content, certificates)
    check_stamping_certificate(own, at)
    if authorities is not None:
        lead_to(own, certificates, authorities, at)
    return TimeStamp(
        at, _seconds(found["accuracy"]), found["policy"], found["serial_number"], found["nonce"],
        imprint["hashed_message"].hex(), own.subject.rfc4514_string(),
        sha256(_der(own)).hexdigest(), authorities is not None,
    )  # fmt: skip


def _signed_data(data: bytes) -> Any:
    """The SignedData of a response that grants, or of a bare token."""
    try:
        content = cms.ContentInfo.load(data, strict=True)
        bare = content["content_type"].native == "signed_data"
    except MALFORMED:
        bare = False
    if not bare:
        response = _Response.load(data, strict=True)
        status = response["status"]["status"].native
        if status not in GRANTED:
            texts = response["status"]["status_string"].native or []
            raise TimeStampError(f"the authority refused: {status} {' '.join(texts)}".rstrip())
        content = response["time_stamp_token"]
        if not content:
            raise TimeStampError("the response holds no token")
        if content["content_type"].native != "signed_data":
            raise TimeStampError("the response holds no signed token")
    return content["content"]


def _check_signer(signer: Any, content: bytes, certificates: Sequence[x509.Certificate]) -> x509.Certificate:
    """The certificate that made the signature, which must hold over the signed attributes (RFC 5652 5.4)."""
    attributes: dict[str, Any] = {}
    for attribute in signer["signed_attrs"] or ():
        name = attribute["type"].native
        if name in attributes or len(attribute["values"]) != 1:
            raise TimeStampError(f"the signed attribute {name} stands there more than once")
        attributes[name] = attribute["values"][0]
    missing = [name for name in ("content_type", "message_digest") if name not in attributes]
    if missing:
        raise TimeStampError(f"the signed attributes lack {' and '.join(missing)}")
    if attributes["content_type"].native != "tst_info":
        raise TimeStampError("the signed attributes are about something else than a time-stamp")
    method = signer["digest_algorithm"]["algorithm"].native
    if new_hash(method, content) != attributes["message_digest"].native:
        raise TimeStampError("the time-stamp was changed: its digest is not the signed one")
    own = _named(attributes, certificates)
    # Signed is the set of attributes with its own tag instead of the implicit one in front (RFC 5652 5.4).
    message = b"\x31" + signer["signed_attrs"].dump()[1:]
    check_signature(own, signer["signature_algorithm"], method, signer["signature"].native, message)
    return own


def _named(attributes: dict[str, Any], certificates: Sequence[x509.Certificate]) -> x509.Certificate:
    """The certificate that the signed attributes name by its hash (RFC 2634 5.4, RFC 5035 4)."""
    if "signing_certificate_v2" in attributes:
        first = attributes["signing_certificate_v2"]["certs"][0]
        method = first["hash_algorithm"]["algorithm"].native
    elif "signing_certificate" in attributes:
        first, method = attributes["signing_certificate"]["certs"][0], "sha1"
    else:
        raise TimeStampError("the signed attributes do not name the certificate of the authority")
    for certificate in certificates:
        if new_hash(method, _der(certificate), identify=True) == first["cert_hash"].native:
            return certificate
    raise TimeStampError("the certificate that the signed attributes name is not in the token; ask for it (certReq)")


def _der(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(Encoding.DER)


def _seconds(accuracy: dict[str, int | None] | None) -> float | None:
    if accuracy is None:
        return None
    return (accuracy["seconds"] or 0) + (accuracy["millis"] or 0) / 1e3 + (accuracy["micros"] or 0) / 1e6


