"""Files that hold pages, and files that do not: a picture, or an error that names file, page, reason and way out."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader, PdfWriter

from evenpull.scan import pictures as module
from evenpull.scan.model import Picture, ScanError
from evenpull.scan.pictures import pictures
from evenpull.scan.read import read_picture, read_scan
from tests.scan.pages import as_file, at_dpi, made, sheets

SHARE = st.floats(0, 1)
GREY = np.tile(np.linspace(0, 255, 400).astype(np.uint8), (500, 1))


def test_a_pdf_is_drawn_as_fine_as_the_scan_inside_it() -> None:
    for dpi, wanted in ((150, 150), (240, 240), (600, 300), (60, 100)):
        page = np.full((round(11 * dpi), round(8 * dpi)), 200, np.uint8)
        (got,) = pictures(as_file([page], "PDF", resolution=dpi), "a.pdf")
        assert got.dpi == pytest.approx(wanted, rel=0.02)
        assert got.grey.shape == (pytest.approx(11 * wanted, rel=0.02), pytest.approx(8 * wanted, rel=0.02))
    first = next(iter(pictures(made().pdf, "card.pdf")))
    assert first.dpi == 200


def test_colours_depths_and_see_through_pictures_become_grey() -> None:
    for mode in ("1", "L", "LA", "P", "RGB", "RGBA"):
        out = io.BytesIO()
        Image.fromarray(GREY).convert(mode).save(out, "PNG")
        (got,) = pictures(out.getvalue(), "a.png")
        assert got.grey.dtype == np.uint8 and got.grey.shape == GREY.shape
        assert got.grey[:, -5:].mean() > 240 and got.grey[:, :5].mean() < 20, mode
    deep = io.BytesIO()
    Image.fromarray(GREY.astype(np.uint16) * 257).save(deep, "PNG")
    (got,) = pictures(deep.getvalue(), "deep.png")
    assert np.abs(got.grey.astype(int) - GREY).max() <= 1
    clear = io.BytesIO()
    Image.new("RGBA", (400, 500), (0, 0, 0, 0)).save(clear, "PNG")
    (got,) = pictures(clear.getvalue(), "clear.png")
    assert got.grey.min() == 255  # what is see-through is paper


def test_a_phone_picture_lies_as_its_camera_says() -> None:
    image = Image.fromarray(GREY)
    exif = image.getexif()
    exif[0x0112] = 6  # to be turned by 90 degrees (Exif 2.3, tag Orientation)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    (got,) = pictures(out.getvalue(), "phone.jpg")
    assert got.grey.shape == (400, 500)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"hello", "no PDF, PNG, JPEG or TIFF"),
        (b"%PDF-1.7 nothing", "cannot be opened"),
        (b"GIF89a" + bytes(40), "no PDF, PNG, JPEG or TIFF"),
        (as_file([GREY[:100, :100]], "PNG"), "100 x 100 pixels"),
        (as_file([GREY], "PNG")[:400], "damaged|cannot be opened|can be opened"),
        (as_file([GREY], "JPEG")[:600], "damaged|can be opened"),
    ],
)
def test_a_file_that_holds_no_page_says_so(data: bytes, words: str) -> None:
    with pytest.raises(ScanError, match=words) as caught:
        list(pictures(data, "odd.bin"))
    assert caught.value.file == "odd.bin" and caught.value.way_out and "odd.bin" in str(caught.value)
    got = read_scan(data, "odd.bin")
    assert got.pages == () and len(got.faults) == 1


def test_a_locked_pdf_says_so() -> None:
    writer = PdfWriter(PdfReader(io.BytesIO(as_file([GREY], "PDF"))))
    writer.encrypt("secret", algorithm="RC4-128")
    out = io.BytesIO()
    writer.write(out)
    with pytest.raises(ScanError, match="locked by a password; save it without one"):
        list(pictures(out.getvalue(), "locked.pdf"))


def test_what_is_too_large_is_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_PIXELS", 100_000)
    for form in ("PNG", "TIFF", "PDF"):
        with pytest.raises(ScanError, match=r"too large.*150 to 300 dots per inch"):
            list(pictures(as_file([GREY], form), "big"))
    monkeypatch.setattr(module, "MOST_BYTES", 100)
    with pytest.raises(ScanError, match="more than 100; scan fewer pages"):
        list(pictures(as_file([GREY], "PNG"), "big"))
    monkeypatch.undo()
    monkeypatch.setattr(module, "MOST_PAGES", 1)
    for form in ("TIFF", "PDF"):
        with pytest.raises(ScanError, match="2 pages"):
            list(pictures(as_file([GREY, GREY], form), "long"))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from([0, 3, 7]),
    st.lists(st.tuples(SHARE, SHARE, st.floats(0.02, 0.7), st.sampled_from([0, 120, 255])), max_size=5),
    st.integers(0, 3),
    st.integers(80, 130),
)
def test_any_spoiled_picture_ends_in_a_page_or_a_fault(
    sheet: int, blots: list[tuple[float, float, float, int]], turns: int, dpi: int
) -> None:
    grey = np.rot90(at_dpi(sheets()[sheet], dpi), turns).copy()
    for x, y, size, colour in blots:
        high, wide = grey.shape
        grey[round(y * high) : round((y + size) * high), round(x * wide) : round((x + size) * wide)] = colour
    try:
        page = read_picture(Picture("any.png", 1, grey, None))
    except ScanError as error:
        assert (error.file, error.page) == ("any.png", 1) and error.reason and error.way_out
    else:
        assert (page.serial, page.page, page.data) == (made().serial, sheet + 1, made().places[sheet])
        assert "ticked" not in {box.state for box in page.boxes} or blots


def examples() -> list[bytes]:
    small = at_dpi(sheets()[3], 60)
    return [as_file([small], form) for form in ("PNG", "JPEG", "TIFF", "PDF")] + [made().pdf[:20_000]]


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_any_bytes_end_in_pages_or_faults(data: st.DataObject) -> None:
    """Anything at all, and good files cut, doubled and overwritten somewhere."""
    whole = data.draw(st.sampled_from(examples()))
    if data.draw(st.booleans()):
        given_ = data.draw(st.binary(max_size=300))
    else:
        given_ = whole
        for _ in range(data.draw(st.integers(1, 4))):
            at = data.draw(st.integers(0, len(given_)))
            piece = data.draw(st.one_of(st.binary(max_size=20), st.just(given_[at : at + 50])))
            given_ = given_[:at] + piece + given_[at + data.draw(st.integers(0, 40)) :]
    got = read_scan(given_, "any.bin")
    assert got.pages or got.faults
    for fault in got.faults:
        assert fault.file == "any.bin" and fault.reason and fault.way_out
