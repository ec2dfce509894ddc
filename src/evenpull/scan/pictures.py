"""The pages of a PDF, PNG, JPEG or TIFF file as grey pictures, whatever the file holds."""

from __future__ import annotations

import io
from collections.abc import Iterator

import numpy as np

from evenpull.scan.extra import pil_image, pil_ops, pypdfium2
from evenpull.scan.model import Grey, Picture, ScanError

MOST_BYTES = 200_000_000
MOST_PAGES = 500
MOST_PIXELS = 60_000_000  # A4 at 600 dpi has 35 million, a large phone picture 50 million
LEAST_SIDE = 300  # pixels
PDF_DPI, FINEST_PDF, COARSEST_PDF = 200.0, 300.0, 100.0
_PICTURES = ("PNG", "JPEG", "TIFF")


def pictures(data: bytes, file: str) -> Iterator[Picture]:
    """Each page of the file, grey, upright as the file says it. Raises ScanError, before or between pages."""
    if not data:
        raise ScanError(file, 0, "the file is empty", "scan the pages again")
    if len(data) > MOST_BYTES:
        raise ScanError(
            file, 0, f"the file has {len(data):,} bytes, more than {MOST_BYTES:,}", "scan fewer pages into one file"
        )
    if b"%PDF-" in data[:1024]:
        yield from _of_pdf(data, file)
    else:
        yield from _of_picture(data, file)


def _of_picture(data: bytes, file: str) -> Iterator[Picture]:
    try:
        opened = pil_image.open(io.BytesIO(data), formats=_PICTURES)
        count = getattr(opened, "n_frames", 1)
    except pil_image.DecompressionBombError as error:
        raise _too_large(file, 0, str(error)) from error
    except Exception as error:  # Pillow raises what its decoders raise
        raise ScanError(
            file, 0, f"it is no PDF, PNG, JPEG or TIFF file that can be opened ({_said(error)})",
            "save the scan as one of these and drop it again",
        ) from error  # fmt: skip
    if count > MOST_PAGES:
        raise ScanError(file, 0, f"it has {count} pages, more than {MOST_PAGES}", "scan fewer pages into one file")
    for page in range(1, count + 1):
        try:
            opened.seek(page - 1)
            _checked_size(opened.width, opened.height, file, page)
            dpi = opened.info.get("dpi", (None,))[0]
            grey = _grey(opened)
        except ScanError:
            raise
        except pil_image.DecompressionBombError as error:
            raise _too_large(file, page, str(error)) from error
        except Exception as error:  # as above
            raise ScanError(
                file, page, f"the picture is damaged ({_said(error)})", "scan the page again, or copy the file again"
            ) from error
        yield Picture(file, page, grey, float(dpi) if dpi else None)


def _grey(opened: object) -> Grey:
    turned = pil_ops.exif_transpose(opened)
    if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
        turned = turned.convert("RGBA")
        ground = pil_image.new("RGBA", turned.size, "white")
        turned = pil_image.alpha_composite(ground, turned)
    if turned.mode.startswith("I") or turned.mode == "F":  # 16 bits or more: the full range to 0 ... 255
        values = np.asarray(turned, dtype=np.float64)
        top = 65535.0 if turned.mode.startswith("I") else max(float(np.nanmax(values)), 1.0)
        return np.nan_to_num(np.clip(values / top, 0, 1) * 255).astype(np.uint8)
    return np.array(turned.convert("L"), dtype=np.uint8)


def _of_pdf(data: bytes, file: str) -> Iterator[Picture]:
    try:
        document = pypdfium2.PdfDocument(data)
        count = len(document)
    except pypdfium2.PdfiumError as error:
        locked = "password" in str(error).lower()
        raise ScanError(
            file, 0, "the PDF is locked by a password" if locked else f"the PDF cannot be opened ({error})",
            "save it without one and drop it again" if locked else "scan the pages again, or copy the file again",
        ) from error  # fmt: skip
    with document:
        if not 1 <= count <= MOST_PAGES:
            raise ScanError(file, 0, f"it has {count} pages, not 1 to {MOST_PAGES}", "scan fewer pages into one file")
        for number in range(1, count + 1):
            try:
                page = document[number - 1]
                width, height = page.get_size()
                dpi = _dpi_of(page, width, height)
                _checked_size(width * dpi / 72, height * dpi / 72, file, number)
                bitmap = page.render(scale=dpi / 72, grayscale=True)
                grey = np.array(bitmap.to_numpy(), dtype=np.uint8).reshape(bitmap.height, -1)[:, : bitmap.width]
            except pypdfium2.PdfiumError as error:
                raise ScanError(
                    file, number, f"the page cannot be drawn ({error})", "scan the page again, or print it to PDF anew"
                ) from error
            yield Picture(file, number, np.ascontiguousarray(grey), dpi)


def _dpi_of(page: object, width: float, height: float) -> float:
    """The resolution of the scan inside the page, so that its pixels are neither thrown away nor made up."""
    found = [PDF_DPI]
    for one in page.get_objects(max_depth=2):  # type: ignore[attr-defined]
        if one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE:
            left, bottom, right, top = one.get_bounds()
            if (right - left) * (top - bottom) > 0.5 * width * height:
                found = [one.get_px_size()[0] / (right - left) * 72]
    return min(max(found[0], COARSEST_PDF), FINEST_PDF)


def _checked_size(width: float, height: float, file: str, page: int) -> None:
    if width * height > MOST_PIXELS:
        raise _too_large(file, page, f"{width:.0f} x {height:.0f} pixels")
    if min(width, height) < LEAST_SIDE:
        raise ScanError(
            file, page, f"the picture has {width:.0f} x {height:.0f} pixels; a page needs {LEAST_SIDE} at the least",
            "scan it with 150 to 300 dots per inch",
        )  # fmt: skip


def _too_large(file: str, page: int, what: str) -> ScanError:
    return ScanError(
        file, page, f"the picture is too large ({what}; {MOST_PIXELS:,} pixels are read)",
        "scan it with 150 to 300 dots per inch",
    )  # fmt: skip


def _said(error: Exception) -> str:
    return (str(error) or type(error).__name__)[:200]
