"""Canonical JSON against the examples of RFC 8785; Ed25519 against RFC 8032; key files; checkpoints."""

from __future__ import annotations

import os
from dataclasses import asdict, fields, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from evenpull.evidence import (
    CanonicalError,
    Envelope,
    KeyFileError,
    canonical,
    digest,
    make_checkpoint,
    make_key_file,
    moment,
    read_checkpoint,
    read_moment,
    read_public_key,
    read_secret_key,
)
from evenpull.evidence.sign import SecretKey, generate

AT = datetime(2026, 3, 19, 8, 30, 0, 125, tzinfo=UTC)


def test_example_of_rfc_8785() -> None:
    """RFC 8785 3.2.2 to 3.2.4, the sample object (from memory, not re-read)."""
    sample = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }
    assert canonical(sample) == (
        b'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        b'"string":"\xe2\x82\xac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_order_of_keys_is_by_utf_16() -> None:
    """RFC 8785 3.2.3: U+1F600 (surrogates from D83D) sorts before U+FB33."""
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    text = canonical(dict.fromkeys(keys, 0)).decode()
    order = sorted(keys, key=lambda key: text.index('"\\r"' if key == "\r" else f'"{key}"'))
    assert order == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53, "\ud800", {"at": datetime(2026, 1, 1)}, {1: 2}])
def test_what_has_no_canonical_form_is_refused(value: object) -> None:
    with pytest.raises(CanonicalError):
        canonical(value)


def test_the_same_value_has_one_digest() -> None:
    assert digest({"a": 1, "b": [1.0]}) == digest({"b": [1], "a": 1.0})
    assert digest({"a": 1}) != digest({"a": "1"})


def test_ed25519_of_rfc_8032() -> None:
    """RFC 8032 7.1, test 2 (from memory, not re-read)."""
    secret = "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb"
    key = SecretKey(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)))
    assert key.public.raw.hex() == "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
    assert key.sign(b"\x72").hex() == (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    assert key.public.signed(key.sign(b"\x72"), b"\x72")
    assert not key.public.signed(key.sign(b"\x72"), b"\x73")


def test_key_file_is_made_once_and_kept_private(tmp_path: Path) -> None:
    path = tmp_path / "signing-key.pem"
    first = make_key_file(path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert make_key_file(path).public == first.public == read_secret_key(path).public
    assert [p.name for p in tmp_path.iterdir()] == ["signing-key.pem"]
    path.chmod(0o644)
    with pytest.raises(KeyFileError, match="chmod 600"):
        read_secret_key(path)


def test_other_key_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "key"
    with pytest.raises(KeyFileError, match="no signing key here"):
        read_secret_key(path)
    descriptor = os.open(path, os.O_CREAT | os.O_WRONLY, 0o600)
    os.write(descriptor, b"hello")
    os.close(descriptor)
    with pytest.raises(KeyFileError, match="not a secret key"):
        read_secret_key(path)
    with pytest.raises(KeyFileError):
        read_public_key(b"hello")
    public = generate().public
    assert read_public_key(public.pem) == public
    with pytest.raises(KeyFileError, match="byte for byte"):
        read_public_key(public.pem + b"\n")


def test_checkpoint_holds_its_size_root_time_and_key() -> None:
    key = generate()
    made = make_checkpoint(7, bytes(range(32)), AT, key)
    assert read_checkpoint(made.text) == made
    assert made.signed_by(key.public)
    assert not made.signed_by(generate().public)
    for forged in (
        replace(made, size=8),
        replace(made, root="0" * 64),
        replace(made, time=moment(AT + timedelta(seconds=1))),
        replace(made, signature=made.signature.upper()),
        replace(made, signature=""),
        replace(made, signature="zz"),
    ):
        assert not forged.signed_by(key.public)
    for text in (b"", b"{}", b"[]", made.text + b" ", made.text.replace(b'"size":7', b'"size":7.0'),
                 made.text.replace(b'"root":"00', b'"root":"0g'), made.text.replace(b"2026-03-19T", b"2026-03-19 ")):
        with pytest.raises(ValueError):
            read_checkpoint(text)


def test_an_envelope_is_digested_whole() -> None:
    """Every field of a fact is under its digest, not only the body."""
    fact = Envelope(3, "card", "KN-CW-008", "card:1", "A. Lindqvist", moment(AT), moment(AT), {"paper": "a4"})
    changes = {"seq": 4, "kind": "x", "joint": "x", "key": "x", "author": "x", "received_at": "x", "written_at": "x",
               "body": {"paper": "us-letter"}}  # fmt: skip
    digests = {replace(fact, **{name: value}).digest() for name, value in changes.items()} | {fact.digest()}
    assert len(digests) == len(changes) + 1 and set(changes) == {f.name for f in fields(fact)}
    assert fact.digest().hex() == digest(asdict(fact))


json_values = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@given(st.integers(0, 2**40), st.text(), st.text(), json_values)
def test_the_text_of_an_envelope_is_its_canonical_json(seq: int, joint: str, author: str, body: object) -> None:
    """It is put together from pieces; the result must be that of the library for the whole."""
    fact = Envelope(seq, "card", joint, "card:1", author, moment(AT), moment(AT), body)
    assert fact.canonical() == fact.canonical(canonical(body)) == canonical(asdict(fact))
    assert fact.digest().hex() == digest(asdict(fact))


def test_moments_keep_their_zone() -> None:
    summer = timezone(timedelta(hours=2))
    assert moment(datetime(2026, 7, 1, 14, 0, tzinfo=summer)) == "2026-07-01T12:00:00.000000Z"
    assert read_moment(moment(AT)) == AT
    with pytest.raises(ValueError):
        moment(datetime(2026, 1, 1))
