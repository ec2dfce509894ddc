"""Axial loads on the section, harmonic by harmonic: bolts on their bearing faces or in their threads, gasket rings.

A load s(r, theta) per newton is written as the sum over all whole H of s_H(r) exp(i H theta). Bolts stand at theta = 0;
their axial and radial-tilt loads have real s_H, the tangential tilt has s_H = -i b_H(r) with b_H odd in H.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from evenpull.ring.case import BearingFace, Flange, TappedHole
from evenpull.ring.condensed import AXIAL, PORTS_OF_BOLT, TILT_RADIAL, TILT_TANGENTIAL, Patches
from evenpull.ring.flange.elements import SectionStiffness, shape_functions
from evenpull.ring.flange.mesh import Mesh

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Points = tuple[Whole, Floats, Floats, Floats]  # nodes (P, K), shape values (P, K), weights dr or dr dz (P,), r (P,)

_SLIVER = 1e-6  # of the largest patch: less is none
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
    """Consistent nodal loads of the ports of one flange.

    Patches that no hole touches share one load for each of their rings, turned to their place; patches with a hole in
    them have their own.
    """

    def __init__(self, mesh: Mesh, stiffness: SectionStiffness, flange: Flange, r_b: float, patches: Patches) -> None:
        self._size = 3 * len(mesh.nodes)
        self._r_b = r_b
        self._end = flange.end
        self._axial = 3 * stiffness.number + 1
        if isinstance(flange.end, BearingFace):
            reach = flange.end.d_w / 2
            points = _edge_points(mesh, mesh.edges_at(flange.back), r_b - reach, r_b + reach)
        else:
            points = _volume_points(mesh, flange.end, r_b)
        self._r, self._bolt = points[3], self._spreading(points)
        contact = mesh.edges_at(0.0)
        self._ring_points = [_edge_points(mesh, contact, low, high) for low, high in pairwise(patches.edges)]
        hole = flange.end.d_h / 2 if isinstance(flange.end, BearingFace) else 0.0
        self._hole = hole if patches.edges[0] < r_b + hole and patches.edges[-1] > r_b - hole else 0.0
        self.patches = patches
        if self._hole > 0.0:
            areas = np.array(list(self._areas_left()))
            self.patches = replace(patches, areas=np.where(areas > _SLIVER * areas.max(), areas, 0.0))
        self._ring_loads = [self._spreading(points) / (2 * np.pi) for points in self._ring_points]

    def _areas_left(self) -> Iterator[float]:
        for number, angle in enumerate(self.patches.angles):
            ring = number // self.patches.circumferential
            _, _, weight, r = self._ring_points[ring]
            yield float(self._arcs(0, ring, np.array([angle]))[0, 0] @ (weight * r))

    def _arcs(self, H: int, ring: int, angles: Floats) -> Floats:
        """(2, C, P): integrals of cos and sin of H theta over what the hole leaves of the patches at these angles."""
        r = self._ring_points[ring][3]
        low, high = (angles[:, None] + sign * self.patches.half_width for sign in (-1, 1))
        gap = half_angle(r, self._r_b, self._hole)[None, :]
        right, left = np.clip(gap, low, high), np.clip(-gap, low, high)
        if H == 0:
            plain = left - low + high - right
            return np.stack([plain, np.zeros_like(plain)])
        sine = np.sin(H * left) - np.sin(H * low) + np.sin(H * high) - np.sin(H * right)
        cosine = np.cos(H * low) - np.cos(H * left) + np.cos(H * right) - np.cos(H * high)
        return np.stack([sine, cosine]) / H

    def _spreading(self, points: Points) -> csr_array:
        """(3 N, P): nodal loads of a density at the points."""
        nodes, N, weight, r = points
        columns = np.repeat(np.arange(len(r)), nodes.shape[1])
        values = ((weight * r)[:, None] * N).ravel()
        return csr_array((values, (self._axial[nodes].ravel(), columns)), shape=(self._size, len(r)))

    def columns(self, H: int) -> Floats:
        """Real load columns (3 N, K) of harmonic H >= 0; `ports` says how the ports are made of them."""
        end, r = self._end, self._r
        if isinstance(end, BearingFace):
            arcs = disc_harmonic(H, r, self._r_b, end.d_w / 2) - disc_harmonic(H, r, self._r_b, end.d_h / 2)
            area = np.pi / 4 * (end.d_w**2 - end.d_h**2)
            inertia = np.pi / 64 * (end.d_w**4 - end.d_h**4)
        else:
            arcs = disc_harmonic(H, r, self._r_b, end.d / 2)
            area = np.pi / 4 * end.d**2 * end.engagement
            inertia = np.pi / 64 * end.d**4 * end.engagement
        scales = np.array([1 / area, 1 / inertia, 1 / inertia]) / (2 * np.pi)
        bolt = self._bolt @ (scales[:, None] * arcs).T
        if self._hole == 0.0:
            return np.hstack([bolt, *(load.sum(axis=1)[:, None] for load in self._ring_loads)])
        own = [bolt]
        angles = self.patches.angles[: self.patches.circumferential]
        for ring, load in enumerate(self._ring_loads):
            both = self._arcs(H, ring, angles)
            own.append(load @ both.transpose(1, 0, 2).reshape(-1, both.shape[2]).T)
        return np.hstack(own)

    def ports(self, H: int) -> NDArray[np.complex128]:
        """(K, 3 + G): the ports' loads s_H per newton, H of either sign, out of the columns of |H|."""
        patches = self.patches
        sign = np.sign(H)
        own = 2 * patches.count if self._hole > 0.0 else patches.radial
        made = np.zeros((PORTS_OF_BOLT + own, PORTS_OF_BOLT + patches.count), dtype=complex)
        made[[AXIAL, TILT_RADIAL, TILT_TANGENTIAL], [AXIAL, TILT_RADIAL, TILT_TANGENTIAL]] = 1.0, 1.0, -1j * sign
        port = np.arange(patches.count)
        if self._hole > 0.0:
            # a patch that lies in the hole is no port: it neither presses nor moves
            per_area = np.divide(1.0, patches.areas, out=np.zeros(patches.count), where=patches.areas > 0.0)
            made[PORTS_OF_BOLT + 2 * port, PORTS_OF_BOLT + port] = per_area
            made[PORTS_OF_BOLT + 2 * port + 1, PORTS_OF_BOLT + port] = -1j * sign * per_area
        else:
            half = patches.half_width
            turned = 2 * half * np.sinc(H * half / np.pi) / patches.areas * np.exp(-1j * H * patches.angles)
            made[PORTS_OF_BOLT + port // patches.circumferential, PORTS_OF_BOLT + port] = turned
        return made


def _edge_points(mesh: Mesh, sides: Whole, low: float, high: float) -> Points:
    """Integration points on the sides between two radii."""
    ends = mesh.nodes[sides[:, :2], 0]
    inside = (ends[:, 0] > low - 1e-7) & (ends[:, 1] < high + 1e-7)
    sides, ends = sides[inside], ends[inside]
    N = np.stack([0.5 * _POINTS * (_POINTS - 1), 0.5 * _POINTS * (_POINTS + 1), 1 - _POINTS**2], axis=1)
    half = 0.5 * (ends[:, 1] - ends[:, 0])
    r = 0.5 * ends.sum(axis=1)[:, None] + half[:, None] * _POINTS[None, :]
    weight = half[:, None] * _WEIGHTS[None, :]
    count = len(_POINTS)
    return np.repeat(sides, count, axis=0), np.tile(N, (len(sides), 1)), weight.ravel(), r.ravel()


def _volume_points(mesh: Mesh, end: TappedHole, r_b: float) -> Points:
    """Integration points in the engaged thread."""
    corners = mesh.nodes[mesh.elements]
    middle = corners[:, :4].mean(axis=1)
    engaged = (middle[:, 1] > end.depth) & (middle[:, 1] < end.depth + end.engagement)
    inside = engaged & (np.abs(middle[:, 0] - r_b) < end.d / 2)
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
