"""What looks like a tick and is none, and what a filled box does to the place of its frame."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bench.aged.filling import SCALE
from bench.aged.hands import STRUCK_STYLES, Hand, struck, tick
from evenpull.card import BoxPlace
from evenpull.scan.model import BoxReading
from evenpull.scan.ticks import ACROSS, STEEPEST, across, roughness
from tests.scan.pages import CHECK_SHEET, GRID, PASS_SHEET, at_dpi, filled, read

DPI = 200


def off(box: BoxReading) -> float:
    """mm from where the box stands to where its crop says so, of a page that is not bent."""
    left, top, width, height = box.place.rectangle
    x, y = np.mean(box.crop.corners, axis=0) / DPI * 25.4
    return float(np.hypot(x - left - width / 2, y - top - height / 2))


def black_and_white(page: np.ndarray) -> np.ndarray:
    return np.where(page < 190, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("sheet", [PASS_SHEET, GRID])
@pytest.mark.parametrize("pen", [0.45, 0.7])
def test_filled_boxes_are_ticks_and_do_not_hide_their_frames(sheet: int, pen: float) -> None:
    """Black and white, every box filled close to its frame: ink alone does not say where the frame is."""
    hand = Hand(pen, 1.0, 0.1, 0.1, 0.9, False, "filled")

    def draw(box: BoxPlace, rng: np.random.Generator) -> list[np.ndarray]:
        return tick("filled", box.rectangle, hand, rng) if box.kind == "tick" else []

    page = read(black_and_white(at_dpi(filled(sheet, draw), DPI)))
    for box in page.boxes:
        if box.kind == "tick":
            assert box.state == "ticked", (box.place, box.reason)
        if box.place.framed:
            assert off(box) < 0.3, (box.place, off(box))


@pytest.mark.parametrize("ring", [(50, 200, 38), (55, 195, 25), (50, 185, 28)])
def test_a_stain_in_black_and_white_is_no_tick(ring: tuple[float, float, float]) -> None:
    """The ring of a cup that a fax has made black, a cloud of dots and dense in its middle, through empty boxes."""
    page = filled(CHECK_SHEET, lambda *_: [])
    y, x = (axis.astype(np.float32) / SCALE for axis in np.ogrid[0 : page.shape[0], 0 : page.shape[1]])
    near = np.exp(-(((np.hypot(x - ring[0], y - ring[1]) - ring[2]) / 0.9) ** 2))
    dots = np.random.default_rng(11).uniform(0.15, 0.85, (page.shape[0] // 2 + 1, page.shape[1] // 2 + 1))
    page[near > np.kron(dots, np.ones((2, 2)))[: page.shape[0], : page.shape[1]]] = 0
    got = [box for box in read(black_and_white(at_dpi(page, 150))).boxes if box.kind == "tick"]
    assert sum((box.ink or 0) > 0.9 for box in got) >= 4
    assert {box.state for box in got} == {"empty", "ambiguous"}


@pytest.mark.parametrize("style", STRUCK_STYLES)
def test_a_pale_pencil_that_strikes_out_is_seen(style: str) -> None:
    hand = Hand(0.6, 0.42, 0.1, 0.08, 0.9, True, "check")

    def draw(box: BoxPlace, rng: np.random.Generator) -> list[np.ndarray]:
        if box.kind != "tick" or not box.fastener % 2:
            return []
        below, above = struck(style, box.rectangle, hand, rng)
        return below + above

    page = cv2.GaussianBlur(filled(PASS_SHEET, draw, hand=hand), (0, 0), 1.5)
    for box in read(at_dpi(page, DPI)).boxes:
        if box.kind == "tick":
            assert box.state == ("ambiguous" if box.place.fastener % 2 else "empty"), (box.place, box.reason)


def test_the_edge_of_a_pen_is_clean_and_that_of_dots_is_not() -> None:
    held = np.zeros((60, 60), np.uint8)
    cv2.line(held, (8, 50), (52, 8), 1, 6)
    assert roughness(held.astype(bool)) == pytest.approx(1.0, abs=0.1)
    dots = np.random.default_rng(4).random(held.shape) < 0.3
    ragged = held.astype(bool) | (cv2.dilate(held, np.ones((9, 9), np.uint8)).astype(bool) & dots)
    assert roughness(ragged) > 1.6


@pytest.mark.parametrize(("rise", "seen"), [(0, True), (20, True), (40, False)])
def test_a_line_counts_as_across_up_to_the_steepest(rise: int, seen: bool) -> None:
    held = np.zeros((60, 60), np.uint8)
    cv2.line(held, (0, 30 + rise // 2), (59, 30 - rise // 2), 1, 3)
    assert (across(held.astype(bool), STEEPEST) >= ACROSS) is seen
