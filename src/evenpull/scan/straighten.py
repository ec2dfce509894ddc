"""From the picture of a page to the page itself: a homography from codes and corner marks, and the local rest.

Codes give the first homography (4 corners each, at both ends of the page), it says where the corner marks should be,
each mark is found by normalised correlation with its own drawing, and all points together give the final one. What a
homography cannot take away (a bent or folded page) is measured at the frames of the boxes themselves.

Source of the method: R. Hartley, A. Zisserman, Multiple View Geometry, 2nd ed., chapter 4 (homography from points, by
the direct linear transformation), from memory; OpenCV's findHomography and matchTemplate.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from evenpull.card.codes import code_version
from evenpull.card.corner_marks import (
    HOLE_RADIUS,
    MARK_HOLES,
    MARK_SIZE,
    QUIET,
    foot_code,
    head_code,
    mark_centres,
)
from evenpull.card.paper import SIZES, Paper
from evenpull.card.payload import HEAD_ERROR
from evenpull.scan.codes import Found, FoundCode, mapped
from evenpull.scan.extra import cv2
from evenpull.scan.model import Floats, Grey, Picture, ScanError

PIXELS_PER_MM = 8.0
_MARK_SCALE = 8.0  # pixels per mm where marks are looked for
_MARK_AIR = 0.8  # mm of white around a mark that belong to its drawing
LEAST_LIKENESS = 0.55  # normalised correlation of a mark with its drawing
_NEAR, _FAR = 3.0, 26.0  # mm around the expected place, with both ends of the page known or one


@dataclass(frozen=True, slots=True)
class Straight:
    """`matrix` (3, 3) takes mm on the page to the picture; `misfit` mm; `marks` found, from 1 at the top left."""

    matrix: Floats
    misfit: float
    marks: tuple[int, ...]
    paper: Paper


def paper_of(tenths: tuple[int, int]) -> Paper:
    """The paper whose size the code gives. Raises ValueError for one that cards are not printed on."""
    for name, (width, height) in SIZES.items():
        if (round(10 * width), round(10 * height)) == tenths:
            return Paper(name, width, height)
    raise ValueError(f"paper of {tenths[0] / 10:g} x {tenths[1] / 10:g} mm is none that cards are printed on")


@cache
def _drawing(number: int) -> Grey:
    """A corner mark with its air, at `_MARK_SCALE`, drawn four times finer and averaged."""
    fine = 4 * _MARK_SCALE
    side = round((MARK_SIZE + 2 * _MARK_AIR) * fine)
    air, size = round(_MARK_AIR * fine), round(MARK_SIZE * fine)
    image = np.full((side, side), 255, np.uint8)
    image[air : air + size, air : air + size] = 0
    for x, y in MARK_HOLES[number]:
        centre = (round(side / 2 + x * size), round(side / 2 + y * size))
        cv2.circle(image, centre, round(HOLE_RADIUS * size), 255, -1)
    return np.asarray(cv2.resize(image, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA), np.uint8)


def _code_points(code: FoundCode, paper: Paper) -> Floats | None:
    """Corners (4, 2) of a code on the page, mm; None for the code of the front, whose height depends on its texts."""
    if code.part is None:
        left, top, size = foot_code(paper)
        version = code_version(code.text)
    elif code.part.page:
        left, top, size = head_code(paper, code.part.part, code.part.parts)
        version = code_version(code.text, HEAD_ERROR)
    else:
        return None
    quiet = QUIET * size / (17 + 4 * version + 2 * QUIET)
    near, far = np.array([left + quiet, top + quiet]), np.array([left + size - quiet, top + size - quiet])
    return np.array([near, [far[0], near[1]], far, [near[0], far[1]]])


def _fit(page: list[Floats], picture: list[Floats], *, affine: bool = False) -> Floats | None:
    """Homography (3, 3) from mm to the picture; an `affine` one where points of one end of the page alone would let
    the perspective run away at the other."""
    here, there = np.concatenate(page), np.concatenate(picture)
    if affine:
        solution, _, rank, _ = np.linalg.lstsq(np.column_stack([here, np.ones(len(here))]), there, rcond=None)
        return np.vstack([solution.T, [0, 0, 1.0]]) if rank == 3 else None
    if len(here) < 4:
        return None
    matrix, _ = cv2.findHomography(here, there, 0)
    if matrix is None or not np.isfinite(matrix).all() or abs(np.linalg.det(matrix)) < 1e-12:
        return None
    return np.asarray(matrix, dtype=np.float64)


def patch(grey: Grey, matrix: Floats, left: float, top: float, width: float, height: float, scale: float) -> Grey:
    """A rectangle of the page (mm) cut straight out of the picture, `scale` pixels per mm, white outside it."""
    to_page = np.array([[1 / scale, 0, left + 0.5 / scale], [0, 1 / scale, top + 0.5 / scale], [0, 0, 1.0]])
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    whole = matrix @ to_page
    return np.asarray(cv2.warpPerspective(grey, whole, size, flags=how, borderValue=255), np.uint8)


def _find_mark(grey: Grey, matrix: Floats, number: int, centre: Floats, reach: float) -> tuple[Floats, float]:
    """(centre in mm where the mark is by this homography, likeness) of the best place within `reach` mm."""
    half = MARK_SIZE / 2 + _MARK_AIR + reach
    cut = patch(grey, matrix, centre[0] - half, centre[1] - half, 2 * half, 2 * half, _MARK_SCALE)
    likeness = cv2.matchTemplate(cut, _drawing(number), cv2.TM_CCOEFF_NORMED)
    _, best, _, (x, y) = cv2.minMaxLoc(likeness)
    shift = np.array([x + _vertex(likeness[y, :], x), y + _vertex(likeness[:, x], y)])
    middle = (np.array(likeness.shape[::-1]) - 1) / 2
    return centre + (shift - middle) / _MARK_SCALE, float(best)


def _vertex(values: Any, at: int) -> float:
    """Offset of the vertex of the parabola through the largest value and its neighbours, -0.5 ... 0.5."""
    if not 0 < at < len(values) - 1:
        return 0.0
    before, here, after = (float(v) for v in values[at - 1 : at + 2])
    bend = before - 2 * here + after
    return 0.0 if bend >= 0 else min(0.5, max(-0.5, 0.5 * (before - after) / bend))


def straighten(picture: Picture, found: Found, papers: Iterable[Paper]) -> Straight:
    """The page's homography. Of several papers that it could be on, the one whose marks fit.

    Raises ScanError when neither codes nor marks say how the page lies.
    """
    tried = [one for paper in papers if (one := _on_paper(picture, found, paper)) is not None]
    # A paper of the wrong size puts the marks of the other end elsewhere: fewer are found there.
    best = max(tried, key=lambda one: (len(one.marks), -one.misfit), default=None)
    if best is None:
        raise ScanError(
            picture.file, picture.page, "too few of its codes and corner marks were found to straighten it",
            "scan the whole page, flat, with all four corners",
        )  # fmt: skip
    return best


def _both_ends(codes: set[bool], marks: Iterable[int]) -> bool:
    """Whether something is known at the head and at the foot, and on both sides, so that all between is sure.

    `codes` holds False for a code of the head (right side) and True for that of the foot (left side).
    """
    head, foot = False in codes, True in codes
    top, bottom = head or bool({0, 1} & {*marks}), foot or bool({2, 3} & {*marks})
    left, right = foot or bool({0, 3} & {*marks}), head or bool({1, 2} & {*marks})
    return top and bottom and left and right


def _on_paper(picture: Picture, found: Found, paper: Paper) -> Straight | None:
    page: list[Floats] = []
    there: list[Floats] = []
    ends: set[bool] = set()
    for code in found.codes.values():
        points = _code_points(code, paper)
        if points is not None:
            page.append(points)
            there.append(code.quad)
            ends.add(code.part is None)
    matrix = _fit(page, there, affine=len(ends) < 2) if page else None
    if matrix is None:
        return None
    centres = np.array(mark_centres(paper.width, paper.height))
    known = np.concatenate(page).mean(axis=0)
    marks: dict[int, Floats] = {}
    for number in sorted(range(4), key=lambda n: float(np.hypot(*(centres[n] - known)))):
        reach = _NEAR if _both_ends(ends, marks) else _FAR
        at, likeness = _find_mark(picture.grey, matrix, number, centres[number], reach)
        if likeness < LEAST_LIKENESS:
            continue
        marks[number] = mapped(matrix, at[None])[0]
        again = _fit(
            [*page, centres[[*marks]]], [*there, np.array([marks[n] for n in marks])],
            affine=not _both_ends(ends, marks),
        )  # fmt: skip
        matrix = matrix if again is None else again
    if not _both_ends(ends, marks):
        return None
    # Once more with the marks looked for where all points together put them.
    for number in marks:
        at, likeness = _find_mark(picture.grey, matrix, number, centres[number], 1.5)
        if likeness >= LEAST_LIKENESS:
            marks[number] = mapped(matrix, at[None])[0]
    # Corners of codes are whole pixels of the reader, those of marks finer: marks count four times.
    seen: Floats = np.array([marks[n] for n in marks], float).reshape(-1, 2)
    final = _fit([*page, *[centres[[*marks]]] * 4], [*there, *[seen] * 4])
    if final is None:
        return None
    here: Floats = np.concatenate([*page, centres[[*marks]]])
    where: Floats = np.concatenate([*there, seen])
    back: Floats = np.linalg.inv(final).astype(np.float64)
    misfit = float(np.hypot(*(mapped(back, where) - here).T).mean())
    return Straight(final, misfit, tuple(sorted(n + 1 for n in marks)), paper)
