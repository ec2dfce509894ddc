"""The solid reference of a ring: one meshed sector, condensed to bolts and gasket patches for each cyclic harmonic.

The sector is its own mirror image about the plane of its bolt. Any movement is the sum of a symmetric part (u_r and
u_z even, u_theta odd in theta) and an antisymmetric one, and the two do no work on each other; so the half sector is
enough, once held symmetrically and once antisymmetrically at theta = 0. The phase phi = 2 pi h/n between neighbours
ties the two parts on the cut plane theta = pi/n only. With S and A the two parts there,

    S + A = exp(i phi) (S - A)  for u_r, u_z,    S + A = exp(i phi) (A - S)  for u_theta,

which real numbers v per component satisfy: S = cos(phi/2) v, A = i sin(phi/2) v for u_r and u_z, and
S = -sin(phi/2) v, A = i cos(phi/2) v for u_theta. Both halves are therefore condensed to the cut plane once, and each
harmonic is a small real system.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from evenpull.ring.case import Flange, RingCase
from evenpull.ring.condensed import Condensed, Patches
from evenpull.ring.sane import check_case
from evenpull.ring.solid.elastic import half_stiffness
from evenpull.ring.solid.loads import ports
from evenpull.ring.solid.sector import Floats, SectorMesh, mesh_sector, width_of

WEAK = 1e-6  # support of one sector over E times the width of bearing face or thread: keeps rigid movements regular
AT_ONCE = 256  # right-hand sides solved together: bounds the memory


@dataclass(frozen=True, slots=True)
class _Half:
    """One of the two parts on the cut plane: Schur complement (3 P, 3 P) of the half sector, counted twice; loads
    (3 P, ports) and what the ports do to each other with the cut plane held."""

    stiffness: Floats
    loads: Floats
    held: Floats


def sector_system(
    flange: Flange, case: RingCase, *, radial: int, circumferential: int, size_factor: float, order: int
) -> tuple[SectorMesh, csc_matrix, Floats, Patches]:
    """Mesh of one sector, stiffness (3 half, 3 half) N/m of half of it with weak support, unit loads (3 N, 3 + G) of
    the whole sector and its patches. Raises `ValueError` when the drawing cannot be meshed."""
    check_case(case)
    mesh = mesh_sector(
        flange,
        case.bolts,
        case.facing,
        radial=radial,
        circumferential=circumferential,
        size_factor=size_factor,
        order=order,
    )
    B, patches = ports(mesh, flange, case.bolts, case.facing, radial, circumferential)
    K = half_stiffness(mesh, flange.E, flange.nu, WEAK * flange.E * width_of(flange.end))
    return mesh, K, B, patches


def condense_solid(
    case: RingCase, *, radial: int = 3, circumferential: int = 8, size_factor: float = 1.0, order: int = 2
) -> Condensed:
    """Compliance of both flanges for each cyclic harmonic, from quadratic tetrahedra (`order` 1: linear ones).

    `size_factor` scales the edges of all elements; 1 gives about 20,000 unknowns. Raises `ExtraMissingError` without
    the extra `fe`, `ValueError` when the drawing cannot be meshed."""
    n = case.bolts.count
    parts, areas = [], []
    for flange in case.flanges[:1] if case.alike else case.flanges:
        mesh, K, B, patches = sector_system(
            flange, case, radial=radial, circumferential=circumferential, size_factor=size_factor, order=order
        )
        parts.append(_harmonics(mesh, K, B, n))
        areas.append(patches.areas)
    patches = replace(patches, areas=np.min(areas, axis=0))
    return Condensed(n, patches, 2 * parts[0] if case.alike else parts[0] + parts[1])


def _harmonics(mesh: SectorMesh, K: csc_matrix, B: Floats, n: int) -> NDArray[np.complex128]:
    """B^H K^-1 B (n//2 + 1, 3 + G, 3 + G) of one flange for each cyclic harmonic."""
    symmetric, antisymmetric = (_condense(mesh, K, B, n, sign) for sign in (1.0, -1.0))
    round_ring = np.tile([False, True, False], len(mesh.slave))
    found = []
    for h in range(n // 2 + 1):
        c, s = cos(pi * h / n), sin(pi * h / n)
        of_s, of_a = np.where(round_ring, -s, c), np.where(round_ring, c, s)
        total = of_s[:, None] * symmetric.stiffness * of_s + of_a[:, None] * antisymmetric.stiffness * of_a
        real, imaginary = of_s[:, None] * symmetric.loads, -of_a[:, None] * antisymmetric.loads
        x = cho_solve(cho_factor(total), np.hstack([real, imaginary]))
        loads, x = real + 1j * imaginary, x[:, : B.shape[1]] + 1j * x[:, B.shape[1] :]
        C = symmetric.held + antisymmetric.held + loads.conj().T @ x
        found.append(0.5 * (C + C.conj().T))
    return np.array(found)


def _condense(mesh: SectorMesh, K: csc_matrix, B: Floats, n: int, sign: float) -> _Half:
    """Half sector held symmetrically (`sign` 1) or antisymmetrically (-1) at theta = 0, condensed to the cut plane,
    whose unknowns are u_r, u_theta, u_z."""
    size = 3 * mesh.half
    own = np.arange(mesh.half)
    on_mirror = mesh.image == own
    kept = np.ones((mesh.half, 3), dtype=bool)
    kept[on_mirror] = [True, False, True] if sign > 0 else [False, True, False]
    kept[mesh.slave] = False
    inner = np.flatnonzero(kept)
    cut = (3 * mesh.slave[:, None] + np.arange(3)).reshape(-1)

    # Loads of a port and of its mirror image; all loads act along z, which the mirror leaves as it is. On the mirror
    # plane the nodes carry the loads of both sides already.
    here = B.reshape(-1, 3, B.shape[1])
    loads = np.where(on_mirror[:, None, None], here[own], here[own] + sign * here[mesh.image]).reshape(size, -1)

    turn = _to_cylindrical(len(mesh.slave), pi / n)
    coupling = csc_matrix(2 * K[inner][:, cut] @ turn.T)
    factors = splu(
        csc_matrix(2 * K[inner][:, inner]),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    S = (turn @ (2 * K[cut][:, cut]) @ turn.T).toarray()
    for start in range(0, len(cut), AT_ONCE):
        columns = slice(start, start + AT_ONCE)
        S[:, columns] -= coupling.T @ factors.solve(coupling[:, columns].toarray())
    moved = factors.solve(loads[inner])
    return _Half(0.5 * (S + S.T), turn @ loads[cut] - coupling.T @ moved, loads[inner].T @ moved)


def _to_cylindrical(nodes: int, angle: float) -> csc_matrix:
    """(3 P, 3 P): u_r, u_theta, u_z on the plane theta = `angle` from u_x, u_y, u_z."""
    c, s = cos(angle), sin(angle)
    at = 3 * np.arange(nodes)
    rows = np.concatenate([at, at, at + 1, at + 1, at + 2])
    columns = np.concatenate([at, at + 1, at, at + 1, at + 2])
    values = np.repeat([c, s, -s, c, 1.0], nodes)
    return csc_matrix((values, (rows, columns)), shape=(3 * nodes, 3 * nodes))
