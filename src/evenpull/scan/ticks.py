"""Is a box ticked? Ticked, empty, or ambiguous with the reason: then a person looks, and nothing is guessed.

What counts is ink inside the printed frame, in mm2 of full black, in strokes longer than a speck, less what this page
shows where nobody can have written. A line from side to side is a correction or a crease, a scribble is a correction;
what is much paler than the other strokes of the page is a crease or dirt.

A struck-out box must not pass for a tick. A filled box reaches close to all four sides, a scribble leaves paper at the
top and the foot. A hand ticks its boxes in one way: on a page of filled boxes a check is one whose scribble or line a
fax has lost, on a page of checks a filled box is a scribble. A line that black and white has broken up leaves specks.
What hangs at the sides alone came from the boxes beside it. Who ticks in two ways on one page costs a look, no error.

The limits were set on aged cards of the bench and are reported on others: docs/scan.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
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
HATCHED = 0.35  # share of each strip along a side under the pen, in a filled box. A scribble leaves top and foot free
STRIP = 0.8  # mm, breadth of such a strip
SCRIBBLED = 0.50  # from which it is more than a tick or a cross
STRAY = 0.4  # share of the box within which, from one side of it, all ink lies that came from the box beside it
ACROSS = 0.85  # share of a line from side to side that is dark, from which the box is struck out
STEEPEST = 0.45  # of that line: rise over run. A tick or a cross is steeper
THROUGH = 0.98  # of a line from top to bottom: the long arm of a tick ends close to the frame, such a line beyond it
UPRIGHT = 0.2  # run over rise of a line from top to bottom. The long arm of a tick in a high box leans more
LEAST_FRAME = 0.22  # ink along the frame below which the box is not seen for sure
CROSSINGS = 4  # of the strokes by a level line, in the middle of the box: a tick has one or two, a cross two
PALER = 0.5  # of the usual darkness of strokes on this page, below which it is no stroke of the same hand
PALE = 0.55  # darkness below which a straight line through the box, at any angle, may be a crease
BROAD = 1.35  # mm: strokes as pale as that and broader are no strokes of a pencil but the edge of a stain
STRAIGHT, AT_EDGE = 0.45, 0.6  # mm: half the breadth of such a line, and how near the sides it comes
AS_DARK = 0.4  # of the darkest strokes in the box, from which a line across is a line of a pen: a crease is paler
OUTSIDE = 1.2  # mm2 of ink outside the frame: more than the tail of a tick
PATCH = 0.04  # of full black, mean over the box, taken for a stain: a pale scribble is taken for one too
SMOOTHED = 0.6  # mm, window of the median that takes the roughness off an edge
ROUGH = 1.5  # of the edge against the smoothed one: more than that of a pen, even in black and white
FILLS = 2  # full boxes on a page, at the least, and half of its marks: then its hand ticks by filling boxes
SPECKS = 3  # beside the strokes, from which they are the rest of a pale line or scribble: it breaks up
BLACK = 0.9  # darkness of strokes from which the page may be in black and white: one speck is enough there
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
    """Ink of one box: mm2 of full black in `strokes`; how dark they are; share under the pen; darkest line across;
    darkest one up and down; mm2 of ink beside it, on the sides where no other box is; how often a level line meets a
    stroke, the median of the middle half; whether all of it hangs at the sides, or is one straight line from side to
    side; how broad the strokes are, mm; the least share under the pen of a strip along one side of the box; how many
    times longer the edge of the strokes is than that of the same strokes smoothed; mean over the box of what was taken
    for a stain; how many specks lie beside the strokes, not much paler than these."""

    ink: float
    dark: float
    filled: float
    across: float
    upright: float
    outside: float
    crossings: float
    stray: bool
    straight: bool
    broad: float
    least_strip: float
    rough: float
    pale: float
    specks: int

    @property
    def full(self) -> bool:
        """Whether the whole box is under the pen, solid or hatched."""
        return self.filled >= SCRIBBLED and self.least_strip >= HATCHED


NOTHING = Measured(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, False, 0.0, 0.0, 1.0, 0.0, 0)


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual on one page: how dark strokes are, 0 without any; whether boxes are ticked by filling them."""

    dark: float
    fills: bool


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
    inside = (left + INSET, top + INSET, width - 2 * INSET, height - 2 * INSET)
    inner = cut(page.ink, *inside)
    if min(inner.shape) < 4:
        return NOTHING
    held = strokes(inner)
    ring = _RING[1] - _RING[0]
    beside = [
        stroke_ink(cut(page.ink, x, top + INSET, ring, height - 2 * INSET))
        for x, is_free in zip((left - _RING[1], left + width + _RING[0]), free, strict=True)
        if is_free
    ]
    written = inner[held]
    ink = float(written.sum()) / PIXELS_PER_MM**2
    if not written.size:
        return NOTHING
    dark = float(np.quantile(written, 0.9))
    written_on = inner >= max(DARK, AS_DARK * dark)
    pen = held & written_on
    # With the specks: black and white breaks a pale line up into them.
    lines = across(written_on, STEEPEST), across(written_on.T, UPRIGHT)
    return Measured(
        ink, dark, float(pen.mean()), *lines, max(beside, default=0.0), _crossings(pen), _strayed(held, pen),
        _straight_through(held), _breadth(held), _least_strip(pen), roughness(held),
        float(cut(page.pale, *inside).mean()), _specks(written_on & ~held),
    )  # fmt: skip


def usual_marks(measured: Iterable[Measured]) -> Usual:
    """The median darkness of the boxes that hold enough ink for a tick, and whether half of them, at least FILLS, are
    full."""
    found = [got for got in measured if got.ink >= TICKED]
    full = sum(got.full for got in found)
    return Usual(float(np.median([got.dark for got in found])) if found else 0.0, full >= max(FILLS, len(found) / 2))


def _breadth(held: NDArray[np.bool_]) -> float:
    """Mean breadth of the strokes, mm: a band of breadth b lies b/4 from its edge on average."""
    away = cv2.distanceTransform(np.pad(held, 1).astype(np.uint8), cv2.DIST_L2, 3)
    return 4 * float(away[1:-1, 1:-1][held].mean()) / PIXELS_PER_MM


def _edge_length(held: NDArray[np.bool_]) -> int:
    """Pairs of neighbouring pixels of which one is held and one is not."""
    return sum(int(np.count_nonzero(np.diff(held, axis=axis))) for axis in (0, 1))


def roughness(held: NDArray[np.bool_]) -> float:
    """How many times longer the edge of the strokes is than after a median over SMOOTHED: a pen leaves a clean edge, a
    stain in black and white a cloud of dots."""
    side = round(SMOOTHED * PIXELS_PER_MM) | 1
    smooth = cv2.medianBlur(held.astype(np.uint8), side).astype(bool)
    return _edge_length(held) / max(1, _edge_length(smooth))


def _least_strip(pen: NDArray[np.bool_]) -> float:
    """The least share under the pen of the four strips along the sides."""
    deep = max(1, round(STRIP * PIXELS_PER_MM))
    return min(float(strip.mean()) for strip in (pen[:deep], pen[-deep:], pen[:, :deep], pen[:, -deep:]))


def _straight_through(held: NDArray[np.bool_]) -> bool:
    """Whether the strokes are one straight line that reaches the sides of the box with both ends."""
    points = np.argwhere(held).astype(np.float64)
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points[:: max(1, len(points) // 400)] - middle, full_matrices=False)
    if axes.shape != (2, 2):
        return False
    along, aside = (points - middle) @ axes.T[:, 0], (points - middle) @ axes.T[:, 1]
    if np.quantile(np.abs(aside), 0.85) > STRAIGHT * PIXELS_PER_MM:
        return False
    high, wide = held.shape
    ends = points[[int(np.argmin(along)), int(np.argmax(along))]]
    edge = np.minimum(ends, np.array([high - 1, wide - 1]) - ends).min(axis=1)
    return bool((edge <= AT_EDGE * PIXELS_PER_MM).all())


def _strayed(held: NDArray[np.bool_], pen: NDArray[np.bool_]) -> bool:
    """Whether every stroke under the pen lies within STRAY of the box from a side that one of them touches: what comes
    in from the boxes on either side does, a tick does not."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(held.astype(np.uint8), connectivity=8)
    used = np.intersect1d(np.arange(1, count), labels[pen])
    if not len(used):
        return False
    high, wide = held.shape
    x, y, w, h = stats[used, :4].T
    from_side = np.array([x, y, wide - x - w, high - y - h])  # how far it lies from the left, top, right and bottom
    reach = np.array([x + w, y + h, wide - x, high - y]) / np.array([[wide], [high], [wide], [high]])
    near = reach < STRAY
    touched = (near & (from_side <= 1)).any(axis=1)
    return bool((near & touched[:, None]).any(axis=0).all())


def _specks(dots: NDArray[np.bool_]) -> int:
    """How many there are that touch no side of the box: what does may be the end of a line in the box beside it."""
    high, wide = dots.shape
    _, _, stats, _ = cv2.connectedComponentsWithStats(dots.astype(np.uint8), connectivity=8)
    x, y, w, h = stats[1:, :4].T
    return int(np.count_nonzero((x > 0) & (y > 0) & (x + w < wide) & (y + h < high)))


def _crossings(held: NDArray[np.bool_]) -> float:
    quarter = held.shape[0] // 4
    rows = np.pad(held[quarter : held.shape[0] - quarter].astype(np.int8), ((0, 0), (1, 0)))
    return float(np.median((np.diff(rows, axis=1) > 0).sum(axis=1))) if rows.size else 0.0


def across(held: NDArray[np.bool_], steepest: float) -> float:
    """Largest share of dark pixels on a line from the left to the right side that rises no more than `steepest` of its
    run; of an array turned on its side, from top to bottom."""
    # A hand's line is not straight: three quarters of a millimetre of play.
    play = round(0.4 * PIXELS_PER_MM)
    thick = cv2.dilate(held.astype(np.uint8), np.ones((2 * play + 1, 1), np.uint8))
    lines = _lines(*held.shape, play, steepest)
    return float(thick.ravel()[lines].mean(axis=1).max()) if len(lines) else 0.0


@lru_cache(maxsize=128)
def _lines(height: int, width: int, play: int, steepest: float) -> NDArray[np.intp]:
    """Pixels (lines, width), as indices of the flat array, of each line from side to side that `across` tries."""
    starts = np.arange(play, height - play, 3)
    start, end = (axis.ravel() for axis in np.meshgrid(starts, starts, indexing="ij"))
    flat = np.abs(end - start) <= steepest * width
    start, end = start[flat, None], end[flat, None]
    x = np.arange(width)
    y = np.rint(start + (end - start) * x / max(1, width - 1)).astype(np.intp)
    return np.asarray(y * width + x, np.intp)


def judge(page: InkMap, box: BoxPlace, got: Measured, *, frame: float, zero: float, usual: Usual) -> TickReading:
    """The state of one tick box; `frame` is how clearly its frame was seen, `zero` the ink of an empty box here,
    `usual` what the marks of this page are like."""
    left, top, width, height = box.rectangle
    covered = cut(page.inside, left - 0.5, top - 0.5, width + 1, height + 1)
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
    if got.dark < PALER * usual.dark:
        return unsure("much paler than what else is written on this page: a crease, or another pencil?")
    if not got.full and got.broad > BROAD and got.dark < PALE:
        return unsure("pale and broader than a stroke: the edge of a stain?")
    if got.straight and got.dark < PALE:
        return unsure("a pale straight line from side to side: a crease?")
    if not got.full and (got.across >= ACROSS or got.upright >= THROUGH):
        return unsure("a line goes through the box: struck out?")
    if got.outside >= OUTSIDE:
        return unsure("ink goes on beyond the frame of the box: struck out, or a stain?")
    if not got.full and got.rough >= ROUGH:
        return unsure("the edge of the ink is frayed: a stain in black and white?")
    if not got.full and (got.filled >= SCRIBBLED or got.crossings >= CROSSINGS):
        return unsure("more ink than a tick, less than a filled box: written over?")
    if not got.full and got.pale >= PATCH:
        return unsure("a pale patch broader than a stroke lies over it: a stain, or scribbled over with a pencil?")
    if got.full is not usual.fills:
        return unsure("filled, as most boxes of this page are not, or the other way round: struck out?")
    if not got.full and got.specks >= (1 if got.dark >= BLACK else SPECKS):
        return unsure("specks beside the strokes: what is left of a line that struck it out?")
    if ink < TICKED:
        return unsure("too much ink for an empty box, too little for a tick")
    return TickReading("ticked", round(1 - EMPTY / ink, 3), "", ink)
