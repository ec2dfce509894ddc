"""Pages of cards for the tests of the scan: drawn, filled in, put into files."""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import cache
from typing import Any

import cv2
import numpy as np
from PIL import Image

from bench.aged.filling import SCALE, drawn, rendered, with_pen
from bench.aged.hands import Hand
from evenpull.card import BoxPlace, CardPDF
from evenpull.scan.model import Picture, ScannedPage
from evenpull.scan.read import read_picture
from tests.card.plans import plan
from tests.card.printed_cards import card

PASS_SHEET, CHECK_SHEET, GRID = 4, 7, 8  # pages of the card of 16 fasteners on A4
PEN = Hand(0.5, 0.9, 0.1, 0.06, 0.85, False, "check")


@cache
def made(paper: str = "a4", count: int = 16) -> CardPDF:
    return card(plan(count), paper=paper)


@cache
def sheets(paper: str = "a4", count: int = 16) -> list[np.ndarray]:
    """Pages at the 300 dots per inch of the bench."""
    return rendered(made(paper, count).pdf)


def at_dpi(page: np.ndarray, dpi: int) -> np.ndarray:
    return np.asarray(cv2.resize(page, None, fx=dpi / 300, fy=dpi / 300, interpolation=cv2.INTER_AREA))


def filled(
    page: int, draw: Callable[[BoxPlace, np.random.Generator], list[np.ndarray]], seed: int = 5, hand: Hand = PEN
) -> np.ndarray:
    """A page of the card with what `draw` draws in each of its boxes, with the pen of `hand`."""
    rng = np.random.default_rng(seed)
    strokes = [stroke for box in made().places[page - 1].boxes for stroke in draw(box, rng)]
    return drawn(sheets()[page - 1], with_pen(strokes), hand, rng)


def read(grey: np.ndarray, **more: Any) -> ScannedPage:
    return read_picture(Picture("card.png", 1, np.ascontiguousarray(grey), None), **more)


def erased(page: np.ndarray, left: float, top: float, width: float, height: float) -> np.ndarray:
    """The page with a rectangle (mm) made white."""
    out = page.copy()
    y, x = round(top * SCALE), round(left * SCALE)
    out[y : y + round(height * SCALE), x : x + round(width * SCALE)] = 255
    return out


def as_file(pictures: list[np.ndarray], form: str, **more: Any) -> bytes:
    out = io.BytesIO()
    images = [Image.fromarray(one) for one in pictures]
    if form == "TIFF" and more.pop("fax", False):
        images, more = [one.convert("1") for one in images], {"compression": "group4"}
    images[0].save(out, form, **({"save_all": True, "append_images": images[1:]} if len(images) > 1 else {}), **more)
    return out.getvalue()
