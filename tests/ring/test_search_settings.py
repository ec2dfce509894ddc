"""Individual settings: against plain linear algebra, and on the given joints."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import nnls

from evenpull.plan.orders import circular, star
from evenpull.ring.case import RingCase
from evenpull.ring.flange.model import condense
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.search.settings import even_in_passes, even_settings
from evenpull.ring.search.trajectory import Steps, check_steps, follow, pulls_of, slopes
from evenpull.ring.stepping import run
from tests.ring.given import given_paths, read_given

LAWS = ("linear", "loading curve")


@cache
def joint(path: Path, law: str, radial: int = 2, circumferential: int = 4) -> tuple[RingCase, RingModel]:
    case, linear, _ = read_given(path)
    condensed = condense(case, radial=radial, circumferential=circumferential)
    return case, ring_model(condensed, case.bolts, linear if law == "linear" else case.facing.law)


def from_zero(steps: Steps) -> Steps:
    return tuple(tuple(bolt - 1 for bolt in bolts) for bolts in steps)


def path_of(name: str) -> Path:
    return next(path for path in given_paths() if path.stem == name)


def locked_stiffness(model: RingModel) -> np.ndarray:
    """(n, n) N/m: loads for nut travels with every nut in contact, linear law: the gasket's unknowns eliminated."""
    r = model.modes
    K = model.B + model.law.stiffest * (model.Y.T * model.areas) @ model.Y
    return np.asarray(K[r:, r:] - K[r:, :r] @ np.linalg.solve(K[:r, :r], K[:r, r:]))


def test_slopes_are_the_matrix_of_a_pass_with_all_nuts_locked() -> None:
    """All bolts first at half the target together, so that every nut is in contact; then one by one. Each pull adds
    travel to its own nut only: F <- F + S_i (s_i - F_i) / S_ii, so F = A s + what the first pull left."""
    case, model = joint(path_of("raised_face_8xM20"), "linear")
    n, T = model.n, case.bolts.target
    order = [bolt for (bolt,) in from_zero(star(n))]
    S = locked_stiffness(model)
    F, A = np.full(n, 0.5 * T), np.zeros((n, n))
    s = T * np.linspace(1.0, 1.3, n)
    for at, bolt in enumerate(order):
        column = S[:, bolt] / S[bolt, bolt]
        F = F + column * (s[at] - F[bolt])
        A -= np.outer(column, A[bolt])
        A[:, at] += column
    steps: Steps = (tuple(range(n)), *((bolt,) for bolt in order))
    pulls = pulls_of(steps, np.concatenate([np.full(n, 0.5 * T), s]))
    path = follow(model, pulls)
    assert path.loads[0] == pytest.approx(0.5 * T)
    assert path.loads.min() > 0  # every nut in contact
    assert path.final == pytest.approx(F, rel=1e-5)
    found = slopes(model, pulls, path, 2e-3 * T)[n:, -1].T
    assert found == pytest.approx(A, abs=1e-4)
    # and from there to settings that end even: the first step held, the others by numpy, stepped through
    rest = F - A @ s
    solved = np.linalg.solve(A, T - rest)
    assert run(model, pulls_of(steps, np.concatenate([np.full(n, 0.5 * T), solved])))[0][-1] == pytest.approx(T)


def test_settings_are_those_of_the_contact_problem_of_each_pull() -> None:
    """One pass, linear law. Compliance C = S^-1, final travels t = C F. With the set P pulled, the loads are the least
    of F'CF/2 - t_P'F_P over F >= 0 (nuts only push; those not pulled yet stand at zero travel), which is a non-negative
    least-squares problem. The load of the bolt pulled last is the setting that leaves exactly F in the end."""
    case, model = joint(path_of("full_face_16xM20_soft_gasket"), "linear")
    n, T = model.n, case.bolts.target
    order = [bolt for (bolt,) in from_zero(star(n))]
    C = np.linalg.inv(locked_stiffness(model))
    root = np.linalg.cholesky(0.5 * (C + C.T)).T
    states = []
    for at in range(n):
        t = np.where(np.isin(np.arange(n), order[: at + 1]), C @ np.full(n, T), 0.0)
        states.append(nnls(root, np.linalg.solve(root.T, t))[0])
    found = even_settings(model, tuple((bolt,) for bolt in order), T, tolerance=1e-5)
    assert found.settings == pytest.approx([F[bolt] for F, bolt in zip(states, order, strict=True)], rel=1e-4)
    assert found.loads == pytest.approx(np.array(states), abs=1e-4 * T)
    assert found.highest > 1.1 * T


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("path", given_paths(), ids=lambda path: path.stem)
def test_one_pass_is_even_within_three_per_cent_on_the_fine_model(path: Path, law: str) -> None:
    case, coarse = joint(path, law)
    _, fine = joint(path, law, 3, 8)
    T = case.bolts.target
    for steps in (star(coarse.n), circular(coarse.n), star(coarse.n, 2)):
        found = even_settings(coarse, from_zero(steps), T)
        assert found.deviation <= 0.002
        final = run(fine, found.pulls)[0][-1] / T
        assert final.max() - final.min() <= 0.03
        assert np.abs(final - 1).max() <= 0.03
        with_one_setting = run(coarse, pulls_of(from_zero(steps), np.full(coarse.n, T)))[0][-1] / T
        assert found.spread < 0.1 * (with_one_setting.max() - with_one_setting.min()) + 0.002


def test_what_the_limit_keeps_from_being_even_says_by_how_much_and_takes_two_passes() -> None:
    case, model = joint(path_of("raised_face_12xM24"), "loading curve")
    T = case.bolts.target
    order = from_zero(star(model.n))
    free = even_settings(model, order, T)
    limit = 0.5 * (T + free.highest)
    one, two = even_in_passes(model, order, T, limit=limit)
    assert free.highest > 1.5 * T  # what makes the limit bite
    assert one.needed == pytest.approx(free.highest, rel=5e-3)
    assert one.deviation > 0.03
    assert one.within_limit
    assert one.highest == pytest.approx(limit, rel=1e-3)  # it goes as high as it may
    assert two.deviation <= 0.002
    assert two.within_limit
    assert len(two.pulls) == 2 * len(one.pulls)


def test_bounded_settings_are_no_worse_than_any_scaled_down_ones() -> None:
    case, model = joint(path_of("raised_face_8xM20"), "linear")
    T = case.bolts.target
    order = from_zero(star(model.n))
    limit = 1.15 * T
    free = even_settings(model, order, T)
    bounded = even_settings(model, order, T, limit=limit)
    assert free.highest > limit
    for scale in (1.0, 0.97, 0.94, 0.9):
        loads = run(model, pulls_of(order, np.minimum(free.settings * scale, limit)))[0]
        assert bounded.deviation <= np.abs(loads[-1] / T - 1).max() + 1e-4
    rng = np.random.default_rng(5)
    for _ in range(200):  # nor than neighbours that keep the limit
        trial = pulls_of(order, np.minimum(bounded.settings * (1 + 0.02 * rng.standard_normal(model.n)), limit))
        loads = run(model, trial)[0]
        if loads.max() <= limit:
            assert bounded.deviation <= np.abs(loads[-1] / T - 1).max() + 1e-4


def test_what_does_not_fit_is_refused() -> None:
    case, model = joint(path_of("raised_face_4xM16"), "linear")
    T = case.bolts.target
    with pytest.raises(ValueError, match="bolt 3 is never pulled"):
        even_settings(model, ((0,), (1,), (2,)), T)
    with pytest.raises(ValueError, match=r"limit of .* below the target"):
        even_settings(model, ((0,), (1,), (2,), (3,)), T, limit=0.9 * T)
    with pytest.raises(ValueError, match="above zero"):
        even_settings(model, ((0,), (1,), (2,), (3,)), 0.0)
    with pytest.raises(ValueError, match="bolts 0 to 3"):
        check_steps(((0,), (4,)), 4)
    with pytest.raises(ValueError, match="twice at the same time"):
        check_steps(((0, 0),), 4)
    with pytest.raises(ValueError, match="pulls no bolt"):
        check_steps(((0,), ()), 4)
    with pytest.raises(ValueError, match="3 settings for 4"):
        pulls_of(((0, 1), (2, 3)), np.ones(3))
