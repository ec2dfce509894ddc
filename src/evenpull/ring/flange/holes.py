"""What the bolt holes take away: of the stiffness round the ring, and right at the bearing face.

The cross-section knows no single hole, only how much of the circumference is solid at each radius. Stresses that run
past the holes (radial, axial, shear between the two) find the solid part beside them. Stresses that run round the ring
have to flow about each hole: for these the solid part counts with a power above one. Where the whole ring is strained
alike (H = 0, 1) that power is 3: a round hole in a plate under tension costs three times its own area of compliance
(G. Kirsch 1898, energy of the plate with a hole; from memory, not re-read). For higher harmonics the loads of the bolts
strain the ring most at the holes, and the power is higher. All other numbers were fitted once to solid models of random
rings (docs/ring.md); no joint of the tests was among them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import BearingFace, Flange, RingCase
from evenpull.ring.flange.loads import half_angle

Floats = NDArray[np.float64]

EVEN_HARMONICS = 1  # up to this one the ring is strained alike at holes and between them
ROUND_EVEN = 3.0  # power of the solid part for stress round the ring, up to there
ROUND, ROUND_CLOSE = 4.2, -8.0  # above, and its change with hole over spacing beyond CLOSE
CLOSE = 0.25
PAST = 0.26  # for stress past the holes: strains r, z and rz
IN_PLANE, ACROSS = 2.3, 0.06  # for the shears r theta and theta z
# dent of the bearing face, over E d_w (axial), E d_w^2 (axial by radial tilt), E d_w^3 (radial, tangential tilt)
DENT_AXIAL, DENT_THIN = 0.212, 1.168  # and its change with hole over bearing face beyond THIN
THIN = 0.63
DENT_CROSS, DENT_RADIAL, DENT_TANGENTIAL = 2.4, 3.5, 3.5


def stiffness_left(case: RingCase, flange: Flange, *, even: bool) -> Callable[[Floats, Floats], Floats]:
    """What the holes leave of the stiffness against each strain (r, z, theta, rz, r theta, theta z): a function of r
    and z (M,) with values (M, 6). `even`: for the harmonics that strain the whole ring alike."""
    n, r_b, end = case.bolts.count, case.bolts.bolt_circle / 2, flange.end

    def left(r: Floats, z: Floats) -> Floats:
        if not isinstance(end, BearingFace):  # the thread fills its hole
            return np.ones((len(r), 6))
        solid = 1 - n * half_angle(r, r_b, end.d_h / 2) / np.pi
        close = n * end.d_h / (2 * np.pi * r_b) - CLOSE
        round_ = ROUND_EVEN if even else max(1.0, ROUND + ROUND_CLOSE * close)
        powers = np.array([PAST, PAST, round_, PAST, IN_PLANE, ACROSS])
        return np.asarray(solid[:, None] ** powers[None, :])

    return left


def local_compliance(flange: Flange) -> Floats:
    """(3, 3) compliance of one bearing face beyond what the cross-section shows: m/N, 1/N, rad/(N.m)."""
    end = flange.end
    if not isinstance(end, BearingFace):
        return np.zeros((3, 3))
    E, d_w = flange.E, end.d_w
    dent = np.zeros((3, 3))
    dent[0, 0] = max(0.0, DENT_AXIAL + DENT_THIN * (end.d_h / d_w - THIN)) / (E * d_w)
    dent[0, 1] = dent[1, 0] = DENT_CROSS / (E * d_w**2)
    dent[1, 1] = DENT_RADIAL / (E * d_w**3)
    dent[2, 2] = DENT_TANGENTIAL / (E * d_w**3)
    return dent
