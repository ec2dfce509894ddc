"""Curves made by hand: their features follow from how they are drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import Curves, one_curve

Floats = NDArray[np.float64]


def ramp(
    *, run: float = 720.0, T_run: float = 2.0, k: float = 1.0, target: float = 40.0, per_deg: float = 4.0,
    speed: float = 180.0, noise: float = 0.0, tail: int = 30, seed: int = 1,
) -> tuple[Floats, Floats, Floats]:
    """time, angle, torque: level T_run over `run` deg, then the slope k (N.m/deg) up to the target, then shut-off."""
    turn = run + (target - T_run) / k
    angle = np.arange(0.0, turn + 1e-9, 1 / per_deg)
    angle = np.append(angle[angle < turn - 1e-6], turn)
    torque = np.where(angle < run, T_run, T_run + k * (angle - run))
    torque = torque + np.random.default_rng(seed).normal(0, noise, len(angle)) if noise else torque
    time = angle / speed
    after = np.arange(1, tail + 1)
    return (np.append(time, time[-1] + after / (per_deg * speed)), np.append(angle, np.full(tail, turn)),
            np.append(torque, target * np.exp(-after / 2.0)))


def curve(**how: float) -> Curves:
    return one_curve(*ramp(**how))  # type: ignore[arg-type]
