"""One plot as SVG, the same for the page and the paper: lines told apart by dashes as well as colour, limits named.

Nothing is computed here but positions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from evenpull.calculation.plots import Curve, Mark, Plot
from evenpull.report.symbols import maths

WIDTH, HEIGHT = 540, 300  # of the plot with its axes; the legend comes below
LEFT, RIGHT, TOP, BOTTOM = 66, 26, 14, 54
INK, SOFT, ACCENT, BAD, GRID, SHADE = "#1c2730", "#4d5a64", "#87431a", "#96241c", "#d8d2c6", "#eadfd3"
FONT = "'DejaVu Sans', 'Noto Sans', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"
SIZE, LINE = 15, 23
DASH = {"line": "", "thin": "2 4", "dashed": "9 5", "dotted": "1 5", "points": ""}
BROAD = {"line": 3.0, "thin": 2.0, "dashed": 2.4, "dotted": 2.4, "points": 2.0}


def plot_svg(plot: Plot) -> str:
    """SVG with role="img" and the plot's words as its name. ValueError for a plot without anything in it."""
    if plot.bars:
        return _bars(plot)
    if not plot.curves:
        raise ValueError(f"the plot {plot.title!r} has neither curves nor bars")
    xs = [p[0] * plot.x_factor for c in plot.curves for p in c.points]
    ys = [p[1] * plot.y_factor for c in plot.curves for p in c.points]
    xs += [v * plot.x_factor for a in plot.areas if a.axis == "x" for v in (a.low, a.high)]
    ys += [m.y * plot.y_factor for m in plot.marks if m.y is not None]
    if plot.x_whole:  # room beside the first and the last of what is counted
        xs += [min(xs) - 1, max(xs) + 1]
    x_ticks = ticks(min(0.0, *xs) if min(xs) < 0.3 * max(xs) else min(xs), max(xs), whole=plot.x_whole)
    ys += [v * plot.y_factor for a in plot.areas if a.axis == "y" for v in (a.low, a.high)]
    y_ticks = ticks(min(0.0, *ys) if plot.y_from_zero else min(ys), max(ys))
    frame = _Frame(x_ticks, y_ticks, plot)
    parts = [*frame.areas(), *frame.axes(), *frame.curves(), *frame.marks()]
    legend, height = _legend(plot)
    return _svg(plot, height, "".join(parts) + legend)


def ticks(low: float, high: float, about: int = 6, *, whole: bool = False) -> list[float]:
    """Round values from below `low` to above `high`, evenly spaced by 1, 2 or 5; `whole`: by 1 at least."""
    if not high > low:
        high = low + (abs(low) or 1.0)
    raw = (high - low) / about
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(m * size for m in (1, 2, 5, 10) if m * size >= raw * 0.999)
    step = max(1.0, step) if whole else step
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(i * step, 12) for i in range(first, last + 1)]


def _svg(plot: Plot, height: float, body: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}" role="img" '
        f'aria-label="{escape(plot.words, quote=True)}" font-family="{FONT}" font-size="{SIZE}" fill="{INK}">'
        f"{body}</svg>"
    )


class _Frame:
    """The box of the axes and the way from values to places."""

    def __init__(self, x_ticks: Sequence[float], y_ticks: Sequence[float], plot: Plot) -> None:
        self.x_ticks, self.y_ticks, self.plot = x_ticks, y_ticks, plot

    def x(self, value: float) -> float:
        low, high = self.x_ticks[0], self.x_ticks[-1]
        return LEFT + (WIDTH - LEFT - RIGHT) * (value - low) / (high - low)

    def y(self, value: float) -> float:
        low, high = self.y_ticks[0], self.y_ticks[-1]
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value - low) / (high - low)

    def axes(self) -> list[str]:
        out, floor = [], HEIGHT - BOTTOM
        for value in self.y_ticks:
            out.append(
                f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{self.y(value):.1f}" y2="{self.y(value):.1f}" '
                f'stroke="{GRID}"/><text x="{LEFT - 7}" y="{self.y(value) + 5:.1f}" text-anchor="end" '
                f'fill="{SOFT}">{_label(value)}</text>'
            )
        for value in self.x_ticks[1:-1] if self.plot.x_whole else self.x_ticks:
            out.append(
                f'<line x1="{self.x(value):.1f}" x2="{self.x(value):.1f}" y1="{floor}" y2="{floor + 5}" '
                f'stroke="{INK}"/><text x="{self.x(value):.1f}" y="{floor + 21}" text-anchor="middle" '
                f'fill="{SOFT}">{_label(value)}</text>'
            )
        out.append(f'<path d="M{LEFT} {TOP}V{floor}H{WIDTH - RIGHT}" fill="none" stroke="{INK}" stroke-width="1.5"/>')
        middle = (LEFT + WIDTH - RIGHT) / 2
        out.append(f'<text x="{middle}" y="{HEIGHT - 10}" text-anchor="middle">{escape(self.plot.x_label)}</text>')
        high = (TOP + floor) / 2
        out.append(f'<text transform="translate(15 {high:g}) rotate(-90)" text-anchor="middle">'
                   f"{escape(self.plot.y_label)}</text>")
        return out

    def areas(self) -> list[str]:
        out = []
        for area in self.plot.areas:
            if area.axis == "x":
                x, to = self.x(area.low * self.plot.x_factor), self.x(area.high * self.plot.x_factor)
                box = f'x="{x:.1f}" y="{TOP}" width="{max(to - x, 1):.1f}" height="{HEIGHT - TOP - BOTTOM}"'
            else:
                y, to = self.y(area.high * self.plot.y_factor), self.y(area.low * self.plot.y_factor)
                box = f'x="{LEFT}" y="{y:.1f}" width="{WIDTH - LEFT - RIGHT}" height="{max(to - y, 1):.1f}"'
            out.append(f'<rect {box} fill="{SHADE}"/>')
        return out

    def curves(self) -> list[str]:
        out = []
        for curve in self.plot.curves:
            if curve.style == "points":
                places = (self._point(curve, p).split(",") for p in curve.points)
                out += [f'<circle cx="{x}" cy="{y}" {_dot(curve)}/>' for x, y in places]
            else:
                points = " ".join(self._point(curve, p) for p in curve.points)
                out.append(f'<polyline points="{points}" fill="none" {_stroke(curve)}/>')
        return out

    def _point(self, curve: Curve, point: tuple[float, float]) -> str:
        return f"{self.x(point[0] * self.plot.x_factor):.1f},{self.y(point[1] * self.plot.y_factor):.1f}"

    def marks(self) -> list[str]:
        """Lines of limits with their names: of y at the right end, kept apart; of x at the top."""
        out = []
        lines = [m for m in self.plot.marks if m.y is not None]
        heights = self._apart([m for m in lines if m.left]) + self._apart([m for m in lines if not m.left])
        for mark, _ in heights:
            y, colour = self.y((mark.y or 0) * self.plot.y_factor), BAD if mark.limit else INK
            dash = ' stroke-dasharray="7 4"' if mark.limit else ' stroke-dasharray="1 3"'
            out.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="{colour}" '
                       f'stroke-width="1.6"{dash}/>')
        for mark, text_y in heights:
            colour = BAD if mark.limit else INK
            at, anchor = (LEFT + 6, "start") if mark.left else (WIDTH - RIGHT - 4, "end")
            out.append(f'<text x="{at}" y="{text_y:.1f}" text-anchor="{anchor}" fill="{colour}" {_RIM}>'
                       f"{_index(mark.name)}</text>")
        for mark in self.plot.marks:
            if mark.x is not None and mark.y is None:
                x, colour = self.x(mark.x * self.plot.x_factor), BAD if mark.limit else INK
                left = x > WIDTH * 0.6
                out.append(
                    f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{HEIGHT - BOTTOM}" stroke="{colour}" '
                    f'stroke-width="1.6" stroke-dasharray="7 4"/><text x="{x + (-6 if left else 6):.1f}" '
                    f'y="{TOP + 12 + mark.place * (HEIGHT - TOP - BOTTOM - 20):.1f}" '
                    f'text-anchor="{"end" if left else "start"}" fill="{colour}" {_RIM}>'
                    f"{_index(mark.name)}</text>"
                )
        return out

    def _apart(self, marks: list[Mark]) -> list[tuple[Mark, float]]:
        """Each mark with the height of its name: just above its line, pushed down where two would touch."""
        placed: list[tuple[Mark, float]] = []
        last = -math.inf
        for mark in sorted(marks, key=lambda m: -(m.y or 0.0)):
            at = max(self.y((mark.y or 0) * self.plot.y_factor) - 5, last + SIZE + 3, TOP + 12)
            placed.append((mark, at))
            last = at
        return placed


_RIM = 'paint-order="stroke" stroke="#fff" stroke-width="5" stroke-linejoin="round"'


def _label(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def _stroke(curve: Curve) -> str:
    dash = f' stroke-dasharray="{DASH[curve.style]}"' if DASH[curve.style] else ""
    return (f'stroke="{ACCENT if curve.accent else INK}" stroke-width="{BROAD[curve.style]}" '
            f'stroke-linejoin="round"{dash}')


def _dot(curve: Curve) -> str:
    """A reading: hollow, or filled where the curve is to stand out."""
    fill, line = (ACCENT, ACCENT) if curve.accent else ("#fff", INK)
    return f'r="4" fill="{fill}" stroke="{line}" stroke-width="1.6"'


def _index(text: str) -> str:
    """"F_KR 121 kN" with its index set low and Greek letters as such."""
    out = []
    for piece in maths(text):
        if piece[0] == "index":
            low = f'<tspan dy="4" font-size="11">{escape(piece[2])}</tspan>'
            out.append(f'{escape(piece[1])}{low}<tspan dy="-4"> </tspan>')
        else:
            out.append(escape(piece[1]))
    return "".join(out).replace(" </tspan> ", " </tspan>")


def _legend(plot: Plot) -> tuple[str, float]:
    """Samples with names below the plot, in rows as wide as the plot; and the height of the whole."""
    items = [(curve.name, f'<circle cx="17" cy="-5" {_dot(curve)}/>' if curve.style == "points" else
              f'<line x1="0" x2="34" y1="-5" y2="-5" {_stroke(curve)}/>') for curve in plot.curves if curve.name]
    items += [(area.name, f'<rect x="0" y="-12" width="34" height="14" fill="{SHADE}" stroke="{SOFT}" '
               'stroke-width="0.7"/>') for area in plot.areas]
    out, x, y = [], float(LEFT), float(HEIGHT + 16)
    for name, sample in items:
        wide = 42 + 8 * len(name) + 18
        if x > LEFT and x + wide > WIDTH:
            x, y = float(LEFT), y + LINE
        out.append(f'<g transform="translate({x:.0f} {y:.0f})">{sample}<text x="42" y="0">{_index(name)}</text></g>')
        x += wide
    return "".join(out), y + 12


def _bars(plot: Plot) -> str:
    """Bars from the left, each with its name above it and its value behind it."""
    row, top = 44, 4
    end = max(abs(bar.value) for bar in plot.bars) or 1.0
    out = []
    for index, bar in enumerate(plot.bars):
        y = top + row * index
        width = (WIDTH - 90) * abs(bar.value) / end
        out.append(
            f'<text x="0" y="{y + 14}">{_index(bar.name)}</text>'
            f'<rect x="0" y="{y + 20}" width="{max(width, 1):.1f}" height="14" fill="{SHADE}" stroke="{ACCENT}" '
            f'stroke-width="1.5"/><text x="{width + 8:.1f}" y="{y + 32}">{escape(bar.text)}</text>'
        )
    return _svg(plot, top + row * len(plot.bars) + 4, "".join(out))
