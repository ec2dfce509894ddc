"""Feedback from the angle: the filter against a brute-force posterior, its own stated error, and what it removes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenpull.ring.flange.model import condense
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.scatter.assembly import Crew, LoadPull
from evenpull.ring.scatter.batch import start
from evenpull.ring.scatter.estimator import AngleReading, Estimator
from evenpull.ring.scatter.feedback import Pass, feedback
from evenpull.ring.scatter.friction import NutFriction, Tool, draw

from .scatter_rings import SHEET, small_case, small_model

FRICTION = NutFriction(K=0.15, F_ref=1e5, m=0.1, cv_lot=0.08, cv_nut=0.08, cv_pull=0.03, static_excess=0.1)
FINE = AngleReading(sd=math.radians(1), sd_seat=math.radians(5))
STAR = (0, 4, 1, 5, 2, 6, 3, 7)
T = 1e5


def one_pass(share: float, order: tuple[int, ...] = STAR, **how: bool) -> Pass:
    return Pass(tuple(LoadPull((bolt,), (share * T,)) for bolt in order), **how)


THREE = [one_pass(0.3, renewed=False), one_pass(0.7), one_pass(0.9)]


def test_one_nut_against_the_posterior_on_a_grid() -> None:
    """One bolt on a spring, two pulls: Bayes' rule by summing over a grid of x, u1, u2 (no filter in it)."""
    k, gasket, area, P, d = 4e8, 1e12, 2e-3, 2.5e-3, 0.02
    model = RingModel(
        1, np.array([[1.0, 0.0]]), k * np.array([[1.0, -1.0], [-1.0, 1.0]]), np.array([area]), LinearLaw(gasket), k
    )
    per_load = (1 / k + 1 / (gasket * area)) * 2 * math.pi / P  # rad/N
    friction = NutFriction(K=0.15, F_ref=1e5, cv_nut=0.1, cv_pull=0.04, static_excess=0.0)
    reading = AngleReading(sd=math.radians(1), sd_seat=math.radians(2))
    told = Estimator(model, friction, Tool(), reading, d=d, P=P, samples=1)
    torques = [friction.torque(0.5e5, d), friction.torque(1e5, d)]
    angles = [0.5e5 * per_load / 1.12, 0.5e5 * per_load / 1.09]
    for torque, angle in zip(torques, angles, strict=True):
        told.learn((0,), torque.reshape(1, 1), np.array([[True]]), np.array([[angle]]))
    s, su = math.sqrt(math.log1p(0.1**2)), math.sqrt(math.log1p(0.04**2))
    x = np.linspace(-6 * s, 6 * s, 241)[:, None, None] - s**2 / 2
    u1 = np.linspace(-5 * su, 5 * su, 81)[None, :, None] - su**2 / 2
    u2 = np.linspace(-5 * su, 5 * su, 81)[None, None, :] - su**2 / 2
    F1, F2 = 0.5e5 * np.exp(-x - u1), 1e5 * np.exp(-x - u2)
    sd1, sd2 = math.radians(math.hypot(1, 2)), math.radians(1)
    log = -((x + s**2 / 2) ** 2) / s**2 / 2 - ((u1 + su**2 / 2) ** 2 + (u2 + su**2 / 2) ** 2) / su**2 / 2
    log = log - (angles[0] - F1 * per_load) ** 2 / sd1**2 / 2 - (angles[1] - (F2 - F1) * per_load) ** 2 / sd2**2 / 2
    weight = np.exp(log - log.max())
    mean = float((weight * x).sum() / weight.sum())
    deviation = math.sqrt(float((weight * (x - mean) ** 2).sum() / weight.sum()))
    assert deviation < 0.7 * s  # the angles told something
    assert told.x[0, 0] == pytest.approx(mean, abs=0.1 * deviation)
    assert told.deviation()[0, 0] == pytest.approx(deviation, rel=0.1)


def test_the_error_that_the_filter_states_is_its_error() -> None:
    case, model = small_model(31, SHEET)
    samples, tool = 150, Tool(cv_own=0.02, cv_pull=0.01)
    rng, noise = np.random.default_rng(1), np.random.default_rng(2)
    drawn = draw(FRICTION, tool, samples, 8, 1, rng)
    crew = Crew(model, case.bolts, FRICTION, tool, drawn, rng)
    told = Estimator(model, FRICTION, tool, FINE, d=case.bolts.d, P=2.5e-3, samples=samples)
    batch = start(model, samples)
    seated = np.zeros((samples, 8), dtype=bool)
    for one in THREE:
        for pull in one.pulls:
            bolt = pull.bolts[0]
            torques = told.torques(pull.bolts, pull.loads)
            after = crew.torque(batch, pull.bolts, torques)
            way = after.travel[:, [bolt]] - batch.travel[:, [bolt]]
            sd = np.where(seated[:, [bolt]], FINE.sd, math.hypot(FINE.sd, FINE.sd_seat))
            seated[:, [bolt]] |= way > 0.0
            angles = way * 2 * math.pi / 2.5e-3 + sd * noise.standard_normal(way.shape)
            told.learn(pull.bolts, torques, way > 0.0, angles)
            batch = after
    z = (told.x - np.log(drawn.nut / drawn.tool)) / told.deviation()
    assert 0.85 < z.std() < 1.25
    assert abs(z.mean()) < 0.25
    assert told.deviation().mean() < 0.045
    off = (batch.F - told.batch.F - told.error) / T
    assert off.std() < 0.045  # the loads are known better than torque alone would tell


def test_angle_removes_more_than_half_of_the_friction_part() -> None:
    case, model = small_model(31, SHEET)
    tool = Tool(cv_own=0.02, cv_pull=0.01, sd_angle=math.radians(1))
    last = one_pass(1.0, tuple(range(8)), by_angle=True)
    result = feedback(model, case.bolts, [*THREE, last], FRICTION, FINE, samples=150, seed=3, tool=tool)
    error = result.removed_error(np.random.default_rng(0))
    assert result.removed - 3 * error > 0.5
    assert result.K_after < 0.45 * result.K_before
    without, with_feedback, even = result.spread
    assert even < with_feedback < 0.5 * without
    assert result.kind == "torque control with scatter"


def test_what_is_new_in_each_pull_stays_when_all_is_set_by_torque() -> None:
    """Renewed torques can at best take away what the nut keeps: the last pull's own part remains as a floor."""
    case, model = small_model(31, SHEET)
    free = replace(FRICTION, static_excess=0.0)
    passes = [*THREE, one_pass(1.0, tuple(range(8)))]
    result = feedback(model, case.bolts, passes, free, FINE, samples=150, seed=4)
    floor = math.sqrt(math.log1p(0.03**2)) / 0.9
    assert result.removed > 0.25
    assert result.spread[1] > 0.9 * floor


def test_blind_reading_removes_nothing_and_a_rough_one_less_than_a_fine_one() -> None:
    case, model = small_model(31, SHEET)
    passes = [*THREE, one_pass(1.0, tuple(range(8)))]

    def removed(degrees: float) -> float:
        reading = AngleReading(sd=math.radians(degrees), sd_seat=math.radians(5))
        return feedback(model, case.bolts, passes, FRICTION, reading, samples=100, seed=5).removed

    fine, rough, blind = removed(1), removed(5), removed(3000)
    assert fine > rough + 0.05
    assert abs(blind) < 0.05


def test_angle_of_a_check_pass_alone() -> None:
    """Angles of one pass at a higher torque, none before it: the load rises by a known share, so the angle tells K."""
    case, model = small_model(31, SHEET)
    plain = {"renewed": False, "read": False}
    check = one_pass(1.0, renewed=False, read=True)
    passes = [one_pass(0.3, **plain), one_pass(0.6, **plain), check]
    result = feedback(model, case.bolts, passes, FRICTION, FINE, samples=100, seed=6)
    assert result.K_after < 0.85 * result.K_before
    assert np.array_equal(result.without, result.with_feedback)  # nothing was renewed after it


def test_two_tools_and_a_ring_that_the_crew_knows_only_roughly() -> None:
    """The crew's gasket is 20 % softer on its curve and on its way back than the real one."""
    case, model = small_model(31, SHEET)
    softer = GasketLaw(tuple((w * 1.2, p) for w, p in SHEET.curve), SHEET.unloading / 1.2)
    known = ring_model(condense(case, radial=2, circumferential=4), case.bolts, softer)
    order = [(0, 4), (1, 5), (2, 6), (3, 7)]
    shares = [(0.3, False), (0.7, True), (0.9, True), (1.0, True)]
    passes = [Pass(tuple(LoadPull(two, (share * T,) * 2) for two in order), renewed) for share, renewed in shares]
    free = replace(FRICTION, cv_pull=0.01, static_excess=0.0)
    exact = feedback(model, case.bolts, passes, free, FINE, samples=100, seed=7)
    rough = feedback(model, case.bolts, passes, free, FINE, samples=100, seed=7, known=known)
    assert exact.removed > 0.3
    assert 0.1 < rough.removed < exact.removed + 0.05


def test_the_same_seed_gives_the_same_numbers() -> None:
    case, model = small_model(31, SHEET)
    one, two = (feedback(model, case.bolts, THREE, FRICTION, FINE, samples=20, seed=8) for _ in range(2))
    assert np.array_equal(one.with_feedback, two.with_feedback)
    other = feedback(model, case.bolts, THREE, FRICTION, FINE, samples=20, seed=9)
    assert not np.array_equal(one.without, other.without)


def test_bad_input() -> None:
    case, model = small_model(31, SHEET)
    bolts = replace(small_case(31, SHEET).bolts, P=None)
    with pytest.raises(ValueError, match="pitch P"):
        feedback(model, bolts, THREE, FRICTION, FINE, samples=5, seed=1)
    with pytest.raises(ValueError, match="no pull"):
        feedback(model, case.bolts, [], FRICTION, FINE, samples=5, seed=1)
    with pytest.raises(ValueError, match="no friction part"):
        steady = NutFriction(K=0.15, F_ref=1e5, static_excess=0.0)
        _ = feedback(model, case.bolts, THREE, steady, FINE, samples=5, seed=1).removed
    with pytest.raises(ValueError, match="scatter above 0"):
        AngleReading(sd=0.0)
    with pytest.raises(ValueError, match="renewed"):
        one_pass(1.0, renewed=False, by_angle=True)
