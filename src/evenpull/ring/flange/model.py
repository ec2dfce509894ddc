"""The fast model: a flange pair condensed to bolts and gasket patches from its cross-section."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded

from evenpull.ring.case import BearingFace, Flange, RingCase
from evenpull.ring.condensed import PORTS_OF_BOLT, Condensed, Patches, sector_patches
from evenpull.ring.flange.elements import section_stiffness
from evenpull.ring.flange.holes import EVEN_HARMONICS, local_compliance, stiffness_left
from evenpull.ring.flange.loads import SectionLoads
from evenpull.ring.flange.mesh import section_mesh
from evenpull.ring.sane import check_case

_MANY = 32
_HARMONICS = 7.0  # times bolt circle over bearing face: where a bolt's load has no more to say


def condense(
    case: RingCase, *, radial: int = 3, circumferential: int | None = None, fineness: float = 1.0
) -> Condensed:
    """Compliance of the two flanges of `case`, with `radial` x `circumferential` patches a sector; without a number
    8 round the ring up to 32 bolts, 4 above, where sectors are narrow. Raises RingCaseError for a case that cannot be.
    """
    check_case(case)
    n = case.bolts.count
    round_ = circumferential if circumferential is not None else 8 if n <= _MANY else 4
    patches = sector_patches(n, case.facing.inside_diameter, case.facing.outside_diameter, radial, round_)
    first, left = _one_flange(case, case.flanges[0], patches, fineness)
    if case.alike:
        return Condensed(n, left, 2 * first)
    second, left_too = _one_flange(case, case.flanges[1], patches, fineness)
    return Condensed(n, replace(left, areas=np.minimum(left.areas, left_too.areas)), first + second)


def _one_flange(
    case: RingCase, flange: Flange, patches: Patches, fineness: float
) -> tuple[NDArray[np.complex128], Patches]:
    n = case.bolts.count
    r_b = case.bolts.bolt_circle / 2
    width = flange.end.d_w if isinstance(flange.end, BearingFace) else flange.end.d
    size = min(flange.thickness / 4, width / 5) / fineness
    mesh = section_mesh(flange, case.bolts.bolt_circle, patches.edges.tolist(), size)
    even, stiffness = (
        section_stiffness(mesh, flange.E, flange.nu, stiffness_left(case, flange, even=even)) for even in (True, False)
    )
    loads = SectionLoads(mesh, stiffness, flange, r_b, patches)
    ports = PORTS_OF_BOLT + patches.count
    C = np.zeros((n // 2 + 1, ports, ports), dtype=complex)
    for H in range(int(np.ceil(_HARMONICS * case.bolts.bolt_circle / width)) + 1):
        columns = loads.columns(H)
        factor = cholesky_banded((even if H <= EVEN_HARMONICS else stiffness).at(H), check_finite=False)
        answer = columns.T @ cho_solve_banded((factor, False), columns, check_finite=False)
        for signed in {H, -H}:
            h = signed % n
            if h <= n // 2:
                made = loads.ports(signed)
                C[h] += (2 * np.pi * n) * (made.conj().T @ answer @ made)
    C[:, :PORTS_OF_BOLT, :PORTS_OF_BOLT] += local_compliance(flange)
    return C, loads.patches
