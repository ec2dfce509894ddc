"""Stiffness of a cross-section for every harmonic: K_H = K_0 + H K_1 + H^2 K_2.

Displacements u_r, u_z ~ exp(i H theta), u_theta ~ exp(i H theta)/i, linear elastic, isotropic. Energy per radian.
Source: O. C. Zienkiewicz, R. L. Taylor, The Finite Element Method, semi-analytical finite element processes (from
memory, not re-read).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import reverse_cuthill_mckee

from evenpull.ring.flange.mesh import Mesh

Floats = NDArray[np.float64]

_GAUSS = np.polynomial.legendre.leggauss(3)
_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)


def shape_functions(xi: float, eta: float) -> tuple[Floats, Floats]:
    """Values (8,) and derivatives (2, 8) of the serendipity functions at one point of the parent square."""
    values = np.empty(8)
    slopes = np.empty((2, 8))
    for node, (a, b) in enumerate(_CORNERS):
        values[node] = 0.25 * (1 + a * xi) * (1 + b * eta) * (a * xi + b * eta - 1)
        slopes[0, node] = 0.25 * a * (1 + b * eta) * (2 * a * xi + b * eta)
        slopes[1, node] = 0.25 * b * (1 + a * xi) * (2 * b * eta + a * xi)
    for node, b in ((4, -1.0), (6, 1.0)):
        values[node] = 0.5 * (1 - xi**2) * (1 + b * eta)
        slopes[:, node] = -xi * (1 + b * eta), 0.5 * b * (1 - xi**2)
    for node, a in ((5, 1.0), (7, -1.0)):
        values[node] = 0.5 * (1 + a * xi) * (1 - eta**2)
        slopes[:, node] = 0.5 * a * (1 - eta**2), -eta * (1 + a * xi)
    return values, slopes


@dataclass(frozen=True, slots=True)
class SectionStiffness:
    """Three matrices in banded form, dofs (u_r, u_z, u_theta) of each node, nodes numbered for a narrow band.

    `parts` (3, bandwidth + 1, 3 N) upper form as LAPACK's banded Cholesky takes it; `support` (3 N,) the weak support
    on the diagonal; `number` (N,) place of each mesh node.
    """

    parts: Floats
    support: Floats
    number: NDArray[np.int64]

    def at(self, H: int) -> Floats:
        """K_H in upper banded form, weak support included where the section could move as a whole (H = 0 and 1)."""
        K: Floats = self.parts[0] + H * self.parts[1] + H**2 * self.parts[2]
        if H <= 1:
            K[-1] += self.support
        return K


def section_stiffness(
    mesh: Mesh, E: float, nu: float, left: Callable[[Floats, Floats], Floats]
) -> SectionStiffness:
    """`left(r, z)` (M,) to (M, 6) gives what the holes leave of the stiffness against each strain (r, z, theta, rz,
    r theta, theta z) at those points; 1 in solid material."""
    coordinates = mesh.nodes[mesh.elements]
    blocks = np.zeros((3, len(coordinates), 24, 24))
    mass = np.zeros((len(coordinates), 8))
    for xi, weight_xi in zip(*_GAUSS, strict=True):
        for eta, weight_eta in zip(*_GAUSS, strict=True):
            N, dN = shape_functions(xi, eta)
            jacobian = np.einsum("an,mnx->max", dN, coordinates)
            det = np.linalg.det(jacobian)
            gradient = np.linalg.solve(jacobian, np.broadcast_to(dN, (len(coordinates), 2, 8)))
            r, z = coordinates[:, :, 0] @ N, coordinates[:, :, 1] @ N
            B0, B1 = _strains(N, gradient, r)
            D = _elastic(E, nu, left(r, z))
            weight = weight_xi * weight_eta * det * r
            DB0, DB1 = D @ B0, D @ B1
            scaled0, scaled1 = B0 * weight[:, None, None], B1 * weight[:, None, None]
            blocks[0] += scaled0.transpose(0, 2, 1) @ DB0
            cross = scaled0.transpose(0, 2, 1) @ DB1
            blocks[1] += cross + cross.transpose(0, 2, 1)
            blocks[2] += scaled1.transpose(0, 2, 1) @ DB1
            mass += weight[:, None] * np.abs(N)[None, :]
    return _banded(mesh, blocks, mass, E)


def _strains(N: Floats, gradient: Floats, r: Floats) -> tuple[Floats, Floats]:
    """Strains (eps_r, eps_z, eps_theta, gamma_rz, gamma_rtheta, gamma_thetaz) of the 24 dofs: B0 + H B1."""
    B0 = np.zeros((len(r), 6, 24))
    B1 = np.zeros((len(r), 6, 24))
    over_r = N[None, :] / r[:, None]
    u, w, v = slice(0, 24, 3), slice(1, 24, 3), slice(2, 24, 3)
    B0[:, 0, u] = gradient[:, 0]
    B0[:, 1, w] = gradient[:, 1]
    B0[:, 2, u] = over_r
    B0[:, 3, u] = gradient[:, 1]
    B0[:, 3, w] = gradient[:, 0]
    B0[:, 4, v] = gradient[:, 0] - over_r
    B0[:, 5, v] = gradient[:, 1]
    B1[:, 2, v] = over_r
    B1[:, 4, u] = -over_r
    B1[:, 5, w] = -over_r
    return B0, B1


def _elastic(E: float, nu: float, left: Floats) -> Floats:
    """(M, 6, 6): isotropic; what the holes leave, (M, 6), softens it symmetrically."""
    lame, G = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    D = np.zeros((6, 6))
    D[:3, :3] = lame
    D[:3, :3] += 2 * G * np.eye(3)
    D[3:, 3:] = G * np.eye(3)
    root = np.sqrt(left)
    return np.asarray(root[:, :, None] * D[None] * root[:, None, :])


def _banded(mesh: Mesh, blocks: Floats, mass: Floats, E: float) -> SectionStiffness:
    count = len(mesh.nodes)
    elements = mesh.elements
    rows, columns = np.repeat(elements, 8, axis=1), np.tile(elements, (1, 8))
    graph = csr_matrix((np.ones(rows.size), (rows.ravel(), columns.ravel())), shape=(count, count))
    order = reverse_cuthill_mckee(graph, symmetric_mode=True)
    number = np.empty(count, dtype=np.int64)
    number[order] = np.arange(count)
    dofs = (3 * number[elements][:, :, None] + np.arange(3)).reshape(len(elements), 24)
    row, column = np.repeat(dofs, 24, axis=1).ravel(), np.tile(dofs, (1, 24)).ravel()
    upper = column >= row
    row, column = row[upper], column[upper]
    width = int((column - row).max())
    size = 3 * count
    parts = np.empty((3, width + 1, size))
    for part in range(3):
        values = blocks[part].reshape(-1)[upper]
        parts[part] = coo_matrix((values, (width + row - column, column)), shape=(width + 1, size)).toarray()
    weight = np.zeros(count)
    np.add.at(weight, number[elements], mass)
    extent = float(np.ptp(mesh.nodes, axis=0).max())
    support = np.repeat(weight, 3) * (1e-6 * E / extent**2)
    return SectionStiffness(parts, support, number)
