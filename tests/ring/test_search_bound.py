"""Lower bounds and the gentlest order, against every order of small rings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import combinations, permutations

import numpy as np
import pytest
from scipy.optimize import nnls

from evenpull.ring.case import RingCase
from evenpull.ring.flange.model import condense
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.search.bound import _least_highest, compliance, fewest_possible
from evenpull.ring.search.gentlest import gentlest_order
from evenpull.ring.search.settings import even_settings
from evenpull.ring.search.trajectory import Steps
from evenpull.ring.stepping import Pull, run
from tests.ring.given import given_paths, read_given


@cache
def small(n: int) -> tuple[RingCase, RingModel]:
    """A ring of n bolts that interact strongly: the given 12 x M24 with fewer bolts, thicker, on a softer layer."""
    case, linear, _ = read_given(next(path for path in given_paths() if path.stem == "raised_face_12xM24"))
    one = replace(case.flanges[0], thickness=2 * case.flanges[0].thickness)
    case = replace(case, bolts=replace(case.bolts, count=n), flanges=(one, one))
    law = replace(linear, stiffness=0.03 * linear.stiffness)
    return case, ring_model(condense(case, radial=2, circumferential=4), case.bolts, law)


def state(C: np.ndarray, t: np.ndarray) -> np.ndarray:
    root = np.linalg.cholesky(C).T
    return np.asarray(nnls(root, np.linalg.solve(root.T, t))[0])


def highest_on_the_way(
    C: np.ndarray, t: np.ndarray, steps: Steps, known: dict[frozenset[int], np.ndarray], least: float = 0.0
) -> float:
    """Infinite where a bolt would be loose right after its own pull: no setting does that."""
    members: frozenset[int] = frozenset()
    worst = 0.0
    for step in steps:
        members |= set(step)
        if members not in known:
            known[members] = state(C, np.where(np.isin(np.arange(len(C)), list(members)), t, 0.0))
        F = known[members]
        worst = max(worst, float(F.max()) if F[list(step)].min() >= least else np.inf)
    return worst


def orders(n: int, tools: int) -> Iterator[Steps]:
    if tools == 1:
        yield from (tuple((b,) for b in order) for order in permutations(range(n)))
        return
    for order in permutations(range(n)):
        steps = tuple(order[at : at + tools] for at in range(0, n, tools))
        if all(tuple(sorted(step)) == step for step in steps):
            yield steps


@pytest.mark.parametrize(("n", "tools"), [(4, 1), (5, 1), (6, 1), (4, 2), (6, 2), (6, 3)])
def test_gentlest_order_is_the_best_of_all_orders(n: int, tools: int) -> None:
    case, model = small(n)
    T, C = case.bolts.target, compliance(model)
    known: dict[frozenset[int], np.ndarray] = {}
    every = [highest_on_the_way(C, C @ np.full(n, T), steps, known, 0.02 * T) for steps in orders(n, tools)]
    found = gentlest_order(C, T, tools)
    assert found is not None
    assert found.proven
    assert found.highest == pytest.approx(min(every), rel=1e-9)
    assert max(every) > 1.02 * min(every)  # there was something to choose
    stepped = even_settings(model, found.steps, T, tolerance=1e-4)
    assert stepped.deviation <= 1e-4
    assert stepped.highest == pytest.approx(found.highest, rel=2e-3)
    # no limit below what is needed is proven possible, none above impossible
    bound = fewest_possible(model, T, 1.0, 0.0, 1.0001 * found.highest, tools)
    assert bound.pulls == n // tools
    assert bound.first_pull is None or bound.first_pull <= found.highest


@pytest.mark.parametrize("n", [4, 5, 6])
def test_no_order_and_no_final_loads_within_the_goal_stay_below_the_first_pull(n: int) -> None:
    """The theorem for one pass, tried to break: final loads at random between the least and least + spread."""
    case, model = small(n)
    T, C = case.bolts.target, compliance(model)
    rng = np.random.default_rng(n)
    least, spread = 0.9, 0.1
    bound = fewest_possible(model, T, least, spread, 1.001 * T, 1)
    assert bound.first_pull is not None
    lowest = np.inf
    for trial in range(40):
        F = T * (least + spread * (rng.random(n) if trial % 2 else rng.integers(0, 2, n)))
        known: dict[frozenset[int], np.ndarray] = {}
        lowest = min(lowest, *(highest_on_the_way(C, C @ F, steps, known) for steps in orders(n, 1)))
    assert lowest >= bound.first_pull
    assert bound.first_pull > 0.5 * lowest  # and it is no empty claim, though these rings rock


@pytest.mark.parametrize("name", ["raised_face_12xM24", "raised_face_16xM36_spiral_wound_like", "raised_face_20xM30"])
def test_on_the_given_rings_the_bound_is_close_to_what_the_gentlest_order_needs(name: str) -> None:
    case, linear, _ = read_given(next(path for path in given_paths() if path.stem == name))
    model = ring_model(condense(case, radial=2, circumferential=4), case.bolts, linear)
    T = case.bolts.target
    even = gentlest_order(compliance(model), T)
    bound = fewest_possible(model, T, 1.0, 0.0, 1.2 * T)
    assert even is not None
    assert even.proven
    assert bound.first_pull is not None
    assert 0.96 * even.highest < bound.first_pull <= even.highest
    assert bound.pulls > model.n


def test_one_bolt_pulled_twice_stays_above_its_bound_too() -> None:
    n = 6
    case, model = small(n)
    T, C = case.bolts.target, compliance(model)
    low = high = float(C[0].sum() * T)  # exactly even loads: all travels are the same
    beta = [_least_highest(C, low, high, r, 0.0) for r in (0, 1, 2)]
    assert None not in beta
    assert beta == sorted(beta, reverse=True)  # type: ignore[type-var]
    rng = np.random.default_rng(1)
    lowest = {1: np.inf, 2: np.inf}
    for r in (1, 2):
        for _ in range(3000):
            once = int(rng.integers(n))
            before = rng.choice([b for b in range(n) if b != once], size=r, replace=False)
            t = np.zeros(n)
            t[once], t[before] = low, low * rng.random(r)
            lowest[r] = min(lowest[r], float(state(C, t).max()))
        assert lowest[r] >= beta[r]
        assert beta[r] > 0.6 * lowest[r]


def test_a_limit_below_the_bound_is_beyond_every_order_and_one_more_pull_is_claimed() -> None:
    n = 5
    case, model = small(n)
    T, C = case.bolts.target, compliance(model)
    even = gentlest_order(C, T)
    limit = 1.02 * T
    assert even is not None
    assert even.highest > 1.1 * T
    bound = fewest_possible(model, T, 0.97, 0.03, limit)
    assert bound.pulls >= n + 1
    assert "twice" in bound.why
    for steps in orders(n, 1):
        if steps[0] == (0,):
            found = even_settings(model, steps, T, limit=limit)
            assert not (found.final.min() >= 0.97 * T and found.spread <= 0.03 and found.within_limit)
    assert fewest_possible(model, T, 0.97, 0.03, None).pulls == n
    assert fewest_possible(model, T, 0.97, 0.03, 1.001 * even.highest).pulls == n


def test_travels_only_grow_with_one_tool() -> None:
    """What the proof for bolts that are pulled twice rests on, in the stepping itself."""
    case, model = small(6)
    T = case.bolts.target
    rng = np.random.default_rng(8)
    for _ in range(10):
        state = None
        travel = np.zeros(6)
        for _ in range(15):
            pull = Pull((int(rng.integers(6)),), (float(T * rng.uniform(0.2, 1.5)),))
            _, state = run(model, [pull], state)
            assert (state.travel >= travel - 1e-12).all()
            travel = state.travel


def test_other_laws_and_more_tools() -> None:
    case, _, _ = read_given(given_paths()[0])
    model = ring_model(condense(case, radial=2, circumferential=4), case.bolts, case.facing.law)
    T = case.bolts.target
    assert fewest_possible(model, T, 0.9, None, 1.01 * T, 3).pulls == 6  # 16 bolts; nothing more is claimed
    assert fewest_possible(model, T, 0.9, None, 1.01 * T, 3).first_pull is None
    with pytest.raises(ValueError, match="no one compliance"):
        compliance(model)
    with pytest.raises(ValueError, match="tools at once"):
        fewest_possible(model, T, 0.9, None, None, 17)
    n, (_, ring) = 6, small(6)
    C = compliance(ring)
    T = small(6)[0].bolts.target
    low = float(C[0].sum() * T)
    two = _least_highest(C, low, low, 1, low)
    assert two is not None
    t = np.zeros(n)
    pairs = []
    for pair in combinations(range(n), 2):
        t = np.zeros(n)
        t[list(pair)] = low
        pairs.append(float(state(C, t).max()))
    assert two <= min(pairs)
