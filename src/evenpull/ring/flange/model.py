"""The fast model: a flange pair condensed to bolts and gasket patches from its cross-section."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky_banded, cho_solve_banded

from evenpull.ring.case import BearingFace, Flange, RingCase
from evenpull.ring.condensed import PORTS_OF_BOLT, Condensed, Patches, sector_patches
from evenpull.ring.flange.elements import section_stiffness
from evenpull.ring.flange.holes import local_compliance, stiffness_left
from evenpull.ring.flange.loads import SectionLoads
from evenpull.ring.flange.mesh import section_mesh

Floats = NDArray[np.float64]


def condense(case: RingCase, *, radial: int = 3, circumferential: int = 8, fineness: float = 1.0) -> Condensed:
    """Condensed compliance of the two flanges of `case`, `radial` x `circumferential` patches a sector."""
    n = case.bolts.count
    patches = sector_patches(n, case.facing.inside_diameter, case.facing.outside_diameter, radial, circumferential)
    first = _one_flange(case, case.flanges[0], patches, fineness)
    second = first if case.alike else _one_flange(case, case.flanges[1], patches, fineness)
    return Condensed(n, patches, first + second)


def harmonics_needed(case: RingCase, flange: Flange) -> int:
    width = flange.end.d_w if isinstance(flange.end, BearingFace) else flange.end.d
    return int(np.ceil(7 * case.bolts.bolt_circle / width))


def _one_flange(case: RingCase, flange: Flange, patches: Patches, fineness: float) -> NDArray[np.complex128]:
    n = case.bolts.count
    r_b = case.bolts.bolt_circle / 2
    rings = np.linspace(case.facing.inside_diameter / 2, case.facing.outside_diameter / 2, patches.radial + 1)
    width = flange.end.d_w if isinstance(flange.end, BearingFace) else flange.end.d
    size = min(flange.thickness / 4, width / 5) / fineness
    mesh = section_mesh(flange, case.bolts.bolt_circle, rings.tolist(), case.facing, size)
    stiffness = section_stiffness(mesh, flange.E, flange.nu, stiffness_left(case, flange))
    loads = SectionLoads(mesh, stiffness, flange, r_b, rings)
    C = np.zeros((n // 2 + 1, PORTS_OF_BOLT + patches.count, PORTS_OF_BOLT + patches.count), dtype=complex)
    for H in range(harmonics_needed(case, flange) + 1):
        columns = loads.columns(H)
        answer = columns.T @ cho_solve_banded((cholesky_banded(stiffness.at(H), check_finite=False), False), columns, check_finite=False)
        for signed in {H, -H}:
            h = signed % n
            if h <= n // 2:
                phases = _phases(signed, patches)
                rows = _port_rows(patches)
                C[h] += (2 * np.pi * n) * np.conj(phases)[:, None] * answer[np.ix_(rows, rows)] * phases[None, :]
    C[:, :PORTS_OF_BOLT, :PORTS_OF_BOLT] += local_compliance(case, flange)
    return C


def _port_rows(patches: Patches) -> NDArray[np.int64]:
    rings = np.repeat(np.arange(patches.radial), patches.circumferential)
    return np.concatenate([np.arange(PORTS_OF_BOLT), PORTS_OF_BOLT + rings])


def _phases(H: int, patches: Patches) -> NDArray[np.complex128]:
    """Factor of each port's load column at harmonic H (either sign)."""
    half = patches.half_width
    patch = 2 * half * np.sinc(H * half / np.pi) / patches.areas * np.exp(-1j * H * patches.angles)
    sign = -1j * np.sign(H)
    return np.concatenate([[1.0, 1.0, sign], patch])
