"""Stiffness and loads of a sector mesh (scikit-fem; linear elasticity, isoparametric tetrahedra)."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix, diags

from evenpull.ring.case import BearingFace, Facing, Flange, RingBolts
from evenpull.ring.condensed import Patches, sector_patches
from evenpull.ring.solid.extra import library
from evenpull.ring.solid.sector import EDGES_OF_TET, Floats, SectorMesh

# Seven points of degree 5 on the triangle (J. Radon, 1948; in every finite element textbook): barycentric, weight
_A, _B = (6 - 15**0.5) / 21, (6 + 15**0.5) / 21
_POINTS = np.array(
    [(1 / 3, 1 / 3, 1 / 3)]
    + [(1 - 2 * a, a, a) for a in (_A, _B)]
    + [(a, 1 - 2 * a, a) for a in (_A, _B)]
    + [(a, a, 1 - 2 * a) for a in (_A, _B)]
)
_WEIGHTS = np.array([9 / 40] + 3 * [(155 - 15**0.5) / 1200, (155 + 15**0.5) / 1200])


def half_stiffness(mesh: SectorMesh, E: float, nu: float, support: float) -> csc_matrix:
    """Stiffness (3 half, 3 half) N/m of the half sector theta >= 0, unknown 3 k + c for direction c of node k, with
    springs to the ground at all nodes that come to `support` (N/m) in each direction for the whole sector."""
    skfem = library("skfem")
    elasticity = library("skfem.models.elasticity")
    tets = mesh.tets[: len(mesh.tets) // 2]
    corners = np.unique(tets[:, :4])
    number = np.full(mesh.half, -1, dtype=np.int64)
    number[corners] = np.arange(len(corners))
    body = skfem.MeshTet(np.ascontiguousarray(mesh.points[corners].T), np.ascontiguousarray(number[tets[:, :4]].T))
    if mesh.order == 1:
        basis = skfem.Basis(body, skfem.ElementVector(skfem.ElementTetP1()))
        dofs = basis.nodal_dofs
    else:
        edges = np.sort(body.edges, axis=0)
        key = edges[0] * len(corners) + edges[1]
        by_key = np.argsort(key)
        for k, (a, b) in enumerate(EDGES_OF_TET):
            low, high = np.sort(number[tets[:, [a, b]]], axis=1).T
            number[tets[:, 4 + k]] = len(corners) + by_key[np.searchsorted(key[by_key], low * len(corners) + high)]
        places = np.zeros((3, mesh.half))
        places[:, number] = mesh.points[: mesh.half].T
        curved = skfem.MeshTet2(places, body.t)
        basis = skfem.Basis(curved, skfem.ElementVector(skfem.ElementTetP2()), intorder=4)
        dofs = np.hstack([basis.nodal_dofs, basis.edge_dofs])
    K = elasticity.linear_elasticity(*elasticity.lame_parameters(E, nu)).assemble(basis)
    order = dofs[:, number].T.reshape(-1)
    springs = np.where(mesh.image == np.arange(mesh.half), 0.5, 1.0)  # the mirror plane is shared by both halves
    K = K[order][:, order] + diags(np.repeat(support / len(mesh.points) * springs, 3))
    return csc_matrix(0.5 * (K + K.T))


def sector_stiffness(mesh: SectorMesh, K: csc_matrix) -> csc_matrix:
    """Stiffness (3 N, 3 N) of the whole sector: that of the half sector, `K`, and its mirror image."""
    half = coo_matrix(K)
    flip = np.tile([1.0, -1.0, 1.0], mesh.half)
    there = (3 * mesh.image[:, None] + np.arange(3)).reshape(-1)
    rows, columns = np.append(half.row, there[half.row]), np.append(half.col, there[half.col])
    values = np.append(half.data, half.data * flip[half.row] * flip[half.col])
    return csc_matrix(coo_matrix((values, (rows, columns)), shape=2 * (3 * len(mesh.points),)))


def _shapes(order: int) -> tuple[Floats, Floats]:
    """Shape functions (points, nodes) of the triangle and their derivatives (points, nodes, 2)."""
    a, b, c = _POINTS.T
    if order == 1:
        slope = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
        return _POINTS, np.broadcast_to(slope, (len(a), 3, 2))
    zero = np.zeros_like(a)
    values = [a * (2 * a - 1), b * (2 * b - 1), c * (2 * c - 1), 4 * a * b, 4 * b * c, 4 * c * a]
    by_b = [1 - 4 * a, 4 * b - 1, zero, 4 * (a - b), 4 * c, -4 * c]
    by_c = [1 - 4 * a, zero, 4 * c - 1, -4 * b, 4 * b, 4 * (a - c)]
    return np.array(values).T, np.stack([np.array(by_b).T, np.array(by_c).T], axis=-1)


def ports(
    mesh: SectorMesh, flange: Flange, bolts: RingBolts, facing: Facing, radial: int, circumferential: int
) -> tuple[Floats, Patches]:
    """Unit loads (3 N, 3 + G) of the ports of `Condensed` on one flange, all towards the other flange (-z), and the
    patches with the areas that the bolt hole leaves of them. Raises `ValueError` when the mesh misses the bearing
    face."""
    assert isinstance(flange.end, BearingFace)
    n, r_bolt, near = bolts.count, bolts.bolt_circle / 2, 1e-6 * flange.outside_diameter
    patches = sector_patches(n, facing.inside_diameter, facing.outside_diameter, radial, circumferential)
    corners = mesh.points[mesh.skin[:, :3]]
    level = corners[:, :, 2]
    middle = corners.mean(axis=1)
    from_axis = np.hypot(middle[:, 0] - r_bolt, middle[:, 1])
    on_back = (np.abs(level - flange.back) < near).all(axis=1) & (from_axis < flange.end.d_w / 2)
    on_face = (np.abs(level) < near).all(axis=1)
    r, angle = np.hypot(middle[:, 0], middle[:, 1]), np.arctan2(middle[:, 1], middle[:, 0])
    ring = np.searchsorted(np.linspace(facing.inside_diameter / 2, facing.outside_diameter / 2, radial + 1), r) - 1
    part = np.floor((angle + pi / n) / (2 * pi / n) * circumferential).astype(int)
    on_face &= (ring >= 0) & (ring < radial)

    shape, slope = _shapes(mesh.order)
    places = mesh.points[mesh.skin]
    points = np.einsum("qa,tac->tqc", shape, places)
    tangents = np.einsum("qad,tac->tqdc", slope, places)
    area = 0.5 * np.linalg.norm(np.cross(tangents[:, :, 0], tangents[:, :, 1]), axis=-1) * _WEIGHTS

    def load(where: NDArray[np.bool_], density: Floats) -> Floats:
        vector = np.zeros(3 * len(mesh.points))
        weight = np.einsum("qa,tq,tq->ta", shape, density[where], area[where])
        np.add.at(vector, 3 * mesh.skin[where] + 2, -weight)
        return vector

    out, round_ = points[:, :, 0] - r_bolt, points[:, :, 1]
    columns = []
    for lever in (np.ones_like(out), out, round_):
        size = float((area * lever**2)[on_back].sum())
        columns.append(load(on_back, lever / size) if size > 0.0 else np.zeros(3 * len(mesh.points)))
    found, wanted = float(area[on_back].sum()), pi / 4 * (flange.end.d_w**2 - flange.end.d_h**2)
    if abs(found / wanted - 1.0) > (0.01 if mesh.order == 2 else 0.1):  # linear elements make a polygon of the circle
        raise ValueError(
            f"The mesh has {found * 1e6:.1f} mm2 of the bearing face's {wanted * 1e6:.1f} mm2: the elements are too "
            "large for it. Take a smaller size_factor."
        )
    areas = np.zeros(patches.count)
    for g in range(patches.count):
        here = on_face & (ring == g // circumferential) & (part == g % circumferential)
        areas[g] = area[here].sum()
        columns.append(load(here, np.full_like(out, 1.0 / areas[g] if areas[g] > 0.0 else 0.0)))
    return np.array(columns).T, replace(patches, areas=areas)
