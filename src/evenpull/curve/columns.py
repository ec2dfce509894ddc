"""A column of curves: flat arrays and offsets, as Arrow keeps lists.

Curve c is what lies from offsets[c] to offsets[c + 1]. Nothing is copied when curves are taken out by a slice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats32 = NDArray[np.float32]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class CurveError(ValueError):
    """Curves that cannot be taken; the message names file, line and field where there are any, the limit and the way
    out."""


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """time (s), angle (deg), torque (N.m), step (whole numbers from 1), each with all points of all curves; offsets
    (curves + 1, from 0, never falling). Values that are not finite are allowed: they are counted, not dropped."""

    time: Floats32
    angle: Floats32
    torque: Floats32
    step: NDArray[np.int16]
    offsets: Ints

    def __post_init__(self) -> None:
        n = len(self.torque)
        for name in ("time", "angle", "step"):
            if len(getattr(self, name)) != n:
                raise CurveError(f"{name} has {len(getattr(self, name))} points, torque {n}: every point needs all "
                                 "four; leave a value that is missing empty (not a number) instead of leaving it out")
        if len(self.offsets) < 1 or self.offsets[0] != 0 or self.offsets[-1] != n or (np.diff(self.offsets) < 0).any():
            raise CurveError(f"offsets have to begin with 0, never fall and end with the number of points, {n}")

    def __len__(self) -> int:
        return len(self.offsets) - 1

    def __getitem__(self, part: slice) -> Curves:
        first, last, by = part.indices(len(self))
        if by != 1:
            raise CurveError("curves are taken out without a stride: take a slice, or `picked` with their numbers")
        own = self.offsets[first:max(first, last) + 1]
        a, b = int(own[0]), int(own[-1])
        return Curves(self.time[a:b], self.angle[a:b], self.torque[a:b], self.step[a:b], own - a)

    def picked(self, numbers: ArrayLike) -> Curves:
        """The curves with these numbers (from 0) in this order, copied."""
        return joined([self[int(c):int(c) + 1] for c in np.atleast_1d(np.asarray(numbers))])

    def parts(self, size: int) -> Iterator[Curves]:
        """All curves in slices of at most `size`."""
        for first in range(0, len(self), size):
            yield self[first:first + size]


def curves_of(time: ArrayLike, angle: ArrayLike, torque: ArrayLike, step: ArrayLike, offsets: ArrayLike) -> Curves:
    """Curves from anything like an array: float32 for what is measured, int16 for the step. CurveError for a step that
    is no whole number from 0 to 32767."""
    steps = np.asarray(step)
    if steps.dtype != np.int16:
        if len(steps) and not (np.isfinite(steps).all() and (steps == np.floor(steps)).all()
                               and steps.min() >= 0 and steps.max() <= np.iinfo(np.int16).max):
            raise CurveError("step: whole numbers from 0 to 32767; number the steps in the order of the program")
        steps = steps.astype(np.int16)
    return Curves(
        np.ascontiguousarray(time, np.float32), np.ascontiguousarray(angle, np.float32),
        np.ascontiguousarray(torque, np.float32), np.ascontiguousarray(steps), np.ascontiguousarray(offsets, np.int64),
    )


def one_curve(time: ArrayLike, angle: ArrayLike, torque: ArrayLike, step: ArrayLike | None = None) -> Curves:
    """A single curve as a column of one; without steps all is step 1."""
    n = len(np.asarray(torque))
    return curves_of(time, angle, torque, np.ones(n, np.int16) if step is None else step, [0, n])


def joined(many: Sequence[Curves]) -> Curves:
    """Columns one behind the other as one column."""
    if not many:
        return curves_of([], [], [], [], [0])
    ends = np.cumsum([0, *(len(part.torque) for part in many)])
    offsets = np.concatenate([[0], *(part.offsets[1:] + end for part, end in zip(many, ends[:-1], strict=True))])
    return Curves(
        np.concatenate([part.time for part in many]), np.concatenate([part.angle for part in many]),
        np.concatenate([part.torque for part in many]), np.concatenate([part.step for part in many]),
        np.asarray(offsets, np.int64),
    )
