"""Codes that were not read at first: cut straight out of the picture where they should be, and tried in many ways."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from evenpull.card.corner_marks import foot_code, head_code
from evenpull.card.paper import Paper
from evenpull.scan.codes import Found
from evenpull.scan.extra import cv2
from evenpull.scan.model import Grey, Picture
from evenpull.scan.straighten import Straight, patch

_SCALES = (12.0, 8.0, 16.0)  # pixels per mm
_AIR = 2.0  # mm around the place of a code
_MOST_LIKELY = 3  # codes side by side in the head that are looked for while none says how many there are


def _rooms(found: Found, paper: Paper) -> Iterator[tuple[float, float, float, float]]:
    """Left, top, width, height (mm) of the places where a code is still missing."""
    missing, parts = found.parts_missing()
    if missing:
        have = {c.part.part for c in found.codes.values() if c.part is not None and c.part.page}
        # The codes of a head end at its right side: the n-th from there stands alike however many there are.
        count = parts if have else _MOST_LIKELY
        for n in range(1, count + 1):
            if n not in have:
                left, top, size = head_code(paper, n, count)
                yield left - _AIR, top - _AIR, size + 2 * _AIR, size + 2 * _AIR
    if not any(code.part is None for code in found.codes.values()):
        left, top, size = foot_code(paper)
        yield left - _AIR, top - _AIR, size + 2 * _AIR, size + 2 * _AIR


def read_again(picture: Picture, found: Found, lie: Straight) -> None:
    for left, top, width, height in list(_rooms(found, lie.paper)):
        if _read_room(picture, found, lie, (left, top, width, height)) and found.complete:
            return


def _read_room(picture: Picture, found: Found, lie: Straight, room: tuple[float, float, float, float]) -> bool:
    left, top, width, height = room
    for scale in _SCALES:
        cut = patch(picture.grey, lie.matrix, left, top, width, height, scale)
        back = lie.matrix @ np.array([[1 / scale, 0, left], [0, 1 / scale, top], [0, 0, 1]])
        if any(found.add(tried, back) for tried in _ways(cut, scale)):
            return True
    return False


def _ways(cut: Grey, scale: float) -> Iterator[Grey]:
    """The cut as it is, smoothed, sharpened, in black and white by its neighbourhood and by one limit."""
    yield cut
    smooth = cv2.GaussianBlur(cut, (0, 0), 0.08 * scale)
    yield smooth
    yield np.asarray(cv2.addWeighted(cut, 2.0, cv2.GaussianBlur(cut, (0, 0), 0.25 * scale), -1.0, 0), np.uint8)
    for millimetres in (4.0, 9.0):
        window = round(millimetres * scale) | 1
        yield cv2.adaptiveThreshold(smooth, 255, cv2.ADAPTIVE_THRESH_GAUSSIAN_C, cv2.THRESH_BINARY, window, 2)
    yield cv2.threshold(smooth, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)[1]
    # Fine white cracks of a fold closed, fine black ones opened.
    element = np.ones((round(0.2 * scale) | 1,) * 2, np.uint8)
    yield cv2.morphologyEx(smooth, cv2.MORPH_OPEN, element)
    yield cv2.morphologyEx(smooth, cv2.MORPH_CLOSE, element)
