"""Many assemblies of one ring stepped at once: what stepping.py does for one, here for S samples side by side.

All samples share the ring; loads, travels and the gasket's past are each sample's own. A step solves for every sample
the same bound-constrained convex problem as stepping.step, by Newton's method with the set of loose nuts renewed in
every round. The linear equations of all samples are solved together by conjugate gradients, preconditioned with the
tangent of the mean of the samples, so that the work is products of matrices. A sample that does not settle is handed
to stepping.py; each result meets the same tolerance as there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel
from evenpull.ring.scatter.equations import Equations
from evenpull.ring.stepping import State, settle

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_TOLERANCE = 1e-7  # of the largest load in play, as in stepping.py
_ENERGY = 1e-12  # what the last move may still have given back, as a share of scale^2/k
_MOST_ROUNDS = 30


@dataclass(frozen=True, slots=True)
class Batch:
    """S assemblies: z (S, r + n), loads F (S, n) N, nuts' `travel` (S, n) m, `creep` and `past` (S, N) m, as in State;
    `alone` counts the samples and steps that had to be settled one by one."""

    z: Floats
    F: Floats
    travel: Floats
    creep: Floats
    past: Floats
    alone: int = 0

    @property
    def samples(self) -> int:
        return len(self.F)

    def sample(self, s: int) -> State:
        return State(*(np.array(getattr(self, name)[s]) for name in ("z", "F", "travel", "creep", "past")))


def start(model: RingModel, samples: int) -> Batch:
    """`samples` assemblies with every nut run down by hand, carrying nothing. ValueError unless 1 or more."""
    if samples < 1:
        raise ValueError(f"at least one sample is needed, not {samples}")
    n, patches = model.n, len(model.areas)
    return Batch(
        np.zeros((samples, model.modes + n)),
        np.zeros((samples, n)),
        np.zeros((samples, n)),
        np.zeros((samples, patches)),
        np.zeros((samples, patches)),
    )


def pull(model: RingModel, batch: Batch, bolts: tuple[int, ...], loads: Floats) -> Batch:
    """The samples after one pull: `bolts` brought to `loads` (S, bolts) N at the same time, all other nuts locked.

    A bolt that is found above its load is left alone, sample by sample. A load of zero leaves it alone too."""
    scale = np.maximum(loads.max(axis=1), batch.F.max(axis=1))
    at = list(bolts)
    wanted = np.zeros_like(batch.F)
    wanted[:, at] = loads
    active = np.zeros(batch.F.shape, dtype=bool)
    active[:, at] = batch.F[:, at] < loads - _TOLERANCE * scale[:, None]
    return _settled(model, batch, active, np.where(active, wanted, 0.0), scale)


def turn(model: RingModel, batch: Batch, bolts: tuple[int, ...], travels: Floats) -> Batch:
    """The samples after the nuts `bolts` have been turned on by `travels` (S, bolts) m, all other nuts locked."""
    travel = batch.travel.copy()
    travel[:, list(bolts)] += travels
    scale = np.maximum(batch.F.max(axis=1), model.stiffness * np.abs(travels).max(axis=1))
    idle = np.zeros(batch.F.shape, dtype=bool)
    return _settled(model, replace(batch, travel=travel), idle, np.zeros_like(batch.F), scale, scale > 0.0)


def relax(model: RingModel, batch: Batch, creep: Floats) -> Batch:
    """The samples after the gasket's patches have become thinner by `creep` (S, N) m, all nuts locked."""
    scale = batch.F.max(axis=1)
    moved: Flags = np.asarray(creep.any(axis=1)) & (scale > 0.0)
    idle = np.zeros(batch.F.shape, dtype=bool)
    changed = replace(batch, creep=batch.creep + np.where(moved[:, None], creep, 0.0))
    return _settled(model, changed, idle, np.zeros_like(batch.F), scale, moved)


def patch_pressures(model: RingModel, batch: Batch) -> Floats:
    """Pressure (S, N) in Pa on each patch of each sample."""
    p, _ = model.law.pressure(batch.z @ model.Y.T - batch.creep, batch.past)
    return p


def _settled(
    model: RingModel, batch: Batch, active: Flags, wanted: Floats, scale: Floats, moved: Flags | None = None
) -> Batch:
    """Equilibrium of the samples that are `moved` (None: those with an active bolt)."""
    rows = np.flatnonzero(active.any(axis=1) if moved is None else moved)
    if len(rows) == 0:
        return batch
    search = _Search(model, batch, rows, active[rows], wanted[rows], scale[rows])
    z, F, travel, past = batch.z.copy(), batch.F.copy(), batch.travel.copy(), batch.past.copy()
    for _ in range(_MOST_ROUNDS):
        done = search.round()
        if done.any():
            at = search.going[done]
            z[rows[at]], F[rows[at]], travel[rows[at]], past[rows[at]] = search.found(done)
            if not search.keep(~done):
                break
        search.closed ^= search.change
    left = [int(s) for s in rows[search.going]]
    for s in left:
        state = settle(model, batch.sample(s), active[s], wanted[s], float(scale[s]))
        z[s], F[s], travel[s], past[s] = state.z, state.F, state.travel, state.past
    return Batch(z, F, travel, batch.creep, past, batch.alone + len(left))


class _Search:
    """The samples `going` (numbers within `rows`) on their way to equilibrium: z, which nuts are closed, residuals."""

    def __init__(
        self, model: RingModel, batch: Batch, rows: NDArray[np.intp], active: Flags, wanted: Floats, top: Floats
    ) -> None:
        self.r, self.soft = model.modes, 1 / model.stiffness
        self.creep, self.past, self.Y = batch.creep[rows], batch.past[rows], model.Y
        self.active, self.wanted, self.top, self.travel = active, wanted, top, batch.travel[rows]
        self.equations = Equations(model, self.creep, self.past, wanted)
        self.going = np.arange(len(rows))
        self.z = batch.z[rows]
        self.closed = ~active & (self.z[:, self.r :] <= self.travel)
        self.residual, self.slope = self.equations.left(self.z, self.going)

    def round(self) -> Flags:
        """One move of all samples that are going; which of them have arrived."""
        going, r, top = self.going, self.r, self.top[self.going]
        travel, closed = self.travel[going], self.closed
        least = _ENERGY * top**2 * self.soft
        unknown = np.concatenate([np.ones((len(going), r), dtype=bool), ~closed], axis=1)
        given = np.zeros_like(self.z)
        given[:, r:] = np.where(closed, travel - self.z[:, r:], 0.0)
        move = self.equations.move(self.slope, self.residual, unknown, given)
        fall = -np.einsum("si,si->s", self.residual * unknown, move)
        z = self.z + move
        self.residual, self.slope = self.equations.left(z, going)
        here = np.einsum("si,si->s", self.residual * unknown, move)
        # where the move overshoots, back to where the line through both slopes crosses zero
        caught = given.any(axis=1)  # nuts were put back where they are locked: `fall` is no measure in this round
        steep = np.flatnonzero((here > 0.5 * fall) & (fall > least) & ~caught)
        if len(steep):
            share = fall[steep] / (fall[steep] + here[steep])
            z[steep] = self.z[steep] + share[:, None] * move[steep]
            self.residual[steep], self.slope[steep] = self.equations.left(z[steep], going[steep])
        settled = (fall <= least) & ~caught
        settled[steep] = False
        self.z = z
        lost = closed & (self.residual[:, r:] < (-_TOLERANCE * top)[:, None])
        met = ~closed & ~self.active[going] & (z[:, r:] < travel - (_TOLERANCE * self.soft * top)[:, None])
        self.change = lost | met
        return np.asarray(settled & ~self.change.any(axis=1))

    def found(self, done: Flags) -> tuple[Floats, Floats, Floats, Floats]:
        """z, F, travel and past of those that are done."""
        at, z = self.going[done], self.z[done]
        F = np.where(self.closed[done], self.residual[done, self.r :], self.wanted[at])
        travel = np.where(self.active[at], z[:, self.r :], self.travel[at])
        return z, np.maximum(F, 0.0), travel, np.maximum(self.past[at], z @ self.Y.T - self.creep[at])

    def keep(self, rest: Flags) -> bool:
        """Go on with `rest` only; whether any is left."""
        self.going, self.z, self.closed = self.going[rest], self.z[rest], self.closed[rest]
        self.residual, self.slope, self.change = self.residual[rest], self.slope[rest], self.change[rest]
        return len(self.going) > 0
