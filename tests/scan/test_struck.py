"""A box that was struck out is no plain tick, whatever the pen and the fax left of the line; and ticks stay ticks."""

from __future__ import annotations

import numpy as np
import pytest

from bench.aged.filling import SCALE
from bench.aged.hands import STRUCK_STYLES, Hand, Stroke, shaken, struck, tick
from evenpull.card import BoxPlace
from evenpull.scan.model import BoxReading
from tests.scan.pages import GRID, PASS_SHEET, at_dpi, filled, made, read
from tests.scan.test_boxes import DPI, black_and_white

BROAD_PEN = Hand(0.7, 1.0, 0.1, 0.06, 0.95, False, "cross")  # a scribble of it leaves no paper between its lines
FINE_PEN = Hand(0.45, 1.0, 0.1, 0.06, 0.85, False, "check")


def boxes(page: np.ndarray) -> list[BoxReading]:
    got = [box for box in read(page).boxes if box.kind == "tick"]
    assert len(got) >= 8
    return got


def odd_one(box: BoxPlace) -> bool:
    return box.fastener % 4 == 1


def assert_odd_ones_are_ambiguous(got: list[BoxReading], reason: str = "") -> None:
    for box in got:
        if odd_one(box.place):
            assert box.state == "ambiguous" and reason in box.reason, (box.place, box.state, box.reason)
    # Not those beside them: the ends of a line reach into these.
    plain = [box.state for box in got if box.place.fastener % 4 == 3]
    assert plain.count("ticked") >= 0.9 * len(plain) and "empty" not in plain


@pytest.mark.parametrize("sheet", [GRID, PASS_SHEET])
@pytest.mark.parametrize("ticks", ["cross", "filled"])
@pytest.mark.parametrize("style", STRUCK_STYLES)
def test_what_is_struck_out_with_a_broad_pen_is_no_filled_box(sheet: int, ticks: str, style: str) -> None:
    """On a page of crosses, and on one where boxes are ticked by filling them."""

    def draw(box: BoxPlace, rng: np.random.Generator) -> list[Stroke]:
        if box.kind != "tick":
            return []
        if not odd_one(box):
            return tick(ticks, box.rectangle, BROAD_PEN, rng)
        below, above = struck(style, box.rectangle, BROAD_PEN, rng)
        return below + above

    assert_odd_ones_are_ambiguous(boxes(black_and_white(at_dpi(filled(sheet, draw, hand=BROAD_PEN), DPI))))


@pytest.mark.parametrize("odd", ["check", "filled"])
def test_the_one_box_that_is_marked_otherwise_goes_to_people(odd: str) -> None:
    """A check among filled boxes, as when a fax lost the line through it; a filled box among checks."""
    usual = "filled" if odd == "check" else "check"

    def draw(box: BoxPlace, rng: np.random.Generator) -> list[Stroke]:
        if box.kind != "tick":
            return []
        style = odd if odd_one(box) else usual
        return tick(style, box.rectangle, BROAD_PEN, rng)

    got = boxes(at_dpi(filled(GRID, draw, hand=BROAD_PEN), DPI))
    assert_odd_ones_are_ambiguous(got, "as most boxes of this page")


def test_a_line_that_black_and_white_broke_into_specks_is_seen() -> None:
    """Of the line through every fourth box two dots are left, neither as long as a stroke."""

    def draw(box: BoxPlace, rng: np.random.Generator) -> list[Stroke]:
        return tick("check", box.rectangle, FINE_PEN, rng) if box.kind == "tick" else []

    page = filled(GRID, draw, hand=FINE_PEN)
    for box in made().places[GRID - 1].boxes:
        if box.kind == "tick" and odd_one(box):
            left, top, width, height = box.rectangle
            for share in (0.22, 0.45):
                x, y = round((left + share * width) * SCALE), round((top + 0.25 * height) * SCALE)
                page[y : y + 4, x : x + 4] = 0
    assert_odd_ones_are_ambiguous(boxes(black_and_white(at_dpi(page, DPI))), "specks")


def test_lines_that_end_in_an_empty_box_from_both_sides_are_no_tick() -> None:
    def draw(box: BoxPlace, rng: np.random.Generator) -> list[Stroke]:
        if box.kind != "tick":
            return []
        left, top, width, height = box.rectangle
        if not odd_one(box):
            return tick("check", box.rectangle, FINE_PEN, rng)
        ends = [(left - 1.0, left + 0.33 * width), (left + 0.67 * width, left + width + 1.0)]
        return [
            shaken([(a, top + y * height), (b, top + y * height)], FINE_PEN, rng) for a, b in ends for y in (0.38, 0.62)
        ]

    got = boxes(at_dpi(filled(GRID, draw, hand=FINE_PEN), DPI))
    assert_odd_ones_are_ambiguous(got, "at one side")


def test_the_long_arm_of_a_tick_is_no_line_through_the_box_and_one_beyond_the_frame_is() -> None:
    def draw(box: BoxPlace, rng: np.random.Generator) -> list[Stroke]:
        if box.kind != "tick":
            return []
        left, top, width, height = box.rectangle
        ends = (-0.15, 1.15) if odd_one(box) else (0.11, 0.9)
        arm = [(left + 0.6 * width, top + ends[0] * height), (left + 0.5 * width, top + ends[1] * height)]
        return [shaken([(left + 0.2 * width, top + 0.5 * height), arm[1], arm[0]], FINE_PEN, rng)]

    got = boxes(at_dpi(filled(PASS_SHEET, draw, hand=FINE_PEN), DPI))
    assert_odd_ones_are_ambiguous(got, "a line goes through")
