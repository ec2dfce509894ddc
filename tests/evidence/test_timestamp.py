"""Time-stamp requests and tokens against another implementation: the command `openssl ts` (OpenSSL 3)."""

from __future__ import annotations

import subprocess
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from cryptography.x509.oid import ExtendedKeyUsageOID
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenpull.evidence.authority import AuthorityError, check_stamping_certificate, read_authorities
from evenpull.evidence.timestamp import TimeStampError, check_token, make_request, read_request
from tests.evidence.stamping import POLICY, Authority, authority, certificate, pem

TEXT, NONCE = b'{"form":"evenpull checkpoint 1"}\n', 0x0123456789ABCDEF


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return authority(tmp_path_factory.mktemp("clock"))


@pytest.fixture(scope="module")
def token(clock: Authority) -> bytes:
    return clock.answer(make_request(TEXT, NONCE))


def test_openssl_reads_the_request(tmp_path: Path) -> None:
    path = tmp_path / "a.tsq"
    path.write_bytes(make_request(TEXT, NONCE))
    told = subprocess.run(["openssl", "ts", "-query", "-in", str(path), "-text"], capture_output=True, text=True,
                          check=True, timeout=60).stdout  # fmt: skip
    assert "Hash Algorithm: sha256" in told and "0x0123456789ABCDEF" in told and "Certificate required: yes" in told
    found = read_request(path.read_bytes())
    assert (found.imprint, found.nonce) == (sha256(TEXT).digest(), NONCE)


def test_the_request_of_openssl_is_the_same_but_for_the_nonce(tmp_path: Path) -> None:
    text, path = tmp_path / "text", tmp_path / "b.tsq"
    text.write_bytes(TEXT)
    subprocess.run(["openssl", "ts", "-query", "-data", str(text), "-sha256", "-cert", "-out", str(path)], check=True,
                   capture_output=True, timeout=60)  # fmt: skip
    theirs = path.read_bytes()
    assert make_request(TEXT, read_request(theirs).nonce) == theirs


@pytest.mark.parametrize("curve", [False, True])
@pytest.mark.parametrize("ess", ["sha1", "sha256"])
@pytest.mark.parametrize("bare", [False, True])
def test_a_token_holds(tmp_path: Path, curve: bool, ess: str, bare: bool) -> None:
    """RSA and ECDSA, ESSCertID and ESSCertIDv2, response and bare token; openssl finds the same chain good."""
    made = authority(tmp_path / "clock", curve=curve, ess=ess, digest="sha512" if curve else "sha256")
    before = datetime.now(UTC).replace(microsecond=0)
    answer = made.answer(make_request(TEXT, NONCE), token=bare)
    found = check_token(answer, TEXT, nonce=NONCE, policy=POLICY, authorities=[made.root])
    assert before <= found.at <= datetime.now(UTC) + timedelta(seconds=1)
    assert (found.accuracy, found.policy, found.nonce) == (1.5001, POLICY, NONCE)
    assert found.authority == "CN=Kestrel Narrows test clock" and found.anchored and "you gave" in found.words
    assert not check_token(answer, TEXT).anchored
    text, path, root = tmp_path / "text", tmp_path / "token", tmp_path / "root.pem"
    text.write_bytes(TEXT)
    path.write_bytes(answer)
    root.write_bytes(pem(made.root))
    assert read_authorities(root.read_bytes()) == (made.root,)
    kind = ["-token_in"] if bare else []
    subprocess.run(["openssl", "ts", "-verify", "-data", str(text), "-in", str(path), *kind, "-CAfile", str(root),
                    "-untrusted", str(made.folder / "between.pem")], check=True, capture_output=True,
                   timeout=60)  # fmt: skip


def test_what_it_must_be_about(token: bytes, clock: Authority, tmp_path: Path) -> None:
    for message, nonce, policy, said in (
        (TEXT + b" ", NONCE, POLICY, "about something else"), (TEXT, NONCE + 1, POLICY, "another request"),
        (TEXT, NONCE, "1.2.3", "policy"),
    ):  # fmt: skip
        with pytest.raises(TimeStampError, match=said):
            check_token(token, message, nonce=nonce, policy=policy)
    stranger = authority(tmp_path / "other")
    with pytest.raises(TimeStampError, match="does not lead to an authority"):
        check_token(token, TEXT, authorities=[stranger.root])
    with pytest.raises(TimeStampError, match="does not lead to an authority"):
        check_token(token, TEXT, authorities=[])
    between = read_authorities((clock.folder / "between.pem").read_bytes())
    assert check_token(token, TEXT, authorities=between).anchored


def test_who_may_not_issue(tmp_path: Path) -> None:
    """A certificate between that is no authority, and a root that allows none between (RFC 5280 6.1.4 k, m)."""
    for number, made in enumerate((authority(tmp_path / "a", ca=False), authority(tmp_path / "b", length=0))):
        answer = made.answer(make_request(TEXT, NONCE))
        assert check_token(answer, TEXT).nonce == NONCE, number
        with pytest.raises(TimeStampError, match="does not lead to an authority"):
            check_token(answer, TEXT, authorities=[made.root])


def test_another_request_is_refused_by_openssl_and_that_is_told(clock: Authority) -> None:
    weak = bytearray(make_request(TEXT, NONCE))
    place = weak.index(bytes.fromhex("0609608648016503040201"))
    weak[place + 10] = 4  # the identifier of SHA-224, which the test authority does not accept
    with pytest.raises(TimeStampError, match="refused"):
        check_token(clock.answer(bytes(weak)), TEXT)


def test_the_certificate_must_be_for_time_stamping_alone_and_in_time(tmp_path: Path) -> None:
    from cryptography.hazmat.primitives.asymmetric import ec

    key, at = ec.generate_private_key(ec.SECP256R1()), datetime.now(UTC)
    stamp, server = ExtendedKeyUsageOID.TIME_STAMPING, ExtendedKeyUsageOID.SERVER_AUTH

    def made(**more: object) -> None:
        check_stamping_certificate(certificate("c", key, "c", key, ca=False, **more), at)  # type: ignore[arg-type]

    made(purpose=[stamp])
    for more, said in (
        ({}, "no purpose"), ({"purpose": [stamp, server]}, "alone"), ({"purpose": [server]}, "alone"),
        ({"purpose": [stamp], "critical": False}, "critical"), ({"purpose": [stamp], "days": (-9, -2)}, "valid from"),
        ({"purpose": [stamp], "days": (2, 9)}, "valid from"),
    ):  # fmt: skip
        with pytest.raises(AuthorityError, match=said):
            made(**more)  # type: ignore[arg-type]
    with pytest.raises(AuthorityError):
        read_authorities(b"none here")


@settings(max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_any_changed_byte_of_what_is_signed_is_refused(token: bytes, clock: Authority, data: st.DataObject) -> None:
    """One bit anywhere: refused, or else nothing that is believed has changed (spare certificates, status text)."""
    place = data.draw(st.integers(0, len(token) - 1))
    changed = bytearray(token)
    changed[place] ^= 1 << data.draw(st.integers(0, 7))
    good = check_token(token, TEXT, nonce=NONCE, authorities=[clock.root])
    try:
        found = check_token(bytes(changed), TEXT, nonce=NONCE, authorities=[clock.root])
    except TimeStampError:
        return
    assert found == good


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300))
def test_what_is_no_token_is_refused(data: bytes) -> None:
    with pytest.raises(TimeStampError):
        check_token(data, TEXT)
    with pytest.raises(TimeStampError):
        read_request(data)


def test_a_nonce_has_64_bits() -> None:
    for bad in (0, -1, 1 << 64):
        with pytest.raises(TimeStampError):
            make_request(TEXT, bad)
