"""A carrier holds what was put in, byte for byte; whatever was changed, or may not be in it, is refused with words."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from evenpull.carrier import CarrierError, Part, carrier_bytes, check_part, read_carrier
from evenpull.evidence.sign import generate, read_public_key

AT = datetime(2026, 3, 19, 8, 30, tzinfo=UTC)
KEY = generate()
PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)
PARTS = (
    Part("records", "monday.csv", b"a;b\r\n1;2\r\n", "store log"),
    Part("joint", "kn.toml", b'form = "x"\n'),
    Part("scan", "card 1.png", PNG),
)


def made(*parts: Part) -> bytes:
    return carrier_bytes(parts or PARTS, subject="gallery 3", by="Ines Harrowgate", at=AT, key=KEY)


def test_what_goes_in_comes_out_and_common_tools_read_it() -> None:
    data = made()
    assert data == made()
    got = read_carrier(data)
    assert (got.subject, got.by, got.made_at, got.key) == ("gallery 3", "Ines Harrowgate", AT, KEY.public.fingerprint)
    assert set(got.parts) == set(PARTS) and [part.kind for part in got.parts] == ["joint", "records", "scan"]
    with zipfile.ZipFile(io.BytesIO(data)) as seen:  # the zip reader of Python's own library
        assert seen.testzip() is None
        text = seen.read("contents.txt").decode()
        assert all(part.name in text and part.sha256 in text for part in PARTS)
        assert {seen.read(part.member) for part in PARTS} == {part.data for part in PARTS}
        key = read_public_key(seen.read("key.pem"))
        assert Ed25519PublicKey.from_public_bytes(key.raw) and not [n for n in seen.namelist() if ".." in n]


def test_every_changed_byte_is_refused() -> None:
    data = made()
    for place in range(0, len(data), 3):
        with pytest.raises(CarrierError, match=r"ask the sender|another version"):
            read_carrier(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
    for cut in (0, 1, len(data) // 2, len(data) - 1):
        with pytest.raises(CarrierError):
            read_carrier(data[:cut])
    with pytest.raises(CarrierError):
        read_carrier(data + b"\0")


def test_packed_members_are_refused_before_they_are_unpacked() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bomb:
        bomb.writestr("parts/zeros.csv", bytes(50_000_000))
    with pytest.raises(CarrierError, match="no whole carrier"):
        read_carrier(out.getvalue())


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (replace(PARTS[1], kind="program"), "none of: tools"),
        (replace(PARTS[1], name="../kn.toml"), "without folders"),
        (replace(PARTS[1], name="kn.exe"), "ends in toml"),
        (replace(PARTS[1], data=b"= no toml"), "no TOML in UTF-8"),
        (replace(PARTS[1], data=b""), "0 bytes"),
        (replace(PARTS[0], mapping=""), "which mapping"),
        (replace(PARTS[1], mapping="m"), "no mapping"),
        (replace(PARTS[0], data=b"#!/bin/sh\n"), "nothing executable"),
        (replace(PARTS[0], data=b"MZ\x90"), "nothing executable"),
        (replace(PARTS[0], data=b"a;b\x07"), "control characters"),
        (replace(PARTS[2], data=b"\x7fELF" + bytes(9)), "nothing executable"),
        (replace(PARTS[2], data=b"GIF89a"), "does not begin"),
        (Part("scan", "a.pdf", b"%PDF-1.7 /OpenAction << /S /JavaScript /JS (x) >>"), "starts something"),
        (Part("receipt", "a.json", b"{"), "no JSON"),
    ],
)
def test_what_may_not_travel_is_named(part: Part, said: str) -> None:
    with pytest.raises(CarrierError, match=said):
        check_part(part)
    with pytest.raises(CarrierError, match=said):
        made(part)


def test_no_part_twice() -> None:
    with pytest.raises(CarrierError, match="same name"):
        made(PARTS[1], replace(PARTS[1], name="KN.toml", data=b"a = 1\n"))
    with pytest.raises(CarrierError, match="same member"):
        made(PARTS[1], replace(PARTS[1], name="other.toml"))
    with pytest.raises(CarrierError, match="0 parts"):
        carrier_bytes([], subject="s", by="b", at=AT, key=KEY)
