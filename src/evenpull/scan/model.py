"""What is read from a scanned page, and why a page could not be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenpull.card.payload import CardData, PageData
from evenpull.card.places import BoxKind, BoxPlace

Grey = NDArray[np.uint8]  # (height, width) of a picture, 0 black, 255 white
Floats = NDArray[np.float64]
State = Literal["ticked", "empty", "ambiguous"]
# Serial, content fingerprint and page -> the boxes of that page, where they are on record.
KnownPage = Callable[[str, str, int], PageData | None]


class ScanError(ValueError):
    """One page that could not be read, or a whole file (`page` 0). `page` counts the pictures of the file from 1."""

    def __init__(self, file: str, page: int, reason: str, way_out: str) -> None:
        self.file, self.page, self.reason, self.way_out = file, page, reason, way_out
        where = f"{file}, page {page}" if page else file
        super().__init__(f"{where}: {reason}; {way_out}")


@dataclass(frozen=True, slots=True)
class Picture:
    """One page of a file as it was taken; `dpi` as the file says it, None where it does not."""

    file: str
    page: int
    grey: Grey
    dpi: float | None


@dataclass(frozen=True, slots=True)
class Crop:
    """A rectangle of the straightened page in pixels, and its corners in the picture as taken, clockwise from the top
    left as (x, y)."""

    left: int
    top: int
    right: int
    bottom: int
    corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class BoxReading:
    """One box. `state` is None where a person has to read it: no handwriting is decided here.

    `confidence` 0 to 1 says how far the ink lies from the limits between the states. It ranks boxes for people; it is
    no probability. `reason` says why a box is ambiguous. `ink` is what was measured, mm2 of full black.
    """

    place: BoxPlace
    kind: BoxKind
    state: State | None
    confidence: float | None
    reason: str
    ink: float | None
    crop: Crop


@dataclass(frozen=True, slots=True)
class ScannedPage:
    """A page of a card as read. `card` is there on the front alone. `straight` is the page straightened at
    `pixels_per_mm`; `misfit` (mm) how far its marks lie from where the straightening puts them, on average;
    `marks` the corner marks found, counted clockwise from 1 at the top left."""

    file: str
    picture: int
    serial: str
    content: str
    page: int
    pages: int
    data: PageData
    card: CardData | None
    boxes: tuple[BoxReading, ...]
    straight: Grey
    pixels_per_mm: float
    misfit: float
    marks: tuple[int, ...]

    def crop(self, box: BoxReading) -> Grey:
        """The picture of one box, cut out of the straightened page."""
        return self.straight[box.crop.top : box.crop.bottom, box.crop.left : box.crop.right]


@dataclass(frozen=True, slots=True)
class FileReading:
    """Every picture of a file is either a page or a fault."""

    file: str
    pages: tuple[ScannedPage, ...]
    faults: tuple[ScanError, ...]
