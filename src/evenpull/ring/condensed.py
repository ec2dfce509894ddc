"""What any model of the two flanges hands on: the compliance of one sector for each cyclic harmonic.

A ring of n equal sectors answers a load that goes round it as exp(i h 2 pi s / n) with a movement of the same form. A
model, be it the fast one or the solid one, is therefore known when its compliance is known for h = 0 ... n/2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

AXIAL, TILT_RADIAL, TILT_TANGENTIAL = 0, 1, 2
PORTS_OF_BOLT = 3


@dataclass(frozen=True, slots=True)
class Patches:
    """Gasket patches of one sector, `radial` x `circumferential`, radial index slow. The sector reaches from -pi/n to
    +pi/n about its bolt. `areas` (m2), `angles` (rad, middles) and `radii` (m, middles) have one entry for each patch;
    `half_width` (rad) is half the angle of each, `edges` (radial + 1,) the radii that part the rings (m). `areas` are
    without what the bolt hole takes away."""

    radial: int
    circumferential: int
    half_width: float
    edges: NDArray[np.float64]
    areas: NDArray[np.float64]
    angles: NDArray[np.float64]
    radii: NDArray[np.float64]

    @property
    def count(self) -> int:
        return self.radial * self.circumferential


@dataclass(frozen=True, slots=True)
class Condensed:
    """`compliance` (n//2 + 1, 3 + G, 3 + G), complex Hermitian, m/N, m/(N.m), rad/N and rad/(N.m), of both flanges
    together.

    Ports of a sector: bolt axial (force = bolt load N, movement = how much the two bearing faces come closer), bolt
    tilt radial and tangential (moment N.m that goes with a bearing pressure proportional to the distance from the bolt
    axis, outwards and round the ring; movement = sum of the two faces' tilts), then the patches (force = N on the
    patch, movement = how much the gasket is compressed there). All positive when they close the joint; the gasket
    pushes back and enters as a negative force. With forces f_s in sector s = sum over h of f_h exp(i h 2 pi s / n), the
    movements are y_h = C_h f_h. A very weak support of each flange keeps C_0 and C_1 finite.
    """

    n: int
    patches: Patches
    compliance: NDArray[np.complex128]


def sector_patches(n: int, inside: float, outside: float, radial: int, circumferential: int) -> Patches:
    """Patches of one sector between the diameters `inside` and `outside` (m), of equal radial and angular width, no
    hole in them yet."""
    edges = np.linspace(inside / 2, outside / 2, radial + 1)
    width = 2 * np.pi / n / circumferential
    angles = -np.pi / n + width * (np.arange(circumferential) + 0.5)
    areas = 0.5 * (edges[1:] ** 2 - edges[:-1] ** 2) * width
    middles = 0.5 * (edges[1:] + edges[:-1])
    return Patches(
        radial,
        circumferential,
        width / 2,
        edges,
        np.repeat(areas, circumferential),
        np.tile(angles, radial),
        np.repeat(middles, circumferential),
    )
