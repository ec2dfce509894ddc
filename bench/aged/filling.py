"""A printed page filled in by a hand: the drawing and the truth of each box."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import pypdfium2

from bench.aged.hands import STRUCK_STYLES, Hand, Stroke, digit, some_hand, struck, tick
from evenpull.card import PageData
from evenpull.card.places import BoxPlace

DPI = 300
SCALE = DPI / 25.4
Truth = dict[BoxPlace, str]  # "ticked", "empty" or "struck" of each tick box
Marked = tuple[Stroke, float]  # a stroke and the strength of its pen, share of the hand's
SHIFT = 4  # binary places of a pixel in OpenCV's drawing


@dataclass(frozen=True)
class Filled:
    """`paper` (H, W) grey at DPI; `styles` says how each ticked or struck box was drawn."""

    paper: np.ndarray
    data: PageData
    truth: Truth
    styles: dict[BoxPlace, str]


def rendered(pdf: bytes) -> list[np.ndarray]:
    """Each page of a PDF at DPI, grey."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [np.array(p.render(scale=DPI / 72, grayscale=True).to_numpy()).squeeze() for p in document]


def fill(paper: np.ndarray, data: PageData, rng: np.random.Generator) -> Filled:
    """Ticks nine of ten rows, writes digits, strikes one box of forty out; one hand a page, ticks in its style."""
    hand = some_hand(rng)
    truth: Truth = {}
    styles: dict[BoxPlace, str] = {}
    marks: list[Marked] = []
    for box in data.boxes:
        if box.kind == "tick":
            style, state, strokes = _tick(box, hand, rng)
            truth[box] = state
            if state != "empty":
                styles[box] = style
            marks += strokes
        elif box.kind == "value" and rng.random() < 0.9:
            for cell in box.cells():
                marks += with_pen(digit(str(rng.integers(10)), cell, hand, rng))
        elif box.kind == "written" and box.field != "odd" and rng.random() < 0.8:
            left, top, width, height = box.rectangle
            for n in range(min(6, int(width / 5))):
                at = (left + 1 + 4.5 * n, top, 4.5, height)
                marks += with_pen(digit(str(rng.integers(10)), at, hand, rng))
    return Filled(drawn(paper, marks, hand, rng), data, truth, styles)


def _tick(box: BoxPlace, hand: Hand, rng: np.random.Generator) -> tuple[str, str, list[Marked]]:
    wanted = 0.12 if box.field == "moved" else 0.9
    if rng.random() >= wanted:
        return "", "empty", []
    if rng.random() < 0.025:
        style = str(rng.choice(STRUCK_STYLES))
        below, above = struck(style, box.rectangle, hand, rng)
        # Who strikes out may have another pen: paler, never darker than black.
        return style, "struck", with_pen(below) + with_pen(above, float(rng.uniform(0.6, 1.0)))
    return hand.tick, "ticked", with_pen(tick(hand.tick, box.rectangle, hand, rng))


def with_pen(strokes: list[Stroke], strength: float = 1.0) -> list[Marked]:
    return [(stroke, strength) for stroke in strokes]


def drawn(paper: np.ndarray, marks: list[Marked], hand: Hand, rng: np.random.Generator) -> np.ndarray:
    layer = np.zeros(paper.shape, np.uint8)
    for stroke, strength in marks:
        # Each stroke has a pressure of its own.
        width = max(1, round(hand.pen * rng.uniform(0.85, 1.15) * SCALE))
        points = np.rint((stroke * SCALE - 0.5) * 2**SHIFT).astype(np.int32).reshape(-1, 1, 2)
        if strength == 1.0:
            cv2.polylines(layer, [points], False, 255, width, cv2.LINE_AA, SHIFT)
        else:
            paler = np.zeros_like(layer)
            cv2.polylines(paler, [points], False, round(255 * strength), width, cv2.LINE_AA, SHIFT)
            layer = np.maximum(layer, paler)
    cover = layer.astype(np.float32) / 255
    if hand.pencil:
        coarse = rng.normal(0, 1, (paper.shape[0] // 3 + 1, paper.shape[1] // 3 + 1)).astype(np.float32)
        grain = cv2.resize(coarse, paper.shape[::-1], interpolation=cv2.INTER_CUBIC)
        cover *= np.clip(0.85 + 0.25 * grain, 0.25, 1)
    return np.rint(paper * (1 - hand.dark * cover)).astype(np.uint8)
