"""Procedures on many assemblies: what each way of control lets through."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenpull.ring import stepping
from evenpull.ring.scatter.assembly import AnglePull, LoadPull, Step, TorquePull, Wait, assemble, by_torque, timed
from evenpull.ring.scatter.creep import LogCreep
from evenpull.ring.scatter.friction import NutFriction, Tool

from .scatter_rings import SHEET, small_case, small_model, star_and_circular

FRICTION = NutFriction(K=0.15, F_ref=1e5, m=0.1, cv_nut=0.08, cv_pull=0.04, static_excess=0.0)


def procedure(count: int, target: float) -> list[LoadPull]:
    return [LoadPull(bolts, (share * target,) * len(bolts)) for bolts, share in star_and_circular(count)]


def test_without_scatter_it_is_the_stepping() -> None:
    case, model = small_model(11, SHEET)
    pulls = procedure(8, case.bolts.target)
    result = assemble(model, case.bolts, pulls, samples=2, rng=np.random.default_rng(0))
    loads, _ = stepping.run(model, [stepping.Pull(pull.bolts, pull.loads) for pull in pulls])
    assert result.kind == "interaction only"
    assert np.abs(result.loads[:, 1] - loads).max() < 1e-5 * case.bolts.target
    assert np.array_equal(result.highest, result.loads.max(axis=0))


def test_torque_without_scatter_of_friction_is_the_stepping_too() -> None:
    case, model = small_model(11, SHEET)
    even = NutFriction(K=0.15, F_ref=1e5, m=0.2, static_excess=0.0)
    pulls = procedure(8, case.bolts.target)
    by_load = assemble(model, case.bolts, pulls, samples=1, rng=np.random.default_rng(0))
    torqued = [by_torque(pull, even, case.bolts.d) for pull in pulls]
    result = assemble(model, case.bolts, torqued, samples=1, rng=np.random.default_rng(0), friction=even)
    assert result.kind == "torque control with scatter"
    assert result.final == pytest.approx(by_load.final, rel=1e-6)


def test_the_first_bolt_has_the_load_of_its_torque() -> None:
    """Nothing has come before: ln F of that bolt has s = s(ln K)/(1 - m) whatever the ring does."""
    case, model = small_model(12, SHEET)
    first = by_torque(LoadPull((0,), (case.bolts.target,)), FRICTION, case.bolts.d)
    result = assemble(model, case.bolts, [first], samples=2000, rng=np.random.default_rng(1), friction=FRICTION)
    sigma = math.sqrt(math.log1p(0.08**2) + math.log1p(0.04**2)) / 0.9
    assert np.log(result.final[:, 0]).std() == pytest.approx(sigma, rel=0.06)
    assert np.median(result.final[:, 0]) == pytest.approx(case.bolts.target, rel=0.01)


def test_a_tool_of_its_own_moves_all_its_bolts() -> None:
    case, model = small_model(13, SHEET)
    pairs = [LoadPull((k, k + 4), (case.bolts.target,) * 2) for k in range(4)]
    result = assemble(
        model, case.bolts, pairs[:1], samples=400, rng=np.random.default_rng(2), tool=Tool(cv_own=0.05, cv_pull=0.0)
    )
    assert result.kind == "load control with scatter"
    first, second = result.final[:, 0], result.final[:, 4]
    assert first.std() / first.mean() == pytest.approx(0.05, rel=0.12)
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.15


def test_angle_control_does_not_see_friction() -> None:
    """From snug on, travel decides: a K twice as scattered at a tenth of the load adds a tenth of its scatter."""
    case, model = small_model(14, SHEET)
    snug = float(FRICTION.torque(1e4, case.bolts.d))
    angle = math.radians(40)
    steps = [AnglePull((0, 4), (snug, snug), (angle, angle))]
    result = assemble(model, case.bolts, steps, samples=300, rng=np.random.default_rng(3), friction=FRICTION)
    by_angle = result.final[:, 0]
    assert result.kind == "angle control with scatter"
    torque = float(FRICTION.torque(float(by_angle.mean()), case.bolts.d))
    torqued = [TorquePull((0, 4), (torque, torque))]
    other = assemble(model, case.bolts, torqued, samples=300, rng=np.random.default_rng(3), friction=FRICTION)
    assert by_angle.std() < 0.5 * other.final[:, 0].std()
    before = assemble(
        model, case.bolts, [TorquePull((0, 4), (snug, snug))], samples=300, rng=np.random.default_rng(3),
        friction=FRICTION,
    )  # fmt: skip
    travel = result.end.travel[:, 0] - before.end.travel[:, 0]
    assert travel == pytest.approx(2.5e-3 * 40 / 360)


def test_waits_lie_between_pulls_and_passes() -> None:
    a, b = LoadPull((0,), (1.0,)), LoadPull((1,), (1.0,))
    steps = timed([[a, b], [b]], between_pulls=60.0, between_passes=600.0, dwell=3600.0)
    assert steps == [a, Wait(60.0), b, Wait(600.0), b, Wait(3600.0)]


def test_creep_after_the_last_pass_lowers_every_bolt() -> None:
    case, model = small_model(15, SHEET)
    pulls = procedure(8, case.bolts.target)
    law = LogCreep(5e-14, 60.0)
    plain = assemble(model, case.bolts, pulls, samples=1, rng=np.random.default_rng(0), creep=law)
    dwelt = assemble(
        model, case.bolts, timed([pulls], dwell=4 * 3600.0), samples=1, rng=np.random.default_rng(0), creep=law
    )
    assert (dwelt.final < plain.final).all()


@pytest.mark.parametrize(
    ("step", "message"),
    [
        (TorquePull((0,), (100.0,)), "friction"),
        (LoadPull((0, 1), (1e4,)), "as many settings"),
        (LoadPull((8,), (1e4,)), "bolts 0 to 7"),
        (LoadPull((1, 1), (1e4, 1e4)), "bolts 0 to 7"),
        (LoadPull((1,), (-1e4,)), "above 0"),
    ],
)
def test_bad_steps(step: Step, message: str) -> None:
    case, model = small_model(11, SHEET)
    with pytest.raises(ValueError, match=message):
        assemble(model, case.bolts, [step], samples=1, rng=np.random.default_rng(0))


def test_no_steps() -> None:
    _, model = small_model(11, SHEET)
    with pytest.raises(ValueError, match="no step"):
        assemble(model, small_case(11, SHEET).bolts, [], samples=1, rng=np.random.default_rng(0))
