"""Axial loads on the section, harmonic by harmonic: bolts on their bearing faces or in their threads, gasket rings.

A load s(r, theta) per newton is written as the sum over all whole H of s_H(r) exp(i H theta). Bolts stand at theta = 0;
their axial and radial-tilt loads have real s_H, the tangential tilt has s_H = -i b_H(r) with b_H odd in H.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import BearingFace, Flange, TappedHole
from evenpull.ring.flange.elements import SectionStiffness, shape_functions
from evenpull.ring.flange.mesh import Mesh

Floats = NDArray[np.float64]

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(8)


def half_angle(r: Floats, r_b: float, radius: float) -> Floats:
    """Angle (rad) at which a circle of `radius` about the point (r_b, 0) is left at the radius r; 0 outside it."""
    return np.arccos(np.clip((r**2 + r_b**2 - radius**2) / (2 * r * r_b), -1.0, 1.0))


def _sine(H: int, angle: Floats) -> Floats:
    """Integral of cos(H t) from -angle to angle."""
    return 2 * angle if H == 0 else 2 * np.sin(H * angle) / H


def disc_harmonic(H: int, r: Floats, r_b: float, radius: float) -> Floats:
    """(3, ...): integrals over a disc's arc at radius r of 1, x and y, times cos, cos and sin of H theta, where
    x = r cos(theta) - r_b points outwards and y = r sin(theta) round the ring."""
    angle = half_angle(r, r_b, radius)
    plain = _sine(H, angle)
    outwards = 0.5 * r * (_sine(abs(H - 1), angle) + _sine(H + 1, angle)) - r_b * plain
    around = 0.5 * r * (_sine(abs(H - 1), angle) - _sine(H + 1, angle))
    return np.stack([plain, outwards, around])


class SectionLoads:
    """Consistent nodal loads of the ports of one flange, columns (axial, tilt radial, tilt tangential, rings...)."""

    def __init__(self, mesh: Mesh, stiffness: SectionStiffness, flange: Flange, r_b: float, rings: Floats) -> None:
        self._size = 3 * len(mesh.nodes)
        self._r_b = r_b
        self._end = flange.end
        self._axial = 3 * stiffness.number + 1
        if isinstance(flange.end, BearingFace):
            self._points = _edge_points(mesh, mesh.edges_at(flange.back), r_b - flange.end.d_w / 2, r_b + flange.end.d_w / 2)
        else:
            self._points = _volume_points(mesh, flange.end, r_b)
        contact = mesh.edges_at(0.0)
        self._ring_columns = np.stack(
            [self._spread(*_edge_points(mesh, contact, low, high)) for low, high in zip(rings[:-1], rings[1:], strict=True)],
            axis=1,
        )

    def _spread(self, nodes: NDArray[np.int64], N: Floats, weight: Floats, r: Floats, profile: Floats | None = None) -> Floats:
        column = np.zeros(self._size)
        density = weight * r if profile is None else weight * r * profile
        np.add.at(column, self._axial[nodes], density[:, None] * N)
        return column

    def columns(self, H: int) -> Floats:
        """(3 N, 3 + rings) for harmonic H >= 0: s_H of each port, the tangential tilt as b_H; rings as pressure 1/(2 pi)."""
        nodes, N, weight, r = self._points
        end = self._end
        if isinstance(end, BearingFace):
            arcs = disc_harmonic(H, r, self._r_b, end.d_w / 2) - disc_harmonic(H, r, self._r_b, end.d_h / 2)
            area = np.pi / 4 * (end.d_w**2 - end.d_h**2)
            inertia = np.pi / 64 * (end.d_w**4 - end.d_h**4)
        else:
            arcs = disc_harmonic(H, r, self._r_b, end.d / 2)
            area = np.pi / 4 * end.d**2 * end.engagement
            inertia = np.pi / 64 * end.d**4 * end.engagement
        scales = np.array([1 / area, 1 / inertia, 1 / inertia]) / (2 * np.pi)
        bolt = [self._spread(nodes, N, weight, r, scale * arc) for scale, arc in zip(scales, arcs, strict=True)]
        return np.concatenate([np.stack(bolt, axis=1), self._ring_columns / (2 * np.pi)], axis=1)


def _edge_points(
    mesh: Mesh, sides: NDArray[np.int64], low: float, high: float
) -> tuple[NDArray[np.int64], Floats, Floats, Floats]:
    """Integration points on the sides between two radii: nodes (P, 3), shape values (P, 3), weights dr (P,), r (P,)."""
    ends = mesh.nodes[sides[:, :2], 0]
    inside = (ends[:, 0] > low - 1e-7) & (ends[:, 1] < high + 1e-7)
    sides, ends = sides[inside], ends[inside]
    N = np.stack([0.5 * _POINTS * (_POINTS - 1), 0.5 * _POINTS * (_POINTS + 1), 1 - _POINTS**2], axis=1)
    half = 0.5 * (ends[:, 1] - ends[:, 0])
    r = 0.5 * ends.sum(axis=1)[:, None] + half[:, None] * _POINTS[None, :]
    weight = half[:, None] * _WEIGHTS[None, :]
    count = len(_POINTS)
    return np.repeat(sides, count, axis=0), np.tile(N, (len(sides), 1)), weight.ravel(), r.ravel()


def _volume_points(mesh: Mesh, end: TappedHole, r_b: float) -> tuple[NDArray[np.int64], Floats, Floats, Floats]:
    """Integration points in the engaged thread: nodes (P, 8), shape values (P, 8), weights dr dz (P,), r (P,)."""
    corners = mesh.nodes[mesh.elements]
    middle = corners[:, :4].mean(axis=1)
    inside = (np.abs(middle[:, 0] - r_b) < end.d / 2) & (middle[:, 1] > end.depth) & (middle[:, 1] < end.depth + end.engagement)
    elements, corners = mesh.elements[inside], corners[inside]
    points, weights = np.polynomial.legendre.leggauss(5)
    found = []
    for xi, weight_xi in zip(points, weights, strict=True):
        for eta, weight_eta in zip(points, weights, strict=True):
            N, dN = shape_functions(xi, eta)
            det = np.linalg.det(np.einsum("an,mnx->max", dN, corners))
            found.append((elements, np.tile(N, (len(elements), 1)), weight_xi * weight_eta * det, corners[:, :, 0] @ N))
    nodes, N, weight, r = (np.concatenate([part[index] for part in found]) for index in range(4))
    return nodes, N, weight, r
