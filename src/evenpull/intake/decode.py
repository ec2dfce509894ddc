"""First look over a text file: encoding, size, hash and limits, in one pass with bounded memory.

What this pass lets through can be decoded without an error to the last byte, has no line and no number of lines beyond
the limits, and is known by its SHA-256.
"""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from hashlib import sha256
from typing import BinaryIO

from evenpull.intake.limits import MAX_LINE, MAX_ROWS
from evenpull.intake.record import IntakeError
from evenpull.intake.schema import ENCODINGS

CHUNK = 1 << 18
_BOMS = (  # the longer first: UTF-32 little-endian begins like UTF-16
    (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"), (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"),
)
ALLOWED = ", ".join(repr(name) for name in ENCODINGS)


@dataclass(frozen=True, slots=True)
class Survey:
    """`codec` decodes the bytes from `start` on; `lines` physical lines; `ends_clean`: the last one is terminated."""

    codec: str
    start: int
    sha256: str
    size: int
    lines: int
    ends_clean: bool
    blank: bool
    notes: tuple[str, ...]

    @property
    def encoding(self) -> str:
        """The encoding for people: "utf-8", "utf-8 with byte order mark", "utf-16", "cp1252"."""
        if self.codec == "utf-8" and self.start:
            return "utf-8 with byte order mark"
        return "utf-16" if self.codec.startswith("utf-16") else self.codec


def choose_codec(head: bytes, wanted: str, file: str) -> tuple[str, int]:
    """Codec and length of the byte order mark. Raises IntakeError "wrong-encoding" when mark and mapping disagree."""
    mark, found = next(((mark, name) for mark, name in _BOMS if head.startswith(mark)), (b"", ""))
    kind = "utf-16" if found.startswith("utf-16") else found
    if kind == "utf-32":
        raise _wrong(file, "the file begins with the byte order mark of UTF-32, which is not read here; save as UTF-8",
                     1)
    if kind and wanted not in (kind, "detect"):
        raise _wrong(file, f"the file begins with the byte order mark of {kind.upper()}, but the mapping says "
                           f"encoding = {wanted!r}; write {kind!r} or 'detect' there", 1)
    if found:
        return found, len(mark)
    if wanted == "utf-16":
        raise _wrong(file, "a UTF-16 file begins with a byte order mark, and this one has none; is the encoding "
                           f"another? allowed: {ALLOWED}", 1)
    if wanted == "cp1252":
        return "cp1252", 0
    return "utf-8", 0


def _wrong(file: str, message: str, line: int) -> IntakeError:
    return IntakeError("wrong-encoding", file, message, line=line, field="file.encoding")


class _Lines:
    """Counts lines and watches their length over pieces of text."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.breaks = 0
        self.run = 0  # characters since the last line break
        self.after_return = False
        self.any = False
        self.blank = True

    def add(self, text: str) -> None:
        if not text:
            return
        self.any = True
        self.blank = self.blank and not text.strip()
        joined = self.after_return and text[0] == "\n"  # a break over the edge of two pieces counts once
        self.breaks += text.count("\n") + text.count("\r") - text.count("\r\n") - joined
        self.after_return = text[-1] == "\r"
        last = max(text.rfind("\n"), text.rfind("\r"))
        first = min((at for at in (text.find("\n"), text.find("\r")) if at >= 0), default=len(text))
        if self.run + first > MAX_LINE:
            raise IntakeError(
                "line-too-long", self.file,
                f"the line has more than {MAX_LINE:,} characters, the most one row may have; a file without line "
                "breaks is no table, or was written by another program; export it again",
                line=self.breaks + 1 if last < 0 else self.breaks - _inner_breaks(text) + 1,
            )
        self.run = self.run + len(text) if last < 0 else len(text) - last - 1
        if self.breaks > MAX_ROWS:
            raise IntakeError(
                "too-many-rows", self.file,
                f"the file has more than {MAX_ROWS:,} lines, the most that one file may have; split it, for example by "
                "day or by tool, with the heading in each part, and take in the parts one after the other",
            )


def _inner_breaks(text: str) -> int:
    return text.count("\n") + text.count("\r") - text.count("\r\n")


def survey(stream: BinaryIO, wanted: str, file: str) -> Survey:
    """Look over the stream from its beginning. Raises IntakeError: wrong-encoding, line-too-long, too-many-rows."""
    head = stream.read(4)
    stream.seek(0)
    codec, start = choose_codec(head, wanted, file)
    decoder = codecs.getincrementaldecoder(codec)()
    also_utf8 = codecs.getincrementaldecoder("utf-8")() if codec == "cp1252" else None
    digest, lines, fed, nul, high = sha256(), _Lines(file), 0, 0, False
    while piece := stream.read(CHUNK):
        digest.update(piece)
        body = piece[start:] if fed == 0 else piece
        fed += len(piece)
        lines.add(_decoded(decoder, body, fed, lines, codec, wanted, file))
        nul += body.count(0) if codec in ("utf-8", "cp1252") else 0
        if also_utf8 is not None:
            high = high or not body.isascii()
            try:
                also_utf8.decode(body)
            except UnicodeDecodeError:
                also_utf8 = None
    lines.add(_decoded(decoder, b"", fed, lines, codec, wanted, file, final=True))
    if fed and nul * 10 > fed:
        raise _wrong(file, f"{nul:,} of {fed:,} bytes are NUL: this is UTF-16 without a byte order mark, or no text "
                           "at all; save it as UTF-8 or as UTF-16 with a mark", 1)
    notes = []
    if also_utf8 is not None and high:
        notes.append("the mapping says cp1252, but everything in the file is valid UTF-8 too: look whether letters "
                     "with accents and signs are right")
    ends_clean = lines.run == 0
    return Survey(codec, start, digest.hexdigest(), fed, lines.breaks + (not ends_clean), ends_clean, lines.blank,
                  tuple(notes))


def _decoded(
    decoder: codecs.IncrementalDecoder, body: bytes, fed: int, lines: _Lines, codec: str, wanted: str, file: str, *,
    final: bool = False,
) -> str:
    try:
        return decoder.decode(body, final)
    except UnicodeDecodeError as error:
        whole = bytes(error.object)
        offset = fed - len(whole) + error.start
        before = whole[: error.start].decode(codec, "ignore")
        lines.add(before)
        name = "utf-16" if codec.startswith("utf-16") else codec
        way = ", which the mapping names" if wanted != "detect" else "; there is no byte order mark, so UTF-8 was tried"
        raise _wrong(
            file,
            f"byte {offset:,} (0x{whole[error.start]:02X}) is not {name}{way}; allowed: {ALLOWED}",
            lines.breaks + 1,
        ) from None
