"""Features of a column of curves at once: one compiled call, no Python loop per curve."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from evenpull.curve.columns import CurveError, Curves, Floats, Floats32, Ints
from evenpull.curve.compiled import kernel
from evenpull.curve.names import AT, FEATURES, NAMES
from evenpull.curve.points import LEAST, forward, oddities, prepare, shut_off, smooth
from evenpull.curve.rise import judge_rise
from evenpull.curve.robust import desk

__all__ = ["FEATURES", "FeatureTable", "measure"]


@dataclass(frozen=True, slots=True, eq=False)
class FeatureTable:
    """One row a curve, one column a feature in the order of `names.FEATURES`; nan: cannot be found."""

    values: Floats

    def __getitem__(self, name: str) -> Floats:
        if name not in AT:
            raise KeyError(f"no feature {name!r}; there are {', '.join(NAMES)}")
        return self.values[:, AT[name]]

    def __len__(self) -> int:
        return len(self.values)

    def told(self, curve: int, name: str) -> str:
        """The feature of one curve in words: number with unit, or why it cannot be found."""
        feature, value = FEATURES[AT[name]], float(self[name][curve])
        if math.isnan(value):
            why = feature.missing or f"fewer than {LEAST} points that can be used, or no torque above zero"
            return f"cannot be found: {why}"
        return f"{value:.4g}" if feature.unit == "1" else f"{value:.4g} {feature.unit}"


def measure(curves: Curves, *, target: ArrayLike = math.nan, threshold: ArrayLike = math.nan) -> FeatureTable:
    """Features of all curves. `target` and `threshold` in N.m, one for all or one for each; nan: not given, and what
    needs it cannot be found. The threshold is 10 % of the target where only that is given.

    CurveError for a target or threshold that is not above zero. Cost is linear in the points; work arrays are those of
    one curve for each thread.
    """
    n = len(curves)
    aims = _each(n, target, "target")
    starts = _each(n, threshold, "threshold")
    starts = np.where(np.isnan(starts), 0.1 * aims, starts)
    out = np.full((n, len(NAMES)), np.nan)
    if n:
        _all(curves.time, curves.angle, curves.torque, curves.step, curves.offsets, aims, starts, out)
    return FeatureTable(out)


def _each(n: int, value: ArrayLike, name: str) -> Floats:
    given = np.asarray(value, np.float64)
    if given.ndim > 1 or (given.ndim == 1 and len(given) != n):
        raise CurveError(f"{name}: one torque for all curves or one for each of the {n}, not {given.shape}")
    if (given <= 0).any() or np.isinf(given).any():
        raise CurveError(f"{name}: has to be finite and greater than 0 N.m; leave it out where none is stated")
    return np.ascontiguousarray(np.broadcast_to(given, n))


@kernel
def _one(
    time: Floats32, angle: Floats32, torque: Floats32, step: NDArray[np.int16], target: float, threshold: float,
    room: Floats, desk: Floats, row: Floats,
) -> None:
    t, a, T, M = room[0], room[1], room[2], room[3]
    m = prepare(time, angle, torque, step, t, a, T, row)
    if m < LEAST or not t[m - 1] > t[0]:
        return
    peak = smooth(T, m, M)
    oddities(t, a, T, M, m, peak, row)
    off = shut_off(a, T, M, m, peak, row)
    many = forward(t, a, M, off, row)
    judge_rise(t, a, M, many, target, threshold, desk, T, row)


SOURCES = ("compiled.py", "features.py", "lanes.py", "names.py", "places.py", "points.py", "rise.py", "robust.py",
           "scans.py")  # fmt: skip


def _sources() -> str:
    """SHA-256 of what is compiled. numba looks only at the file of the function it keeps: after a change in another of
    these files it would go on with the old code. The digest is bound into the function and so into the key it is kept
    under; only the outermost function is kept."""
    digest = hashlib.sha256()
    for name in SOURCES:
        digest.update(files("evenpull.curve").joinpath(name).read_bytes())
    return digest.hexdigest()


def _compiled(sources: str) -> Callable[..., None]:
    @njit(cache=True, nogil=True, error_model="numpy")
    def all_curves(
        time: Floats32, angle: Floats32, torque: Floats32, step: NDArray[np.int16], offsets: Ints, target: Floats,
        threshold: Floats, out: Floats,
    ) -> None:
        if len(sources) == 0:  # read, so that it is bound
            return
        longest = 0
        for c in range(len(offsets) - 1):
            longest = max(longest, offsets[c + 1] - offsets[c])
        room, own = np.empty((4, longest + 1)), desk()  # one more: `points.forward`
        for c in range(len(offsets) - 1):
            first, last = offsets[c], offsets[c + 1]
            _one(time[first:last], angle[first:last], torque[first:last], step[first:last], target[c], threshold[c],
                 room, own, out[c])

    return all_curves


_all = _compiled(_sources())
