"""Stepping against solutions of the same equations by other means, and against what must hold for any ring."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from evenpull.ring.condensed import Condensed
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import LinearLaw
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.stepping import Pull, State, SteppingError, patch_pressures, relax, run, start, step
from tests.ring.rings import CURVE, metal_ring, pipe_flange, ring

STAR = (0, 4, 2, 6, 1, 5, 3, 7)


@pytest.fixture(scope="module")
def condensed() -> Condensed:
    return condense(ring(), radial=2, circumferential=4)


@pytest.fixture(scope="module")
def model(condensed: Condensed) -> RingModel:
    return ring_model(condensed, ring().bolts, CURVE)


def star(target: float, *shares: float) -> list[Pull]:
    return [Pull((bolt,), (share * target,)) for share in shares for bolt in STAR]


def test_linear_ring_against_one_linear_system(condensed: Condensed) -> None:
    """Gasket of springs, all nuts in contact: unknown patch movements and the pulled bolt's travel, numpy.linalg.solve
    on the full stiffness matrix of the ring without modes, series springs or active sets."""
    case = ring()
    law = LinearLaw(3e11)
    n, patches = condensed.n, condensed.patches
    K = np.stack([np.linalg.inv(C) for C in condensed.compliance])
    h = np.arange(n)
    full = np.where((h <= n // 2)[:, None, None], K[np.minimum(h, n - h)], K[np.minimum(h, n - h)].conj())
    blocks = np.fft.ifft(full, axis=0).real
    size = 3 + patches.count
    stiffness = np.block([[blocks[(i - j) % n] for j in range(n)] for i in range(n)])
    spring = np.tile(np.concatenate([[0.0] + [case.bolts.bending] * 2, law.stiffness * patches.areas]), n)
    compliance = np.linalg.inv(stiffness + np.diag(spring))[::size, ::size]  # approach at the bolts per load
    k, target = case.bolts.stiffness, case.bolts.target
    at_once = Pull(tuple(range(n)), (target / 2,) * n)  # all in contact from here on
    pulls = [at_once, *star(target, 1.0)]
    loads, _ = run(ring_model(condensed, case.bolts, law), pulls)
    F = np.full(n, target / 2)
    for number, bolt in enumerate(STAR, start=1):
        # travel t of one nut: F = k (t - C F), the others' travel stays: (1/k + C) dF = dt e
        change = np.linalg.solve(np.eye(n) / k + compliance, np.eye(n)[bolt])
        F = F + change * (target - F[bolt]) / change[bolt]
        assert F.min() > 0
        assert loads[number] == pytest.approx(F, rel=2e-3)


def test_each_state_is_the_least_energy(model: RingModel) -> None:
    """One pull on top of a state, by scipy's bounded minimiser of the energy instead of Newton's method."""
    target = ring().bolts.target
    _, before = run(model, star(target, 0.3)[:5])
    after = step(model, before, Pull((5,), (0.5 * target,)))
    r, n = model.modes, model.n
    scale = np.concatenate([np.full(r, np.sqrt(target**2 / model.stiffness)), np.full(n, target / model.stiffness)])
    goal = np.zeros(r + n)
    goal[r + 5] = 0.5 * target

    def energy(x: np.ndarray) -> tuple[float, np.ndarray]:
        z = x * scale
        w = model.Y @ z
        steps = np.linspace(0.0, 1.0, 2001)
        at = np.outer(steps, w)
        p, _ = model.law.pressure(at, np.broadcast_to(before.past, at.shape))
        stored = np.trapezoid(p, steps, axis=0) * w
        value = 0.5 * z @ model.B @ z + model.areas @ stored - goal @ z
        slope = model.B @ z + model.Y.T @ (model.areas * model.law.pressure(w, before.past)[0]) - goal
        return float(value), slope * scale

    free = (None, None)
    travel = before.travel / scale[r:]
    bounds = [free] * r + [free if bolt == 5 else (float(travel[bolt]), None) for bolt in range(n)]
    found = minimize(energy, before.z / scale, jac=True, bounds=bounds, method="L-BFGS-B",
                     options={"maxiter": 20_000, "maxfun": 20_000, "ftol": 1e-15, "gtol": 1e-10})  # fmt: skip
    z = found.x * scale
    F = model.B[r:, r:] @ z[r:] + model.Y[:, r:].T @ (model.areas * model.law.pressure(model.Y @ z, before.past)[0])
    assert pytest.approx(F, abs=2e-3 * target) == after.F


def test_loads_of_bolts_and_gasket_are_in_balance(model: RingModel) -> None:
    _, state = run(model, star(ring().bolts.target, 0.3, 0.7, 1.0))
    assert model.areas @ patch_pressures(model, state) == pytest.approx(state.F.sum(), rel=5e-4)


def test_a_ring_that_is_turned_gives_turned_loads(model: RingModel) -> None:
    pulls = star(ring().bolts.target, 0.3, 1.0)
    turned = [Pull(tuple((bolt + 3) % 8 for bolt in pull.bolts), pull.loads) for pull in pulls]
    assert run(model, turned)[0] == pytest.approx(np.roll(run(model, pulls)[0], 3, axis=1), rel=1e-4, abs=1.0)


def test_all_bolts_at_once_end_alike_and_a_second_time_nothing_moves(model: RingModel) -> None:
    target = ring().bolts.target
    everything = Pull(tuple(range(8)), (target,) * 8)
    state = step(model, start(model), everything)
    assert pytest.approx(np.full(8, target)) == state.F
    assert step(model, state, everything) is state
    assert step(model, state, Pull((3,), (0.9 * target,))) is state  # found above its pull: left alone


def test_a_neighbour_takes_load_away_and_the_far_side_gains_or_keeps(model: RingModel) -> None:
    target = ring().bolts.target
    _, state = run(model, [Pull((0,), (target,)), Pull((1,), (target,))])
    assert state.F[0] < target
    assert state.F.min() >= 0.0


def test_circular_passes_go_on_to_even_loads(model: RingModel) -> None:
    target = ring().bolts.target
    loads, _ = run(model, [Pull((bolt,), (target,)) for _ in range(8) for bolt in range(8)])
    spread = np.ptp(loads[7::8], axis=1)
    assert (np.diff(spread) <= 0).all() and spread[-1] < 0.1 * spread[0]
    assert loads[-1] == pytest.approx(np.full(8, target), rel=0.02)


def test_creep_loses_load_everywhere_and_nothing_without_it(model: RingModel) -> None:
    _, state = run(model, star(ring().bolts.target, 1.0, 1.0, 1.0))
    crept = relax(model, state, np.full(len(model.areas), 5e-6))
    assert (crept.F < state.F).all()
    assert (crept.travel == state.travel).all()
    assert relax(model, state, np.zeros(len(model.areas))) is state


def test_flanges_add_on_both_sides() -> None:
    thin, thick = pipe_flange(), pipe_flange(thickness=0.04)
    one = {"radial": 2, "circumferential": 4}
    thin_pair = condense(ring(flanges=(thin, thin)), **one).compliance
    thick_pair = condense(ring(flanges=(thick, thick)), **one).compliance
    mixed = condense(ring(flanges=(thin, thick)), **one).compliance
    assert np.allclose(mixed, 0.5 * (thin_pair + thick_pair), rtol=1e-9, atol=0)


def test_metal_faces_hardly_interact_and_a_gasket_does(model: RingModel) -> None:
    case = metal_ring()
    metal = ring_model(condense(case), case.bolts, case.facing.law)
    target = case.bolts.target
    loads, _ = run(metal, [Pull((bolt,), (target,)) for bolt in range(12)])
    soft, _ = run(model, [Pull((bolt,), (target,)) for bolt in range(8)])
    assert loads[-1].min() > 0.97 * target
    assert soft[-1].min() < 0.85 * target


def test_a_patch_that_lies_in_a_hole_is_none() -> None:
    """A narrow face with patches smaller than its holes: balance and even loads as without them."""
    case = metal_ring(24)
    condensed = condense(case, radial=8, circumferential=12)
    assert (condensed.patches.areas == 0.0).any()
    model = ring_model(condensed, case.bolts, case.facing.law)
    target = case.bolts.target
    loads, state = run(model, [Pull(tuple(range(24)), (target,) * 24), Pull((3,), (1.1 * target,))])
    assert np.isfinite(loads).all()
    assert model.areas @ patch_pressures(model, state) == pytest.approx(state.F.sum(), rel=5e-4)


def test_a_lazy_modes_threshold_would_show(condensed: Condensed, monkeypatch: pytest.MonkeyPatch) -> None:
    """Few modes and their rest in series give the loads of all modes."""
    target = ring().bolts.target
    few = run(ring_model(condensed, ring().bolts, CURVE), star(target, 0.3, 1.0))[0]
    monkeypatch.setattr("evenpull.ring.model._LEAST_MODE", 0.0)
    monkeypatch.setattr("evenpull.ring.model._rest", lambda values: 0.0)
    every = ring_model(condensed, ring().bolts, CURVE)
    assert every.modes == len(every.areas)
    assert run(every, star(target, 0.3, 1.0))[0] == pytest.approx(few, abs=2e-3 * target)


def test_a_state_out_of_balance_is_not_passed_on(model: RingModel) -> None:
    broken = replace(start(model), z=np.full(model.Y.shape[1], np.nan))
    with pytest.raises((SteppingError, ValueError)):
        step(model, broken, Pull((0,), (1e3,)))


def test_state_is_not_changed_by_a_step(model: RingModel) -> None:
    state: State = start(model)
    step(model, state, Pull((0,), (5e4,)))
    assert not state.z.any() and not state.past.any() and not state.F.any()
