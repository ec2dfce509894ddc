"""What happens to a page between the hand and the reader: stains, folds, a torn corner, a crooked camera, a fax.

The strengths are our own choice (no source): what a pocket, rain and a phone do to a sheet, and somewhat worse.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from bench.aged.filling import DPI, SCALE

DPIS = (150, 200, 250, 300)


@dataclass(frozen=True)
class Aged:
    """`picture` grey as taken; `matrix` takes mm on the page to it (folds left out); `torn` number of the corner that
    is missing, from 1 at the top left, 0 for none; `what` was done."""

    picture: np.ndarray
    dpi: int
    matrix: np.ndarray
    torn: int
    torn_mm: float
    what: dict[str, float] = field(default_factory=dict)


def age(paper: np.ndarray, dpi: int, rng: np.random.Generator) -> Aged:
    what: dict[str, float] = {}
    page = paper.astype(np.float32)
    height, width = page.shape
    if rng.random() < 0.6:
        what["stains"] = n = int(rng.integers(1, 4))
        for _ in range(n):
            page *= _stain(height, width, rng)
    if rng.random() < 0.4:
        what["smudge"] = 1
        page *= _smudge(height, width, rng)
    if rng.random() < 0.6:
        what["folds"] = n = int(rng.integers(1, 4))
        for _ in range(n):
            page = _folded(page, rng)
    torn, torn_mm = 0, 0.0
    paper_mask = np.full((height, width), 255, np.uint8)
    if rng.random() < 0.2:
        torn, torn_mm = int(rng.integers(1, 5)), float(rng.uniform(10, 38))
        _tear(paper_mask, torn, torn_mm, rng)
    ground = float(rng.choice([255, 235, 60, 20]))
    matrix, size = _camera(width, height, dpi, rng, what)
    page = np.where(paper_mask > 0, page, ground).astype(np.float32)
    # Averaged before it is made smaller, as a lens and a sensor do; a plain warp would skip strokes.
    blur = 0.45 * DPI / dpi
    page = cv2.GaussianBlur(page, (0, 0), max(0.3, blur * 0.8))
    picture = cv2.warpPerspective(page, matrix, size, flags=cv2.INTER_LINEAR, borderValue=ground)
    picture = _light(picture, rng, what)
    if rng.random() < 0.5:
        what["blur"] = sigma = float(rng.uniform(0.3, 0.9) * dpi / 250)
        picture = cv2.GaussianBlur(picture, (0, 0), sigma)
    picture += rng.normal(0, rng.uniform(1, 6), picture.shape).astype(np.float32)
    grey = np.clip(picture, 0, 255).astype(np.uint8)
    if rng.random() < 0.15:
        what["fax"] = 1
        window = round(20 * dpi / 25.4) | 1
        grey = cv2.adaptiveThreshold(grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY, window, 16)
    else:
        what["jpeg"] = quality = int(rng.integers(35, 90))
        _, coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
        grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    to_pixels = np.array([[SCALE, 0, -0.5], [0, SCALE, -0.5], [0, 0, 1]])
    return Aged(grey, dpi, matrix @ to_pixels, torn, torn_mm, what)


def _stain(height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    """A drop, or the ring of a cup, with a soft edge."""
    small = 8
    y, x = np.mgrid[0 : height // small + 1, 0 : width // small + 1].astype(np.float32) * small / SCALE
    cx, cy = rng.uniform(0, width / SCALE), rng.uniform(0, height / SCALE)
    angle = np.arctan2(y - cy, x - cx)
    wobble = 1 + sum(rng.uniform(0, 0.08) * np.sin(k * angle + rng.uniform(0, 6)) for k in (2, 3, 5))
    distance = np.hypot(x - cx, y - cy) / wobble
    radius, edge = rng.uniform(6, 40), rng.uniform(0.8, 4)
    depth = rng.uniform(0.06, 0.3)
    body = 1 / (1 + np.exp(np.clip((distance - radius) / edge, -50, 50)))
    if rng.random() < 0.4:
        body = np.exp(-(((distance - radius) / rng.uniform(1.2, 3)) ** 2))
    return cv2.resize((1 - depth * body).astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC)


def _smudge(height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    coarse = rng.normal(0, 1, (height // 120 + 2, width // 120 + 2)).astype(np.float32)
    wide = cv2.resize(cv2.GaussianBlur(coarse, (0, 0), 1.5), (width, height), interpolation=cv2.INTER_CUBIC)
    return np.clip(1 - rng.uniform(0.02, 0.1) * np.clip(wide * 2, 0, 2), 0.6, 1).astype(np.float32)


def _folded(page: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A crease through the page: a thin line, shade on one side, and the paper beyond it moved a little."""
    height, width = page.shape
    level = rng.random() < 0.5
    angle = (0.0 if level else np.pi / 2) + rng.normal(0, 0.06)
    if rng.random() < 0.2:
        angle = rng.uniform(0, np.pi)
    cx, cy = rng.uniform(0.15, 0.85) * width, rng.uniform(0.15, 0.85) * height
    y, x = (axis.astype(np.float32) for axis in np.ogrid[0:height, 0:width])
    away = ((x - cx) * -np.sin(angle) + (y - cy) * np.cos(angle)).astype(np.float32) / SCALE
    move = rng.uniform(-0.4, 0.4) * SCALE
    side = np.clip(away / 3, 0, 1)
    along_x, along_y = (side * move * -np.sin(angle), side * move * np.cos(angle))
    moved = cv2.remap(
        page, (x + along_x).astype(np.float32), (y + along_y).astype(np.float32), cv2.INTER_LINEAR, borderValue=255
    )
    line = rng.uniform(-0.25, 0.3) * np.exp(-((away / rng.uniform(0.15, 0.35)) ** 2))
    shade = rng.uniform(0, 0.12) * np.exp(-np.abs(away) / 12) * (away > 0)
    return np.clip(moved * (1 - shade) * (1 - line), 0, 255).astype(np.float32)


def _tear(mask: np.ndarray, corner: int, size: float, rng: np.random.Generator) -> None:
    height, width = mask.shape
    a, b = size * SCALE, size * SCALE * rng.uniform(0.6, 1.4)
    at = np.array([[0, 0], [a, 0], [a * 0.55, b * 0.4], [0, b]])
    if corner in (2, 3):
        at[:, 0] = width - at[:, 0]
    if corner in (3, 4):
        at[:, 1] = height - at[:, 1]
    cv2.fillPoly(mask, [np.rint(at).astype(np.int32)], 0)


def _camera(
    width: int, height: int, dpi: int, rng: np.random.Generator, what: dict[str, float]
) -> tuple[np.ndarray, tuple[int, int]]:
    """Homography from the page at DPI to the picture, and its size: turned to 7 degrees, often seen askew."""
    scale = dpi / DPI
    angle = float(rng.uniform(-7, 7))
    what["turned"] = round(angle, 1)
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    middle = np.array([width, height]) / 2
    there = ((corners - middle) @ np.array([[c, s], [-s, c]])) * scale
    if rng.random() < 0.5:
        what["askew"] = depth = float(rng.uniform(0.01, 0.06))
        there *= 1 + rng.uniform(-depth, depth, (4, 1))
        there += rng.uniform(-depth / 3, depth / 3, (4, 2)) * width * scale
    low = there.min(axis=0) - rng.uniform(5, 60, 2) * scale
    high = there.max(axis=0) + rng.uniform(5, 60, 2) * scale
    if rng.random() < 0.08:
        what["upside down"] = 1
        there = low + high - there
    size = np.ceil(high - low).astype(int)
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), (there - low).astype(np.float32))
    return np.asarray(matrix, float), (int(size[0]), int(size[1]))


def _light(picture: np.ndarray, rng: np.random.Generator, what: dict[str, float]) -> np.ndarray:
    height, width = picture.shape
    y, x = np.mgrid[0:1:6j, 0:1:6j]
    fall = rng.uniform(0, 0.45)
    what["light"] = round(float(fall), 2)
    turn = rng.uniform(0, 2 * np.pi)
    ramp = (np.cos(turn) * (x - 0.5) + np.sin(turn) * (y - 0.5)) / 1.42 + 0.5
    light = cv2.resize((1 - fall * ramp).astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC)
    if rng.random() < 0.25:  # the shadow of a hand or phone
        what["shadow"] = 1
        edge = rng.uniform(0.2, 0.8) * width
        steep = rng.uniform(8, 40) * width / 2000
        light = light * (1 - rng.uniform(0.1, 0.3) / (1 + np.exp(np.clip((np.arange(width) - edge) / steep, -50, 50))))
    black, white = rng.uniform(5, 45), rng.uniform(215, 255)
    return ((black + picture / 255 * (white - black)) * light).astype(np.float32)
