"""Where each fastener stands on a map of the joint: on a circle or on a grid. A scheme, not to scale."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from evenpull.plan.model import Specification

_CLOCK = re.compile(r"\bat\s+(1[0-2]|[1-9])\s*o.?clock", re.IGNORECASE)
LABEL_STEPS = (1, 2, 5, 10, 20, 50)


@dataclass(frozen=True, slots=True)
class Spot:
    """One fastener; x to the right and y downwards, both -1 ... 1; `angle` in rad, clockwise from the top."""

    fastener: int
    x: float
    y: float
    angle: float


@dataclass(frozen=True, slots=True)
class JointLayout:
    """`clock` is the hour where fastener 1 of a circle is drawn; `clock_stated` tells whether the text says so."""

    shape: Literal["circle", "grid"]
    spots: tuple[Spot, ...]
    rows: int
    columns: int
    clock: int
    clock_stated: bool


def layout(spec: Specification) -> JointLayout:
    """Spots of all fasteners as seen from the stated side.

    A circle starts where the specification says "at N o'clock", else at the top, and runs in the stated direction.
    A grid is numbered row by row: from the left when the numbering is clockwise, from the right when anticlockwise
    (common practice, no source). Raises ValueError when a grid has fewer places than the joint has fasteners.
    """
    count = spec.fasteners.count
    sense = 1 if spec.numbering == "clockwise" else -1
    if spec.fasteners.grid is not None:
        return _grid(count, spec.fasteners.grid, sense)
    stated = _CLOCK.search(spec.first_fastener)
    clock = int(stated[1]) if stated else 12
    spots = []
    for fastener in range(1, count + 1):
        angle = math.tau * (clock / 12 + sense * (fastener - 1) / count)
        spots.append(Spot(fastener, math.sin(angle), -math.cos(angle), angle % math.tau))
    return JointLayout("circle", tuple(spots), 0, 0, clock, stated is not None)


def _grid(count: int, grid: tuple[int, int], sense: int) -> JointLayout:
    rows, columns = grid
    if rows * columns < count:
        raise ValueError(f"a grid of {rows} x {columns} has {rows * columns} places, the joint has {count} fasteners")
    spots = []
    for fastener in range(1, count + 1):
        row, column = divmod(fastener - 1, columns)
        x = sense * (2 * column / (columns - 1) - 1) if columns > 1 else 0.0
        y = 2 * row / (rows - 1) - 1 if rows > 1 else 0.0
        spots.append(Spot(fastener, x, y, 0.0))
    return JointLayout("grid", tuple(spots), rows, columns, 0, False)


def labelled(count: int, room: float, need: float) -> frozenset[int]:
    """The fasteners of a ring that get a number when each has `room` and a number needs `need` (same unit): all, or
    the first and every 2nd, 5th, 10th ... that keeps clear of the first on both sides."""
    step = next((step for step in LABEL_STEPS if step * room >= need), LABEL_STEPS[-1])
    if step == 1:
        return frozenset(range(1, count + 1))
    clear = (m for m in range(step, count + 1, step) if min(m - 1, count + 1 - m) * room >= need)
    return frozenset([1, *clear])


def order_numbers(order: tuple[tuple[int, ...], ...]) -> dict[int, int]:
    """Place in the pulling order of each fastener, from 1; fasteners pulled at the same time share a place."""
    return {fastener: place for place, group in enumerate(order, start=1) for fastener in group}
