"""What a carrier may hold: kinds of parts, the forms of their bytes, and limits. Everything else is refused."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass
from hashlib import sha256

FORM = "evenpull carrier 1"
MOST_PARTS = 2_000
LARGEST_PART = 64 << 20  # bytes
LARGEST = 512 << 20  # bytes of a whole carrier; it is read into memory
LONGEST_NAME = 120

# Kind of part -> endings of names that it may have. The order is that in which parts are taken in.
KINDS: dict[str, tuple[str, ...]] = {
    "tools": ("toml",),
    "equipment": ("toml",),
    "certificate": ("toml",),
    "joint": ("toml",),
    "mapping": ("toml",),
    "curve mapping": ("toml",),
    "card": ("pdf",),
    "card issued": ("json",),
    "records": ("csv",),
    "typed sheet": ("csv",),
    "curves": ("csv", "parquet"),
    "scan": ("pdf", "png", "jpg", "jpeg"),
    "receipt": ("json",),
}
WITH_MAPPING = ("records", "typed sheet")  # kinds that are read with a mapping, named beside them
OF_CURVES = ("curve mapping", "curves")
CURVES = "curves"  # read with a curve mapping (CSV) or without (Parquet); the joint is named beside them
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._()+-]*")
_MARKS = {"pdf": b"%PDF-", "png": b"\x89PNG\r\n\x1a\n", "jpg": b"\xff\xd8\xff", "jpeg": b"\xff\xd8\xff",
          "parquet": b"PAR1"}  # fmt: skip
# Actions of PDF (ISO 32000-1, 12.6.4) that start something. Those inside packed streams are not seen here.
_ACTIONS = re.compile(rb"/(JavaScript|JS|Launch)(?![A-Za-z])")
_PROGRAMS = (b"MZ", b"\x7fELF", b"#!")


class CarrierError(ValueError):
    """A carrier that cannot be made or taken in; the text names the part, the reason and the way out."""


@dataclass(frozen=True, slots=True)
class Part:
    """One file in a carrier. `name` as it was received, without folders; `mapping` only of records and curves, `joint`
    only of curves."""

    kind: str
    name: str
    data: bytes
    mapping: str = ""
    joint: str = ""

    @property
    def sha256(self) -> str:
        return sha256(self.data).hexdigest()

    @property
    def ending(self) -> str:
        return self.name.rpartition(".")[2].lower()

    @property
    def member(self) -> str:
        """Where it lies in the carrier: by its content, so that no name from outside becomes a path."""
        return f"parts/{self.sha256}.{self.ending}"


def check_part(part: Part) -> None:
    """Raises CarrierError unless kind, name, size and bytes are such as a carrier may hold."""
    if part.kind not in KINDS:
        raise CarrierError(f"part {part.name[:60]!r}: kind {part.kind[:40]!r} is none of: {', '.join(KINDS)}")
    if len(part.name) > LONGEST_NAME or not _NAME.fullmatch(part.name):
        raise CarrierError(
            f"part {part.name[:60]!r}: the name must be of plain letters, digits and . _ - without folders, at most "
            f"{LONGEST_NAME} characters; rename the file"
        )
    if part.ending not in KINDS[part.kind]:
        raise CarrierError(
            f"part {part.name}: a part of kind {part.kind!r} ends in {' or '.join(KINDS[part.kind])}; "
            "bring it into that form"
        )
    if not 0 < len(part.data) <= LARGEST_PART:
        raise CarrierError(f"part {part.name}: {len(part.data)} bytes; it must have 1 to {LARGEST_PART}; split it")
    if part.kind == CURVES:
        _check_curves(part)
    elif part.joint:
        raise CarrierError(f"part {part.name}: a part of kind {part.kind!r} names no joint; leave it out")
    if part.kind in WITH_MAPPING and not 0 < len(part.mapping) <= 200:
        raise CarrierError(f"part {part.name}: say by the name of which mapping it is read")
    if part.kind not in (*WITH_MAPPING, CURVES) and part.mapping:
        raise CarrierError(f"part {part.name}: a part of kind {part.kind!r} is read with no mapping; leave it out")
    _check_bytes(part)


def _check_curves(part: Part) -> None:
    if not 0 < len(part.joint) <= 100 or not part.joint.isprintable():
        raise CarrierError(f"part {part.name}: say of which joint the curves are")
    if (part.ending == "csv") != bool(part.mapping) or len(part.mapping) > 200:
        raise CarrierError(f"part {part.name}: curves in CSV are read with a curve mapping, named beside them; Parquet "
                           "of our own layout without one")


def _check_bytes(part: Part) -> None:
    data, ending = part.data, part.ending
    if data.startswith(_PROGRAMS):
        raise CarrierError(f"part {part.name}: it begins as a program does; a carrier holds nothing executable")
    if ending in _MARKS:
        if not data.startswith(_MARKS[ending]):
            raise CarrierError(f"part {part.name}: it does not begin as a file of this form ({ending}); export it anew")
        if ending == "pdf" and (found := _ACTIONS.search(data)):
            raise CarrierError(
                f"part {part.name}: the PDF holds an action ({found[0].decode()}) that starts something; print it "
                "anew without"
            )
        return
    if ending == "csv":
        # Exports come in many codings; their reader decides. What is held in none of them is a control character.
        if re.search(rb"[\x01-\x08\x0e-\x1f]", data):
            raise CarrierError(f"part {part.name}: it holds control characters and is no table of text; export it anew")
        return
    try:
        text = data.decode("utf-8")
        tomllib.loads(text) if ending == "toml" else json.loads(text)
    except (ValueError, RecursionError) as error:
        raise CarrierError(f"part {part.name}: no {ending.upper()} in UTF-8 ({str(error)[:120]}); mend it") from error
