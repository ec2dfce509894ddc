"""Intervals of the final loads under torque control as SVG: one upright line for each bolt, a mark at its middle.

Never in one picture with loads of interaction only: what friction does stands here, and there it is left out.
"""

from __future__ import annotations

from html import escape

from evenpull.card.layout import labelled
from evenpull.prediction.model import Evenness
from evenpull.prediction.scatter import TorqueOutcome
from evenpull.report.plot_svg import ACCENT, BAD, FONT, GRID, INK, SHADE, SOFT, ticks

LABEL = "predicted, not measured · torque control with scatter"
WIDTH, HEIGHT = 560, 320
LEFT, RIGHT, TOP, FLOOR, SIZE = 58, 14, 14, 252, 14


def interval_svg(one: TorqueOutcome, wanted: Evenness | None) -> str:
    """Low, middle and high quantile of each bolt's load in % of the target; the least load wanted as a line."""
    low, middle, high = (100 * quantile.value / one.target for quantile in one.intervals.quantiles)
    outer = [f"{100 * quantile.q:g}" for quantile in one.intervals.quantiles]
    count = len(low)
    marks = [100.0] + ([100 * wanted.least] if wanted else [])
    levels = ticks(min(*low, *marks) * 0.98, max(*high, *marks) * 1.02)

    def y(value: float) -> float:
        return FLOOR - (FLOOR - TOP) * (value - levels[0]) / (levels[-1] - levels[0])

    pitch = (WIDTH - LEFT - RIGHT) / count
    spoken = "; ".join(f"{bolt}: {a:.0f}, {b:.0f}, {c:.0f}" for bolt, (a, b, c) in
                       enumerate(zip(low, middle, high, strict=True), start=1))  # fmt: skip
    name = (f"{one.procedure.name}. {LABEL}. Load of each bolt at the end in % of the target, {outer[0]} %, "
            f"{outer[1]} % and {outer[2]} % quantile: {spoken}.")  # fmt: skip
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-label="{escape(name, quote=True)}" font-family="{FONT}" font-size="{SIZE}" fill="{INK}">'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>'
    ]
    for value in levels:
        parts.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y(value):.1f}" y2="{y(value):.1f}" stroke="{GRID}"/>'
                     f'<text x="{LEFT - 7}" y="{y(value) + 5:.1f}" text-anchor="end" fill="{SOFT}">{value:g}</text>')
    for value, colour, dash in [(100.0, INK, "7 4"), *([(100 * wanted.least, BAD, "2 3")] if wanted else [])]:
        parts.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y(value):.1f}" y2="{y(value):.1f}" '
                     f'stroke="{colour}" stroke-width="1.6" stroke-dasharray="{dash}"/>')  # fmt: skip
    numbers = labelled(count, pitch, 2.1 * SIZE * 0.62 + 3)
    cap = min(5.0, 0.32 * pitch)
    for bolt, (a, b, c) in enumerate(zip(low, middle, high, strict=True), start=1):
        x = LEFT + pitch * (bolt - 0.5)
        parts.append(
            f'<path d="M{x:.1f} {y(a):.1f}V{y(c):.1f}M{x - cap:.1f} {y(a):.1f}h{2 * cap:.1f}M{x - cap:.1f} {y(c):.1f}'
            f'h{2 * cap:.1f}" stroke="{ACCENT}" stroke-width="2" fill="none"/><circle cx="{x:.1f}" cy="{y(b):.1f}" '
            f'r="{min(4.2, 0.34 * pitch):.1f}" fill="{SHADE}" stroke="{INK}" stroke-width="1.4"/>'
        )
        if bolt in numbers:
            parts.append(f'<text x="{x:.1f}" y="{FLOOR + 18}" text-anchor="middle">{bolt}</text>')
    centre = (LEFT + WIDTH - RIGHT) / 2
    parts.append(
        f'<path d="M{LEFT} {TOP}V{FLOOR}H{WIDTH - RIGHT}" fill="none" stroke="{INK}" stroke-width="1.5"/>'
        f'<text transform="translate(15 {(TOP + FLOOR) / 2:g}) rotate(-90)" text-anchor="middle">'
        "load, % of target</text>"
        f'<text x="{centre:g}" y="{FLOOR + 37}" text-anchor="middle">bolt</text>'
        f'<text x="{centre:g}" y="{FLOOR + 60}" text-anchor="middle" fill="{SOFT}" font-size="13">{LABEL}</text></svg>'
    )
    return "".join(parts)


def interval_words(one: TorqueOutcome, wanted: Evenness | None) -> str:
    """What the marks mean, for the caption."""
    low, middle, high = (f"{100 * quantile.q:g} %" for quantile in one.intervals.quantiles)
    line = f", the dotted line the least load wanted ({100 * wanted.least:g} %)" if wanted else ""
    return (f"Each line reaches from the {low} to the {high} quantile of the bolt's load at the end, the round mark is "
            f"the {middle} quantile; the dashed line is the target{line}.")  # fmt: skip
