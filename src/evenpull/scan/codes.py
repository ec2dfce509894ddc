"""Finds and reads the codes on a picture, and sorts out whose they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from evenpull.card.codes import PAGE_FORM, CodeError, read_page_payload
from evenpull.card.payload import ANY_VERSION, CodePart, read_part
from evenpull.card.serial import SerialError
from evenpull.scan.extra import cv2, zxingcpp
from evenpull.scan.model import Floats, Grey, Picture, ScanError

_SMALL, _SHARP = 0.6, 1.5  # scales of the further tries
_FLAT = "lay the page flat with light from the side, and scan it with 200 to 300 dots per inch"


@dataclass(frozen=True, slots=True)
class FoundCode:
    """A code of ours: `quad` (4, 2) its corners in the picture, clockwise from its own top left; `part` is None for
    the code of the foot, which carries the identity alone."""

    text: str
    quad: Floats
    serial: str
    content: str
    page: int
    part: CodePart | None


@dataclass(slots=True)
class Found:
    """The codes read so far on one picture, each once, and those of ours that cannot be taken, with the reason."""

    codes: dict[str, FoundCode] = field(default_factory=dict)
    strange: dict[str, str] = field(default_factory=dict)

    def add(self, grey: Grey, back: Floats | None = None) -> int:
        """Codes of a picture; `back` (3, 3) takes its points to the page's picture. Returns how many were new."""
        new = 0
        for one in zxingcpp.read_barcodes(
            grey, formats=zxingcpp.BarcodeFormat.QRCode, text_mode=zxingcpp.TextMode.Plain, try_invert=False
        ):
            if one.text in self.codes or one.text in self.strange:
                continue
            p = one.position
            quad = np.array([[q.x, q.y] for q in (p.top_left, p.top_right, p.bottom_right, p.bottom_left)], float)
            code = self._known(one.text, quad if back is None else mapped(back, quad))
            if code is not None:
                self.codes[one.text] = code
                new += 1
        return new

    def _known(self, text: str, quad: Floats) -> FoundCode | None:
        try:
            if text.startswith(PAGE_FORM):
                serial, content, page = read_page_payload(text)
                return FoundCode(text, quad, serial, content, page, None)
            if text.startswith(ANY_VERSION):
                part = read_part(text)
                return FoundCode(text, quad, part.serial, part.content, part.page, part)
        except (CodeError, SerialError) as error:
            self.strange[text] = str(error)
        return None

    def pages(self) -> set[tuple[str, str, int]]:
        """Serial, content and page of what was read; the code of the front says page 1."""
        return {(code.serial, code.content, code.page or 1) for code in self.codes.values()}

    def parts_missing(self) -> tuple[int, int]:
        """(parts of the places still missing, parts in all); (1, 1) while none was read."""
        parts = [c.part for c in self.codes.values() if c.part is not None and c.part.page]
        if not parts:
            return 1, 1
        return parts[0].parts - len({p.part for p in parts}), parts[0].parts

    @property
    def complete(self) -> bool:
        has_foot = any(code.part is None for code in self.codes.values())
        return has_foot and self.parts_missing()[0] == 0


def mapped(matrix: Floats, points: Floats) -> Floats:
    """Points (n, 2) through a homography (3, 3)."""
    whole = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    result: Floats = whole[:, :2] / whole[:, 2:3]
    return result


def _tries(grey: Grey) -> Iterator[tuple[Grey, float]]:
    """The picture in several scales and binarisations, the cheapest first, each with its scale."""
    yield grey, 1.0
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.8)
    yield smooth, 1.0
    window = max(31, min(grey.shape) // 40) | 1
    yield cv2.adaptiveThreshold(smooth, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY, window, 8), 1.0
    for scale in (_SHARP, _SMALL):
        if grey.size * scale**2 < 40_000_000:
            how = cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA
            yield cv2.resize(grey, None, fx=scale, fy=scale, interpolation=how), scale


def find_codes(picture: Picture) -> Found:
    """The codes of one page. Raises ScanError when there is none of ours, or those of two cards or pages."""
    found = Found()
    for tried, scale in _tries(picture.grey):
        found.add(tried, None if scale == 1.0 else np.diag([1 / scale, 1 / scale, 1.0]))
        if found.complete:
            break
    check_one_page(found, picture)
    return found


def check_one_page(found: Found, picture: Picture) -> None:
    pages = sorted(found.pages())
    if len(pages) == 1:
        return
    where = (picture.file, picture.page)
    if not pages:
        if found.strange:
            reason = next(iter(found.strange.values()))
            raise ScanError(*where, f"its code cannot be taken: {reason}", "or type the card in by hand")
        raise ScanError(*where, "no code of a card was found on it", f"{_FLAT}; or type the card in by hand")
    serials = {serial for serial, _, _ in pages}
    if len(serials) > 1:
        raise ScanError(
            *where, f"two cards lie on one picture: {' and '.join(sorted(serials))}", "scan each page by itself"
        )
    if len({content for _, content, _ in pages}) > 1:
        raise ScanError(
            *where,
            f"the codes of card {pages[0][0]} have different content fingerprints "
            f"({', '.join(sorted({content for _, content, _ in pages}))}): they do not belong to one print",
            "look whether parts of two prints lie on each other, and scan each by itself",
        )
    numbers = ", ".join(str(page) for _, _, page in pages)
    raise ScanError(*where, f"pages {numbers} of card {pages[0][0]} lie on one picture", "scan each page by itself")
