"""Mesh of one sector of one flange with its bolt hole: quadratic tetrahedra, symmetric about the bolt's plane.

Only the half sector 0 <= theta <= pi/n is meshed; its mirror image makes the other half. The two cut planes therefore
carry the same nodes, turned by 2 pi/n, and the whole ring has the full symmetry of n bolts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, pi, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import BearingFace, Facing, Flange, RingBolts, TappedHole
from evenpull.ring.solid.extra import library

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# gmsh's second-order tetrahedron: the edge of each of the nodes 5 to 10 (gmsh reference manual, node ordering)
EDGES_OF_TET = ((0, 1), (1, 2), (0, 2), (0, 3), (2, 3), (1, 3))
TET, TRIANGLE = {1: 4, 2: 11}, {1: 2, 2: 9}  # gmsh's element types by order
FINENESS = 0.8  # makes about 20,000 unknowns of an ordinary flange

MIRROR_OF_TET = [0, 2, 1, 3, 6, 5, 4, 7, 9, 8]
MIRROR_OF_TRIANGLE = [0, 2, 1, 5, 4, 3]


@dataclass(frozen=True, slots=True)
class SectorMesh:
    """`points` (N, 3) m; `tets` (M, 4 or 10) and `skin` (T, 3 or 6) node numbers in gmsh's order, `skin` being the
    triangles on the surface of the flange and of an engaged thread (not on the cut planes); `master` and `slave` (P,)
    the nodes of the planes theta = -pi/n and +pi/n, in the same order.

    The first `half` nodes and the first M/2 tetrahedra are those of theta >= 0; `image` (half,) is the mirror image of
    each of these nodes, itself on the plane theta = 0."""

    points: Floats
    tets: Ints
    skin: Ints
    master: Ints
    slave: Ints
    image: Ints
    order: int

    @property
    def half(self) -> int:
        return len(self.image)


def section(flange: Flange) -> list[tuple[float, float]]:
    """Corners (r, z) of the flange's cross-section, counterclockwise, m."""
    inner, outer, face, back = flange.bore / 2, flange.outside_diameter / 2, flange.face_height, flange.back
    corners = [(inner, face)]
    if flange.raised_face is not None:
        inside = flange.raised_face.inside_diameter
        start = inner if inside is None else inside / 2
        end = flange.raised_face.outside_diameter / 2
        corners += [(start, face), (start, 0.0), (end, 0.0), (end, face)]
        if start == inner:
            corners = corners[2:]
    corners += [(outer, face), (outer, back)]
    neck = flange.neck
    if neck is None:
        return [*_once(corners), (inner, back)]
    end_of_taper, end_of_pipe = back + neck.length, back + neck.length + neck.pipe_length
    first = neck.at_back if neck.length > 0.0 else neck.wall
    if neck.side == "inside":
        corners += [(inner + first, back), (inner + neck.wall, end_of_taper), (inner + neck.wall, end_of_pipe)]
        return _once([*corners, (inner, end_of_pipe)])
    corners += [(outer, end_of_pipe), (outer - neck.wall, end_of_pipe), (outer - neck.wall, end_of_taper)]
    return _once([*corners, (outer - first, back), (inner, back)])


def _once(corners: list[tuple[float, float]]) -> list[tuple[float, float]]:
    kept = corners[:1]
    for corner in corners[1:]:
        if hypot(corner[0] - kept[-1][0], corner[1] - kept[-1][1]) > 1e-9:
            kept.append(corner)
    return kept


def width_of(end: BearingFace | TappedHole) -> float:
    """Diameter (m) over which a bolt hands its load to the flange."""
    return end.d_w if isinstance(end, BearingFace) else end.d


def element_size(
    flange: Flange, bolts: RingBolts, facing: Facing, radial: int, circumferential: int, size_factor: float
) -> Callable[[float, float, float], float]:
    """Wanted edge length (m) at a point: fine round the hole and under the bearing face, patches and walls resolved."""
    n, r_bolt, width = bolts.count, bolts.bolt_circle / 2, width_of(flange.end)
    at_hole = 0.25 * width if isinstance(flange.end, TappedHole) else min(0.25 * width, 0.8 * (width - flange.end.d_h))
    inside, outside = facing.inside_diameter / 2, facing.outside_diameter / 2
    patch = max((outside - inside) / radial, 2 * pi * inside / n / circumferential)
    coarse = 0.55 * flange.thickness
    wall = None if flange.neck is None else flange.neck.wall

    def size(x: float, y: float, z: float) -> float:
        wanted = min(coarse, at_hole + 0.4 * max(0.0, hypot(x - r_bolt, y) - width / 2))
        r = hypot(x, y)
        beside = max(0.0, inside - r, r - outside)
        wanted = min(wanted, 1.1 * patch + 0.4 * hypot(beside, z))
        if wall is not None and z > flange.back:
            wanted = min(coarse, 2.0 * wall)
        return FINENESS * wanted * size_factor

    return size


def _shape(occ: Any, flange: Flange, bolts: RingBolts, facing: Facing, radial: int, circumferential: int) -> None:
    """Half sector with hole or thread, bearing face and gasket patches drawn on it (gmsh's OpenCASCADE kernel)."""
    half, r_bolt, back = pi / bolts.count, bolts.bolt_circle / 2, flange.back
    corners = [occ.addPoint(r, 0.0, z) for r, z in section(flange)]
    lines = [occ.addLine(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    face = occ.addPlaneSurface([occ.addCurveLoop(lines)])
    body = [entity for entity in occ.revolve([(2, face)], 0, 0, 0, 0, 0, 1, half) if entity[0] == 3]
    end, below = flange.end, flange.thickness
    if isinstance(end, BearingFace):
        hole = occ.addCylinder(r_bolt, 0, -below, 0, 0, below + back + below, end.d_h / 2)
        body, _ = occ.cut(body, [(3, hole)])
        marks = [(2, occ.addDisk(r_bolt, 0, back, end.d_w / 2, end.d_w / 2))]
    else:
        if end.depth > 0.0:
            body, _ = occ.cut(body, [(3, occ.addCylinder(r_bolt, 0, -below, 0, 0, below + end.depth, end.d / 2))])
        thread = occ.addCylinder(r_bolt, 0, end.depth, 0, 0, end.engagement, end.d / 2)
        marks, _ = occ.intersect([(3, thread)], body, removeTool=False)
    edges = np.linspace(facing.inside_diameter / 2, facing.outside_diameter / 2, radial + 1)
    halves = circumferential / 2
    angles = np.unique(np.maximum(0.0, half * (np.arange(circumferential + 1) - halves) / halves))
    for start, end in pairwise(angles):
        for inside, outside in pairwise(edges):
            line = occ.addLine(
                occ.addPoint(inside * cos(start), inside * sin(start), 0.0),
                occ.addPoint(outside * cos(start), outside * sin(start), 0.0),
            )
            marks += [e for e in occ.revolve([(1, line)], 0, 0, 0, 0, 0, 1, end - start) if e[0] == 2]
    pieces, _ = occ.fragment(body, marks)
    solids = [piece for piece in pieces if piece[0] == 3]
    occ.synchronize()
    skin = {tag for _, tag in library("gmsh").model.getBoundary(solids, combined=False, oriented=False)}
    occ.remove([piece for piece in occ.getEntities(2) if piece[1] not in skin], recursive=True)
    occ.synchronize()


def _half(
    flange: Flange, bolts: RingBolts, facing: Facing, radial: int, circumferential: int, size_factor: float, order: int
) -> tuple[Floats, Ints, Ints]:
    gmsh = library("gmsh")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)  # the same mesh on every machine
        gmsh.option.setNumber("Mesh.MeshSizeFromPoints", 0)
        gmsh.option.setNumber("Mesh.MeshSizeExtendFromBoundary", 0)
        gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", 0)
        gmsh.option.setNumber("Mesh.RandomSeed", 1)
        gmsh.model.add("half sector")
        _shape(gmsh.model.occ, flange, bolts, facing, radial, circumferential)
        size = element_size(flange, bolts, facing, radial, circumferential, size_factor)
        gmsh.model.mesh.setSizeCallback(lambda _dim, _tag, x, y, z, _size: size(x, y, z))
        gmsh.model.mesh.generate(3)
        gmsh.model.mesh.optimize("Netgen")
        gmsh.model.mesh.setOrder(order)
        numbers, coordinates, _ = gmsh.model.mesh.getNodes()
        tets = gmsh.model.mesh.getElementsByType(TET[order])[1].reshape(-1, 4 if order == 1 else 10)
        triangles = gmsh.model.mesh.getElementsByType(TRIANGLE[order])[1].reshape(-1, 3 if order == 1 else 6)
    finally:
        gmsh.finalize()
    used = np.unique(tets)
    new = np.full(int(numbers.max()) + 1, -1, dtype=np.int64)
    new[used.astype(np.int64)] = np.arange(len(used))
    where = np.zeros((int(numbers.max()) + 1, 3))
    where[numbers.astype(np.int64)] = coordinates.reshape(-1, 3)
    return where[used.astype(np.int64)], new[tets.astype(np.int64)], new[triangles.astype(np.int64)]


def mesh_sector(
    flange: Flange,
    bolts: RingBolts,
    facing: Facing,
    *,
    radial: int = 3,
    circumferential: int = 8,
    size_factor: float = 1.0,
    order: int = 2,
) -> SectorMesh:
    """Sector -pi/n <= theta <= pi/n of `flange` about the bolt on theta = 0. The edges of the bearing face and of the
    radial x circumferential gasket patches are edges of the mesh."""
    half = pi / bolts.count
    points, tets, triangles = _half(flange, bolts, facing, radial, circumferential, size_factor, order)
    near = 1e-7 * flange.outside_diameter
    on_mirror = np.abs(points[:, 1]) < near
    on_cut = np.abs(points[:, 0] * sin(half) - points[:, 1] * cos(half)) < near
    points[on_mirror, 1] = 0.0
    number = len(points)
    image = np.arange(number)
    image[~on_mirror] = number + np.arange(int((~on_mirror).sum()))
    flat = on_mirror[triangles].all(axis=1) | on_cut[triangles].all(axis=1)
    skin = triangles[~flat]
    width = 4 if order == 1 else 10
    corners = 3 if order == 1 else 6
    return SectorMesh(
        points=np.vstack([points, points[~on_mirror] * [1.0, -1.0, 1.0]]),
        tets=np.vstack([tets, image[tets][:, [i for i in MIRROR_OF_TET if i < width]]]),
        skin=np.vstack([skin, image[skin][:, [i for i in MIRROR_OF_TRIANGLE if i < corners]]]),
        master=image[np.flatnonzero(on_cut)],
        slave=np.flatnonzero(on_cut),
        image=image,
        order=order,
    )
