"""A time-stamp authority for tests: certificates made here, tokens made by the command `openssl ts`. No network."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

POLICY = "1.3.6.1.4.1.99999.1"  # an arc for examples
Key = rsa.RSAPrivateKey | ec.EllipticCurvePrivateKey
CONFIG = """
[tsa]
default_tsa = one
[one]
serial = {folder}/serial
signer_cert = {folder}/tsa.pem
signer_key = {folder}/tsa.key
certs = {folder}/between.pem
signer_digest = {digest}
default_policy = {policy}
digests = sha256, sha512
accuracy = secs:1, millisecs:500, microsecs:100
ordering = no
tsa_name = yes
ess_cert_id_chain = no
ess_cert_id_alg = {ess}
"""


def name(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])


def certificate(
    subject: str, key: Key, issuer: str, by: Key, *, ca: bool, days: tuple[int, int] = (-30, 3000),
    purpose: list[x509.ObjectIdentifier] | None = None, critical: bool = True, length: int | None = None,
) -> x509.Certificate:  # fmt: skip
    now = datetime.now(UTC)
    build = (
        x509.CertificateBuilder()
        .subject_name(name(subject)).issuer_name(name(issuer)).public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now + timedelta(days=days[0])).not_valid_after(now + timedelta(days=days[1]))
        .add_extension(x509.BasicConstraints(ca=ca, path_length=length), critical=True)
    )  # fmt: skip
    if purpose is not None:
        build = build.add_extension(x509.ExtendedKeyUsage(purpose), critical=critical)
    return build.sign(by, hashes.SHA256())


def pem(item: x509.Certificate) -> bytes:
    return item.public_bytes(serialization.Encoding.PEM)


@dataclass(frozen=True)
class Authority:
    folder: Path
    root: x509.Certificate

    def answer(self, request: bytes, *, token: bool = False) -> bytes:
        """What `openssl ts -reply` makes of a request: a response, or the bare token."""
        asked, made = self.folder / "asked.tsq", self.folder / "made.tsr"
        asked.write_bytes(request)
        command = ["openssl", "ts", "-reply", "-config", str(self.folder / "ts.cnf"), "-queryfile", str(asked),
                   "-out", str(made), *(["-token_out"] if token else [])]  # fmt: skip
        subprocess.run(command, check=True, capture_output=True, timeout=60)
        return made.read_bytes()


def authority(
    folder: Path, *, curve: bool = False, ess: str = "sha256", digest: str = "sha256", ca: bool = True,
    length: int | None = None, purpose: list[x509.ObjectIdentifier] | None = None,
) -> Authority:  # fmt: skip
    """Root, one certificate between, and the one that stamps. `curve`: ECDSA instead of RSA."""
    folder.mkdir(parents=True, exist_ok=True)

    def key() -> Key:
        return ec.generate_private_key(ec.SECP256R1()) if curve else rsa.generate_private_key(65537, 2048)

    top, middle, own = key(), key(), key()
    root = certificate("Kestrel Narrows test root", top, "Kestrel Narrows test root", top, ca=True, length=length)
    between = certificate("Kestrel Narrows test between", middle, "Kestrel Narrows test root", top, ca=ca)
    stamping = certificate("Kestrel Narrows test clock", own, "Kestrel Narrows test between", middle, ca=False,
                           purpose=purpose or [ExtendedKeyUsageOID.TIME_STAMPING])  # fmt: skip
    (folder / "tsa.pem").write_bytes(pem(stamping))
    (folder / "between.pem").write_bytes(pem(between))
    (folder / "tsa.key").write_bytes(
        own.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    (folder / "serial").write_text("01\n")
    (folder / "ts.cnf").write_text(CONFIG.format(folder=folder, policy=POLICY, ess=ess, digest=digest))
    return Authority(folder, root)
