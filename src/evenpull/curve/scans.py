"""Where in a stretch of values something is: found first, last, highest, lowest. Compiled.

Values are looked at in blocks of eight without branches, which the processor takes several at a time; only the block
that holds the place is gone through one by one. No value may be nan.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import Floats
from evenpull.curve.compiled import kernel
from evenpull.curve.lanes import BLOCK, WIDTH, blocks_above, blocks_below, blocks_rising, lowest_and_highest


@kernel
def extremes(values: Floats, n: int) -> tuple[float, float]:
    """Lowest and highest of the first n values; nan for none."""
    if n < 1:
        return math.nan, math.nan
    low = high = values[0]
    fours = n // WIDTH
    if fours:
        low, high = lowest_and_highest(values, fours)
    for i in range(fours * WIDTH, n):
        low, high = min(low, values[i]), max(high, values[i])
    return float(low), float(high)


@kernel
def highest(values: Floats, first: int, last: int) -> int:
    """Place of the first highest value of first..last (both taken in, at least one)."""
    part = values[first:last + 1]
    top = extremes(part, len(part))[1]
    return first + from_level(part, 0, len(part) - 1, top)


@kernel
def from_level(values: Floats, first: int, last: int, level: float) -> int:
    """First place from `first` at or above the level; `last` where none before it is, `first` where that is beyond."""
    i: int = first + BLOCK * blocks_below(values, first, (last - first) // BLOCK, level)
    while i < last and not values[i] >= level:
        i += 1
    return i


@kernel
def last_below(values: Floats, last: int, level: float) -> int:
    """Last place up to `last` (taken in) at or below the level; -1 where there is none."""
    i: int = last - BLOCK * blocks_above(values, last, (last + 1) // BLOCK, level)
    while i >= 0 and not values[i] <= level:
        i -= 1
    return i


@kernel
def first_not_up(values: Floats, last: int) -> int:
    """First place from 1 to `last` whose value is not above the one before; `last` + 1 where there is none."""
    i: int = 1 + BLOCK * blocks_rising(values, 1, last // BLOCK)
    while i <= last and values[i] > values[i - 1]:
        i += 1
    return i


@kernel
def first_at(angles: Floats, angle: float, last: int, beyond: bool) -> int:
    """First point at or beyond the angle (`beyond`: not at it), at most `last` + 1. Angles go forward, so the stretch
    is halved again and again."""
    low, high = 0, last + 1
    while low < high:
        half = (low + high) // 2
        if angles[half] < angle or (beyond and angles[half] == angle):
            low = half + 1
        else:
            high = half
    return low


@kernel
def changes(values: NDArray[np.int16]) -> int:
    """How many values differ from the one before."""
    many = 0
    for i in range(1, len(values)):
        many += values[i] != values[i - 1]
    return many
