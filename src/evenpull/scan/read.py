"""Reading scanned cards: a file in, its pages with their boxes out, each picture a page or a fault with its way out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from evenpull.card.codes import CodeError
from evenpull.card.paper import SIZES, Paper
from evenpull.card.payload import CardData, CodePart, PageData, page_of_parts, read_card_data
from evenpull.card.places import BoxPlace
from evenpull.card.serial import SerialError
from evenpull.scan.codes import Found, check_one_page, find_codes
from evenpull.scan.ink import InkMap, corners_in_picture, frame_shifts, ink_map
from evenpull.scan.model import BoxReading, Crop, FileReading, Floats, KnownPage, Picture, ScanError, ScannedPage
from evenpull.scan.pictures import pictures
from evenpull.scan.retry import read_again
from evenpull.scan.straighten import PIXELS_PER_MM, Straight, paper_of, straighten
from evenpull.scan.ticks import free_sides, judge, measure, page_zero, usual_marks

CROP_AIR = 1.0  # mm around a box that its crop shows: a corrected value often stands beside it
OPEN_AIR = 3.0  # the same where no frame is printed, so that nothing tells how far a bent page has moved it
MOST_MISFIT = 1.5  # mm: beyond it the marks and codes do not belong together


def read_scan(data: bytes, file: str, *, known: KnownPage | None = None) -> FileReading:
    """All pages of a scanned file (PDF, PNG, JPEG, TIFF).

    `known` gives the boxes of a page from a record, for a page whose places are torn off; without it such a page is a
    fault. Nothing is raised for what the file holds: a file or page that cannot be read is a fault in the result.
    """
    pages: list[ScannedPage] = []
    faults: list[ScanError] = []
    for picture in _pictures(data, file, faults):
        try:
            pages.append(read_picture(picture, known=known))
        except ScanError as error:
            faults.append(error)
    return FileReading(file, tuple(pages), tuple(faults))


def _pictures(data: bytes, file: str, faults: list[ScanError]) -> Iterator[Picture]:
    try:
        yield from pictures(data, file)
    except ScanError as error:
        faults.append(error)


def read_picture(picture: Picture, *, known: KnownPage | None = None) -> ScannedPage:
    """One page. Raises ScanError, which names file, page, reason and way out."""
    found = find_codes(picture)
    papers = _papers(found) or [Paper(name, *size) for name, size in SIZES.items()]
    lie = straighten(picture, found, papers)
    if not found.complete:
        # Now it is known where the missing codes should be.
        read_again(picture, found, lie)
        check_one_page(found, picture)
        lie = straighten(picture, found, _papers(found) or papers)
    serial, content, page = next(iter(found.pages()))
    data = _page_data(picture, found, known)
    if data.draft:
        raise ScanError(
            picture.file, picture.page, f"page {page} of card {serial} was printed as a draft, not for work",
            "record the work on a card that was issued",
        )  # fmt: skip
    if data.paper != (round(10 * lie.paper.width), round(10 * lie.paper.height)):
        lie = straighten(picture, found, [_checked_paper(picture, data)])
    if lie.misfit > MOST_MISFIT:
        raise ScanError(
            picture.file, picture.page,
            f"its marks lie {lie.misfit:.1f} mm from where they should: the page is bent, folded over or in pieces",
            "lay it flat, weigh it down with glass, and scan it again",
        )  # fmt: skip
    inked = ink_map(picture.grey, lie)
    boxes = _boxes(inked, lie, data.boxes)
    return ScannedPage(
        picture.file, picture.page, serial, content, page, data.pages, data, _card(found), boxes, inked.straight,
        PIXELS_PER_MM, lie.misfit, lie.marks,
    )  # fmt: skip


def _parts(found: Found, front: bool) -> list[CodePart]:
    parts = [code.part for code in found.codes.values() if code.part is not None]
    return [part for part in parts if (part.page == 0) == front]


def _papers(found: Found) -> list[Paper]:
    """The paper as the places or the front say it; empty while neither was read."""
    try:
        data = page_of_parts(_parts(found, front=False)).paper
    except CodeError:
        card = _card(found)
        if card is None:
            return []
        data = card.paper
    try:
        return [paper_of(data)]
    except ValueError:
        return []


def _checked_paper(picture: Picture, data: PageData) -> Paper:
    try:
        return paper_of(data.paper)
    except ValueError as error:
        raise ScanError(
            picture.file, picture.page, str(error), "read the card with the version that printed it, or a later one"
        ) from error


def _card(found: Found) -> CardData | None:
    texts = [code.text for code in found.codes.values() if code.part is not None and code.part.page == 0]
    try:
        return read_card_data(texts) if texts else None
    except (CodeError, SerialError):
        return None  # a part of the front is torn off; the page's own codes say which card and page it is


def _page_data(picture: Picture, found: Found, known: KnownPage | None) -> PageData:
    serial, content, page = next(iter(found.pages()))
    try:
        return page_of_parts(_parts(found, front=False))
    except CodeError as error:
        on_record = known(serial, content, page) if known is not None else None
        if on_record is not None:
            return _of_this_print(picture, on_record, (serial, content, page))
        parts = _parts(found, front=False)
        reason = str(error).partition(";")[0] if parts else "the code with the places of its boxes could not be read"
        raise ScanError(
            picture.file, picture.page, f"page {page} of card {serial}: {reason}",
            "scan the page again, flat and whole; if the head is torn off, give the card as it was printed, "
            "or type the page in by hand",
        ) from error  # fmt: skip


def _of_this_print(picture: Picture, data: PageData, wanted: tuple[str, str, int]) -> PageData:
    if (data.serial, data.content, data.page) != wanted:
        raise ScanError(
            picture.file, picture.page,
            f"it is page {wanted[2]} of card {wanted[0]} with content {wanted[1]}; on record is page {data.page} of "
            f"{data.serial} with content {data.content}: another print, whose boxes may stand elsewhere",
            "give the card as it was printed, or type the page in by hand",
        )  # fmt: skip
    return data


def _boxes(page: InkMap, lie: Straight, places: tuple[BoxPlace, ...]) -> tuple[BoxReading, ...]:
    if not places:
        return ()
    shifts, frames = frame_shifts(page, places)
    zero = page_zero(page, places)
    measured = {
        place: measure(page, place, shift, free_sides(place, places))
        for place, shift in zip(places, shifts, strict=True)
        if place.kind == "tick"
    }
    usual = usual_marks(measured.values())
    readings = []
    for place, shift, frame in zip(places, shifts, frames, strict=True):
        crop = _crop(lie, place, shift, page)
        if place.kind == "tick":
            got = judge(page, place, measured[place], frame=float(frame), zero=zero, usual=usual)
            readings.append(BoxReading(place, "tick", got.state, got.confidence, got.reason, got.ink, crop))
        else:
            readings.append(BoxReading(place, place.kind, None, None, "", None, crop))
    return tuple(readings)


def crop_air(place: BoxPlace) -> float:
    """mm around a box that its crop shows."""
    return CROP_AIR if place.framed else OPEN_AIR


def _crop(lie: Straight, place: BoxPlace, shift: Floats, page: InkMap) -> Crop:
    left, top, width, height = place.rectangle
    air = crop_air(place)
    left, top = left + float(shift[0]) - air, top + float(shift[1]) - air
    right, bottom = left + width + 2 * air, top + height + 2 * air
    rows, cols = page.straight.shape
    corners = corners_in_picture(lie, left, top, right, bottom)
    scale = np.array([left, top, right, bottom]) * PIXELS_PER_MM
    x0, y0, x1, y1 = (round(float(v)) for v in scale)
    return Crop(
        max(0, x0), max(0, y0), min(cols, x1), min(rows, y1),
        tuple((round(float(x), 1), round(float(y), 1)) for x, y in corners),
    )  # fmt: skip
