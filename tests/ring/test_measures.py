"""Tilt, rotation and pressure of a state, on states made by hand whose answers are plain geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenpull.ring.condensed import Patches, sector_patches
from evenpull.ring.laws import LinearLaw
from evenpull.ring.measures import compressions, line_pressures, rotation, tilt
from evenpull.ring.model import RingModel
from evenpull.ring.stepping import State

N = 12
PATCHES = sector_patches(N, 0.20, 0.26, 3, 4)
STIFFNESS = 1e11


def bare(count: int) -> RingModel:
    """A model whose first unknowns are the compressions themselves."""
    Y = np.hstack([np.eye(count), np.zeros((count, N))])
    return RingModel(N, Y, np.eye(count + N), np.tile(PATCHES.areas, N), LinearLaw(STIFFNESS), 1e9)


def places(patches: Patches) -> tuple[np.ndarray, np.ndarray]:
    """Radius and angle of every patch."""
    angles = (2 * math.pi / N * np.arange(N)[:, None] + patches.angles[None]).ravel()
    return np.tile(patches.radii, N), angles


def state(w: np.ndarray) -> State:
    zero = np.zeros(len(w))
    return State(np.concatenate([w, np.zeros(N)]), np.zeros(N), np.zeros(N), zero, zero)


def test_tilt_is_the_slope_of_the_plane() -> None:
    r, angle = places(PATCHES)
    model = bare(len(r))
    w = 1e-4 + 3e-4 * r * np.cos(angle) + 4e-4 * r * np.sin(angle)
    assert tilt(model, PATCHES, state(w)) == pytest.approx(5e-4)
    assert tilt(model, PATCHES, state(np.full(len(r), 2e-4))) == pytest.approx(0.0, abs=1e-15)


def test_waves_round_the_ring_are_no_tilt() -> None:
    r, angle = places(PATCHES)
    assert tilt(bare(len(r)), PATCHES, state(1e-4 * np.cos(3 * angle))) == pytest.approx(0.0, abs=1e-12)


def test_rotation_is_the_radial_slope_where_it_is_largest() -> None:
    r, angle = places(PATCHES)
    model = bare(len(r))
    middle = float(PATCHES.radii.mean())
    w = (r - middle) * np.where(np.abs(angle) < 0.1, -0.02, 0.01)
    assert rotation(model, PATCHES, state(w)) == pytest.approx(0.02)
    one_row = sector_patches(N, 0.20, 0.26, 1, 4)
    assert rotation(model, one_row, state(w[: 4 * N])) == 0.0


def test_pressure_is_averaged_over_the_width_by_area() -> None:
    r, _ = places(PATCHES)
    model = bare(len(r))
    seen = line_pressures(model, PATCHES, state(r * 1e-3))
    rows = PATCHES.radii.reshape(3, 4)[:, 0]
    mean = (rows * rows).sum() / rows.sum()  # areas grow with the radius
    assert seen.shape == (N, 4)
    assert seen == pytest.approx(STIFFNESS * 1e-3 * mean)
    assert compressions(model, state(r)).shape == (N, 12)
