"""The map of a joint for paper: black on white, 1 unit = 1 mm, no number below 11 points."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from evenpull.card.layout import LABEL_STEPS, JointLayout, Spot, labelled, layout, order_numbers
from evenpull.plan.model import Plan

POINT = 25.4 / 72  # mm
SMALL, LARGE = 11 * POINT, 14 * POINT
SMALLEST_MARK = 4.1
MARK = 4.6  # mm, radius of a fastener with its number inside
ORDER_ROOM = 6.6  # mm between neighbours so that their order numbers keep apart
WHOLE_PATH = 8  # up to so many fasteners the whole path is drawn, else its first pulls
FIRST_PULLS = 5
_FONT = 'font-family="DejaVu Sans" font-stretch="75%"'


@dataclass(frozen=True, slots=True)
class PrintMap:
    """`every_number` and `order_on_map` tell what the text beside the map has to say."""

    svg: str
    every_number: bool
    order_on_map: bool


def print_map(plan: Plan, order: tuple[tuple[int, ...], ...], width: float, height: float) -> PrintMap:
    """Map of `width` x `height` mm with fastener numbers, the first fastener, the counting direction and the order."""
    plan_layout = layout(plan.spec)
    if plan_layout.shape == "grid":
        return _grid(plan_layout, order, width, height)
    return _circle(plan_layout, order, width, height, plan.spec.numbering == "clockwise")


def _circle(
    places: JointLayout, order: tuple[tuple[int, ...], ...], width: float, height: float, clockwise: bool
) -> PrintMap:
    count = len(places.spots)
    centre = (width / 2, height / 2)
    rim = min(width, height) / 2 - 1
    radius = rim - 7 - MARK if count > 1 else 0.0
    pitch = math.tau * radius / count
    inside = count == 1 or pitch >= 2 * MARK + 0.4
    parts: list[str] = []
    if inside:
        numbers = frozenset(range(1, count + 1))
        parts += [_mark(*_at(centre, radius, spot.angle), spot.fastener) for spot in places.spots]
        inner = radius - MARK - 3.6
    else:
        # Small marks on the ring; upright numbers outside it, as many as keep apart.
        radius = rim - 17
        pitch = math.tau * radius / count
        numbers = labelled(count, math.tau * (rim - 4) / count, 10.5)
        parts += _small_marks(places, centre, radius, min(1.8, 0.4 * pitch), numbers)
        inner = radius - 5.4
    order_on_map = count > 1 and math.tau * inner / count >= ORDER_ROOM and bool(order)
    if order_on_map:
        places_in_order = order_numbers(order)
        parts += [
            _text(*_at(centre, inner, spot.angle), f"{places_in_order[spot.fastener]}.", SMALL, bold=False)
            for spot in places.spots
            if spot.fastener in places_in_order
        ]
        parts += _path(places, order, centre, inner - 4.2)
    if count > 1:
        first = places.spots[0].angle
        parts.append(_pointer(centre, radius + (MARK if inside else 1.8) + 0.6, first))
        if inside:
            parts.append(_counting_arrow(centre, rim - 2.2, first, clockwise, min(0.75, 1.6 * math.tau / count)))
        else:
            parts.append(_counting_arrow(centre, inner - (7 if order_on_map else 2), first, clockwise, 0.6))
    return PrintMap(_svg(width, height, parts), len(numbers) == count, order_on_map)


def _grid(places: JointLayout, order: tuple[tuple[int, ...], ...], width: float, height: float) -> PrintMap:
    # Room at the sides for the numbers of the row ends, when they do not fit into the marks.
    pitch = min((width - 2) / places.columns, (height - 10) / places.rows, 34.0)
    inside = pitch >= 2 * SMALLEST_MARK + 0.2
    if not inside:
        pitch = min((width - 26) / places.columns, (height - 10) / places.rows)
    mark = min(MARK, 0.49 * pitch if inside else 0.4 * pitch)
    order_on_map = bool(order) and inside and pitch >= 2 * MARK + 6 and len(places.spots) > 1
    places_in_order = order_numbers(order)
    left = width / 2 - pitch * (places.columns - 1) / 2
    top = height / 2 - pitch * (places.rows - 1) / 2 - (2 if order_on_map else 0)
    last = len(places.spots)
    every = next((s for s in LABEL_STEPS if s * pitch >= 5.0), LABEL_STEPS[-1])
    parts: list[str] = []
    for spot in places.spots:
        x, y = _grid_point(spot, places, left, top, pitch)
        row, column = divmod(spot.fastener - 1, places.columns)
        if inside:
            parts.append(_mark(x, y, spot.fastener, mark))
        else:
            parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{mark:.2f}"/>')
            at_end = column in (0, places.columns - 1) or spot.fastener == last
            if at_end and row % every == 0:
                aside = -1 if x < width / 2 else 1
                parts.append(_text(x + aside * (mark + 6), y, str(spot.fastener), SMALL, bold=True))
        if order_on_map and spot.fastener in places_in_order:
            parts.append(_text(x, y + MARK + 3, f"{places_in_order[spot.fastener]}.", SMALL, bold=False))
    x, y = _grid_point(places.spots[0], places, left, top, pitch)
    reach = mark + 0.6
    parts.append(f'<path d="M{x:.2f} {y - reach:.2f} l-2 -3.4 h4 z" fill="black"/>')
    return PrintMap(_svg(width, height, parts), inside, order_on_map)


def _grid_point(spot: Spot, places: JointLayout, left: float, top: float, pitch: float) -> tuple[float, float]:
    return (
        left + (spot.x + 1) / 2 * pitch * (places.columns - 1),
        top + (spot.y + 1) / 2 * pitch * (places.rows - 1),
    )


def _at(centre: tuple[float, float], radius: float, angle: float) -> tuple[float, float]:
    return centre[0] + radius * math.sin(angle), centre[1] - radius * math.cos(angle)


def _text(x: float, y: float, text: str, size: float, *, bold: bool) -> str:
    # 0.36 of the size brings the middle of a digit to y; baseline attributes are not drawn alike everywhere.
    weight = "700" if bold else "400"
    return (
        f'<text x="{x:.2f}" y="{y + 0.36 * size:.2f}" text-anchor="middle" {_FONT} font-size="{size:.3f}" '
        f'font-weight="{weight}" stroke="none" fill="black">{text}</text>'
    )


def _mark(x: float, y: float, fastener: int, radius: float = MARK) -> str:
    size = LARGE if fastener < 100 and radius >= MARK else SMALL
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}"/>' + _text(x, y, str(fastener), size, bold=True)


def _small_marks(
    places: JointLayout, centre: tuple[float, float], radius: float, size: float, numbers: frozenset[int]
) -> list[str]:
    parts = []
    for spot in places.spots:
        x, y = _at(centre, radius, spot.angle)
        named = spot.fastener in numbers
        fill = ' fill="black"' if named and len(numbers) < len(places.spots) else ""
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size:.2f}"{fill}/>')
        if named:
            x1, y1 = _at(centre, radius + size + 0.6, spot.angle)
            x2, y2 = _at(centre, radius + 7, spot.angle)
            if spot.fastener != 1:
                parts.append(f'<path d="M{x1:.2f} {y1:.2f} L{x2:.2f} {y2:.2f}"/>')
            parts.append(_text(*_at(centre, radius + 12, spot.angle), str(spot.fastener), SMALL, bold=True))
    return parts


def _path(
    places: JointLayout, order: tuple[tuple[int, ...], ...], centre: tuple[float, float], radius: float
) -> list[str]:
    """Lines with arrow heads from pull to pull, through the inside of the ring."""
    if radius < 6 or any(len(group) != 1 for group in order):
        return []
    sequence = [group[0] for group in order]
    sequence = sequence if len(sequence) <= WHOLE_PATH else sequence[:FIRST_PULLS]
    points = [_at(centre, radius, places.spots[fastener - 1].angle) for fastener in sequence]
    parts = []
    for (x1, y1), (x2, y2) in pairwise(points):
        length = math.hypot(x2 - x1, y2 - y1)
        if length < 1e-6:
            continue
        u, v = (x2 - x1) / length, (y2 - y1) / length
        x1, y1, x2, y2 = x1 + u, y1 + v, x2 - u, y2 - v
        parts.append(f'<path d="M{x1:.2f} {y1:.2f} L{x2:.2f} {y2:.2f}" stroke-width="0.35"/>')
        parts.append(_head(x2, y2, u, v))
    return parts


def _head(x: float, y: float, u: float, v: float) -> str:
    """Arrow head with its tip at (x, y) in the direction (u, v)."""
    back_x, back_y = x - 3.2 * u, y - 3.2 * v
    return (
        f'<path d="M{x:.2f} {y:.2f} L{back_x - 1.1 * v:.2f} {back_y + 1.1 * u:.2f} '
        f'L{back_x + 1.1 * v:.2f} {back_y - 1.1 * u:.2f} Z" fill="black" stroke="none"/>'
    )


def _pointer(centre: tuple[float, float], radius: float, angle: float) -> str:
    """Black triangle outside the ring that points at the first fastener."""
    x, y = _at(centre, radius, angle)
    u, v = math.sin(angle), -math.cos(angle)
    x2, y2 = x + 3.8 * u, y + 3.8 * v
    return (
        f'<path d="M{x:.2f} {y:.2f} L{x2 - 2.2 * v:.2f} {y2 + 2.2 * u:.2f} '
        f'L{x2 + 2.2 * v:.2f} {y2 - 2.2 * u:.2f} Z" fill="black" stroke="none"/>'
    )


def _counting_arrow(centre: tuple[float, float], radius: float, first: float, clockwise: bool, span: float) -> str:
    """Arc from beside the first fastener in the direction in which the fasteners are counted."""
    sense = 1 if clockwise else -1
    start, end = first + sense * 3.4 / radius, first + sense * (3.4 / radius + span)
    x1, y1 = _at(centre, radius, start)
    x2, y2 = _at(centre, radius, end)
    u, v = sense * math.cos(end), sense * math.sin(end)
    return (
        f'<path d="M{x1:.2f} {y1:.2f} A{radius:.2f} {radius:.2f} 0 0 {int(clockwise)} {x2:.2f} {y2:.2f}" '
        f'stroke-width="0.7"/>' + _head(x2 + 2.2 * u, y2 + 2.2 * v, u, v)
    )


def _svg(width: float, height: float, parts: list[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke="black" stroke-width="0.5">' + "".join(parts) + "</svg>"
    )
