"""Stepping a procedure: the load of every bolt after every pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_TOLERANCE = 1e-7  # of the largest load in play
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
    return _settle(model, state, active, wanted, scale)


def relax(model: RingModel, state: State, creep: Floats) -> State:
    """The state after the gasket's patches have become thinner by `creep` (N,) m, all nuts locked."""
    scale = float(state.F.max())
    if scale == 0.0 or not creep.any():
        return state
    idle = np.zeros(model.n, dtype=bool)
    return _settle(model, replace(state, creep=state.creep + creep), idle, np.zeros(model.n), scale)


def patch_pressures(model: RingModel, state: State) -> Floats:
    """Pressure (N,) in Pa on each patch."""
    p, _ = model.law.pressure(model.Y @ state.z - state.creep, state.past)
    return p


def _settle(model: RingModel, state: State, active: Flags, wanted: Floats, scale: float) -> State:
    """Equilibrium with the loads `wanted` (n,) in the active bolts, all other nuts where they are and able to push only."""
    n, r = model.n, model.modes
    z = state.z.copy()
    closed = ~active & (z[r:] <= state.travel)
    seen = set()
    for _ in range(_MOST_SETS):
        z[r:][closed] = state.travel[closed]
        unknown = np.concatenate([np.ones(r, dtype=bool), ~closed])
        z, F = _equilibrium(model, z, state, unknown, wanted, scale)
        lost = closed & (F < -1e-9 * scale)
        met = ~closed & ~active & (z[r:] < state.travel - 1e-9 * scale / model.stiffness)
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
    raise SteppingError(f"with bolts {np.flatnonzero(active).tolist()} pulled, nuts keep coming loose and catching again")


def _equilibrium(
    model: RingModel, z: Floats, state: State, unknown: Flags, wanted: Floats, scale: float
) -> tuple[Floats, Floats]:
    """Newton's method on a convex problem, each step shortened where it would overshoot: unknowns, loads."""
    r = model.modes
    index = np.flatnonzero(unknown)
    B = model.B[np.ix_(index, index)] + 1e-9 * np.diag(np.diag(model.B)[index])
    goal = np.concatenate([np.zeros(r), wanted])
    z = z.copy()

    def left(at: Floats) -> tuple[Floats, Floats]:
        p, slope = model.law.pressure(model.Y @ at - state.creep, state.past)
        return model.B @ at - goal + model.Y.T @ (model.areas * p), slope

    residual, slope = left(z)
    for _ in range(_MOST_ROUNDS):
        Y = model.Y[:, index]
        J = B + (Y.T * (model.areas * slope)) @ Y
        move = np.zeros_like(z)
        move[index] = -np.linalg.solve(J, residual[index])
        fall = -float(residual @ move)
        if fall <= 1e-12 * scale**2 / model.stiffness:
            return z, residual[r:] + wanted
        low: float = 0.0
        high: float | None = None
        share = 1.0
        for _ in range(30):
            trial = z + share * move
            residual, slope = left(trial)
            here = float(residual @ move)
            if abs(here) <= 0.5 * fall:
                break
            if here > 0:
                high = share
            else:
                low = share
            share = 2 * share if high is None else 0.5 * (low + high)
        z = trial
    raise SteppingError("the gasket finds no equilibrium")


def run(model: RingModel, pulls: Sequence[Pull], state: State | None = None) -> tuple[Floats, State]:
    """Loads (pulls, n) in N after each pull, and the state at the end."""
    state = start(model) if state is None else state
    loads = np.empty((len(pulls), model.n))
    for number, pull in enumerate(pulls):
        state = step(model, state, pull)
        loads[number] = state.F
    return loads, state
