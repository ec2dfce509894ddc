"""The plain-text codes of a card, which any reader shows, and the drawing of all codes.

The code in the foot of each page is one of them. The code on the front of cards printed before form C2 (`payload`) is
another; it is still read.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import segno

from evenpull.card.serial import parse_serial

FORM = "evenpull card 1"
PAGE_FORM = "EVENPULL PAGE 1"
_FIELDS = (
    "serial",
    "joint",
    "document",
    "revision",
    "specification",
    "content",
    "fasteners",
    "passes",
    "unit",
    "issued",
    "until",
)


LONGEST_NUMBER = 9  # digits of a count or page


class CodeError(ValueError):
    """A text that is not the code of a card of ours, or not a whole one."""


@dataclass(frozen=True, slots=True)
class CardIdentity:
    """Which card it is, as the code on the front says. `specification` is the SHA-256 of the joint file, `content`
    the fingerprint."""

    serial: str
    joint: str
    document: str
    revision: str
    specification: str
    content: str
    fasteners: int
    passes: int
    unit: str
    issued: str
    until: str

    def payload(self) -> str:
        lines = [FORM]
        for name in _FIELDS:
            value = str(getattr(self, name))
            # A line break inside a value would read as the next field.
            lines.append(f"{name}={' '.join(value.split())}")
        return "\n".join(lines)


def read_payload(text: str) -> CardIdentity:
    """The identity from the text of a front code. Raises CodeError (form, missing field) or SerialError."""
    lines = text.replace("\r\n", "\n").strip().split("\n")
    if lines[0] != FORM:
        raise CodeError(f"the code begins with {lines[0][:40]!r}; a card begins with {FORM!r}")
    values: dict[str, str] = {}
    for line in lines[1:]:
        name, sign, value = line.partition("=")
        if not sign or name not in _FIELDS or name in values:
            raise CodeError(f"the code has a line {line[:60]!r} that a card does not have; another version?")
        values[name] = value
    missing = [name for name in _FIELDS if name not in values]
    if missing:
        raise CodeError(f"the code lacks {', '.join(missing)}")
    parse_serial(values["serial"])
    return CardIdentity(
        values["serial"],
        values["joint"],
        values["document"],
        values["revision"],
        values["specification"],
        values["content"],
        _whole(values, "fasteners"),
        _whole(values, "passes"),
        values["unit"],
        values["issued"],
        values["until"],
    )


def _whole(values: Mapping[str, str], name: str) -> int:
    if not values[name].isdecimal() or len(values[name]) > LONGEST_NUMBER:
        raise CodeError(f"the code says {name}={values[name][:40]!r}, which is not a whole number that a card has")
    return int(values[name])


def page_payload(serial: str, content: str, page: int) -> str:
    """Code in the foot of each page, so that scanned pages sort themselves."""
    return f"{PAGE_FORM} {serial} {content} {page}"


def read_page_payload(text: str) -> tuple[str, str, int]:
    """(serial, content fingerprint, page number). Raises CodeError or SerialError."""
    words = text.strip().split(" ")
    known = " ".join(words[:3]) == PAGE_FORM and len(words) == 6
    if not known or not words[5].isdecimal() or len(words[5]) > LONGEST_NUMBER:
        raise CodeError(f"{text[:60]!r} is not the code of a page ({PAGE_FORM!r}, serial, content, page number)")
    parse_serial(words[3])
    return words[3], words[4], int(words[5])


def code_version(payload: str, error: Literal["m", "q"] = "q") -> int:
    """Version of the smallest QR code that holds this text: it has 17 + 4 version modules on a side."""
    # Without the search for the best mask, which does not change the size.
    return int(segno.make_qr(payload, error=error, mask=0).version)


# The search for the best mask is a third of what a card costs; a card that is printed again has the same codes.
@lru_cache(maxsize=256)
def code_svg(payload: str, error: Literal["m", "q"] = "q") -> str:
    """QR code (ISO/IEC 18004) as SVG, error correction of this level or better, with the quiet zone of 4 modules."""
    out = io.BytesIO()
    segno.make_qr(payload, error=error, boost_error=True).save(
        out, kind="svg", border=4, xmldecl=False, svgns=True, omitsize=True, light="white"
    )
    return out.getvalue().decode()
