"""Where in a stretch of values something is: found first, last, highest, lowest. Compiled.

Values are looked at in blocks of eight without branches, which the processor takes several at a time; only the block
that holds the place is gone through one by one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import Floats
from evenpull.curve.compiled import kernel

BLOCK = 8


@kernel
def extremes(values: Floats, n: int) -> tuple[float, float]:
    """Lowest and highest of the first n values; four lanes, so that no comparison waits for the one before."""
    l0 = l1 = l2 = l3 = h0 = h1 = h2 = h3 = values[0]
    whole = n // 4 * 4
    for i in range(0, whole, 4):
        p, q, r, s = values[i], values[i + 1], values[i + 2], values[i + 3]
        l0, h0 = p if p < l0 else l0, p if p > h0 else h0
        l1, h1 = q if q < l1 else l1, q if q > h1 else h1
        l2, h2 = r if r < l2 else l2, r if r > h2 else h2
        l3, h3 = s if s < l3 else l3, s if s > h3 else h3
    for i in range(whole, n):
        p = values[i]
        l0, h0 = p if p < l0 else l0, p if p > h0 else h0
    return float(min(min(l0, l1), min(l2, l3))), float(max(max(h0, h1), max(h2, h3)))


@kernel
def highest(values: Floats, first: int, last: int) -> int:
    """Place of the first highest value of first..last (both taken in)."""
    part = values[first:last + 1]
    top = extremes(part, len(part))[1]
    return first + from_level(part, 0, len(part) - 1, top)


@kernel
def from_level(values: Floats, first: int, last: int, level: float) -> int:
    """First place from `first` at or above the level; `last` where none before it is."""
    part = values[first:last]
    n, i = len(part), 0
    while i + BLOCK <= n and not (
        (part[i] >= level) | (part[i + 1] >= level) | (part[i + 2] >= level) | (part[i + 3] >= level)
        | (part[i + 4] >= level) | (part[i + 5] >= level) | (part[i + 6] >= level) | (part[i + 7] >= level)
    ):
        i += BLOCK
    while i < n and not part[i] >= level:
        i += 1
    return first + i


@kernel
def last_below(values: Floats, last: int, level: float) -> int:
    """Last place up to `last` (taken in) at or below the level; -1 where there is none."""
    i = last
    while i >= BLOCK - 1 and not (
        (values[i] <= level) | (values[i - 1] <= level) | (values[i - 2] <= level) | (values[i - 3] <= level)
        | (values[i - 4] <= level) | (values[i - 5] <= level) | (values[i - 6] <= level) | (values[i - 7] <= level)
    ):
        i -= BLOCK
    while i >= 0 and not values[i] <= level:
        i -= 1
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
    many = np.int32(0)
    for i in range(1, len(values)):
        many += np.int32(values[i] != values[i - 1])
    return int(many)
