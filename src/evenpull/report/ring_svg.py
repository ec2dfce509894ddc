"""A ring after one pull as SVG, the same for the page and the paper: flanges, bolts, loads as bars round the circle.

Only positions are computed here. What the picture leaves out of friction stands in the picture itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray

from evenpull.card.layout import labelled
from evenpull.prediction.predict import ProcedureOutcome
from evenpull.report.plot_svg import ACCENT, FONT, INK, SHADE, SOFT
from evenpull.ring.case import RingCase

LABEL = "predicted, not measured · interaction only"
LARGE = 30  # bolts: above it the drawing is larger, so that the numbers keep apart


@dataclass(frozen=True, slots=True)
class Numbering:
    """`angles` (n,) rad, clockwise from the top, of the bolts 1 ... n; `words` say whose numbering it is."""

    angles: tuple[float, ...]
    words: str


def plain_numbering(count: int) -> Numbering:
    """Bolt 1 at the top, counted clockwise."""
    angles = tuple(math.tau * k / count for k in range(count))
    return Numbering(angles, "Bolt 1 is drawn at the top and the count runs clockwise: no joint says otherwise.")


@dataclass(frozen=True, slots=True)
class Frame:
    """Sizes of the drawing: side, radius of the largest flange, inner and outer end of a bar, place of its figure."""

    side: float
    rim: float
    low: float
    high: float
    figure: float
    size: float  # of the type

    @property
    def centre(self) -> float:
        return self.side / 2


def frame_of(count: int) -> Frame:
    if count <= LARGE:
        return Frame(470, 118, 127, 192, 212, 14 if count <= 20 else 12)
    return Frame(700, 200, 210, 290, 314, 13)


def scale_of(outcomes: Sequence[ProcedureOutcome]) -> float:
    """Share of the target at the outer end of a bar: one scale for all pulls of all these procedures."""
    return max(1.05, *(float(one.loads.max()) / one.target for one in outcomes))


def pull_words(outcome: ProcedureOutcome, pull: int) -> str:
    """"pull 17 of 64: bolts 2 + 10 to 70 % of the target"; `pull` counts from 1, 0 is the start."""
    count = len(outcome.loads)
    if pull == 0:
        return f"before the first of {count} pulls: nothing carries"
    made = outcome.procedure.pulls[pull - 1]
    shares = sorted({round(100 * share, 1) for share in made.shares})
    bolts = " + ".join(map(str, made.bolts)) if len(made.bolts) <= 8 else f"{len(made.bolts)} bolts"
    to = f"{shares[0]:g}" if len(shares) == 1 else f"{shares[0]:g} ... {shares[-1]:g}"
    found = int(outcome.idle[pull - 1])
    left = "" if not found else "; found at its load" if len(made.bolts) == 1 else f"; {found} found at their load"
    return f"pull {pull} of {count}: bolt{'s' if len(made.bolts) > 1 else ''} {bolts} to {to} %{left}"


def loads_after(outcome: ProcedureOutcome, pull: int) -> NDArray[np.float64]:
    """(n,) N after `pull` (0: before the first). ValueError for a pull that is none."""
    if not 0 <= pull <= len(outcome.loads):
        raise ValueError(f"pull {pull}: the procedure has the pulls 1 to {len(outcome.loads)}")
    return np.zeros(outcome.loads.shape[1]) if pull == 0 else np.asarray(outcome.loads[pull - 1])


def ring_svg(case: RingCase, outcome: ProcedureOutcome, pull: int, numbering: Numbering, top: float) -> str:
    """The ring after `pull` (0: before the first). `top` is the share of the target at the outer end of a bar."""
    loads, target = loads_after(outcome, pull), outcome.target
    frame = frame_of(len(loads))
    active = frozenset(outcome.procedure.pulls[pull - 1].bolts) if pull else frozenset()
    shares = loads / target
    words = pull_words(outcome, pull)
    spoken = ", ".join(f"{bolt}: {100 * share:.0f}" for bolt, share in enumerate(shares, start=1))
    name = f"{outcome.procedure.name}, after {words}. {LABEL}. Load of each bolt in % of the target: {spoken}."
    said = _caption_size(outcome, frame)
    label = frame.side / 28
    first, second = frame.side + said, frame.side + said + 1.5 * label
    height = second + 0.6 * label
    middle = frame.centre
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {frame.side:g} {height:.1f}" role="img" '
        f'aria-label="{escape(name, quote=True)}" font-family="{FONT}" font-size="{frame.size:g}" fill="{INK}" '
        'text-anchor="middle" class="ring">',
        f'<rect width="{frame.side:g}" height="{height:.1f}" fill="#fff"/>',
        *_flanges(case, frame),
        *_bars(shares, numbering, frame, top),
        *_bolts(case, numbering, frame, active),
        f'<text x="{middle:g}" y="{first:.1f}" font-size="{said:.1f}" font-weight="700" class="said">'
        f"{escape(words)}</text>",
        f'<text x="{middle:g}" y="{second:.1f}" fill="{SOFT}" font-size="{label:.1f}">{LABEL}</text></svg>',
    ]
    return "".join(parts)


def _caption_size(outcome: ProcedureOutcome, frame: Frame) -> float:
    """One size for all pulls of a procedure, so that the longest of their sentences fits (0.66 em a letter, bold)."""
    longest = max(len(pull_words(outcome, pull)) for pull in range(len(outcome.loads) + 1))
    return min(frame.side / 25, frame.side / (0.66 * longest))


def _flanges(case: RingCase, frame: Frame) -> list[str]:
    first, second = case.flanges
    per_metre = frame.rim / (max(first.outside_diameter, second.outside_diameter) / 2)

    def circle(diameter: float, style: str) -> str:
        return f'<circle cx="{frame.centre:g}" cy="{frame.centre:g}" r="{diameter / 2 * per_metre:.1f}" {style}/>'

    out = [circle(first.outside_diameter, f'fill="#f3efe8" stroke="{INK}" stroke-width="2"')]
    out.append(circle(case.facing.outside_diameter, f'fill="{SHADE}" stroke="{SOFT}" stroke-width="0.8"'))
    out.append(circle(case.facing.inside_diameter, f'fill="#f3efe8" stroke="{SOFT}" stroke-width="0.8"'))
    out.append(circle(first.bore, f'fill="#fff" stroke="{INK}" stroke-width="2"'))
    for old, new in ((first.outside_diameter, second.outside_diameter), (first.bore, second.bore)):
        if old != new:
            out.append(circle(new, f'fill="none" stroke="{INK}" stroke-width="1.2" stroke-dasharray="6 4"'))
    out.append(circle(case.bolts.bolt_circle, f'fill="none" stroke="{SOFT}" stroke-width="0.8" '
                      'stroke-dasharray="12 3 2 3"'))  # fmt: skip
    return out


def _bars(shares: NDArray[np.float64], numbering: Numbering, frame: Frame, top: float) -> list[str]:
    middle, count = frame.centre, len(shares)
    width = min(15.0, 0.5 * math.tau * frame.low / count)
    target = frame.low + (frame.high - frame.low) / top
    out = [f'<circle cx="{middle:g}" cy="{middle:g}" r="{frame.low:g}" fill="none" stroke="{SOFT}" stroke-width="1"/>']
    figures = labelled(count, math.tau * frame.figure / count, 2.0 * frame.size)
    decimals = math.tau * frame.figure / count > 3.3 * frame.size
    for bolt, (share, angle) in enumerate(zip(shares, numbering.angles, strict=True), start=1):
        ux, uy = math.sin(angle), -math.cos(angle)
        end = frame.low + (frame.high - frame.low) * share / top
        out.append(
            f'<line class="bar" data-bolt="{bolt}" x1="{middle + frame.low * ux:.1f}" '
            f'y1="{middle + frame.low * uy:.1f}" x2="{middle + end * ux:.1f}" y2="{middle + end * uy:.1f}" '
            f'stroke="{ACCENT}" stroke-width="{width:.1f}"/>'
        )
        if bolt in figures:
            x, y = middle + frame.figure * ux, middle + frame.figure * uy + 0.36 * frame.size
            out.append(f'<text class="figure" data-bolt="{bolt}" x="{x:.1f}" y="{y:.1f}">'
                       f"{100 * share:.{1 if decimals else 0}f}</text>")  # fmt: skip
    # Over the bars, on a white rim, so that it is seen where the bars are longer.
    for colour, broad, dash in (("#fff", 3.4, ""), (INK, 1.6, ' stroke-dasharray="7 4"')):
        out.append(f'<circle cx="{middle:g}" cy="{middle:g}" r="{target:.1f}" fill="none" stroke="{colour}" '
                   f'stroke-width="{broad}"{dash}/>')  # fmt: skip
    return out


def _bolts(case: RingCase, numbering: Numbering, frame: Frame, active: frozenset[int]) -> list[str]:
    largest = max(flange.outside_diameter for flange in case.flanges)
    place, count = frame.rim * case.bolts.bolt_circle / largest, len(numbering.angles)
    pitch = math.tau * place / count
    size = min(11.5, 0.44 * pitch)
    numbers = labelled(count, pitch, 1.9 * size) if size >= 7 else frozenset[int]()
    beside = labelled(count, math.tau * (place - 16) / count, 1.7 * frame.size) if size < 7 else frozenset[int]()
    out = []
    for bolt, angle in enumerate(numbering.angles, start=1):
        ux, uy = math.sin(angle), -math.cos(angle)
        x, y = frame.centre + place * ux, frame.centre + place * uy
        pulled = " pulled" if bolt in active else ""
        out.append(
            f'<g class="bolt{pulled}" data-bolt="{bolt}"><circle class="halo" cx="{x:.1f}" cy="{y:.1f}" '
            f'r="{size + 4:.1f}" fill="none" stroke="{INK}" stroke-width="{2.4 if pulled else 0}"/>'
            f'<circle class="head" cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}" fill="{INK if pulled else "#fff"}" '
            f'stroke="{INK}" stroke-width="1.4"/>'
        )
        if bolt in numbers:
            out.append(f'<text x="{x:.1f}" y="{y + 0.36 * size:.1f}" font-size="{1.05 * size:.1f}" font-weight="700" '
                       f'fill="{"#fff" if pulled else INK}">{bolt}</text>')  # fmt: skip
        out.append("</g>")
        if bolt in beside:
            inward = place - size - 12
            out.append(f'<text x="{frame.centre + inward * ux:.1f}" y="{frame.centre + inward * uy + 4:.1f}" '
                       f'font-size="{0.8 * frame.size:.1f}">{bolt}</text>')  # fmt: skip
    return out


def drawing_words(case: RingCase, numbering: Numbering) -> str:
    """What the lines of the drawing mean, for the caption."""
    between = "contact faces" if case.facing.metal else "gasket"
    first, second = case.flanges
    same = (first.outside_diameter, first.bore) == (second.outside_diameter, second.bore)
    alike = "" if same else " The second flange differs from the first: its edges are dashed where they do."
    return (
        f"To scale but for the bolts: outside and bore of the flanges, {between} shaded, bolt circle in dots and "
        f"dashes.{alike} Each bar is the load of its bolt, the dashed circle the target; the figures are % of the "
        f"target. Bolts of the pull are filled and have a second ring. {numbering.words}"
    )
