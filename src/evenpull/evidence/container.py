"""A ZIP file with exactly one possible spelling: members stored as they are, no times, no extras, no comment.

Because the whole container follows from names and contents, the reader can say of every byte what it should be.
Form of the records: the ZIP file format specification (APPNOTE 6.3), sections 4.3.7, 4.3.12 and 4.3.16.
"""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO

CHUNK = 1 << 20
LARGEST = 0xFFFF_FFFF - (1 << 20)  # bytes; no ZIP64, so that there is one form only
MOST_MEMBERS = 65_000
LONGEST_NAME = 200
_LOCAL = struct.Struct("<4sHHHHHIIIHH")
_CENTRAL = struct.Struct("<4sHHHHHHIIIHHHHHII")
_END = struct.Struct("<4sHHHHIIH")
_DATE = 0x21  # 1980-01-01, the first day the format knows
_VERSION, _MADE_BY, _MODE = 20, 3 << 8 | 20, 0o100644 << 16
_LOCAL_MARK = _LOCAL.pack(b"PK\x03\x04", _VERSION, 0, 0, 0, _DATE, 0, 0, 0, 0, 0)[:14]
_CENTRAL_MARK = _CENTRAL.pack(b"PK\x01\x02", _MADE_BY, _VERSION, 0, 0, 0, _DATE, *[0] * 10)[:16]
Buffer = memoryview


class ContainerError(ValueError):
    """A container that cannot be written: too large, too many members, a name that is not plain."""


@dataclass(frozen=True)
class Member:
    """One file of the container; `source` its bytes, or the path where they lie."""

    name: str
    source: bytes | Path

    def chunks(self) -> Iterator[bytes]:
        if isinstance(self.source, bytes):
            yield self.source
            return
        with self.source.open("rb") as stream:
            while chunk := stream.read(CHUNK):
                yield chunk


@dataclass(frozen=True)
class Slot:
    """Where a member lies in a container that is read: bytes start ... data ... end."""

    name: str
    start: int
    data: int
    end: int


@dataclass(frozen=True)
class Difference:
    """Bytes `start` ... `end` - 1 of the container are not what they should be."""

    start: int
    end: int
    place: str
    what: str


def _local(name: bytes, size: int, crc: int) -> bytes:
    return _LOCAL.pack(b"PK\x03\x04", _VERSION, 0, 0, 0, _DATE, crc, size, size, len(name), 0) + name


def _central(name: bytes, size: int, crc: int, start: int) -> bytes:
    head = _CENTRAL.pack(
        b"PK\x01\x02", _MADE_BY, _VERSION, 0, 0, 0, _DATE, crc, size, size, len(name), 0, 0, 0, 0, _MODE, start
    )
    return head + name


def _end(count: int, size: int, start: int) -> bytes:
    return _END.pack(b"PK\x05\x06", 0, 0, count, count, size, start, 0)


def write_container(path: Path, members: Sequence[Member]) -> str:
    """Write the members in order; the SHA-256 of the container. Whole or not at all (temporary file, then renamed)."""
    _check_names([member.name for member in members])
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with temporary.open("wb") as out:
            total = _write(out, members)
            out.flush()
            os.fsync(out.fileno())
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
    return total


def _write(out: BinaryIO, members: Sequence[Member]) -> str:
    running, place, directory = sha256(), 0, b""

    def put(data: bytes) -> None:
        nonlocal place
        out.write(data)
        running.update(data)
        place += len(data)
        if place > LARGEST:
            raise ContainerError(f"the bundle would pass {LARGEST} bytes; write one for each joint instead")

    for member in members:
        size = crc = 0
        for chunk in member.chunks():
            size, crc = size + len(chunk), zlib.crc32(chunk, crc)
        if size > LARGEST:
            raise ContainerError(f"{member.name} has {size} bytes; a bundle holds at most {LARGEST}")
        name = member.name.encode("ascii")
        directory += _central(name, size, crc, place)
        put(_local(name, size, crc))
        written = again = 0
        for chunk in member.chunks():
            written, again = written + len(chunk), zlib.crc32(chunk, again)
            put(chunk)
        if (written, again) != (size, crc):
            raise ContainerError(f"{member.name} changed while it was being written")
    start = place
    put(directory)
    put(_end(len(members), len(directory), start))
    return running.hexdigest()


def _check_names(names: Sequence[str]) -> None:
    if len(names) > MOST_MEMBERS:
        raise ContainerError(f"{len(names)} files; a bundle holds at most {MOST_MEMBERS}")
    for name in names:
        parts = name.split("/")
        if len(name) > LONGEST_NAME:
            raise ContainerError(f"the name {name[:40]}... has {len(name)} characters; at most {LONGEST_NAME}")
        if not name.isascii() or not name.isprintable() or "\\" in name or any(p in ("", ".", "..") for p in parts):
            raise ContainerError(f"{name!r} is no plain name for a file in a bundle")
    if len(set(names)) != len(names):
        raise ContainerError("two files of the bundle would have the same name")


def read_container(data: Buffer) -> tuple[list[Slot], list[Difference]]:
    """All members that can be found, in order, and every region of the container that is not as it must be.

    What lies inside a member is judged by its own hash, not here.
    """
    slots, found, directory = _walk(data)
    central, checksums = b"", []
    for slot in slots:
        name, size = _bytes(slot.name), slot.end - slot.data
        crc = _checksum(data[slot.data : slot.end])
        checksums.append(crc)
        wanted = _local(name, size, crc)
        if bytes(data[slot.start : slot.data]) != wanted:
            first, last = _differing(bytes(data[slot.start : slot.data]), wanted)
            found.append(
                Difference(slot.start + first, slot.start + last, f"container, header of {slot.name}",
                           "does not fit the content that follows it")
            )  # fmt: skip
        central += _central(name, size, crc, slot.start)
    central += _end(len(slots), len(central), directory)
    actual = bytes(data[directory : directory + len(central) + CHUNK])
    if actual != central:
        first, last = _differing(actual, central)
        place, what = _place_in_directory(slots, first, len(central), len(actual))
        found.append(Difference(directory + first, max(directory + last, directory + first), place, what))
    return slots, sorted(found, key=lambda d: d.start)


def _walk(data: Buffer) -> tuple[list[Slot], list[Difference], int]:
    """(members, unreadable regions, where the directory starts)."""
    slots: list[Slot] = []
    found: list[Difference] = []
    place = 0
    while place < len(data):
        if _is_local(data, place):
            slot = _slot(data, place)
            slots.append(slot)
            place = slot.end
        elif _is_central(data, place):
            return slots, found, place
        else:
            after = _next_mark(data, place + 1)
            found.append(Difference(place, after, "container", "cannot be read as a member; something was here before"))
            place = after
    return slots, found, place


def _is_local(data: Buffer, place: int) -> bool:
    return place + _LOCAL.size <= len(data) and data[place : place + len(_LOCAL_MARK)] == _LOCAL_MARK


def _is_central(data: Buffer, place: int) -> bool:
    return data[place : place + len(_CENTRAL_MARK)] == _CENTRAL_MARK


def _slot(data: Buffer, place: int) -> Slot:
    """The member whose header begins at `place`. Its lengths are believed only where they fit what follows."""
    fields = _LOCAL.unpack(data[place : place + _LOCAL.size])
    crc, packed, size, length = fields[6], fields[7], fields[8], fields[9]
    names = place + _LOCAL.size

    def fits(start: int, end: int) -> bool:
        return packed == size and end <= len(data) and _checksum(data[start:end]) == crc

    start, end = names + length, names + length + size
    if length > LONGEST_NAME or not (_is_local(data, end) or _is_central(data, end) or fits(start, end)):
        # The member ends where the next thing begins; the name ends where the content must start to fit.
        end = _next_mark(data, names)
        before = end - size
        if names < before <= names + LONGEST_NAME and fits(before, end):
            start = before
        else:
            start = min(names + min(length, LONGEST_NAME), end)
    return Slot(bytes(data[names:start]).decode("latin-1"), place, start, end)


def _next_mark(data: Buffer, place: int) -> int:
    """The nearest place from `place` on where a member or the directory begins; the end of the data if none does."""
    overlap = _LOCAL.size
    while place < len(data):
        block = bytes(data[place : place + CHUNK + overlap])
        hits = [hit for hit in (block.find(_LOCAL_MARK), block.find(_CENTRAL_MARK)) if hit >= 0]
        if hits:
            return place + min(hits)
        place += CHUNK
    return len(data)


def _checksum(data: Buffer) -> int:
    crc = 0
    for place in range(0, len(data), CHUNK):
        crc = zlib.crc32(data[place : place + CHUNK], crc)
    return crc


def _bytes(name: str) -> bytes:
    return name.encode("latin-1")


def _differing(actual: bytes, wanted: bytes) -> tuple[int, int]:
    """First and one past the last differing place of `actual`; where one is longer, to the end of `actual`."""
    pairs = zip(actual, wanted, strict=False)
    places: Iterable[int] = [i for i, (a, b) in enumerate(pairs) if a != b]
    if len(actual) != len(wanted):
        places = [*places, min(len(actual), len(wanted)), max(len(actual) - 1, 0)]
    listed = list(places)
    return min(listed), max(listed) + 1


def _place_in_directory(slots: Sequence[Slot], first: int, wanted: int, actual: int) -> tuple[str, str]:
    if first >= wanted:
        return "container, after its end", "bytes were added"
    if actual < wanted and first >= actual:
        return "container, its end", "bytes are missing"
    place = 0
    for slot in slots:
        place += _CENTRAL.size + len(slot.name)
        if first < place:
            return f"container, directory entry of {slot.name}", "does not fit the member"
    return "container, end record", "does not fit the members"
