"""Stiffness of a sector mesh (scikit-fem; linear elasticity, isoparametric tetrahedra)."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix, diags

from evenpull.ring.solid.extra import library
from evenpull.ring.solid.sector import EDGES_OF_TET, SectorMesh


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
