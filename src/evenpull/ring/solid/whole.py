"""The direct model: the whole ring of sectors in real unknowns, no cyclic condensation, stepped pull by pull.

Each Newton step factorises the stiffness of all solid elements again, with the bolts and gasket patches in it. It is
slow on purpose: it shares mesh and element stiffness with `condense_solid` and nothing else, so it checks what the
condensed ring and its stepping leave out or take for granted.

With u the movements of all nodes, y = P' u the movements at the ports (bolts, tilts, patches), equilibrium is

    K u + P (b y_tilt, A p(y_patch)) = P_bolt F,    F = k max(0, t - y_bolt) of a locked nut on travel t,

and F the wanted load of a bolt that is being pulled. Its left side less its right one is the slope of a convex energy.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import block_diag, coo_matrix, csc_matrix, diags, hstack, vstack
from scipy.sparse.linalg import SuperLU, splu

from evenpull.ring.case import RingBolts, RingCase
from evenpull.ring.condensed import PORTS_OF_BOLT
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.solid.condense import sector_system
from evenpull.ring.solid.elastic import sector_stiffness
from evenpull.ring.solid.sector import Floats, Ints, SectorMesh
from evenpull.ring.stepping import Pull

CLOSE_ENOUGH = 1e-9  # of the largest load in play
_MOST_ROUNDS = 60
_TOUCH = 1e-12  # m


class WholeRingError(RuntimeError):
    """Newton's method found no equilibrium of the whole ring."""


@dataclass(frozen=True, slots=True)
class WholeRing:
    """`stiffness` (U, U) N/m of the flanges alone (one, counted twice, when they are alike); `ports` (U, n (3 + G)),
    sector by sector; `places` (U,) the order in which the unknowns are eliminated; `areas` (n G,) m2."""

    stiffness: csc_matrix
    ports: csc_matrix
    places: Ints
    areas: Floats
    bolts: RingBolts
    law: GasketLaw | LinearLaw

    @property
    def unknowns(self) -> int:
        return int(self.stiffness.shape[0])

    def of_ports(self, bolt: Floats, tilts: Floats | float, patches: Floats) -> Floats:
        """One value for each port from those of the bolts (n,), the tilts (n, 2) or all of them, the patches (n G,)."""
        n = self.bolts.count
        values = np.empty((n, self.ports.shape[1] // n))
        values[:, 0] = bolt
        values[:, 1:PORTS_OF_BOLT] = tilts
        values[:, PORTS_OF_BOLT:] = patches.reshape(n, -1)
        return values.reshape(-1)


@dataclass(frozen=True, slots=True)
class WholeState:
    """`u` (U,) m; bolt `loads` (n,) N; `travel` (n,) of the nuts on their threads, m; `past` (n G,) the largest
    compression of each patch so far, m; `factorisations` made so far."""

    u: Floats
    loads: Floats
    travel: Floats
    past: Floats
    factorisations: int


def whole_ring(
    case: RingCase, *, radial: int = 3, circumferential: int = 8, size_factor: float = 1.0, order: int = 2
) -> WholeRing:
    """The ring of all sectors; arguments and errors as of `condense_solid`."""
    n = case.bolts.count
    stiffnesses, loads, inner, planes, areas, before = [], [], [], [], [], 0
    for flange in case.flanges[:1] if case.alike else case.flanges:
        mesh, K, B, patches = sector_system(
            flange, case, radial=radial, circumferential=circumferential, size_factor=size_factor, order=order
        )
        sector, ties = sector_stiffness(mesh, K), _ties(mesh, n)
        stiffnesses.append(sum(T.T @ sector @ T for T in ties))
        loads.append(hstack([T.T @ csc_matrix(B) for T in ties]))
        within, between = _elimination(mesh, sector, B, n)
        inner.append(before + within)
        planes.append(before + between)
        areas.append(patches.areas)
        before += ties[0].shape[1]
    twice = 2 if case.alike else 1
    return WholeRing(
        csc_matrix(twice * block_diag(stiffnesses)),
        csc_matrix(twice * vstack(loads)),
        np.concatenate([np.concatenate(part, axis=1).reshape(-1) for part in (inner, planes)]),
        np.tile(np.min(areas, axis=0), n),
        case.bolts,
        case.facing.law,
    )


def _ties(mesh: SectorMesh, n: int) -> list[csc_matrix]:
    """For each sector the matrix (3 N, U) that gives its movements, in directions that turn with the sector, from the
    unknowns of the ring: its own without the slave plane, which is the master plane of the next sector turned by
    2 pi/n."""
    size = 3 * len(mesh.points)
    master, slave = (3 * nodes[:, None] + np.arange(3) for nodes in (mesh.master, mesh.slave))
    kept = np.setdiff1d(np.arange(size), slave)
    column = np.zeros(size, dtype=np.int64)
    column[kept] = np.arange(len(kept))
    c, s = np.cos(2 * np.pi / n), np.sin(2 * np.pi / n)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    own = np.append(np.ones(len(kept)), np.tile(turn.reshape(-1), len(slave)))
    rows = np.append(kept, np.repeat(slave[:, :, None], 3, axis=2))
    ties = []
    for sector in range(n):
        there = np.repeat(column[master][:, None, :], 3, axis=1) + (sector + 1) % n * len(kept)
        columns = np.append(column[kept] + sector * len(kept), there)
        ties.append(csc_matrix(coo_matrix((own, (rows, columns)), shape=(size, n * len(kept)))))
    return ties


def _elimination(mesh: SectorMesh, sector: csc_matrix, B: Floats, n: int) -> tuple[Ints, Ints]:
    """Order in which the unknowns of one flange are best eliminated: what lies inside the sectors (n, I), each in the
    same order, then the planes between them (n, 3 P), one after the other round the ring."""
    size = 3 * len(mesh.points)
    master, slave = (3 * nodes[:, None] + np.arange(3) for nodes in (mesh.master, mesh.slave))
    kept = np.setdiff1d(np.arange(size), slave)
    column = np.zeros(size, dtype=np.int64)
    column[kept] = np.arange(len(kept))
    inside = np.setdiff1d(kept, master)
    B = csc_matrix(B)
    full = csc_matrix(sector + B @ B.T * sector.diagonal().max() * 1e-6)[inside][:, inside]
    order = np.argsort(_factors(full, "MMD_AT_PLUS_A").perm_c)
    start = len(kept) * np.arange(n)[:, None]
    return start + column[inside[order]], start + column[master.reshape(-1)]


def _factors(matrix: csc_matrix, ordering: str) -> SuperLU:
    """Factors of a symmetric positive definite matrix."""
    return splu(csc_matrix(matrix), permc_spec=ordering, diag_pivot_thresh=0.0, options={"SymmetricMode": True})


class _Solver:
    """Solves (K + P diag(s) P') x = b; s (n (3 + G),) are the slopes at the ports."""

    def __init__(self, ring: WholeRing) -> None:
        places = ring.places
        self._places = places
        self._stiffness, self._ports = csc_matrix(ring.stiffness[places][:, places]), csc_matrix(ring.ports[places])
        self.factorisations = 0

    def solve(self, slopes: Floats, b: Floats) -> Floats:
        tangent = self._stiffness + self._ports @ diags(slopes) @ self._ports.T
        self.factorisations += 1
        x = np.empty_like(b)
        x[self._places] = _factors(tangent, "NATURAL").solve(b[self._places])
        return x


def port_compliance(ring: WholeRing, ports: Sequence[int], gasket: float) -> Floats:
    """Movements (n (3 + G), len(ports)) of all ports by a unit force in each of `ports`, on a glued gasket of the
    stiffness `gasket` (Pa/m), with the bending stiffness of the bolts and without their axial one."""
    held = ring.of_ports(np.zeros(ring.bolts.count), ring.bolts.bending, gasket * ring.areas)
    loads = ring.ports[:, list(ports)].toarray()
    return np.asarray(ring.ports.T @ _Solver(ring).solve(held, loads))


def start(ring: WholeRing) -> WholeState:
    """Both flanges lie on the gasket, every nut has been run down by hand and carries nothing."""
    n = ring.bolts.count
    return WholeState(np.zeros(ring.unknowns), np.zeros(n), np.zeros(n), np.zeros(len(ring.areas)), 0)


def step(ring: WholeRing, state: WholeState, pull: Pull) -> WholeState:
    """The state after one pull: load control on its bolts, all other nuts locked. A bolt that is found above the load
    of its pull is left alone; a nut never pulls the flange after it."""
    bolts, n = ring.bolts, ring.bolts.count
    scale = max(*pull.loads, float(state.loads.max()))
    wanted, active = np.zeros(n), np.zeros(n, dtype=bool)
    for bolt, load in zip(pull.bolts, pull.loads, strict=True):
        if state.loads[bolt] < load - 1e-7 * scale:
            wanted[bolt], active[bolt] = load, True
    if not active.any():
        return state
    solver = _Solver(ring)

    def forces(u: Floats) -> tuple[Floats, Floats, Floats]:
        """Residual (U,), slope at each port, loads of the bolts."""
        y = np.asarray(ring.ports.T @ u).reshape(n, -1)
        stretch = state.travel - y[:, 0]
        load = np.where(active, wanted, bolts.stiffness * np.maximum(stretch, 0.0))
        pressure, slope = ring.law.pressure(y[:, PORTS_OF_BOLT:].reshape(-1), state.past)
        back = ring.of_ports(-load, bolts.bending * y[:, 1:PORTS_OF_BOLT], ring.areas * pressure)
        grip = np.where(active | (stretch <= 0.0), 0.0, bolts.stiffness)
        return ring.stiffness @ u + ring.ports @ back, ring.of_ports(grip, bolts.bending, ring.areas * slope), load

    u = state.u
    residual, _, loads = forces(u)
    # The first tangent is that of a gasket and of nuts in touch: at rest neither would hold anything.
    y = np.asarray(ring.ports.T @ u).reshape(n, -1)
    slope = ring.law.pressure(y[:, PORTS_OF_BOLT:].reshape(-1) + _TOUCH, state.past)[1]
    slopes = ring.of_ports(np.where(active, 0.0, bolts.stiffness), bolts.bending, ring.areas * slope)
    for _ in range(_MOST_ROUNDS):
        move = solver.solve(slopes, -residual)
        fall = float(-residual @ move)
        if fall <= CLOSE_ENOUGH**2 * scale**2 / bolts.stiffness:
            break
        u, residual, slopes, loads = _search(forces, u, move, fall)
    else:
        raise WholeRingError(f"no equilibrium found with bolts {np.flatnonzero(active).tolist()} pulled")
    y = np.asarray(ring.ports.T @ u).reshape(n, -1)
    travel = np.where(active, y[:, 0] + loads / bolts.stiffness, state.travel)
    past = np.maximum(state.past, y[:, PORTS_OF_BOLT:].reshape(-1))
    return WholeState(u, loads, travel, past, state.factorisations + solver.factorisations)


def _search(
    forces: Callable[[Floats], tuple[Floats, Floats, Floats]], u: Floats, move: Floats, fall: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Along `move` to where the slope of the energy is at most half of its `fall` at the beginning."""
    low, high, share = 0.0, np.inf, 1.0
    for _ in range(_MOST_ROUNDS):
        residual, slopes, load = forces(u + share * move)
        here = float(residual @ move)
        if abs(here) <= 0.5 * fall:
            return u + share * move, residual, slopes, load
        low, high = (share, high) if here < 0 else (low, share)
        share = 2 * share if high == np.inf else 0.5 * (low + high)
    raise WholeRingError("the line search found no lower energy")


def run(ring: WholeRing, pulls: Sequence[Pull], state: WholeState | None = None) -> tuple[Floats, WholeState]:
    """Loads (pulls, n) in N after each pull, and the state at the end."""
    state = start(ring) if state is None else state
    loads = np.empty((len(pulls), ring.bolts.count))
    for number, pull in enumerate(pulls):
        state = step(ring, state, pull)
        loads[number] = state.loads
    return loads, state
