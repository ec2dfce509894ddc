"""Stepping a procedure: the load of every bolt after every pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve

from evenpull.ring.model import RingModel

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_TOLERANCE = 1e-7  # of the largest load in play
_SUPPORT = 1e-10  # of each unknown's own stiffness: holds what nothing else holds
_MOST_ROUNDS = 60
_MOST_SETS = 100


class SteppingError(RuntimeError):
    """No equilibrium was found; the message says at which pull."""


@dataclass(frozen=True, slots=True)
class Pull:
    """One pull: `bolts` (numbered from 0) brought to `loads` (N) at the same time, all other nuts locked."""

    bolts: tuple[int, ...]
    loads: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class State:
    """Where the ring stands: unknowns z (m and mode amplitudes), loads F (n,) N, `travel` (n,) of the nuts on their
    threads (m); of each patch `creep` (N,) by how much it has become thinner with time (m) and `past` (N,) the largest
    compression so far beyond that (m)."""

    z: Floats
    F: Floats
    travel: Floats
    creep: Floats
    past: Floats


def start(model: RingModel) -> State:
    """Both flanges lie on the gasket, every nut has been run down by hand and carries nothing."""
    n = model.n
    patches = len(model.areas)
    return State(np.zeros(model.Y.shape[1]), np.zeros(n), np.zeros(n), np.zeros(patches), np.zeros(patches))


def step(model: RingModel, state: State, pull: Pull) -> State:
    """The state after one pull. A bolt that is found above the load of its pull is left alone."""
    wanted = np.zeros(model.n)
    active = np.zeros(model.n, dtype=bool)
    scale = max(*pull.loads, float(state.F.max()))
    for bolt, load in zip(pull.bolts, pull.loads, strict=True):
        if state.F[bolt] < load - _TOLERANCE * scale:
            active[bolt], wanted[bolt] = True, load
    if not active.any():
        return state
    return settle(model, state, active, wanted, scale)


def turn(model: RingModel, state: State, bolts: Sequence[int], travels: Sequence[float]) -> State:
    """The state after the nuts `bolts` have been turned on by `travels` (m, angle P/(2 pi)), all other nuts locked."""
    travel = state.travel.copy()
    travel[list(bolts)] += travels
    scale = max(float(state.F.max()), model.stiffness * float(np.max(np.abs(travels))))
    if scale == 0.0:
        return state
    idle = np.zeros(model.n, dtype=bool)
    return settle(model, replace(state, travel=travel), idle, np.zeros(model.n), scale)


def relax(model: RingModel, state: State, creep: Floats) -> State:
    """The state after the gasket's patches have become thinner by `creep` (N,) m, all nuts locked."""
    scale = float(state.F.max())
    if scale == 0.0 or not creep.any():
        return state
    idle = np.zeros(model.n, dtype=bool)
    return settle(model, replace(state, creep=state.creep + creep), idle, np.zeros(model.n), scale)


def patch_pressures(model: RingModel, state: State) -> Floats:
    """Pressure (N,) in Pa on each patch."""
    return model.law.pressure(model.Y @ state.z - state.creep, state.past)[0]


def settle(model: RingModel, state: State, active: Flags, wanted: Floats, scale: float) -> State:
    """Equilibrium with the loads `wanted` (n,) in the active bolts; all other nuts stay and can only push."""
    n, r = model.n, model.modes
    z = state.z.copy()
    tangent = _Tangent(model, state)
    closed = ~active & (z[r:] <= state.travel)
    seen = set()
    for _ in range(_MOST_SETS):
        z[r:][closed] = state.travel[closed]
        F = _equilibrium(tangent, z, closed, wanted, scale)
        lost = closed & (F + _TOLERANCE * scale < 0.0)
        met = ~closed & ~active & (z[r:] < state.travel - _TOLERANCE * scale / model.stiffness)
        if not (lost | met).any():
            F[~closed] = wanted[~closed]
            travel = np.where(active, z[r:], state.travel)
            past = np.maximum(state.past, model.Y @ z - state.creep)
            return State(z, np.maximum(F, 0.0), travel, state.creep, past)
        change = lost | met
        if closed.tobytes() in seen:  # going in circles: one at a time, the worst first
            worst = np.argmax(np.where(lost, -F, 0.0) + np.where(met, model.stiffness * (state.travel - z[r:]), 0.0))
            change = np.arange(n) == worst
        seen.add(closed.tobytes())
        closed = closed ^ change
    pulled = np.flatnonzero(active).tolist()
    raise SteppingError(f"with bolts {pulled} pulled, nuts keep coming loose and catching again")


class _Tangent:
    """Residual and tangent of a model in a state; of the tangent only what changed is made anew."""

    def __init__(self, model: RingModel, state: State) -> None:
        self.model, self.state = model, state
        self._slope = np.zeros(len(model.areas))
        self._J = model.B + _SUPPORT * np.diag(np.diag(model.B))

    def residual(self, z: Floats) -> tuple[Floats, Floats]:
        """B z + Y' A p (r + n,), the bolt loads at its end, and the slope of the law at each patch (N,)."""
        model, state = self.model, self.state
        p, slope = model.law.pressure(model.Y @ z - state.creep, state.past)
        return model.B @ z + model.Y.T @ (model.areas * p), slope

    def at(self, slope: Floats) -> Floats:
        changed = np.flatnonzero(slope != self._slope)
        if len(changed):
            rows = self.model.Y[changed]
            self._J += (rows.T * (self.model.areas[changed] * (slope - self._slope)[changed])) @ rows
            self._slope = slope
        return self._J


def _equilibrium(tangent: _Tangent, z: Floats, closed: Flags, wanted: Floats, scale: float) -> Floats:
    """Newton's method on a convex problem, each move shortened where it would overshoot. Changes z, returns loads."""
    model = tangent.model
    r = model.modes
    index = np.flatnonzero(np.concatenate([np.ones(r, dtype=bool), ~closed]))
    goal = np.concatenate([np.zeros(r), wanted])
    least = _TOLERANCE**2 * scale**2 / model.stiffness
    residual, slope = tangent.residual(z)
    for _ in range(_MOST_ROUNDS):
        J = tangent.at(slope)[np.ix_(index, index)]
        move = np.zeros_like(z)
        move[index] = solve(J, (goal - residual)[index], assume_a="pos", check_finite=False)
        fall = float((goal - residual) @ move)
        if fall <= least:
            return residual[r:]
        low, high, share = 0.0, np.inf, 1.0
        start = z.copy()
        for _ in range(_MOST_ROUNDS):
            z[:] = start + share * move
            residual, slope = tangent.residual(z)
            here = float((residual - goal) @ move)
            if abs(here) <= 0.5 * fall:
                break
            low, high = (low, share) if here > 0 else (share, high)
            share = 2 * share if high == np.inf else 0.5 * (low + high)
    raise SteppingError("the gasket finds no equilibrium")


def run(model: RingModel, pulls: Sequence[Pull], state: State | None = None) -> tuple[Floats, State]:
    """Loads (pulls, n) in N after each pull, and the state at the end."""
    state = start(model) if state is None else state
    loads = np.empty((len(pulls), model.n))
    for number, pull in enumerate(pulls):
        state = step(model, state, pull)
        loads[number] = state.F
    return loads, state
