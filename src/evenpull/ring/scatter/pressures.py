"""The gasket's answer for many samples whose past stays the same while their equilibrium is sought."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.laws import GasketLaw, LinearLaw

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]
Answer = Callable[[Floats, Rows], tuple[Floats, Floats]]


def pressures(law: GasketLaw | LinearLaw, past: Floats) -> Answer:
    """law.pressure for the compressions (rows, N) of the samples `rows` of `past` (S, N), with what depends on the past
    alone made once. Pressure (Pa) and slope (Pa/m), new arrays."""
    if isinstance(law, LinearLaw):
        return lambda w, rows: law.pressure(w, past[rows])
    curve = law
    top, _ = curve.loading(past)
    start = top - curve.unloading * past

    def answer(w: Floats, rows: Rows) -> tuple[Floats, Floats]:
        p = curve.unloading * w
        p += start[rows]
        slope = np.where(p > 0.0, curve.unloading, 0.0)
        np.maximum(p, 0.0, out=p)
        up = np.flatnonzero(w >= past[rows])
        if len(up):
            p.ravel()[up], slope.ravel()[up] = curve.loading(w.ravel()[up])
        return p, slope

    return answer
