"""What the codes of a card carry, so that it is read back with no network and no database.

    front:        EVENPULL C2 <serial> <content> <part>/<parts> <body>   the whole card: identity, tools, settings
    head, each:   EVENPULL P2 <serial> <content> <page> <part>/<parts> <body>   the boxes of this page
    foot, each:   EVENPULL PAGE 1 <serial> <content> <page>              identity alone, small and strong (`codes`)

A body is packed (`packing`) and written in base 45; one that would make too fine a code is cut into parts, each a code
that names itself. The number behind C and P is the version of the form. docs/decisions/0021 says why it is so.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import rfc8785
import segno

from evenpull.card.codes import LONGEST_NUMBER, CardIdentity, CodeError, code_version
from evenpull.card.packing import PackingError, from_base45, from_numbers, pack, to_base45, to_numbers, unpack
from evenpull.card.places import FIELD_OF_CODE, FIELD_OF_NAME, BoxPlace
from evenpull.card.serial import parse_serial

CARD_FORM, PAGE_FORM = "EVENPULL C2", "EVENPULL P2"
ANY_VERSION = ("EVENPULL C", "EVENPULL P")
HEAD_ERROR: Literal["m"] = "m"
FRONT_ERROR: Literal["q"] = "q"
# Levels of error correction after ISO/IEC 18004: 15 % and 25 % of the code.
FINEST_HEAD, FINEST_FRONT = 9, 18  # versions: modules of 0.39 mm in the head and of 0.45 mm on the front
MOST_PARTS, MOST_BOXES, MOST_DIGITS = 6, 4000, 20
_NUMBERS = ("fastener", "line", "whole", "decimals", "x", "y", "width", "height")


@dataclass(frozen=True, slots=True)
class PassData:
    """One pass: `settings` are the digits dialled, one for each tool of the card; empty where each fastener has its
    own (they stand with the boxes of the page)."""

    number: int
    title: str
    check: bool
    settings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CardData:
    """What the code on the front says. `paper` is width and height in tenths of a millimetre."""

    serial: str
    content: str
    joint: str
    name: str
    place: str
    document: str
    revision: str
    specification: str
    fasteners: int
    unit: str
    whole: int
    decimals: int
    issued: str
    until: str
    paper: tuple[int, int]
    tools: tuple[str, ...]
    passes: tuple[PassData, ...]

    def identity(self) -> CardIdentity:
        return CardIdentity(
            self.serial, self.joint, self.document, self.revision, self.specification, self.content, self.fasteners,
            len(self.passes), self.unit, self.issued, self.until,
        )  # fmt: skip

    def texts(self) -> tuple[str, ...]:
        body: Any = [
            self.joint, self.name, self.place, self.document, self.revision, self.specification, self.fasteners,
            self.unit, self.whole, self.decimals, self.issued, self.until, list(self.paper), list(self.tools),
            [[one.number, one.title, one.check, list(one.settings)] for one in self.passes],
        ]  # fmt: skip
        head = f"{CARD_FORM} {self.serial} {self.content}"
        return _in_parts(head, rfc8785.dumps(body), FRONT_ERROR, FINEST_FRONT)


@dataclass(frozen=True, slots=True)
class PageData:
    """What the codes in the head of a page say. `paper` in tenths of a millimetre; `own` are the settings of single
    fasteners of the pass on this page, fastener and digits; a `draft` is not for work and is not read back."""

    serial: str
    content: str
    page: int
    pages: int
    paper: tuple[int, int]
    unit: str
    boxes: tuple[BoxPlace, ...]
    own: tuple[tuple[int, str], ...] = ()
    draft: bool = False

    def texts(self) -> tuple[str, ...]:
        own: Any = [[fastener, digits] for fastener, digits in self.own]
        words = rfc8785.dumps([self.unit, own, self.draft])
        numbers = from_numbers([self.pages, *self.paper, len(words)])
        head = f"{PAGE_FORM} {self.serial} {self.content} {self.page}"
        return _in_parts(head, numbers + words + from_numbers(_box_numbers(self.boxes)), HEAD_ERROR, FINEST_HEAD)


@dataclass(frozen=True, slots=True)
class CodePart:
    """One code as it was read. `page` is 0 for the code of the front."""

    serial: str
    content: str
    page: int
    part: int
    parts: int
    body: str


def _in_parts(head: str, data: bytes, error: Literal["m", "q"], finest: int) -> tuple[str, ...]:
    """The texts of the fewest codes of which none is finer than this version. Raises CodeError beyond MOST_PARTS."""
    body = to_base45(pack(data))
    for parts in range(1, MOST_PARTS + 1):
        size = -(-len(body) // parts)
        texts = tuple(f"{head} {n + 1}/{parts} {body[n * size : (n + 1) * size]}" for n in range(parts))
        try:
            if all(code_version(text, error) <= finest for text in texts):
                return texts
        except segno.DataOverflowError:
            continue
    raise CodeError(
        f"what {head!r} has to carry ({len(body)} characters) does not fit {MOST_PARTS} codes; "
        "shorten the texts of the joint, or print the card for fewer tools"
    )


def read_part(text: str) -> CodePart:
    """The part of a card or page that this code says it is. Raises CodeError or SerialError."""
    # Split at single spaces and no further than the body, which may hold spaces itself.
    words = text.split(" ", 6)
    form = " ".join(words[:2])
    if form == PAGE_FORM:
        page, places = words[4:5], 7
    elif form == CARD_FORM:
        words, page, places = text.split(" ", 5), ["0"], 6
    elif text.startswith(ANY_VERSION) and words[1:2] != ["PAGE"]:
        raise CodeError(
            f"the code has the form {form!r}; this version reads {CARD_FORM!r} and {PAGE_FORM!r}; "
            "read the card with the version that printed it, or a later one"
        )
    else:
        raise CodeError(f"{text[:40]!r} is not the code of a card ({CARD_FORM!r} or {PAGE_FORM!r})")
    if len(words) != places:
        raise CodeError(f"the code {text[:60]!r} is cut off; scan the page again")
    part, _, parts = words[-2].partition("/")
    for what, number in (("page", page[0]), ("part", part), ("number of parts", parts)):
        if not (number.isascii() and number.isdecimal()) or len(number) > LONGEST_NUMBER:
            raise CodeError(f"the {what} in the code is {number[:40]!r}, which is no number; scan the page again")
    if not 1 <= int(part) <= int(parts) <= MOST_PARTS or (form == PAGE_FORM and int(page[0]) < 1):
        raise CodeError(f"the code says page {page[0]}, part {part} of {parts}, which no card has; scan the page again")
    parse_serial(words[2])
    return CodePart(words[2], words[3], int(page[0]), int(part), int(parts), words[-1])


def _joined(parts: Iterable[CodePart]) -> tuple[CodePart, bytes]:
    found = {one.part: one for one in parts}
    if not found:
        raise CodeError("no code was given")
    first = next(iter(found.values()))
    for one in found.values():
        if (one.serial, one.content, one.page, one.parts) != (first.serial, first.content, first.page, first.parts):
            raise CodeError(
                f"these codes belong to different cards or pages: {first.serial} {first.content} page {first.page} and "
                f"{one.serial} {one.content} page {one.page}; scan each page by itself"
            )
    missing = [str(n) for n in range(1, first.parts + 1) if n not in found]
    if missing:
        raise CodeError(
            f"part {', '.join(missing)} of the {first.parts} codes of {_place(first)} could not be read; "
            "scan the page again, flat and with light from the side"
        )
    try:
        data = unpack(from_base45("".join(found[n].body for n in sorted(found))))
    except PackingError as error:
        raise CodeError(f"the code of {_place(first)} cannot be read: {error}; scan the page again") from error
    return first, data


def _place(one: CodePart) -> str:
    return f"page {one.page} of card {one.serial}" if one.page else f"card {one.serial}"


def read_card_data(texts: Iterable[str]) -> CardData:
    """The card from the texts of the codes on its front. Raises CodeError or SerialError."""
    first, data = _joined(map(read_part, texts))
    if first.page:
        raise CodeError(f"this is the code of {_place(first)}, not the one on the front")
    try:
        (joint, name, place, document, revision, specification, fasteners, unit, whole, decimals, issued, until, paper,
         tools, passes) = json.loads(data)  # fmt: skip
        texts_ = (joint, name, place, document, revision, specification, unit, issued, until, *tools)
        if not all(isinstance(text, str) for text in texts_):
            raise TypeError("a name is no text")
        return CardData(
            first.serial, first.content, joint, name, place, document, revision, specification, _count(fasteners),
            unit, _count(whole), _count(decimals), issued, until, (_count(paper[0]), _count(paper[1])), tuple(tools),
            tuple(PassData(_count(n), str(title), bool(check), tuple(map(str, digits)))
                  for n, title, check, digits in passes),
        )  # fmt: skip
    except (ValueError, TypeError, IndexError, KeyError, RecursionError) as error:
        raise CodeError(
            f"the code of {_place(first)} does not say what a card says ({error}); scan it again"
        ) from error


def read_page_data(texts: Iterable[str]) -> PageData:
    """The page from the texts of the codes in its head. Raises CodeError or SerialError."""
    return page_of_parts(map(read_part, texts))


def page_of_parts(parts: Iterable[CodePart]) -> PageData:
    """The same from codes that were read already. Raises CodeError."""
    first, data = _joined(parts)
    if not first.page:
        raise CodeError(f"this is the code on the front of card {first.serial}, not that of a page")
    try:
        pages, width, height, length = _start(data, 4)
        words_at = len(from_numbers([pages, width, height, length]))
        unit, own, draft = json.loads(data[words_at : words_at + length])
        if not isinstance(unit, str):
            raise TypeError("the unit is no text")
        boxes = tuple(_boxes(data[words_at + length :], _count(width), _count(height)))
        if not 1 <= first.page <= pages:
            raise ValueError(f"page {first.page} of {pages}")
        settings = tuple((_count(fastener), str(digits)) for fastener, digits in own)
    except (ValueError, TypeError, KeyError, StopIteration, RecursionError) as error:
        raise CodeError(
            f"the code of {_place(first)} does not say what a page says ({error or 'it ends early'}); scan it again"
        ) from error
    paper = (width, height)
    return PageData(first.serial, first.content, first.page, pages, paper, unit, boxes, settings, bool(draft))


def _start(data: bytes, count: int) -> list[int]:
    numbers = to_numbers(data)
    return [next(numbers) for _ in range(count)]


def _count(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 10**LONGEST_NUMBER:
        raise ValueError(f"{value!r} is no count")
    return value


def _expected(before: BoxPlace | None, like: BoxPlace | None) -> Mapping[str, int]:
    """What a box most likely says: it stands in the row of the one before, in the column of the last of its kind."""
    if before is None:
        return dict.fromkeys(_NUMBERS, 0)
    column = like or before
    return {
        "fastener": before.fastener, "line": before.line, "whole": column.whole, "decimals": column.decimals,
        "x": column.x, "y": before.y, "width": column.width, "height": before.height,
    }  # fmt: skip


def _box_numbers(boxes: Iterable[BoxPlace]) -> Iterable[int]:
    """For each box its field, a mask of the numbers that differ from what is expected, and by how much."""
    before: BoxPlace | None = None
    last: dict[str, BoxPlace] = {}
    for box in boxes:
        expected = _expected(before, last.get(box.field))
        change = [getattr(box, name) - expected[name] for name in _NUMBERS]
        yield FIELD_OF_NAME[box.field].code
        yield sum(1 << place for place, value in enumerate(change) if value)
        yield from filter(None, change)
        before = last[box.field] = box


def _boxes(data: bytes, width: int, height: int) -> Iterable[BoxPlace]:
    numbers = to_numbers(data)
    before: BoxPlace | None = None
    last: dict[str, BoxPlace] = {}
    for count, code in enumerate(numbers, start=1):
        if code not in FIELD_OF_CODE or count > MOST_BOXES:
            raise ValueError(f"box {count} has the field {code}, which this version does not have")
        name = FIELD_OF_CODE[code].name
        expected = _expected(before, last.get(name))
        try:
            mask = next(numbers)
            values = {
                what: expected[what] + (next(numbers) if mask >> place & 1 else 0)
                for place, what in enumerate(_NUMBERS)
            }
        except StopIteration:
            raise ValueError(f"box {count} is cut off") from None
        box = BoxPlace(name, **values)
        inside = box.x + box.width <= width and box.y + box.height <= height
        sizes = min(box.width, box.height) >= 1 and max(box.whole, box.decimals) <= MOST_DIGITS
        if min(values.values()) < 0 or not inside or not sizes:
            raise ValueError(f"box {count} ({name}) lies outside the page")
        before = last[name] = box
        yield box
