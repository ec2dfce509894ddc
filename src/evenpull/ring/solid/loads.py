"""Unit loads of the ports on a sector mesh, consistent with its shape functions."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.special import roots_jacobi

from evenpull.ring.case import BearingFace, Facing, Flange, RingBolts, TappedHole
from evenpull.ring.condensed import Patches, sector_patches
from evenpull.ring.solid.sector import EDGES_OF_TET, Floats, Ints, SectorMesh

# Seven points of degree 5 on the triangle (J. Radon, 1948; in every finite element textbook): barycentric, weight
_A, _B = (6 - 15**0.5) / 21, (6 + 15**0.5) / 21
_POINTS = np.array(
    [(1 / 3, 1 / 3, 1 / 3)]
    + [(1 - 2 * a, a, a) for a in (_A, _B)]
    + [(a, 1 - 2 * a, a) for a in (_A, _B)]
    + [(a, a, 1 - 2 * a) for a in (_A, _B)]
)
_WEIGHTS = np.array([9 / 40] + 3 * [(155 - 15**0.5) / 1200, (155 + 15**0.5) / 1200])
_ALONG = 4  # points in each direction of a tetrahedron


def ports(
    mesh: SectorMesh, flange: Flange, bolts: RingBolts, facing: Facing, radial: int, circumferential: int
) -> tuple[Floats, Patches]:
    """Unit loads (3 N, 3 + G) of the ports of `Condensed` on one flange, all towards the other flange (-z), and the
    patches with the areas that the bolt hole leaves of them.

    A bolt presses on its bearing face, or pulls at the volume of its engaged thread. Raises `ValueError` when the mesh
    misses either."""
    patches = sector_patches(bolts.count, facing.inside_diameter, facing.outside_diameter, radial, circumferential)
    places, shape, area = _surface(mesh)
    middle = mesh.points[mesh.skin[:, :3]].mean(axis=1)
    end, r_bolt = flange.end, bolts.bolt_circle / 2
    if isinstance(end, BearingFace):
        pressed = _level(mesh, flange, flange.back) & (np.hypot(middle[:, 0] - r_bolt, middle[:, 1]) < end.d_w / 2)
        columns = _bolt(mesh, mesh.skin[pressed], places[pressed], shape, area[pressed], r_bolt)
        _found(mesh, "bearing face", float(area[pressed].sum()), pi / 4 * (end.d_w**2 - end.d_h**2))
    else:
        engaged = _engaged(mesh, end, r_bolt)
        places_of_tets, shape_of_tets, volume = _volume(mesh, engaged)
        columns = _bolt(mesh, mesh.tets[engaged], places_of_tets, shape_of_tets, volume, r_bolt)
        _found(mesh, "engaged thread", float(volume.sum()), pi / 4 * end.d**2 * end.engagement)
    areas = np.zeros(patches.count)
    number = np.where(_level(mesh, flange, 0.0), _patch(middle, bolts.count, patches), -1)
    for g in range(patches.count):
        here = number == g
        areas[g] = area[here].sum()
        share = area[here] / areas[g] if areas[g] > 0.0 else area[here]
        columns.append(_downwards(mesh, mesh.skin[here], shape, share))
    return np.array(columns).T, replace(patches, areas=areas)


def _level(mesh: SectorMesh, flange: Flange, z: float) -> NDArray[np.bool_]:
    """(T,): which triangles of the skin lie in the plane z."""
    heights = mesh.points[mesh.skin[:, :3], 2]
    return np.asarray((np.abs(heights - z) < 1e-6 * flange.outside_diameter).all(axis=1))


def _patch(middle: Floats, n: int, patches: Patches) -> Ints:
    """(T,): number of the patch below each middle of a triangle, -1 beside the gasket."""
    r, angle = np.hypot(middle[:, 0], middle[:, 1]), np.arctan2(middle[:, 1], middle[:, 0])
    ring = np.searchsorted(patches.edges, r) - 1
    part = np.floor((angle + pi / n) / (2 * pi / n) * patches.circumferential).astype(np.int64)
    return np.where((ring >= 0) & (ring < patches.radial), ring * patches.circumferential + part, -1)


def _engaged(mesh: SectorMesh, end: TappedHole, r_bolt: float) -> NDArray[np.bool_]:
    """(M,): which tetrahedra lie in the engaged thread."""
    x, y, z = mesh.points[mesh.tets[:, :4]].mean(axis=1).T
    along = (z > end.depth) & (z < end.depth + end.engagement)
    return np.asarray(along & (np.hypot(x - r_bolt, y) < end.d / 2))


def _bolt(
    mesh: SectorMesh, elements: Ints, places: Floats, shape: Floats, measure: Floats, r_bolt: float
) -> list[Floats]:
    """Unit axial load, then the two unit moments with a density that grows with the distance from the bolt axis."""
    out, across = places[:, :, 0] - r_bolt, places[:, :, 1]
    columns = []
    for lever in (np.ones_like(out), out, across):
        size = float((measure * lever**2).sum())
        columns.append(_downwards(mesh, elements, shape, measure * lever / size if size > 0.0 else measure))
    return columns


def _downwards(mesh: SectorMesh, elements: Ints, shape: Floats, force: Floats) -> Floats:
    """(3 N,): nodal loads of the forces (elements, points) towards -z."""
    vector = np.zeros(3 * len(mesh.points))
    np.add.at(vector, 3 * elements + 2, -np.einsum("qa,eq->ea", shape, force))
    return vector


def _found(mesh: SectorMesh, what: str, found: float, wanted: float) -> None:
    if abs(found / wanted - 1.0) > (0.01 if mesh.order == 2 else 0.1):  # linear elements make a polygon of the circle
        raise ValueError(
            f"The mesh has {found / wanted:.1%} of the {what}. Either a part of it lies outside the flange (a thread "
            "beside a raised face begins at least its height below the contact face), or the elements are too "
            "large for it: take a smaller size_factor."
        )


def _surface(mesh: SectorMesh) -> tuple[Floats, Floats, Floats]:
    """Integration points (T, Q, 3) of the skin, shape functions (Q, nodes) and areas (T, Q) there."""
    a, b, c = _POINTS.T
    zero = np.zeros_like(a)
    if mesh.order == 1:
        shape = _POINTS
        slope = np.broadcast_to(np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]]), (len(a), 3, 2))
    else:
        shape = np.array([a * (2 * a - 1), b * (2 * b - 1), c * (2 * c - 1), 4 * a * b, 4 * b * c, 4 * c * a]).T
        by_b = [1 - 4 * a, 4 * b - 1, zero, 4 * (a - b), 4 * c, -4 * c]
        by_c = [1 - 4 * a, zero, 4 * c - 1, -4 * b, 4 * b, 4 * (a - c)]
        slope = np.stack([np.array(by_b).T, np.array(by_c).T], axis=-1)
    nodes = mesh.points[mesh.skin]
    tangents = np.einsum("qad,tac->tqdc", slope, nodes)
    normal = np.cross(tangents[:, :, 0], tangents[:, :, 1])
    return np.einsum("qa,tac->tqc", shape, nodes), shape, 0.5 * np.linalg.norm(normal, axis=-1) * _WEIGHTS


def _volume(mesh: SectorMesh, where: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats]:
    """Integration points (E, Q, 3) of some tetrahedra, shape functions (Q, nodes) and volumes (E, Q) there.

    Gauss-Jacobi points in collapsed coordinates (A. H. Stroud, Approximate Calculation of Multiple Integrals, 1971)."""
    axes = [roots_jacobi(_ALONG, power, 0) for power in (2, 1, 0)]
    (u, wu), (v, wv), (w, ww) = [((1 + x) / 2, weight / 2 ** (3 - k)) for k, (x, weight) in enumerate(axes)]
    grid = np.meshgrid(u, v, w, indexing="ij")
    U, V, W = (g.reshape(-1) for g in grid)
    weight = (wu[:, None, None] * wv[None, :, None] * ww).reshape(-1)
    b, c, d = U, V * (1 - U), W * (1 - U) * (1 - V)
    corner = np.array([1 - b - c - d, b, c, d])
    slope = np.array([[-1.0, -1.0, -1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    if mesh.order == 1:
        shape, slopes = corner, np.repeat(slope[:, None, :], len(U), axis=1)
    else:
        first, second = np.array(EDGES_OF_TET).T
        shape = np.vstack([corner * (2 * corner - 1), 4 * corner[first] * corner[second]])
        at_corners = (4 * corner - 1)[:, :, None] * slope[:, None, :]
        at_edges = corner[first][:, :, None] * slope[second][:, None, :]
        at_edges = 4 * (at_edges + corner[second][:, :, None] * slope[first][:, None, :])
        slopes = np.concatenate([at_corners, at_edges])
    nodes = mesh.points[mesh.tets[where]]
    jacobian = np.einsum("aqd,eac->eqdc", slopes, nodes)
    return np.einsum("aq,eac->eqc", shape, nodes), shape.T, np.abs(np.linalg.det(jacobian)) * weight
