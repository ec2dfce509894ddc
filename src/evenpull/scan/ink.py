"""How dark a straightened page is where somebody wrote: ink between paper (0) and full black (1), light taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.card.corner_marks import MARK_SIZE, mark_centres
from evenpull.card.places import BoxPlace
from evenpull.scan.codes import mapped
from evenpull.scan.extra import cv2
from evenpull.scan.model import Floats, Grey
from evenpull.scan.straighten import PIXELS_PER_MM, Straight

Floats32 = NDArray[np.float32]
_LIGHT_SCALE, _LIGHT_REACH = 2.0, 13.0  # pixels per mm and mm: broader than a filled tick box, so it is no shadow
_BROADEST_STROKE = 2.5  # mm: what is broader and pale is a stain, no stroke
_SURELY_INK = 0.5  # from which a broad place is ink all the same: a filled box
_FRAME_REACH = 1.3  # mm around its place in which the frame of a box is looked for
_NEIGHBOURS = 9  # boxes whose frames together say how the page is bent at one of them
_BESIDE = 0.4  # mm from the middle of a frame line to where the paper beside it is compared with it
_REACH, _ASIDE = round(_FRAME_REACH * PIXELS_PER_MM), round(_BESIDE * PIXELS_PER_MM)  # in pixels
_CLEAR_FRAME = 0.2  # by how much the frame stands out from what is beside it, from which it says where it is


@dataclass(frozen=True, slots=True)
class InkMap:
    """`straight` (H, W) grey; `ink` (H, W) 0 ... 1; `pale` (H, W) what was left out of it as a stain; `inside` (H, W)
    whether the picture covers that place."""

    straight: Grey
    ink: Floats32
    pale: Floats32
    inside: NDArray[np.bool_]
    black: float


def ink_map(grey: Grey, lie: Straight) -> InkMap:
    """The page straightened at PIXELS_PER_MM with its light taken out.

    Paper is the closing (grey-scale morphology) over 13 mm: light that changes slowly and shadows go into it, print and
    pen do not. Black is that of the corner marks, the printed reference of this page. Where it is paler than half
    black, only what is narrower than a stroke counts, by a closing over 2.5 mm: rings and drops are pale and broad.
    """
    width, height = lie.paper.width, lie.paper.height
    size = (round(width * PIXELS_PER_MM), round(height * PIXELS_PER_MM))
    to_page = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, PIXELS_PER_MM]]) / PIXELS_PER_MM
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    whole = lie.matrix @ to_page
    straight = cv2.warpPerspective(grey, whole, size, flags=how, borderValue=255)
    inside = _inside(grey, whole, size)
    small = cv2.resize(
        straight, None, fx=_LIGHT_SCALE / PIXELS_PER_MM, fy=_LIGHT_SCALE / PIXELS_PER_MM, interpolation=cv2.INTER_AREA
    )
    side = round(_LIGHT_REACH * _LIGHT_SCALE) | 1
    paper = cv2.morphologyEx(
        cv2.medianBlur(small, 3), cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_RECT, (side, side))
    )
    paper = cv2.GaussianBlur(paper, (0, 0), 3.0)
    paper = np.maximum(cv2.resize(paper, size, interpolation=cv2.INTER_LINEAR).astype(np.float32), 1.0)
    share = 1.0 - straight.astype(np.float32) / paper
    black = _black(share, lie)
    side = round(_BROADEST_STROKE * PIXELS_PER_MM) | 1
    element = cv2.getStructuringElement(cv2.MORPH_RECT, (side, side))
    around = np.maximum(cv2.morphologyEx(straight, cv2.MORPH_CLOSE, element).astype(np.float32), 1.0)
    narrow = 1.0 - straight.astype(np.float32) / around
    ink = np.clip(np.where(share >= _SURELY_INK * black, share, narrow) / black, 0.0, 1.0)
    pale = np.clip(share / black - ink, 0.0, 1.0)
    return InkMap(straight, ink, pale, inside, black)


def _inside(grey: Grey, whole: Floats, size: tuple[int, int]) -> NDArray[np.bool_]:
    """Which pixels of the straightened page the picture covers. A page whose corners all lie on it is covered whole,
    because a homography keeps straight lines straight."""
    width, height = size
    corners = mapped(whole, np.array([[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]], float))
    if (corners >= 1).all() and (corners <= np.array(grey.shape[::-1]) - 2.0).all():
        return np.ones((height, width), np.bool_)
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    covered = cv2.warpPerspective(np.full(grey.shape, 255, np.uint8), whole, size, flags=how, borderValue=0) > 250
    return np.asarray(covered, np.bool_)


def _black(share: Floats32, lie: Straight) -> float:
    """How much darker than paper full black is on this page: the median inside the corner marks that were found."""
    found = []
    for number, (x, y) in enumerate(mark_centres(lie.paper.width, lie.paper.height), start=1):
        if number in lie.marks:
            edge = MARK_SIZE / 2 - 0.4
            rows = slice(round((y - edge) * PIXELS_PER_MM), round((y + edge) * PIXELS_PER_MM))
            cols = slice(round((x - edge) * PIXELS_PER_MM), round((x + edge) * PIXELS_PER_MM))
            found.append(float(np.median(share[rows, cols])))
    return max(0.3, float(np.median(found))) if found else 0.8


def frame_shifts(page: InkMap, boxes: tuple[BoxPlace, ...]) -> tuple[Floats, Floats]:
    """(shift (n, 2) in mm, clearness (n,)) of each box: how far its printed frame lies from where it should.

    The two upright (level) edges of a box lie where two lines stand out most from what is beside them; ink alone would
    take the inside of a filled box for them. One box may be overwritten, so each takes the median of itself and its
    nearest neighbours whose frames are clear: a page bends smoothly.
    """
    own = np.array([_frame(page.ink, box) for box in boxes]).reshape(-1, 6)
    centres = np.array([[b.x + b.width / 2, b.y + b.height / 2] for b in boxes]).reshape(-1, 2) / 10
    shifts = np.zeros((len(boxes), 2))
    for axis in (0, 1):
        clear = np.flatnonzero(own[:, 2 + axis] >= _CLEAR_FRAME)
        if not len(clear):
            continue
        for i in range(len(boxes)):
            # Along the other axis the page bends as well; distances count alike.
            near = clear[np.argsort(np.hypot(*(centres[clear] - centres[i]).T))[:_NEIGHBOURS]]
            shifts[i, axis] = float(np.median(own[near, axis]))
            if own[i, 2 + axis] >= _CLEAR_FRAME and abs(own[i, axis] - shifts[i, axis]) < 0.4:
                shifts[i, axis] = 0.5 * (shifts[i, axis] + own[i, axis])
    return shifts, own[:, 4:].min(axis=1)


def _frame(ink: Floats32, box: BoxPlace) -> tuple[float, float, float, float, float, float]:
    """Of the edges of one box by themselves, upright and level: shift x, shift y in mm, how far they stand out, ink
    along them."""
    left, top, width, height = (v * PIXELS_PER_MM for v in box.rectangle)
    y0, y1 = round(top + 0.15 * height), round(top + 0.85 * height)
    x0, x1 = round(left + 0.15 * width), round(left + 0.85 * width)
    across, *upright_at = _window(left, width)
    down, *level_at = _window(top, height)
    upright = _edges(ink[max(0, y0) : y1, across].mean(axis=0), *upright_at)
    level = _edges(ink[down, max(0, x0) : x1].mean(axis=1), *level_at)
    return upright[0] / PIXELS_PER_MM, level[0] / PIXELS_PER_MM, upright[1], level[1], upright[2], level[2]


def _window(start: float, length: float) -> tuple[slice, int, int]:
    """What of the page is looked at for two edges, and where both of them lie in it."""
    a, b = round(start - 0.5), round(start + length - 0.5)
    first = max(0, a - _REACH - _ASIDE - 2)
    return slice(first, b + _REACH + _ASIDE + 3), a - first, b - first


def _edges(profile: Floats32, a: int, b: int) -> tuple[float, float, float]:
    """(shift in pixels, how far they stand out, most ink) where the edges `a` and `b` stand out most within
    `_FRAME_REACH` from what is `_BESIDE` them on either side."""
    # A line is 3 pixels wide.
    smooth = np.convolve(profile, np.ones(3) / 3, "same")
    if a - _REACH - _ASIDE < 0 or b + _REACH + _ASIDE + 1 > len(smooth):
        return 0.0, 0.0, 0.0

    def along(edge: int, by: int = 0) -> Floats:
        return smooth[edge - _REACH + by : edge + _REACH + 1 + by]

    # The lesser of the two: the line of the box beside it has no fellow at the other end.
    out = np.minimum(*(along(edge) - 0.5 * (along(edge, -_ASIDE) + along(edge, _ASIDE)) for edge in (a, b)))
    # Near places first where several are alike: a neighbour's frame is as black.
    at = int(np.argmax(out - 0.02 * np.abs(np.arange(-_REACH, _REACH + 1)) / PIXELS_PER_MM))
    return float(at - _REACH), float(out[at]), float(0.5 * (along(a) + along(b)).max())


def corners_in_picture(lie: Straight, left: float, top: float, right: float, bottom: float) -> Floats:
    """Corners (4, 2) in the picture as taken of a rectangle on the page in mm."""
    return mapped(lie.matrix, np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))
