"""The cross-section finite elements against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

from evenpull.ring.case import BearingFace, Flange, Neck, RaisedFace, TappedHole
from evenpull.ring.condensed import sector_patches
from evenpull.ring.flange.elements import SectionStiffness, section_stiffness
from evenpull.ring.flange.loads import SectionLoads, disc_harmonic
from evenpull.ring.flange.mesh import Mesh, section_mesh

E, NU = 205e9, 0.3


def solid(r: NDArray[np.float64], z: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.ones((len(r), 6))


def ring_of(bore: float, outside: float, thickness: float, size: float) -> tuple[Mesh, SectionStiffness]:
    flange = Flange(bore=bore, outside_diameter=outside, thickness=thickness, end=BearingFace(d_w=0.02, d_h=0.012))
    mesh = section_mesh(flange, (bore + outside) / 2, [], size)
    return mesh, section_stiffness(mesh, E, NU, solid)


def spread(mesh: Mesh, stiffness: SectionStiffness, nodes: NDArray[np.int64], component: int) -> NDArray[np.float64]:
    """Consistent load of one newton per metre (per radian: times r) along sides (K, 3) of one height or one radius."""
    load = np.zeros(3 * len(mesh.nodes))
    length = np.linalg.norm(mesh.nodes[nodes[:, 0]] - mesh.nodes[nodes[:, 1]], axis=1)
    for column, share in ((0, 1 / 6), (1, 1 / 6), (2, 4 / 6)):
        at = nodes[:, column]
        np.add.at(load, 3 * stiffness.number[at] + component, share * length * mesh.nodes[at, 0])
    return load


def inner_sides(mesh: Mesh, radius: float) -> NDArray[np.int64]:
    sides = mesh.elements[:, [3, 0, 7]]
    return sides[np.all(np.abs(mesh.nodes[sides, 0] - radius) < 1e-9, axis=1)]


def test_thick_cylinder_under_pressure() -> None:
    """Lame: u(r) = p a^2/(E (b^2 - a^2)) ((1 - nu) r + (1 + nu) b^2/r) with free ends (any textbook of strength)."""
    a, b, p = 0.1, 0.2, 1e6
    mesh, stiffness = ring_of(2 * a, 2 * b, 0.05, 0.01)
    load = p * spread(mesh, stiffness, inner_sides(mesh, a), 0)
    u = solveh_banded(stiffness.at(0), load)
    for radius in (a, b):
        node = np.argmin(np.hypot(mesh.nodes[:, 0] - radius, mesh.nodes[:, 1] - 0.025))
        r = mesh.nodes[node, 0]
        wanted = p * a**2 / (E * (b**2 - a**2)) * ((1 - NU) * r + (1 + NU) * b**2 / r)
        assert u[3 * stiffness.number[node]] == pytest.approx(wanted, rel=1e-4)


def test_slender_ring_turned_by_an_even_moment() -> None:
    """Rotation of a ring under m per length of its centre line: m R^2/(E I) (S. Timoshenko, Strength of Materials II,
    twisting of a circular ring; from memory, not re-read)."""
    R, h = 1.0, 0.04
    mesh, stiffness = ring_of(2 * R - h, 2 * R + h, h, h / 6)
    load = np.zeros(3 * len(mesh.nodes))
    top = mesh.edges_at(h)
    for column, share in ((0, 1 / 6), (1, 1 / 6), (2, 4 / 6)):  # axial pressure proportional to r - R on the back
        at = top[:, column]
        length = np.abs(mesh.nodes[top[:, 1], 0] - mesh.nodes[top[:, 0], 0])
        np.add.at(load, 3 * stiffness.number[at] + 1, share * length * (mesh.nodes[at, 0] - R) * mesh.nodes[at, 0])
    m = h**3 / 12  # moment per length of the centre line, to first order in h/R
    u = solveh_banded(stiffness.at(0), load)
    low, high = (np.argmin(np.hypot(mesh.nodes[:, 0] - R - s * h / 2, mesh.nodes[:, 1] - h / 2)) for s in (-1, 1))
    rotation = (u[3 * stiffness.number[high] + 1] - u[3 * stiffness.number[low] + 1]) / h
    assert rotation == pytest.approx(m * R**2 / (E * h**4 / 12), rel=0.01)


@pytest.mark.parametrize("H", [2, 3, 4])
def test_slender_ring_bent_out_of_its_plane(H: int) -> None:
    """Load q cos(H theta) along the axis. Curved beam with bending E I and torsion G J (S. Timoshenko, as above):
    E I (Phi + H^2 W) + G J H^2 (W + Phi) = 0 and E I H^2 (Phi + H^2 W) + G J H^2 (W + Phi) = q R^4, Phi = R phi."""
    R, h = 1.0, 0.03
    mesh, stiffness = ring_of(2 * R - h, 2 * R + h, h, h / 5)
    load = spread(mesh, stiffness, mesh.edges_at(h), 1) / h
    u = solveh_banded(stiffness.at(H), load)
    EI, GJ = E * h**4 / 12, E / (2 * (1 + NU)) * 0.1406 * h**4  # torsion of a square: Saint-Venant
    A = np.array([[EI + GJ * H**2, (EI + GJ) * H**2], [(EI + GJ) * H**2, EI * H**4 + GJ * H**2]])
    W = np.linalg.solve(A, [0.0, 1.0 * R**4])[1]
    node = np.argmin(np.hypot(mesh.nodes[:, 0] - R, mesh.nodes[:, 1] - h / 2))
    assert u[3 * stiffness.number[node] + 1] == pytest.approx(W, rel=0.02)


def test_moving_as_a_whole_costs_nothing() -> None:
    """Axial shift (H = 0), tilt and sideways shift (H = 1) strain nothing."""
    flange = Flange(
        bore=0.3, outside_diameter=0.5, thickness=0.03, end=BearingFace(d_w=0.04, d_h=0.024),
        raised_face=RaisedFace(outside_diameter=0.36, height=0.002),
        neck=Neck(at_back=0.02, wall=0.01, length=0.05, pipe_length=0.1),
    )  # fmt: skip
    mesh = section_mesh(flange, 0.43, [0.16, 0.17, 0.175], 0.006)
    stiffness = section_stiffness(mesh, E, NU, solid)
    r, z = mesh.nodes.T
    zero, one = np.zeros_like(r), np.ones_like(r)
    for H, motion in ((0, (zero, one, zero)), (1, (one, zero, -one)), (1, (-z, r, z))):
        moved = np.zeros(3 * len(r))
        for component, values in enumerate(motion):
            moved[3 * stiffness.number + component] = values
        K = stiffness.parts[0] + H * stiffness.parts[1] + H**2 * stiffness.parts[2]
        force = _times(K, moved)
        assert np.abs(force).max() < 1e-9 * np.abs(K).max() * np.abs(moved).max()


def _times(K: NDArray[np.float64], x: NDArray[np.float64]) -> NDArray[np.float64]:
    width = len(K) - 1
    y = K[-1] * x
    for off in range(1, width + 1):
        band = K[width - off, off:]
        y[:-off] += band * x[off:]
        y[off:] += band * x[:-off]
    return y


@pytest.mark.parametrize("H", [0, 1, 3, 17])
def test_harmonics_of_a_disc_by_integration(H: int) -> None:
    r_b, rho = 0.25, 0.03
    for r in (0.225, 0.25, 0.27):
        theta = np.linspace(-0.2, 0.2, 400_001)
        inside = (r * np.cos(theta) - r_b) ** 2 + (r * np.sin(theta)) ** 2 < rho**2
        step = theta[1] - theta[0]
        x, y = r * np.cos(theta) - r_b, r * np.sin(theta)
        wanted = [
            (np.cos(H * theta) * inside).sum() * step,
            (x * np.cos(H * theta) * inside).sum() * step,
            (y * np.sin(H * theta) * inside).sum() * step,
        ]
        assert disc_harmonic(H, np.array([r]), r_b, rho)[:, 0] == pytest.approx(wanted, rel=1e-4, abs=1e-7)


@pytest.mark.parametrize("end", [BearingFace(d_w=0.04, d_h=0.024), TappedHole(d=0.024, engagement=0.02, depth=0.004)])
def test_loads_are_one_newton_and_one_newton_metre(end: BearingFace | TappedHole) -> None:
    """All harmonics of a load together are the load: the one of H = 0 is its resultant over 2 pi."""
    flange = Flange(bore=0.3, outside_diameter=0.5, thickness=0.03, end=end)
    patches = sector_patches(12, 0.3, 0.5, 3, 8)
    mesh = section_mesh(flange, 0.43, patches.edges.tolist(), 0.006)
    loads = SectionLoads(mesh, section_stiffness(mesh, E, NU, solid), flange, 0.215, patches)
    total = 2 * np.pi * (loads.columns(0) @ loads.ports(0)).sum(axis=0)
    assert total[0].real == pytest.approx(1.0, rel=5e-4)  # Gauss points on arcs that end with a vertical tangent
    assert total[1:3].real == pytest.approx([0.0, 0.0], abs=1e-3 / 0.024)  # a couple has none
    assert total[3:].real == pytest.approx(np.ones(patches.count), rel=1e-6)
    whole = 12 * loads.patches.areas.sum()
    hole = 12 * np.pi / 4 * 0.024**2 if isinstance(end, BearingFace) else 0.0
    assert whole == pytest.approx(np.pi / 4 * (0.5**2 - 0.3**2) - hole, rel=1e-3)
