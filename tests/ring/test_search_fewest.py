"""The fewest pulls: against every order of small rings, bounds, limits, scatter, and nothing left to chance."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

import numpy as np
import pytest

from evenpull.ring.case import RingCase
from evenpull.ring.condensed import Patches
from evenpull.ring.flange.model import condense
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.search.candidates import canonical, changed, of_tools, usual_orders
from evenpull.ring.search.fewest import fewest_pulls
from evenpull.ring.search.goal import Goal, stand
from evenpull.ring.search.hunt import Tried
from evenpull.ring.search.limits import Limits, violations
from evenpull.ring.search.trajectory import pulls_of
from evenpull.ring.stepping import Pull, run
from tests.ring.given import given_paths, read_given
from tests.ring.test_search_bound import small


def given(name: str, law: str = "linear") -> tuple[RingCase, RingModel, Patches]:
    case, linear, _ = read_given(next(path for path in given_paths() if path.stem == name))
    condensed = condense(case, radial=2, circumferential=4)
    return case, ring_model(condensed, case.bolts, linear if law == "linear" else case.facing.law), condensed.patches


def small_with_patches(n: int) -> tuple[RingCase, RingModel, Patches]:
    case, model = small(n)
    return case, model, condense(case, radial=2, circumferential=4).patches


def met(final: np.ndarray, T: float, goal: Goal) -> bool:
    """The goal in plain words, beside the program's own judgement."""
    spread = (final.max() - final.min()) / T
    return bool(final.min() >= goal.least * T * (1 - 1e-9) and (goal.spread is None or spread <= goal.spread + 1e-9))


def test_one_pass_reaches_the_plain_bound_and_stepping_confirms_it() -> None:
    case, model, patches = given("raised_face_8xM20", "loading curve")
    T, goal = case.bolts.target, Goal(least=0.95, spread=0.05)
    for tools, pulls in (((1,), 8), ((1, 2), 4)):
        found = fewest_pulls(model, patches, T, goal, Limits(bolt=1.4 * T), tools=tools)
        assert (found.reached, len(found.pulls), found.bound.pulls, found.gap) == (True, pulls, pulls, 0)
        loads = run(model, found.pulls)[0]
        assert met(loads[-1], T, goal)
        assert loads.max() <= 1.4 * T * (1 + 1e-6)
        assert any("bolt load" in said for said in found.kept)


def test_one_setting_for_all_leaves_nothing_redundant() -> None:
    """Every order of one pass at the target by brute force stays below the goal, so more pulls are needed; of those the
    search ends with, none can go."""
    case, model, patches = small_with_patches(5)
    T, limits = case.bolts.target, Limits(bolt=1.5 * case.bolts.target)
    finals = [run(model, [Pull((b,), (T,)) for b in order])[0][-1] for order in permutations(range(5))]
    best = max(float(final.min()) for final in finals) / T
    assert best < 0.95
    goal = Goal(least=0.95, spread=0.2)
    found = fewest_pulls(model, patches, T, goal, limits, individual=False)
    assert found.reached
    assert len(found.pulls) > 5
    loads = run(model, found.pulls)[0]
    assert met(loads[-1], T, goal)
    assert loads.max() <= 1.5 * T * (1 + 1e-6)
    for at in range(len(found.pulls)):
        rest = found.pulls[:at] + found.pulls[at + 1 :]
        loads = run(model, rest)[0]
        every = {bolt for pull in rest for bolt in pull.bolts} == set(range(5))
        assert not (every and met(loads[-1], T, goal) and loads.max() <= 1.5 * T * (1 + 1e-6))


def test_a_limit_that_forbids_one_pass_costs_pulls_and_the_gap_is_stated() -> None:
    case, model, patches = given("raised_face_12xM24")
    T, goal, limits = case.bolts.target, Goal(least=0.95, spread=0.05), Limits(bolt=1.2 * case.bolts.target)
    seen: list[Tried] = []
    found = fewest_pulls(model, patches, T, goal, limits, progress=seen.append)
    assert found.reached
    assert found.bound.pulls == 13  # proven: see test_search_bound
    assert 13 <= len(found.pulls) < 24  # fewer than two whole passes
    assert found.gap == len(found.pulls) - 13
    loads = run(model, found.pulls)[0]
    assert met(loads[-1], T, goal)
    assert violations(model, patches, found.pulls, limits) == ()
    assert found.tried == seen[-1]
    assert found.tried.solved > 0
    assert [s.stepped for s in seen] == sorted(s.stepped for s in seen)
    short = [fewest_pulls(model, patches, T, goal, limits, budget=250) for _ in range(2)]
    assert short[0].pulls == short[1].pulls
    assert short[0].cut_short


def test_other_limits_are_kept_or_named() -> None:
    case, model, patches = given("raised_face_8xM20")
    T, goal = case.bolts.target, Goal(least=0.9, spread=0.12)
    crew = Limits(bolt=1.4 * T, scale=2e3, kinds=4)
    found = fewest_pulls(model, patches, T, goal, crew)
    assert found.reached
    settings = {load for pull in found.pulls for load in pull.loads}
    assert len(settings) <= 4
    assert all(load / 2e3 == pytest.approx(round(load / 2e3)) for load in settings)
    free = fewest_pulls(model, patches, T, goal, Limits())
    tilt, _ = free.worst.tilt
    held = fewest_pulls(model, patches, T, goal, Limits(tilt=0.75 * tilt), budget=1500)
    if held.reached:
        assert held.worst.tilt[0] <= 0.75 * tilt * (1 + 1e-6)
        assert len(held.pulls) >= len(free.pulls)
    else:
        assert any(breach.what == "flange tilt" for breach in held.breaches) or not held.standing.met
    never = fewest_pulls(model, patches, T, goal, Limits(tilt=1e-6 * tilt), budget=300)
    assert not never.reached
    assert {breach.what for breach in never.breaches} == {"flange tilt"}
    assert never.kept == ()


def test_scatter_decides_when_there_is_any() -> None:
    """Final loads with a factor for each nut, one for each sample: nothing beats that floor, and the search says so."""
    case, model, patches = given("raised_face_8xM16_flat_gasket")
    T = case.bolts.target

    def evaluate_with(cv: float, samples: int = 200) -> object:
        rng = np.random.default_rng(2)
        factors = 1 + cv * rng.standard_normal((samples, model.n))

        def evaluate(pulls: Sequence[Pull]) -> np.ndarray:
            return np.asarray(run(model, pulls)[0][-1] * factors)

        return evaluate

    goal = Goal(least=0.9, spread=0.2, probability=0.9)
    easy = fewest_pulls(model, patches, T, goal, Limits(), evaluate=evaluate_with(0.02))  # type: ignore[arg-type]
    assert easy.reached
    assert len(easy.pulls) == 8
    assert easy.standing.probability is not None
    assert easy.standing.interval is not None
    assert easy.standing.interval[0] <= easy.standing.probability <= easy.standing.interval[1]
    assert easy.tried.sampled > 0
    hard = fewest_pulls(
        model,
        patches,
        T,
        goal,
        Limits(),
        evaluate=evaluate_with(0.15),
        budget=400,  # type: ignore[arg-type]
    )
    assert not hard.reached
    assert hard.standing.probability is not None
    assert hard.standing.probability < 0.9
    with pytest.raises(ValueError, match="needs an evaluation with scatter"):
        fewest_pulls(model, patches, T, goal, Limits())


def test_probability_and_its_interval() -> None:
    """Clopper and Pearson for 0 of 10 and 10 of 10: 0.025^(1/10) in closed form."""
    T, goal = 100.0, Goal(least=0.9, spread=0.1, probability=0.5)
    good, bad = np.full((10, 4), T), np.full((10, 4), 0.5 * T)
    edge = 0.025**0.1
    assert stand(good, T, goal).interval == pytest.approx((edge, 1.0))
    assert stand(bad, T, goal).interval == pytest.approx((0.0, 1 - edge))
    half = stand(np.concatenate([good, bad]), T, goal)
    assert half.met
    assert half.probability == 0.5
    assert stand(np.array([89.0, 100, 100, 100]), T, goal).shortfall == pytest.approx(0.01)
    assert stand(np.array([90.0, 103, 100, 100]), T, goal).shortfall == pytest.approx(0.03)
    assert stand(np.array([90.0, 100, 95, 95]), T, goal).met


def test_orders_are_orders() -> None:
    for n in (3, 4, 5, 8, 12, 17):
        for tools in (1, 2, 3):
            for steps in usual_orders(n, tools).values():
                assert sorted(bolt for step in steps for bolt in step) == list(range(n))
                assert len(steps) == -(-n // tools)
    order = ((0,), (3,), (1,), (4,), (2,))
    turned = tuple(((2 - b) % 5,) for (b,) in order)
    assert canonical(order, 5) == canonical(turned, 5)
    assert len({canonical(tuple((b,) for b in p), 5) for p in permutations(range(5))}) == 12  # 5! / 10
    for _, steps in zip(
        range(50), changed(usual_orders(8, 2)["opposite bolts"], np.random.default_rng(0)), strict=False
    ):
        assert sorted(bolt for step in steps for bolt in step) == list(range(8))
    assert of_tools({"two passes": order * 2, "one": order}, 5, 1) == {"one": order}
    assert next(iter(changed(((0,),), np.random.default_rng(0))), None) is None


def test_what_cannot_be_is_refused() -> None:
    case, model, patches = given("raised_face_4xM16")
    T = case.bolts.target
    with pytest.raises(ValueError, match="below the least load"):
        fewest_pulls(model, patches, T, Goal(least=0.9), Limits(bolt=0.8 * T))
    with pytest.raises(ValueError, match="each from 1 to 4"):
        fewest_pulls(model, patches, T, Goal(least=0.9), Limits(), tools=(5,))
    with pytest.raises(ValueError, match="bolts 0 to 3"):
        fewest_pulls(model, patches, T, Goal(least=0.9), Limits(), patterns={"wrong": ((4,),)})
    with pytest.raises(ValueError, match="too small"):
        fewest_pulls(model, patches, T, Goal(least=0.9), Limits(), budget=0)
    for wrong in ({"least": 0.0}, {"least": 0.9, "spread": 0.0}, {"least": 0.9, "probability": 1.1}):
        with pytest.raises(ValueError, match="goal"):
            Goal(**wrong)
    with pytest.raises(ValueError, match="samples of shape"):
        fewest_pulls(model, patches, T, Goal(least=0.9), Limits(), evaluate=lambda pulls: np.ones(4))
    assert pulls_of(((0, 1),), np.array([1.0, 2.0])) == (Pull((0, 1), (1.0, 2.0)),)
