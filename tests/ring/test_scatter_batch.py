"""Many assemblies at once give what each gives alone."""

from __future__ import annotations

import numpy as np
import pytest

from evenpull.ring import stepping
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.model import ring_model
from evenpull.ring.scatter import batch as many

from .given import given_paths, read_given
from .scatter_rings import SHEET, SPRING, small_model, star_and_circular


@pytest.mark.parametrize("law", [SHEET, SPRING], ids=["sheet", "spring"])
@pytest.mark.parametrize(("seed", "count"), [(1, 4), (2, 8), (3, 12)])
def test_each_sample_is_as_alone(law: GasketLaw | LinearLaw, seed: int, count: int) -> None:
    case, model = small_model(seed, law, count)
    rng = np.random.default_rng(seed)
    samples, target = 12, case.bolts.target
    batch = many.start(model, samples)
    alone = [stepping.start(model)] * samples
    for bolts, share in star_and_circular(count):
        loads = share * target * rng.lognormal(0.0, 0.25, (samples, len(bolts)))
        batch = many.pull(model, batch, bolts, loads)
        alone = [
            stepping.step(model, state, stepping.Pull(bolts, tuple(row)))
            for state, row in zip(alone, loads.tolist(), strict=True)
        ]
        expected = np.array([state.F for state in alone])
        assert np.abs(batch.F - expected).max() < 1e-5 * target
        assert np.abs(batch.travel - [state.travel for state in alone]).max() < 1e-5 * target / model.stiffness
    assert np.allclose(many.patch_pressures(model, batch)[3], stepping.patch_pressures(model, alone[3]), atol=1e3)


@pytest.mark.parametrize("law", [SHEET, SPRING], ids=["sheet", "spring"])
def test_nuts_that_come_loose_and_catch_again_are_as_alone(law: GasketLaw | LinearLaw) -> None:
    """A bolt with a few per cent between two that are pulled hard loses all; pulled again it carries."""
    case, model = small_model(9, law)
    target = case.bolts.target
    shares = np.array([0.02, 0.04, 0.06])[:, None]
    pulls = [((0,), shares), ((1, 7), 1 + shares), ((2, 6), 0.5 + shares), ((0,), 20 * shares), ((3, 5), 1 + shares)]
    batch, alone = many.start(model, 3), [stepping.start(model)] * 3
    loose = []
    for bolts, share in pulls:
        loads = np.repeat(share * target, len(bolts), axis=1)
        batch = many.pull(model, batch, bolts, loads)
        alone = [
            stepping.step(model, state, stepping.Pull(bolts, tuple(row)))
            for state, row in zip(alone, loads.tolist(), strict=True)
        ]
        expected = np.array([state.F for state in alone])
        loose.append((expected[:, 0] == 0.0).all())
        assert np.abs(batch.F - expected).max() < 1e-5 * target
    assert loose[:4] == [False, True, True, False]


def test_several_tools_and_bolts_left_alone() -> None:
    case, model = small_model(4, SHEET)
    target = case.bolts.target
    loads = target * np.array([[0.5, 0.4], [0.6, 0.9]])
    batch = many.pull(model, many.start(model, 2), (0, 4), loads)
    again = many.pull(model, batch, (0, 4), target * np.array([[0.3, 0.2], [0.6, 0.95]]))
    assert np.array_equal(again.F[0], batch.F[0])
    assert again.F[1, 4] == pytest.approx(0.95 * target, rel=1e-9)
    assert again.F[1, 0] < 0.6 * target  # it was at its load already and gave way to its neighbour


@pytest.mark.parametrize("law", [SHEET, SPRING], ids=["sheet", "spring"])
def test_turned_nuts_and_creep_are_as_alone(law: GasketLaw | LinearLaw) -> None:
    case, model = small_model(5, law)
    rng = np.random.default_rng(5)
    samples = 6
    batch, alone = many.start(model, samples), [stepping.start(model)] * samples
    for bolts, _ in star_and_circular(8)[:8]:
        travels = rng.uniform(2e-4, 5e-4, (samples, 1))
        batch = many.turn(model, batch, bolts, travels)
        alone = [stepping.turn(model, s, bolts, row) for s, row in zip(alone, travels.tolist(), strict=True)]
    creep = rng.uniform(0.0, 1e-5, (samples, len(model.areas)))
    batch = many.relax(model, batch, creep)
    alone = [stepping.relax(model, state, row) for state, row in zip(alone, creep, strict=True)]
    expected = np.array([state.F for state in alone])
    assert expected.max() > 0.2 * case.bolts.target
    assert np.abs(batch.F - expected).max() < 1e-5 * case.bolts.target


def test_a_turn_is_undone_by_the_pull_that_gives_its_load() -> None:
    """Pulling to a load and turning by the travel of that pull are one movement."""
    case, model = small_model(6, SHEET)
    state = stepping.step(model, stepping.start(model), stepping.Pull((0, 4), (4e4, 4e4)))
    pulled = stepping.step(model, state, stepping.Pull((2,), (6e4,)))
    turned = stepping.turn(model, state, (2,), (pulled.travel[2] - state.travel[2],))
    assert pytest.approx(pulled.F, abs=1e-5 * case.bolts.target) == turned.F


def test_no_samples() -> None:
    _, model = small_model(7, SPRING, 4)
    with pytest.raises(ValueError, match="at least one sample"):
        many.start(model, 0)


def test_sixteen_bolts_need_no_sample_settled_alone() -> None:
    case, _, _ = read_given(next(path for path in given_paths() if "16xM36" in path.name))
    model = ring_model(condense(case, radial=2, circumferential=4), case.bolts, case.facing.law)
    rng = np.random.default_rng(16)
    batch = many.start(model, 100)
    for bolts, share in star_and_circular(16):
        batch = many.pull(model, batch, bolts, share * case.bolts.target * rng.lognormal(0.0, 0.1, (100, 1)))
    assert batch.alone == 0
