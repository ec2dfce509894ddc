"""The relative deviation of an instrument, and the true value behind what it indicates.

Values in the unit of the instrument's quantity (N.m, Pa, rad); deviations and uncertainties as shares of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpull.joint.numeric import Num, require_positive

CLOSE = 1e-9  # relative; a value on the lowest or highest point counts as inside, whatever unit it was converted from
Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]


def relative_deviation(X_ind: Num, X_ref: Num) -> Num:
    """a = (X_ind - X_ref)/X_ref, a share: +0.09 reads 9 % high. X_ind indicated or set, X_ref the reference value,
    same unit; the sense of ISO 6789-2:2017 (from memory). ValueError unless both are greater than zero."""
    require_positive(X_ind=X_ind, X_ref=X_ref)
    return (X_ind - X_ref) / X_ref


def true_value(X_ind: Num, a: Num) -> Num:
    """X_true = X_ind/(1 + a), the definition of a solved for the reference value. NaN stays NaN; `a` above -1."""
    return X_ind / (1 + a)


def deviation_through_standard(a_instrument: Num, a_standard: Num) -> Num:
    """Deviation of an instrument whose reference standard was itself wrong: (1 + a)(1 + a_S) - 1.

    `a_instrument` as certified against what the standard showed, `a_standard` of the standard as found later. It
    follows from the definition: X_ind = X_S (1 + a) and X_S = X_true (1 + a_S).
    """
    return (1 + a_instrument) * (1 + a_standard) - 1


class Deviations(NamedTuple):
    """`a` and `w` (relative standard uncertainty of the calibration), NaN where `judged` is False: outside the
    points of the certificate nothing is known, and the value cannot be judged."""

    a: Floats
    w: Floats
    judged: Truths


@dataclass(frozen=True, slots=True)
class DeviationCurve:
    """a(X_ind) between certificate points of one direction: `X` indicated and rising, `a` deviations, `w` relative
    standard uncertainties. ValueError for points that do not rise, of unequal number, or none."""

    X: tuple[float, ...]
    a: tuple[float, ...]
    w: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.X or not len(self.X) == len(self.a) == len(self.w):
            raise ValueError(f"a curve needs points with a deviation and an uncertainty each: {len(self.X)} values, "
                             f"{len(self.a)} deviations, {len(self.w)} uncertainties")
        if not all(np.isfinite((*self.X, *self.a, *self.w))) or self.X[0] <= 0 or min(self.a) <= -1 or min(self.w) < 0:
            raise ValueError("a curve needs finite values greater than zero, deviations above -1, and uncertainties "
                             "that are not negative")
        if any(b <= a for a, b in pairwise(self.X)):
            raise ValueError(f"the points of a curve must rise: {self.X}")

    @classmethod
    def constant(cls, a: float, w: float, lowest: float, highest: float) -> DeviationCurve:
        """One deviation from `lowest` to `highest`: a multiplier or an adapter whose ratio was stated wrong
        (a = relative_deviation(stated, true)), or a standard known by one figure."""
        return cls((lowest, highest), (a, a), (w, w))

    @property
    def lowest(self) -> float:
        return self.X[0]

    @property
    def highest(self) -> float:
        return self.X[-1]

    def at(self, X_ind: ArrayLike) -> Deviations:
        """Deviation at many indicated values: straight between the points, never beyond the first or last.

        The uncertainty between two points is the larger of theirs.
        """
        x = np.asarray(X_ind, np.float64)
        X, w = np.array(self.X), np.array(self.w)
        judged = (x >= X[0] * (1 - CLOSE)) & (x <= X[-1] * (1 + CLOSE))
        a = np.interp(x, X, np.array(self.a))
        if w.max() == w.min():
            at_w = np.full(x.shape, w[0])
        else:
            # an index before, between or on a point; on a point both neighbours are that point
            below = np.clip(np.searchsorted(X, x, side="right") - 1, 0, len(X) - 1)
            above = np.clip(np.searchsorted(X, x, side="left"), 0, len(X) - 1)
            at_w = np.maximum(w[below], w[above])
        return Deviations(np.where(judged, a, np.nan), np.where(judged, at_w, np.nan), judged)

    def behind(self, standard: DeviationCurve) -> DeviationCurve | None:
        """The same instrument, now that its reference standard was found to deviate by `standard`.

        The standard showed X/(1 + a) at a point, and its deviation is taken there; both uncertainties combine. Points
        where the standard cannot be judged are left out; None where none is left, or one is missing in between.
        """
        at = standard.at([X / (1 + a) for X, a in zip(self.X, self.a, strict=True)])
        kept = [i for i, judged in enumerate(at.judged) if judged]
        if not kept or kept[-1] - kept[0] != len(kept) - 1:
            return None
        return DeviationCurve(
            tuple(self.X[i] for i in kept),
            tuple(float(deviation_through_standard(self.a[i], float(at.a[i]))) for i in kept),
            tuple(math.hypot(self.w[i], float(at.w[i])) for i in kept),
        )
