"""The floor that friction sets: what no order and no number of passes takes away under torque control."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.ring.scatter.friction import NutFriction, Tool, lognormal_sigma


@dataclass(frozen=True, slots=True)
class Floor:
    """Coefficients of variation of the load from bolt to bolt in one assembly: `nut` from what each nut keeps (passes
    do not change it), `last_pull` with what the last pull of each bolt alone adds; `level`: of the mean load from
    assembly to assembly (lot and the tool's own error), which no look at one assembly's evenness shows."""

    nut: float
    last_pull: float
    level: float


def floor(friction: NutFriction, tool: Tool | None = None) -> Floor:
    """F is (M tool/K)^(1/(1-m)) with lognormal factors, so ln F is normal with s = sqrt(sum of squares)/(1 - m) and the
    coefficient of variation is sqrt(e^(s^2) - 1), exactly. It is the spread if every bolt kept the load of its last
    pull and every pull turned its nut; elastic interaction comes on top. One tool for all bolts is taken."""
    tool = tool or Tool()
    stiff = 1 - friction.m
    nut, pull = lognormal_sigma(friction.cv_nut), lognormal_sigma(friction.cv_pull)
    lot = lognormal_sigma(friction.cv_lot)
    own, each = lognormal_sigma(tool.cv_own), lognormal_sigma(tool.cv_pull)
    return Floor(_cv(nut / stiff), _cv(math.hypot(nut, pull, each) / stiff), _cv(math.hypot(lot, own) / stiff))


def _cv(s: float) -> float:
    return math.sqrt(math.expm1(s**2))
