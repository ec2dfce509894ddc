"""What a state of the ring means beside its bolt loads: the flanges' tilt and rotation, the pressure on the gasket."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.condensed import Patches
from evenpull.ring.model import RingModel
from evenpull.ring.stepping import State, patch_pressures

Floats = NDArray[np.float64]


def compressions(model: RingModel, state: State) -> Floats:
    """(n, radial, circumferential) m: by how much the faces have come closer at each patch since they lay on it."""
    return np.asarray((model.Y @ state.z).reshape(model.n, -1))


def tilt(model: RingModel, patches: Patches, state: State) -> float:
    """Angle (rad) between the two flanges as wholes: the slope of the plane that fits the compressions of all patches
    best, weighted by area. Zero when both flanges have come closer evenly all round."""
    x, y = _places(model.n, patches)
    w = compressions(model, state).ravel()
    weight = np.sqrt(np.tile(patches.areas, model.n))
    plane = np.stack([np.ones_like(x), x, y], axis=1) * weight[:, None]
    _, slope_x, slope_y = np.linalg.lstsq(plane, w * weight, rcond=None)[0]
    return float(np.hypot(slope_x, slope_y))


def rotation(model: RingModel, patches: Patches, state: State) -> float:
    """Largest inclination (rad) of the two faces to each other in the radial direction, over all places of the ring:
    the slope of the compression over the radius, both flanges together. Zero with one row of patches."""
    if patches.radial < 2:
        return 0.0
    w = compressions(model, state).reshape(model.n, patches.radial, patches.circumferential)
    radii = patches.radii.reshape(patches.radial, patches.circumferential)
    away = radii - radii.mean(axis=0)
    slopes = (w * away[None]).sum(axis=1) / (away**2).sum(axis=0)[None]
    return float(np.abs(slopes).max())


def line_pressures(model: RingModel, patches: Patches, state: State) -> Floats:
    """(n, circumferential) Pa: mean pressure over the gasket's width at each place of the ring."""
    p = patch_pressures(model, state).reshape(model.n, patches.radial, patches.circumferential)
    areas = patches.areas.reshape(patches.radial, patches.circumferential)
    return np.asarray((p * areas[None]).sum(axis=1) / areas.sum(axis=0)[None])


def _places(n: int, patches: Patches) -> tuple[Floats, Floats]:
    angles = (2 * np.pi / n * np.arange(n)[:, None] + patches.angles[None, :]).ravel()
    radii = np.tile(patches.radii, n)
    return radii * np.cos(angles), radii * np.sin(angles)
