"""Hands that fill in cards: strokes in millimetres for ticks and digits, no two alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Stroke = np.ndarray  # (n, 2) in mm
# Digits as strokes in a box 1 wide and 1 high, y downwards; some in several shapes that hands of the trade use.
_ARC = np.linspace(0, 2 * np.pi, 17)


def _round(x: float, y: float, rx: float, ry: float, start: float = 0, end: float = 1) -> list[tuple[float, float]]:
    angles = -np.pi / 2 + 2 * np.pi * np.linspace(start, end, 15)
    return [(x + rx * float(np.cos(a)), y + ry * float(np.sin(a))) for a in angles]


DIGITS: dict[str, list[list[list[tuple[float, float]]]]] = {
    "0": [[_round(0.5, 0.5, 0.4, 0.5)], [_round(0.5, 0.5, 0.35, 0.48, 0.05, 1.02), [(0.2, 0.85), (0.8, 0.15)]]],
    "1": [[[(0.5, 0), (0.5, 1)]], [[(0.2, 0.3), (0.55, 0), (0.55, 1)]],
          [[(0.25, 0.25), (0.5, 0), (0.5, 1)], [(0.25, 1), (0.75, 1)]]],
    "2": [[[*_round(0.5, 0.27, 0.35, 0.27, -0.25, 0.35), (0.1, 1), (0.9, 1)]]],
    "3": [[[*_round(0.45, 0.25, 0.35, 0.25, -0.2, 0.5), *_round(0.45, 0.74, 0.42, 0.26, 0.0, 0.72)]],
          [[(0.1, 0), (0.85, 0), (0.45, 0.4), *_round(0.45, 0.7, 0.4, 0.3, 0.05, 0.7)]]],
    "4": [[[(0.65, 1), (0.65, 0), (0.05, 0.7), (0.95, 0.7)]], [[(0.2, 0), (0.15, 0.55), (0.9, 0.55)],
          [(0.7, 0.2), (0.65, 1)]]],
    "5": [[[(0.85, 0), (0.25, 0), (0.2, 0.45), *_round(0.45, 0.7, 0.4, 0.3, -0.1, 0.65)]]],
    "6": [[[(0.75, 0), (0.35, 0.35), *_round(0.5, 0.7, 0.36, 0.3, -0.25, 0.78)]]],
    "7": [[[(0.1, 0), (0.9, 0), (0.4, 1)]], [[(0.1, 0.05), (0.9, 0), (0.4, 1)], [(0.3, 0.5), (0.75, 0.5)]]],
    "8": [[[*_round(0.5, 0.25, 0.3, 0.25, 0.5, -0.5), *_round(0.5, 0.75, 0.38, 0.25)]]],
    "9": [[[*_round(0.5, 0.28, 0.35, 0.28, 0.2, 1.25), (0.75, 1)]]],
}  # fmt: skip


@dataclass(frozen=True)
class Hand:
    """`pen` mm wide, `dark` share of black, `slant` rad, `shake` mm, `size` share of the box; `pencil` is grainy."""

    pen: float
    dark: float
    slant: float
    shake: float
    size: float
    pencil: bool
    tick: str


TICK_STYLES = ("check", "cross", "filled", "faint", "slash", "small", "wavy")
STRUCK_STYLES = ("struck", "struck_twice", "scribbled")


def some_hand(rng: np.random.Generator) -> Hand:
    style = str(rng.choice(TICK_STYLES, p=[0.4, 0.2, 0.1, 0.15, 0.05, 0.05, 0.05]))
    pencil = style == "faint" or rng.random() < 0.15
    dark = rng.uniform(0.35, 0.55) if style == "faint" else rng.uniform(0.55, 0.8) if pencil else rng.uniform(0.75, 1)
    return Hand(
        float(rng.uniform(0.35, 0.7)), float(dark), float(rng.uniform(-0.15, 0.35)), float(rng.uniform(0.04, 0.14)),
        float(rng.uniform(0.6, 0.95)), pencil, style,
    )  # fmt: skip


def shaken(points: list[tuple[float, float]] | Stroke, hand: Hand, rng: np.random.Generator) -> Stroke:
    """The points with more between them, bent and trembling."""
    given = np.asarray(points, float)
    steps = np.hypot(*np.diff(given, axis=0).T)
    along = np.concatenate([[0], np.cumsum(steps)])
    if along[-1] < 1e-9:
        return given
    at = np.linspace(0, along[-1], max(4, int(along[-1] / 0.6)))
    fine = np.column_stack([np.interp(at, along, given[:, i]) for i in (0, 1)])
    noise = rng.normal(0, hand.shake, fine.shape)
    kernel = np.ones(3) / 3
    smooth = np.column_stack([np.convolve(noise[:, i], kernel, "same") for i in (0, 1)])
    return fine + smooth


def digit(character: str, box: tuple[float, float, float, float], hand: Hand, rng: np.random.Generator) -> list[Stroke]:
    left, top, width, height = box
    shapes = DIGITS[character]
    shape = shapes[int(rng.integers(len(shapes)))]
    high = min(height, 9.0) * hand.size * rng.uniform(0.7, 0.85)
    wide = min(width * 0.75, 0.62 * high)
    x0 = left + (width - wide) / 2 + rng.normal(0, 0.3)
    y0 = top + (height - high) / 2 + rng.normal(0, 0.3)
    return [
        shaken([(x0 + wide * x + hand.slant * high * (0.5 - y), y0 + high * y) for x, y in stroke], hand, rng)
        for stroke in shape
    ]


def tick(style: str, box: tuple[float, float, float, float], hand: Hand, rng: np.random.Generator) -> list[Stroke]:
    """A tick of this style in a box (mm). Hands stray: some strokes leave the box."""
    left, top, width, height = box

    def at(*points: tuple[float, float]) -> Stroke:
        jitter = rng.normal(0, 0.035, (len(points), 2))
        return shaken([(left + width * (x + j[0]), top + height * (y + j[1]))
                       for (x, y), j in zip(points, jitter, strict=True)], hand, rng)  # fmt: skip

    grow = hand.size
    if style == "filled":
        return _hatching(left + 0.6, top + 0.6, width - 1.2, height - 1.2, 0.7 * hand.pen, hand, rng)
    if style == "cross":
        a, b = 0.5 - 0.42 * grow, 0.5 + 0.42 * grow
        return [at((a, a), (b, b)), at((b, a), (a, b))]
    if style == "slash":
        return [at((0.5 - 0.4 * grow, 0.5 + 0.42 * grow), (0.5 + 0.4 * grow, 0.5 - 0.42 * grow))]
    if style == "small":
        return [at((0.38, 0.52), (0.48, 0.66), (0.66, 0.34))]
    if style == "wavy":
        return [at((0.15, 0.5), (0.3, 0.75), (0.45, 0.85), (0.6, 0.5), (0.85, 0.1))]
    if style not in ("check", "faint"):
        raise ValueError(f"no style of ticks is called {style!r}; there are: {', '.join(TICK_STYLES)}")
    return [at((0.5 - 0.36 * grow, 0.55), (0.45, 0.5 + 0.38 * grow), (0.5 + 0.48 * grow, 0.5 - 0.5 * grow))]


def struck(
    style: str, box: tuple[float, float, float, float], hand: Hand, rng: np.random.Generator
) -> tuple[list[Stroke], list[Stroke]]:
    """(a tick, what strikes it out): one line, two, or a scribble."""
    left, top, width, height = box
    marks = tick("check" if rng.random() < 0.7 else "cross", box, hand, rng)
    over = rng.uniform(0.6, 2.0)
    if style == "scribbled":
        return marks, _hatching(left - over, top + 0.2 * height, width + 2 * over, 0.65 * height, 1.3, hand, rng)
    lines: list[Stroke] = []
    for level in (0.5,) if style == "struck" else (0.38, 0.62):
        y = top + height * level
        lean = height * rng.uniform(-0.15, 0.15)
        lines.append(shaken([(left - over, y + lean), (left + width + over, y - lean)], hand, rng))
    return marks, lines


def _hatching(
    left: float, top: float, width: float, height: float, step: float, hand: Hand, rng: np.random.Generator
) -> list[Stroke]:
    points: list[tuple[float, float]] = []
    x = left
    while x < left + width:
        points += [(x, top + rng.uniform(0, 0.1) * height), (x + step / 2, top + height * rng.uniform(0.9, 1))]
        x += step
    return [shaken(points, hand, rng)]
