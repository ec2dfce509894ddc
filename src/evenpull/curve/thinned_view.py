"""Points of a curve for a drawing of limited width: no top and no hollow is lost, nothing is judged on them."""

from __future__ import annotations

import math

import numpy as np

from evenpull.curve.columns import Floats


def to_draw(angle: Floats, torque: Floats, most: int) -> tuple[Floats, Floats]:
    """(angle, torque) with at most `most` points (8 or more): of every stretch of the record the first, the last, the
    lowest and the highest torque, in their order. Points that are not finite are left out. ValueError for a `most`
    below 8."""
    if most < 8:
        raise ValueError(f"most: at least 8 points, not {most}")
    good = np.isfinite(angle) & np.isfinite(torque)
    x, y = np.asarray(angle, np.float64)[good], np.asarray(torque, np.float64)[good]
    if len(y) <= most:
        return x, y
    size = math.ceil(len(y) / (most // 4))
    starts = np.arange(0, len(y), size)
    keep = np.zeros(len(y), bool)
    keep[starts] = keep[np.append(starts[1:] - 1, len(y) - 1)] = True
    for a in starts:
        part = y[a:a + size]
        keep[a + int(part.argmin())] = keep[a + int(part.argmax())] = True
    return x[keep], y[keep]
