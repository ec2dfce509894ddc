"""Which characters the report's fonts have, read from the fonts themselves.

A report must come out whatever name or remark was received. A character that no font has is printed as its code
<U+XXXX>; the attached records hold it untouched.
"""

from __future__ import annotations

import struct
from functools import lru_cache
from pathlib import Path

from evenpull.card.texts import printed, visible
from evenpull.card.typesetting import FONTS

WIDE, NARROW, TIGHT = 30, 13, 8  # characters without a place to break a line, in running text and in table columns


def safe(text: str, run: int = WIDE) -> str:
    """Text as the report prints it: nothing dropped, nothing interpreted, breakable every `run` characters."""
    known = _known()
    shown = "".join(c if ord(c) in known else f"<U+{ord(c):04X}>" for c in visible(text))
    return printed(shown, run)


@lru_cache(maxsize=1)
def _known() -> frozenset[int]:
    sets = [covered(path) for path in sorted(FONTS.glob("*.ttf"))]
    return frozenset.intersection(*sets)


def covered(font: Path) -> frozenset[int]:
    """Code points with a glyph, from the Unicode subtables (format 4 and 12) of the font's cmap (OpenType 1.9)."""
    data = font.read_bytes()
    count = struct.unpack_from(">H", data, 4)[0]
    for entry in range(count):
        tag, _, start, _ = struct.unpack_from(">4sIII", data, 12 + 16 * entry)
        if tag == b"cmap":
            return _cmap(data, start)
    raise ValueError(f"{font.name} has no character map")


def _cmap(data: bytes, start: int) -> frozenset[int]:
    found: set[int] = set()
    for entry in range(struct.unpack_from(">H", data, start + 2)[0]):
        platform, _, offset = struct.unpack_from(">HHI", data, start + 4 + 8 * entry)
        if platform not in (0, 3):
            continue
        at = start + offset
        kind = struct.unpack_from(">H", data, at)[0]
        if kind == 12:
            for group in range(struct.unpack_from(">I", data, at + 12)[0]):
                first, last, _ = struct.unpack_from(">III", data, at + 16 + 12 * group)
                found.update(range(first, last + 1))
        elif kind == 4:
            found.update(_format_4(data, at))
    return frozenset(found)


def _format_4(data: bytes, at: int) -> set[int]:
    found: set[int] = set()
    segments = struct.unpack_from(">H", data, at + 6)[0] // 2
    ends = at + 14
    starts = ends + 2 * segments + 2
    deltas, offsets = starts + 2 * segments, starts + 4 * segments
    for i in range(segments):
        last, first, delta, offset = (struct.unpack_from(">H", data, base + 2 * i)[0]
                                      for base in (ends, starts, deltas, offsets))
        for code in range(first, min(last, 0xFFFE) + 1):
            if offset:
                glyph = struct.unpack_from(">H", data, offsets + 2 * i + offset + 2 * (code - first))[0]
            else:
                glyph = (code + delta) & 0xFFFF
            if glyph:
                found.add(code)
    return found
