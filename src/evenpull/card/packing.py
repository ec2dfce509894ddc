"""Bytes and whole numbers made short for a code: numbers of variable length, deflate, base 45, a check sum.

Base 45 (RFC 9285) writes two bytes in three of the 45 characters that a QR code holds at 5.5 bits each (alphanumeric
mode of ISO/IEC 18004), so that nothing is lost against bytes and any reader of codes hands the text over unharmed.
Variable length is the unsigned LEB128 of the DWARF standard, with the sign in the lowest bit (zigzag).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator

BASE45 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_VALUE = {character: value for value, character in enumerate(BASE45)}
LONGEST = 100_000  # bytes of one unpacked body
LARGEST = 1 << 40  # beyond any number that a card holds


class PackingError(ValueError):
    """A text or bytes that were not packed here, or were damaged since."""


def to_base45(data: bytes) -> str:
    pieces = []
    for i in range(0, len(data) - 1, 2):
        rest, low = divmod(data[i] * 256 + data[i + 1], 45)
        high, middle = divmod(rest, 45)
        pieces.append(BASE45[low] + BASE45[middle] + BASE45[high])
    if len(data) % 2:
        high, low = divmod(data[-1], 45)
        pieces.append(BASE45[low] + BASE45[high])
    return "".join(pieces)


def from_base45(text: str) -> bytes:
    """Raises PackingError for a character or a group of characters that base 45 does not have."""
    if len(text) % 3 == 1:
        raise PackingError(f"{len(text)} characters are no whole number of groups of base 45")
    try:
        values = [_VALUE[character] for character in text]
    except KeyError as error:
        raise PackingError(f"{error.args[0]!r} is no character of base 45") from None
    out = bytearray()
    for i in range(0, len(values), 3):
        group = values[i : i + 3]
        number = sum(value * 45**place for place, value in enumerate(group))
        if number >= 256 ** (len(group) - 1):
            raise PackingError(f"characters {i + 1} to {i + len(group)} of the code are no group of base 45")
        out += number.to_bytes(len(group) - 1, "big")
    return bytes(out)


def from_numbers(numbers: Iterable[int]) -> bytes:
    out = bytearray()
    for number in numbers:
        rest = number * 2 if number >= 0 else -number * 2 - 1
        while rest > 127:
            out.append(rest & 127 | 128)
            rest >>= 7
        out.append(rest)
    return bytes(out)


def to_numbers(data: bytes) -> Iterator[int]:
    """Raises PackingError where the bytes end in the middle of a number, or one is larger than any of a card."""
    value, shift = 0, 0
    for byte in data:
        value |= (byte & 127) << shift
        if value > LARGEST:
            raise PackingError("a number in the code is larger than any of a card")
        if byte & 128:
            shift += 7
            continue
        yield -(value + 1) // 2 if value & 1 else value // 2
        value, shift = 0, 0
    if shift:
        raise PackingError("the code ends in the middle of a number")


def pack(data: bytes) -> bytes:
    """Raw deflate (RFC 1951) of the data, then their CRC-32 in four bytes."""
    squeezer = zlib.compressobj(9, zlib.DEFLATED, -15, 9)
    return squeezer.compress(data) + squeezer.flush() + zlib.crc32(data).to_bytes(4, "big")


def unpack(packed: bytes) -> bytes:
    """Raises PackingError when the check sum does not fit, or what comes out is longer than a card's."""
    opener = zlib.decompressobj(-15)
    try:
        data = opener.decompress(packed[:-4], LONGEST)
    except zlib.error as error:
        raise PackingError(f"the code is damaged ({error})") from None
    if not opener.eof or opener.unused_data or zlib.crc32(data).to_bytes(4, "big") != packed[-4:]:
        raise PackingError("the check sum of the code does not fit")
    return data
