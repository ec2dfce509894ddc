"""What the bolt holes take away: of the stiffness round the ring, and right at the bearing face.

The cross-section knows no single hole, only how much of the circumference is solid at each radius. Stresses that run
past the holes (radial, axial, shear between the two) find the solid part beside them. Stresses that run round the ring
have to flow about each hole, and the bridges between leave them less than their share: for these the solid part counts
with a power above one. The powers and the dent at the bearing face were fitted once to solid models of random rings
(docs/ring.md); no given joint was among them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import BearingFace, Flange, RingCase
from evenpull.ring.flange.loads import half_angle

Floats = NDArray[np.float64]

# strains r, z, theta, rz, r theta, theta z
POWERS = np.array([0.25, 0.25, 3.5, 0.25, 2.2, 0.57])
# of the bearing face, over E d_w (axial), E d_w^2 (axial by radial tilt), E d_w^3 (radial, tangential tilt)
DENT_AXIAL, DENT_CROSS, DENT_RADIAL, DENT_TANGENTIAL = 0.18, 0.95, 3.5, 3.5


def stiffness_left(case: RingCase, flange: Flange) -> Callable[[Floats, Floats], Floats]:
    """What the holes leave of the stiffness against each strain: a function of r and z (M,) with values (M, 6)."""
    n, r_b, end = case.bolts.count, case.bolts.bolt_circle / 2, flange.end

    def left(r: Floats, z: Floats) -> Floats:
        if not isinstance(end, BearingFace):  # the thread fills its hole
            return np.ones((len(r), 6))
        solid = 1 - n * half_angle(r, r_b, end.d_h / 2) / np.pi
        return np.asarray(solid[:, None] ** POWERS[None, :])

    return left


def local_compliance(flange: Flange) -> Floats:
    """(3, 3) compliance of one bearing face beyond what the cross-section shows: m/N, m/(N.m), rad/(N.m)."""
    end = flange.end
    if not isinstance(end, BearingFace):
        return np.zeros((3, 3))
    E, d_w = flange.E, end.d_w
    dent = np.zeros((3, 3))
    dent[0, 0] = DENT_AXIAL / (E * d_w)
    dent[0, 1] = dent[1, 0] = DENT_CROSS / (E * d_w**2)
    dent[1, 1] = DENT_RADIAL / (E * d_w**3)
    dent[2, 2] = DENT_TANGENTIAL / (E * d_w**3)
    return dent

