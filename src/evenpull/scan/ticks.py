"""Is a box ticked? Ticked, empty, or ambiguous with the reason: then a person looks, and nothing is guessed.

What counts is ink inside the printed frame, in mm2 of full black, in strokes longer than a speck, less what this page
shows where nobody can have written. A line across from side to side is a correction; so is a scribble that leaves the
box where no other box is beside it. The limits were set on aged cards of the bench (seeds 1 to 3) and are reported on
others: docs/scan.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from evenpull.card.places import BoxPlace
from evenpull.scan.extra import cv2
from evenpull.scan.ink import Floats32, InkMap
from evenpull.scan.model import Floats, State
from evenpull.scan.straighten import PIXELS_PER_MM

Pixel = TypeVar("Pixel", bound=np.generic)
INSET = 0.75  # mm from the middle of the frame line to where ink is counted
DARK = 0.16  # ink of a pixel from which it may be a stroke
LEAST_STROKE = 1.2  # mm that a stroke reaches at the least
EMPTY, TICKED = 0.25, 0.90  # mm2 of full black: up to, and from
FILLED = 0.75  # share of the box under the pen, from which it is a filled box and no scribble
SCRIBBLED = 0.50  # from which it is more than a tick or a cross
STRAY = 0.4  # share of the box within which, from one side of it, all ink lies that came from the box beside it
ACROSS = 0.92  # share of a line from side to side that is dark, from which the box is struck out
STEEPEST = 0.45  # of that line: rise over run. A tick or a cross is steeper
LEAST_FRAME = 0.22  # ink along the frame below which the box is not seen for sure
CROSSINGS = 4  # of the strokes by a level line, in the middle of the box: a tick has one or two, a cross two
AS_DARK = 0.4  # of the darkest strokes in the box, from which a line across is a line of a pen: a crease is paler
OUTSIDE = 1.2  # mm2 of ink outside the frame that make a scribble
_RING = (0.45, 1.5)  # mm outside the frame where that ink is looked for
_MARGIN = (2.0, 11.0)  # mm from the left and right edge of the page: nobody can have written there


@dataclass(frozen=True, slots=True)
class TickReading:
    state: State
    confidence: float
    reason: str
    ink: float


@dataclass(frozen=True, slots=True)
class Measured:
    """Ink of one box: mm2 of full black in strokes; share under the pen; darkest line across; mm2 of ink beside it, on
    the sides where no other box is; how often a level line meets a stroke, the median of the middle half; whether all
    of it hangs at one side."""

    ink: float
    filled: float
    across: float
    outside: float
    crossings: float
    stray: bool


def cut(array: NDArray[Pixel], left: float, top: float, width: float, height: float) -> NDArray[Pixel]:
    """A rectangle of the straightened page, in mm."""
    rows = slice(max(0, round(top * PIXELS_PER_MM)), max(0, round((top + height) * PIXELS_PER_MM)))
    cols = slice(max(0, round(left * PIXELS_PER_MM)), max(0, round((left + width) * PIXELS_PER_MM)))
    return array[rows, cols]


def strokes(ink: Floats32, least: float = LEAST_STROKE) -> NDArray[np.bool_]:
    """Where a piece of ink holds strokes: dark pixels that hang together over `least` mm or more."""
    dark = (ink >= DARK).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    wide, high = stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT]
    keep = np.hypot(wide, high) >= least * PIXELS_PER_MM
    keep[0] = False
    result: NDArray[np.bool_] = keep[labels] if count > 1 else np.zeros(dark.shape, bool)
    return result


def stroke_ink(ink: Floats32) -> float:
    """mm2 of full black in strokes."""
    return float(ink[strokes(ink)].sum()) / PIXELS_PER_MM**2


def page_zero(page: InkMap, boxes: tuple[BoxPlace, ...]) -> float:
    """Ink (mm2) that this page shows in a box nobody wrote in: at the side margins beside its boxes, the third
    quartile."""
    if not boxes:
        return 0.0
    width = page.ink.shape[1] / PIXELS_PER_MM
    found = []
    for top in {box.y for box in boxes}:
        for left in (_MARGIN[0], width - _MARGIN[1]):
            at = (left, top / 10, _MARGIN[1] - _MARGIN[0], 8.0)
            if cut(page.inside, *at).all():
                found.append(stroke_ink(cut(page.ink, *at)))
    return float(np.quantile(found, 0.75)) if found else 0.0


def free_sides(box: BoxPlace, boxes: tuple[BoxPlace, ...]) -> tuple[bool, bool]:
    """Whether no other box stands within 2 mm to the left, to the right."""

    def free(left: int, right: int) -> bool:
        return not any(
            b.x < right and left < b.x + b.width and b.y < box.y + box.height and box.y < b.y + b.height
            for b in boxes
            if b is not box
        )

    return free(box.x - 20, box.x), free(box.x + box.width, box.x + box.width + 20)


def measure(page: InkMap, box: BoxPlace, shift: Floats, free: tuple[bool, bool]) -> Measured:
    left, top, width, height = box.rectangle
    left, top = left + float(shift[0]), top + float(shift[1])
    inner = cut(page.ink, left + INSET, top + INSET, width - 2 * INSET, height - 2 * INSET)
    if min(inner.shape) < 4:
        return Measured(0.0, 0.0, 0.0, 0.0, 0.0, False)
    held = strokes(inner)
    ring = _RING[1] - _RING[0]
    beside = [
        stroke_ink(cut(page.ink, x, top + INSET, ring, height - 2 * INSET))
        for x, is_free in zip((left - _RING[1], left + width + _RING[0]), free, strict=True)
        if is_free
    ]
    written = inner[held]
    ink = float(written.sum()) / PIXELS_PER_MM**2
    pen = held & (inner >= AS_DARK * np.quantile(written, 0.9)) if written.size else held
    return Measured(
        ink, float(pen.mean()), _across(pen), max(beside, default=0.0), _crossings(pen), _at_one_side(held)
    )


def _at_one_side(held: NDArray[np.bool_]) -> bool:
    """Whether all strokes touch one side and reach no further than STRAY of the box from it."""
    for axis in (0, 1):
        at, size = np.flatnonzero(held.any(axis=1 - axis)), held.shape[axis]
        if not len(at):
            continue
        first, last = at[0], at[-1]
        if (first <= 1 and last < STRAY * size) or (last >= size - 2 and first > (1 - STRAY) * size):
            return True
    return False


def _crossings(held: NDArray[np.bool_]) -> float:
    quarter = held.shape[0] // 4
    rows = np.pad(held[quarter : held.shape[0] - quarter].astype(np.int8), ((0, 0), (1, 0)))
    return float(np.median((np.diff(rows, axis=1) > 0).sum(axis=1))) if rows.size else 0.0


def _across(held: NDArray[np.bool_]) -> float:
    """Largest share of dark pixels on a line from the left to the right side that is no steeper than STEEPEST."""
    height, width = held.shape
    # A hand's line is not straight: three quarters of a millimetre of play.
    play = round(0.4 * PIXELS_PER_MM)
    thick = cv2.dilate(held.astype(np.uint8), np.ones((2 * play + 1, 1), np.uint8)).astype(bool)
    starts = np.arange(play, height - play, 3)
    x = np.arange(width)
    best = 0.0
    for start in starts:
        ends = starts[np.abs(starts - start) <= STEEPEST * width]
        y = np.rint(start + (ends[:, None] - start) * x / max(1, width - 1)).astype(int)
        best = max(best, float(thick[y, x].mean(axis=1).max(initial=0.0)))
    return best


def judge(
    page: InkMap, box: BoxPlace, shift: Floats, *, frame: float, zero: float, free: tuple[bool, bool]
) -> TickReading:
    """The state of one tick box; `frame` is how clearly its frame was seen, `zero` the ink of an empty box here, `free`
    whether nothing stands to its left and right."""
    left, top, width, height = box.rectangle
    covered = cut(page.inside, left - 0.5, top - 0.5, width + 1, height + 1)
    got = measure(page, box, shift, free)
    ink = max(0.0, got.ink - zero)

    def unsure(reason: str) -> TickReading:
        return TickReading("ambiguous", 0.0, reason, ink)

    if covered.size == 0 or not covered.all():
        return unsure("part of the box is not on the picture")
    if frame < LEAST_FRAME:
        return unsure("the frame of the box is not seen where it should be")
    if ink <= EMPTY:
        return TickReading("empty", round(1 - ink / TICKED, 3), "", ink)
    if got.stray:
        return unsure("ink at one side of the box alone: does it belong to the box beside it?")
    if got.filled < FILLED and got.across >= ACROSS:
        return unsure("a line goes through the box: struck out?")
    if got.filled >= SCRIBBLED and got.outside >= OUTSIDE:
        return unsure("the box is written over beyond its frame: struck out?")
    if got.filled < FILLED and (got.filled >= SCRIBBLED or got.crossings >= CROSSINGS):
        return unsure("more ink than a tick, less than a filled box: written over?")
    if ink < TICKED:
        return unsure("too much ink for an empty box, too little for a tick")
    return TickReading("ticked", round(1 - EMPTY / ink, 3), "", ink)
