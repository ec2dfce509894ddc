"""Thinning of curves by a stated rule, with the hash of what was thinned.

The rule: points are left out only while the straight line over time between the points that stay is nowhere farther
from them than a torque and an angle that are stated. First and last point of every step, points that are not finite
and both their neighbours always stay.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError, Curves, Floats32, Ints


def curve_digest(curves: Curves, number: int) -> str:
    """SHA-256 of one curve: number of points, then time, angle, torque as little-endian float32 and step as int16."""
    a, b = int(curves.offsets[number]), int(curves.offsets[number + 1])
    digest = hashlib.sha256(str(b - a).encode())
    for values, kind in ((curves.time, "<f4"), (curves.angle, "<f4"), (curves.torque, "<f4"), (curves.step, "<i2")):
        digest.update(values[a:b].astype(kind).tobytes())
    return digest.hexdigest()


@dataclass(frozen=True, slots=True, eq=False)
class Thinned:
    """The curves that stay, with the points and the digest of each original, and the rule in words."""

    curves: Curves
    n_original: Ints
    original: tuple[str, ...]
    rule: str


def thin(curves: Curves, *, torque: float, angle: float) -> Thinned:
    """Curves thinned to within `torque` (N.m) and `angle` (deg). CurveError unless both are finite and above zero.

    One pass (a door that narrows from the last point kept), so not the fewest points possible. Take less than a
    fifth of what is judged: features of thinned curves differ, and noise below `torque` is no longer there.
    """
    for name, value in (("torque", torque), ("angle", angle)):
        if not 0 < value < math.inf:
            raise CurveError(f"{name}: the tolerance of thinning has to be finite and greater than 0, not {value}")
    keep = np.zeros(len(curves.torque), np.bool_)
    _doors(curves.time, curves.angle, curves.torque, curves.step, curves.offsets, torque, angle, keep)
    ends = np.concatenate([[0], np.cumsum(keep)])[curves.offsets]
    kept = Curves(curves.time[keep], curves.angle[keep], curves.torque[keep], curves.step[keep],
                  ends.astype(np.int64))
    return Thinned(kept, np.diff(curves.offsets), tuple(curve_digest(curves, c) for c in range(len(curves))),
                   f"straight between points within {torque:g} N.m and {angle:g} deg, ends of steps kept")


@njit(cache=True, nogil=True)
def _doors(
    time: Floats32, angle: Floats32, torque: Floats32, step: NDArray[np.int16], offsets: Ints, tol_T: float,
    tol_a: float, keep: NDArray[np.bool_],
) -> None:
    for c in range(len(offsets) - 1):
        first, last = offsets[c], offsets[c + 1] - 1
        if last < first:
            continue
        keep[first] = keep[last] = True
        pivot = first
        low_T = low_a = -math.inf
        high_T = high_a = math.inf
        i = first + 1
        while i <= last:
            finite = math.isfinite(time[i]) and math.isfinite(angle[i]) and math.isfinite(torque[i])
            from_finite = math.isfinite(time[pivot]) and math.isfinite(angle[pivot]) and math.isfinite(torque[pivot])
            whole = finite and from_finite
            dt = float(time[i]) - float(time[pivot])
            new = not whole or dt <= 0 or step[i] != step[i - 1]
            inside = False
            if not new:
                k_T = (float(torque[i]) - float(torque[pivot])) / dt
                k_a = (float(angle[i]) - float(angle[pivot])) / dt
                inside = low_T <= k_T <= high_T and low_a <= k_a <= high_a
            if new or not inside:
                keep[i - 1] = True
                if new or pivot == i - 1:
                    keep[i] = True
                    pivot = i
                    i += 1
                else:
                    pivot = i - 1
                low_T = low_a = -math.inf
                high_T = high_a = math.inf
                continue
            low_T, high_T = max(low_T, k_T - tol_T / dt), min(high_T, k_T + tol_T / dt)
            low_a, high_a = max(low_a, k_a - tol_a / dt), min(high_a, k_a + tol_a / dt)
            i += 1
