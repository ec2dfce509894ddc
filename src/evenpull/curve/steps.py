"""What ended each step: the points of each stretch held against a stated program. Vectorised over all curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError, Curves, Floats, Ints

CAUSES = ("torque limit", "angle limit", "torque target", "angle target", "stopped before", "not in the program")


@dataclass(frozen=True, slots=True)
class ProgramStep:
    """One step of a tool's program: number, name, what ends it and at which value (N.m, or deg of turn within the
    step), and the limits whose crossing is a fault (nan: none)."""

    number: int
    name: str
    until: Literal["torque", "angle"]
    value: float
    torque_limit: float = math.nan
    angle_limit: float = math.nan
    tolerance: float = 0.0  # N.m or deg below the value that still count as reached


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """One row a stretch of one step of one curve: number of the curve (from 0) and of the step, turn (deg), highest
    torque (N.m), cause (place in `CAUSES`)."""

    curve: Ints
    step: NDArray[np.int16]
    turn: Floats
    torque: Floats
    cause: NDArray[np.int8]


def step_ends(curves: Curves, program: Sequence[ProgramStep]) -> Stretches:
    """Every stretch with what ended it. A limit comes before a target, as a tool looks at it first; "stopped before"
    where neither was reached, which is what a user does who lets go, or a station that has no need to go on.

    CurveError for a program that names a number twice.
    """
    numbers = [one.number for one in program]
    if len(set(numbers)) != len(numbers):
        raise CurveError(f"program: a step number stands there twice ({numbers}); number the steps 1, 2, 3 ...")
    n = len(curves.torque)
    if n == 0:
        none = np.zeros(0, np.int64)
        return Stretches(none, none.astype(np.int16), np.zeros(0), np.zeros(0), none.astype(np.int8))
    begins = np.zeros(n, bool)
    begins[curves.offsets[:-1][np.diff(curves.offsets) > 0]] = True
    begins[1:] |= curves.step[1:] != curves.step[:-1]
    first = np.flatnonzero(begins)
    owner = np.searchsorted(curves.offsets, first, side="right") - 1
    highest = np.fmax.reduceat(curves.torque, first).astype(np.float64)
    angle = curves.angle.astype(np.float64)
    turn = np.fmax.reduceat(angle, first) - np.fmin.reduceat(angle, first)
    step = curves.step[first]
    cause = np.full(len(first), CAUSES.index("not in the program"), np.int8)
    for one in program:
        own = step == one.number
        reached = (highest if one.until == "torque" else turn) >= one.value - one.tolerance
        with np.errstate(invalid="ignore"):
            cause[own] = np.select(
                [highest[own] > one.torque_limit, turn[own] > one.angle_limit, reached[own]],
                [CAUSES.index("torque limit"), CAUSES.index("angle limit"), CAUSES.index(f"{one.until} target")],
                CAUSES.index("stopped before"),
            )
    return Stretches(owner, step, turn, highest, cause)


def program_fulfilled(curves: Curves, program: Sequence[ProgramStep]) -> NDArray[np.bool_]:
    """For each curve: every step of the program is there, in its order, and ended by its target."""
    found = step_ends(curves, program)
    by_target = np.isin(found.cause, [CAUSES.index("torque target"), CAUSES.index("angle target")])
    n = len(curves)
    wanted = np.array([one.number for one in program])
    count = np.bincount(found.curve, minlength=n)
    begin = np.concatenate([[0], np.cumsum(count)])[:-1]
    place = np.arange(len(found.curve)) - begin[found.curve]
    right = by_target & (place < len(wanted)) & (found.step == wanted[np.minimum(place, len(wanted) - 1)])
    return np.asarray((count == len(wanted)) & (np.bincount(found.curve, right, minlength=n) == len(wanted)))
