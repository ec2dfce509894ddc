"""Torque-angle curves as SVG: one with its limits and marks, many with the odd ones on top, small ones side by side.

Nothing is computed here but positions. A verdict is always written as well as coloured.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape

from evenpull.report.plot_svg import ACCENT, BAD, FONT, GRID, INK, SHADE, SOFT, ticks

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 900, 420, 62, 20, 12, 46
REST = "#9a8f7d"
LETTER = 9.0  # width of one of a bold label, about
DASH = {"line": "", "dashed": "9 5", "dotted": "2 4"}
Points = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Trace:
    """A line. `label` stands at its highest point; `link`: address of its page, `name` what it is called there."""

    points: Points
    colour: str = INK
    broad: float = 2.0
    dash: str = "line"
    label: str = ""
    link: str = ""
    name: str = ""


@dataclass(frozen=True)
class Scene:
    """`bands`: (axis, low, high) shaded; `marks`: (name, x, y); `names` of the axes; `words` say the picture;
    `x_range`: what is looked at, None for all; `dots`: (x, y, link, its name)."""

    traces: Sequence[Trace]
    names: tuple[str, str]
    words: str
    bands: Sequence[tuple[str, float, float]] = ()
    marks: Sequence[tuple[str, float, float]] = ()
    x_range: tuple[float, float] | None = None
    y_from_zero: bool = True
    dots: Sequence[tuple[float, float, str, str]] = ()
    x_words: Sequence[tuple[float, str]] = field(default_factory=tuple)  # in place of numbers below the axis


def scene_svg(scene: Scene, *, width: int = WIDTH, height: int = HEIGHT) -> str:
    """ValueError for a scene without a point to draw."""
    frame = _Frame(scene, width, height)
    body = [*frame.bands(), *frame.axes(), f'<g clip-path="url(#{frame.clip})">', *frame.traces(), "</g>",
            *frame.labels(), *frame.marks()]  # fmt: skip
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="{frame.role}" '
        f'aria-label="{escape(scene.words, quote=True)}" font-family="{FONT}" font-size="14" fill="{INK}" '
        f'data-x0="{frame.x0!r}" data-x1="{frame.x1!r}" data-left="{LEFT}" data-right="{width - RIGHT}">'
        f'<defs><clipPath id="{frame.clip}"><rect x="{LEFT}" y="{TOP}" width="{width - LEFT - RIGHT}" '
        f'height="{height - TOP - BOTTOM}"/></clipPath></defs>{"".join(body)}</svg>'
    )


class _Frame:
    def __init__(self, scene: Scene, width: int, height: int) -> None:
        self.scene, self.width, self.height = scene, width, height
        everywhere = [p for t in scene.traces for p in t.points] + [(x, y) for x, y, *_ in scene.dots]
        if not everywhere:
            raise ValueError("there is no point to draw")
        if scene.x_range is None:
            seen, xs = everywhere, [p[0] for p in everywhere]
            self.x_ticks = ticks(min(xs), max(xs), 8)
            self.x0, self.x1 = self.x_ticks[0], self.x_ticks[-1]
            if scene.x_words:
                room = 0.02 * (max(xs) - min(xs) or 1.0)
                self.x0, self.x1 = min(xs) - room, max(xs) + room
        else:
            self.x0, self.x1 = scene.x_range
            seen = [p for p in everywhere if self.x0 <= p[0] <= self.x1] or everywhere
            self.x_ticks = [t for t in ticks(self.x0, self.x1, 8) if self.x0 <= t <= self.x1]
        ys = [p[1] for p in seen]
        if scene.x_range is None:
            ys += [v for axis, low, high in scene.bands if axis == "y" for v in (low, high)]
        low, high = min(ys), max(ys)
        if scene.y_from_zero and -0.12 * high < low:  # the zero of a sensor is a little off: no room to -50 for it
            self.y_ticks = ticks(0.0, high, 6)
            self.y0 = min(0.0, low - 0.01 * high)
        else:
            self.y_ticks = ticks(min(0.0, low) if scene.y_from_zero else low, high, 6)
            self.y0 = self.y_ticks[0]
        self.y1 = self.y_ticks[-1]
        linked = any(t.link for t in scene.traces) or any(link for _, _, link, _ in scene.dots)
        self.role = "group" if linked else "img"  # what holds links is no picture to a screen reader
        self.clip = f"c{abs(hash((scene.words, self.x0, self.x1, self.y1))) % 10**9}"

    def x(self, value: float) -> float:
        return LEFT + (self.width - LEFT - RIGHT) * (value - self.x0) / (self.x1 - self.x0)

    def y(self, value: float) -> float:
        return self.height - BOTTOM - (self.height - TOP - BOTTOM) * (value - self.y0) / (self.y1 - self.y0)

    def bands(self) -> Iterable[str]:
        for axis, low, high in self.scene.bands:
            if axis == "y":
                a, b = max(low, self.y0), min(high, self.y1)
                if a < b:
                    yield _rect(LEFT, self.y(b), self.width - LEFT - RIGHT, self.y(a) - self.y(b))
            else:
                a, b = max(low, self.x0), min(high, self.x1)
                if a < b:
                    yield _rect(self.x(a), TOP, self.x(b) - self.x(a), self.height - TOP - BOTTOM)

    def axes(self) -> Iterable[str]:
        right, bottom = self.width - RIGHT, self.height - BOTTOM
        for tick in self.y_ticks:
            yield f'<line x1="{LEFT}" x2="{right}" y1="{self.y(tick):.1f}" y2="{self.y(tick):.1f}" stroke="{GRID}"/>'
            yield (f'<text x="{LEFT - 8}" y="{self.y(tick) + 5:.1f}" text-anchor="end" fill="{SOFT}">{tick:g}</text>')
        below = self.scene.x_words or [(tick, f"{tick:g}") for tick in self.x_ticks]
        for tick, text in below:
            yield (f'<text x="{self.x(tick):.1f}" y="{bottom + 18}" text-anchor="middle" fill="{SOFT}">'
                   f"{escape(text)}</text>")
        yield f'<line x1="{LEFT}" x2="{right}" y1="{bottom}" y2="{bottom}" stroke="{SOFT}"/>'
        yield f'<line x1="{LEFT}" x2="{LEFT}" y1="{TOP}" y2="{bottom}" stroke="{SOFT}"/>'
        yield (f'<text x="{(LEFT + right) / 2:.0f}" y="{bottom + 38}" text-anchor="middle">'
               f"{escape(self.scene.names[0])}</text>")
        middle = (TOP + bottom) / 2
        yield (f'<text x="16" y="{middle:.0f}" text-anchor="middle" transform="rotate(-90 16 {middle:.0f})">'
               f"{escape(self.scene.names[1])}</text>")

    def traces(self) -> Iterable[str]:
        for trace in self.scene.traces:
            points = " ".join(f"{self.x(x):.1f},{self.y(y):.1f}" for x, y in trace.points)
            dash = f' stroke-dasharray="{DASH[trace.dash]}"' if DASH[trace.dash] else ""
            drawn = f'fill="none" stroke="{trace.colour}" stroke-width="{trace.broad}"{dash} stroke-linejoin="round"'
            yield _linked(f'<polyline points="{points}" {drawn}/>', trace.link, trace.name)
        for x, y, link, name in self.scene.dots:
            drawn = f'r="5" fill="#fff" stroke="{BAD}" stroke-width="2.5"'
            yield _linked(f'<circle cx="{self.x(x):.1f}" cy="{self.y(y):.1f}" {drawn}/>', link, name)

    def labels(self) -> Iterable[str]:
        """At the top of each labelled line, moved down where another one stands there."""
        taken: list[tuple[float, float, float]] = []
        for trace in self.scene.traces:
            inside = [p for p in trace.points if self.x0 <= p[0] <= self.x1]
            if not trace.label or not inside:
                continue
            x, y = max(inside, key=lambda p: p[1])
            wide, left_of = LETTER * len(trace.label), self.x(x) > 0.62 * self.width
            start = self.x(x) - 8 - wide if left_of else self.x(x) + 8
            at_y = max(self.y(y) - 8, TOP + 14)
            while any(abs(at_y - other) < 16 and start < end and there < start + wide for there, end, other in taken):
                at_y += 17
            if at_y > self.height - BOTTOM - 4:
                continue  # the list below the picture names it
            taken.append((start, start + wide, at_y))
            at_x = start + wide if left_of else start
            yield (f'<text x="{at_x:.1f}" y="{at_y:.1f}" fill="{trace.colour}" font-weight="600" '
                   f'text-anchor="{"end" if left_of else "start"}" '
                   f'paint-order="stroke" stroke="#fff" stroke-width="4">{escape(trace.label)}</text>')

    def marks(self) -> Iterable[str]:
        together: dict[tuple[int, int], tuple[str, float, float]] = {}
        for name, x, y in self.scene.marks:
            if self.x0 <= x <= self.x1:
                px, py = self.x(x), self.y(y)
                here = round(px), round(py)
                near = next((k for k in together if abs(k[0] - px) < 12 and abs(k[1] - py) < 12), here)
                there = together.get(near)
                together[near] = (name, px, py) if there is None else (f"{there[0]}, {name}", *there[1:])
        for n, (name, px, py) in enumerate(together.values()):
            yield f'<circle cx="{px:.1f}" cy="{py:.1f}" r="5.5" fill="#fff" stroke="{ACCENT}" stroke-width="2.5"/>'
            left, low = px > self.width * 0.6, py > self.height - BOTTOM - 40
            at_y = py + ((-12 if n % 2 == 0 else -29) if low else (20 if n % 2 == 0 else 37))
            yield (f'<text x="{px + (-10 if left else 10):.1f}" y="{at_y:.1f}" '
                   f'text-anchor="{"end" if left else "start"}" paint-order="stroke" stroke="#fff" stroke-width="4">'
                   f"{escape(name)}</text>")


def _rect(x: float, y: float, width: float, height: float) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{SHADE}"/>'


def _linked(shape: str, link: str, name: str) -> str:
    if not link:
        return shape
    return f'<a href="{escape(link, quote=True)}" aria-label="{escape(name, quote=True)}">{shape}</a>'


def small_svg(points: Points, x_range: tuple[float, float], top: float, *, odd: bool, words: str,
              window: tuple[float, float] | None = None) -> str:
    """One small curve, all of a page to the same scale: `x_range` in deg, 0 to `top` in N.m."""
    wide, high = 150, 84

    def x(value: float) -> float:
        return 3 + (wide - 6) * (value - x_range[0]) / (x_range[1] - x_range[0])

    def y(value: float) -> float:
        return high - 4 - (high - 8) * value / top

    band = ""
    if window is not None:
        band = (f'<rect x="0" y="{y(window[1]):.1f}" width="{wide}" height="{max(y(window[0]) - y(window[1]), 1):.1f}" '
                f'fill="{SHADE}"/>')
    line = " ".join(f"{x(a):.1f},{y(t):.1f}" for a, t in points)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" role="img" '
            f'aria-label="{escape(words, quote=True)}">{band}<line x1="0" x2="{wide}" y1="{y(0):.1f}" y2="{y(0):.1f}" '
            f'stroke="{GRID}"/><polyline points="{line}" fill="none" stroke="{BAD if odd else INK}" '
            f'stroke-width="{2.4 if odd else 1.6}"/></svg>')
