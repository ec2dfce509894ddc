"""The two-dimensional codes: drawn, read by an independent reader, taken apart again."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
import segno
import zxingcpp
from PIL import Image

from evenpull.card.codes import CardIdentity, CodeError, code_svg, page_payload, read_page_payload, read_payload
from evenpull.card.serial import SerialError, make_serial

IDENTITY = CardIdentity(
    make_serial("KN-CW-014", 7),
    "KN-CW-014",
    "KN-SPEC-0114",
    "C",
    "ab" * 32,
    "0A1B2C3D",
    16,
    4,
    "N.m",
    "2026-09-14T06:30:00+00:00",
    "2026-09-16T06:30:00+00:00",
)


def test_the_payload_reads_back() -> None:
    assert read_payload(IDENTITY.payload()) == IDENTITY
    assert read_payload(IDENTITY.payload().replace("\n", "\r\n") + "\n") == IDENTITY


def test_a_line_break_in_a_document_name_makes_no_new_field() -> None:
    sly = replace(IDENTITY, document="KN\ncontent=FFFFFFFF")
    assert read_payload(sly.payload()).document == "KN content=FFFFFFFF"
    assert read_payload(sly.payload()).content == "0A1B2C3D"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: "something else", "begins with"),
        (lambda t: t.replace("unit=N.m\n", ""), "lacks unit"),
        (lambda t: t + "\nextra=1", "does not have"),
        (lambda t: t + "\nunit=N.m", "does not have"),
        (lambda t: t.replace("fasteners=16", "fasteners=x"), "not a whole number"),
    ],
)
def test_another_or_torn_code_is_refused(change, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CodeError, match=words):
        read_payload(change(IDENTITY.payload()))


def test_a_code_with_a_wrong_serial_is_refused() -> None:
    with pytest.raises(SerialError):
        read_payload(IDENTITY.payload().replace("KN-CW-014-", "KN-CW-015-"))


def test_page_codes_read_back() -> None:
    assert read_page_payload(page_payload(IDENTITY.serial, "0A1B2C3D", 12)) == (IDENTITY.serial, "0A1B2C3D", 12)
    for text in ("", "EVENPULL PAGE 1 x", page_payload(IDENTITY.serial, "0A1B2C3D", 1) + "x"):
        with pytest.raises(CodeError):
            read_page_payload(text)


def test_the_code_is_readable_and_strong_enough() -> None:
    code = segno.make_qr(IDENTITY.payload(), error="q", boost_error=True)
    assert code.error in ("Q", "H")
    out = io.BytesIO()
    code.save(out, kind="png", scale=4, border=4)
    found = zxingcpp.read_barcode(Image.open(out))
    assert found is not None and found.text == IDENTITY.payload()
    assert found.ec_level in ("Q", "H")
    assert code_svg(IDENTITY.payload()).startswith("<svg")
