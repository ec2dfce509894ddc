"""Verdicts: each rule on its fault, reasons with numbers, both bases, nothing learned in silence."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenpull.curve import CurveError, measure
from evenpull.curve.columns import joined, one_curve
from evenpull.curve.confusion import CALLED, FIXED_ON, Row, as_page, confusion
from evenpull.curve.expectation import Expectation, expected, nothing_expected, stacked, torque_slope
from evenpull.curve.judge import judge, judged_in_parts
from evenpull.curve.learned import CONFIDENCE, CONTENT, EFFICIENCY, drift, learn, told
from evenpull.curve.reasons import READS, answer, not_applied, picture, reasons, told_limit
from evenpull.curve.simulate import FAULTS, one, simulate
from evenpull.curve.simulated_joints import random_joint
from evenpull.curve.verdicts import VERDICTS, verdicts
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening.turning import elastic_angle
from evenpull.statistics.tolerance import tolerance_factor
from tests.curve.made import curve, ramp

SEED = FIXED_ON + 500  # thresholds were never looked at on it


def expectation(**other: float) -> Expectation:
    """Of the straight curve of `made.ramp`: 720 deg of run-down at 2 N.m, 1 N.m/deg to 40 N.m."""
    own = {"target": 40.0, "T_low": 38.0, "T_high": 42.0, "k_low": 0.7, "k_high": 1.4, "theta_low": 27.0,
           "theta_high": 55.0, "drag_high": 3.0, "run_low": 600.0, "run_high": 840.0, "gasket": 0.0, "last_step": 1.0,
           "fresh": 1.0}
    return Expectation(**{name: np.array([value]) for name, value in (own | other).items()})


@pytest.fixture(scope="module")
def table() -> list[Row]:
    return confusion(SEED, 60, good=600)


def test_faults_are_found_on_joints_that_set_no_threshold(table: list[Row]) -> None:
    """60 curves of each fault: 95 % aimed at; a single fault may miss 6 by chance alone (binomial, 5 % missed: 1 %)."""
    assert [row.fault for row in table] == list(FAULTS)
    faulty = [row for row in table if row.fault != "none"]
    assert all(row.found >= 60 - 6 for row in faulty), as_page(table)
    assert sum(row.found for row in faulty) >= 0.96 * sum(row.n for row in faulty)
    assert set(CALLED) == set(FAULTS) - {"none"} and set(CALLED.values()) <= set(VERDICTS)


def test_good_curves_are_left_alone(table: list[Row]) -> None:
    """600 good ones: 1 % aimed at."""
    good = next(row for row in table if row.fault == "none")
    assert good.n == 600 and good.found <= 6, as_page(table)


def test_limits_of_a_share() -> None:
    """Clopper and Pearson for 0 of 10 and 5 of 10 at 95 %: 0 to 0.3085, 0.1871 to 0.8129 (tables, from memory)."""
    assert Row("x", 10, 0, 0, {}).limits() == pytest.approx((0, 0.3085), abs=1e-4)
    assert Row("x", 10, 5, 5, {}).limits() == pytest.approx((0.1871, 0.8129), abs=1e-4)


def test_a_good_curve_is_accepted() -> None:
    judged = judge(curve(noise=0.1), expectation()).mechanics
    assert answer(judged, 0) == "accepted" and reasons(judged, 0) == ()
    assert judged.first() == ["none"]


@pytest.mark.parametrize(("verdict", "made", "other"), [
    ("seized or drag high", {"T_run": 9.0}, {}),
    ("extra part", {"run": 300.0}, {}),
    ("missing part", {"run": 1200.0}, {}),
    ("bottomed", {"k": 4.0}, {}),
    ("soft or lost gasket", {"k": 0.4}, {"gasket": 1.0}),
    ("soft or lost gasket", {"k": 4.0}, {"gasket": 1.0}),
    ("cross-thread or early seating", {"run": 300.0, "k": 0.3}, {}),
    ("stopped by the user", {"target": 25.0}, {}),
    ("torque outside its window", {"target": 44.0}, {}),
    ("slip or stripping", {"k": 0.3}, {"k_low": 0.2, "theta_high": 55.0}),
    ("step order", {}, {"last_step": 3.0}),
])  # fmt: skip
def test_one_fault_gives_its_verdict_with_its_numbers(
    verdict: str, made: dict[str, float], other: dict[str, float],
) -> None:
    judged = judge(curve(noise=0.1, **made), expectation(**other)).mechanics
    assert judged.first() == [verdict]
    assert answer(judged, 0) == "not accepted"
    reason = reasons(judged, 0)[0]
    assert reason.verdict == verdict and reason.numbers and reason.basis == "mechanics of the joint"
    assert any(any(sign.isdigit() for sign in value) for _, value in reason.numbers)
    assert str(reason).startswith(f"{verdict}: ")


@pytest.mark.parametrize(("slope", "turn", "found"), [
    (0.6, 6.0, True),    # bend 2.4/35.6 = 0.067: much, for a slope that has fallen by 40 %
    (0.75, 12.0, True),  # 3/35 = 0.086
    (0.75, 6.0, False),  # 1.5/36.5 = 0.041: stick-slip may feign that
    (0.9, 6.0, False),   # 0.6/37.4 = 0.016
])  # fmt: skip
def test_yield_asks_for_less_bend_the_more_the_slope_has_fallen(slope: float, turn: float, found: bool) -> None:
    """1 N.m/deg, then `slope` over the last `turn` deg: it lags (1 - slope) turn behind its line from 720 deg."""
    time, angle, torque = ramp(tail=0, noise=0.02)
    kink = 758.0 - turn
    bent = np.where(angle > kink, torque - (1 - slope) * (angle - kink), torque)
    judged = judge(one_curve(time, angle, bent), expectation(T_low=35.0)).mechanics
    lag, line = (1 - slope) * turn, 38.0 - (1 - slope) * turn
    assert judged.features["bend"][0] == pytest.approx(lag / line, abs=0.01)
    assert judged.features["k_end"][0] == pytest.approx(slope, abs=0.03)
    assert judged.of("yield suspected")[0] == found


def test_a_re_hit_sampled_fast_is_not_called_a_sensor_fault() -> None:
    """Tight at once, and the record ends while the torque falls: 11 % at the last point are no zero that is off."""
    turn = np.linspace(0, 6, 60)
    after = np.arange(1, 80) / 6000
    curves = one_curve(np.append(turn / 400, 6 / 400 + after), np.append(turn, np.full(79, 6.0)),
                       np.append(40 * turn / 6, 40 * np.exp(-after / 0.006)))
    assert judge(curves, expectation()).mechanics.first() == ["re-hit"]


def test_every_verdict_of_the_simulator_has_reasons_and_a_picture() -> None:
    made = simulate(SEED, list(FAULTS[1:]))
    judged = judge(made.curves, made.expectation).mechanics
    for c in range(len(made.curves)):
        for reason in reasons(judged, c):
            assert judged.of(reason.verdict)[c] and reason.says and reason.numbers
        drawn = picture(made.curves, judged, c)
        assert len(drawn.angle) == len(drawn.torque) == np.diff(made.curves.offsets)[c]


@pytest.mark.parametrize(("name", "said"), [
    ("target", "180 N.m"), ("T_low", "180 N.m"), ("drag_high", "180 N.m"), ("k_high", "180 N.m/deg"),
    ("theta_low", "180 deg"), ("run_high", "180 deg"), ("last_step", "180")])
def test_a_limit_is_told_with_its_unit(name: str, said: str) -> None:
    assert told_limit(name, 180.0) == said
    assert name in {limit for _, limits in READS.values() for limit in limits}


def test_limits_that_are_not_stated_are_not_told() -> None:
    made = simulate(SEED, list(FAULTS[1:]))
    judged = judge(made.curves, made.expectation).mechanics
    told = [limit for c in range(len(made.curves)) for reason in reasons(judged, c) for limit in reason.limits]
    assert told and all("nan" not in value and value == told_limit(name, float(value.split()[0]))
                        for name, value in told)


def test_the_picture_marks_what_was_found() -> None:
    curves = curve()
    marks = {name: (x, y) for name, x, y in picture(curves, judge(curves, expectation()).mechanics, 0).marks}
    assert marks["seat"] == pytest.approx((720, 2), abs=0.1) and marks["shut-off"] == pytest.approx((758, 40), abs=0.1)


def test_without_a_window_nothing_is_accepted() -> None:
    judged = judge(curve(noise=0.1), nothing_expected(1)).mechanics
    assert answer(judged, 0) == "not judged"
    assert "seized or drag high" in not_applied(judged, 0) and "bottomed" in not_applied(judged, 0)
    assert "sensor fault" not in not_applied(judged, 0)
    few = judge(one_curve([0, 1], [0, 1], [0, 1]), expectation()).mechanics
    assert answer(few, 0) == "not judged"


def test_a_spoiled_sensor_says_nothing_about_the_joint() -> None:
    time, angle, torque = ramp(T_run=9.0)
    torque[::20] = math.nan
    judged = judge(one_curve(time, angle, torque), expectation()).mechanics
    assert [reason.verdict for reason in reasons(judged, 0)] == ["sensor fault"]


def test_expectations_are_one_for_each_curve() -> None:
    with pytest.raises(CurveError, match="2 expectations"):
        verdicts(measure(curve(), target=40.0), stacked([expectation(), expectation()]))


def test_slope_of_the_mechanics() -> None:
    """Without twist the turn to the target is VDI 2230's (2 pi/P) F (delta_S + delta_P); twist and windup add to it."""
    joint = random_joint(np.random.default_rng(7))
    case = joint.case
    stiff = replace(case, bolt=replace(case.bolt, material=replace(case.bolt.material, E=205e9)))
    k = torque_slope(stiff, 0.12, 0.12)
    F = 1000.0
    from evenpull.curve.simulated_joints import levers

    L, L_G = levers(joint, 0.12, 0.12)
    turn = elastic_angle(F, case.bolt.thread.P, bolt_resilience(case).total, clamped_resilience(case).total)
    assert F * L / k > math.degrees(float(turn))
    assert F * L / k < 1.4 * math.degrees(float(turn))
    assert torque_slope(case, 0.12, 0.12, windup=1 / (k * 180 / math.pi)) == pytest.approx(k / 2)
    assert torque_slope(case, 0.12, 0.12, springs=1.25) < k < torque_slope(case, 0.2, 0.2)
    assert L_G < L


def test_the_window_holds_its_nominal_slope() -> None:
    joint = random_joint(np.random.default_rng(8))
    own = expected(joint.case, joint.target)
    assert own.k_low[0] < torque_slope(joint.case, 0.12, 0.12) < own.k_high[0]
    assert math.isnan(own.run_low[0])
    with pytest.raises(ValueError, match="above the drag"):
        expected(joint.case, 0.0)


def test_the_simulator_is_the_same_for_the_same_seed_and_refuses_what_it_does_not_know() -> None:
    one_, two = simulate(4, ["none", "slip"]), simulate(4, ["none", "slip"])
    assert np.array_equal(one_.curves.torque, two.curves.torque)
    assert not np.array_equal(one_.curves.torque[:100], simulate(5, ["none", "slip"]).curves.torque[:100])
    dice = np.random.default_rng(1)
    joint = random_joint(dice)
    with pytest.raises(ValueError, match="no fault 'rust'"):
        one(joint, "rust", dice)
    with pytest.raises(ValueError, match="has no gasket"):
        one(replace(joint, case=replace(joint.case, gasket=None)), "lost gasket", dice)


@pytest.mark.parametrize("fault", ["none", "cross-thread", "bottomed"])
def test_simulated_truth_is_measured_back(fault: str) -> None:
    """The elastic slope of a good simulated curve lies in the window that the mechanics give, that of a bottomed one
    above it: simulator and expectation share formulas, so this only shows that neither lost a factor."""
    dice = np.random.default_rng(11)
    joint = random_joint(dice)
    while joint.case.gasket is not None:
        joint = random_joint(dice)
    made = simulate(12, [fault] * 30, joint=joint)
    k = measure(made.curves, target=joint.target)["k_el"]
    inside = (k > made.expectation.k_low) & (k < made.expectation.k_high)
    assert inside.mean() > 0.95 if fault == "none" else inside.mean() < 0.95


def good_ones(seed: int, n: int, shift: float = 0.0):  # type: ignore[no-untyped-def]
    joint = random_joint(np.random.default_rng(21))
    made = simulate(seed, ["none"] * n, joint=joint)
    features = measure(made.curves, target=joint.target)
    features["k_el"][:] *= 1 + shift
    return made, features


def test_windows_are_learned_robustly() -> None:
    _, features = good_ones(31, 60)
    plain = learn("KN-CW-014", features, np.ones(60, bool))
    features["k_el"][:3] *= 50  # three that should never have been accepted
    spoiled = learn("KN-CW-014", features, np.ones(60, bool))
    own, other = plain.window("k_el"), spoiled.window("k_el")
    assert own is not None and other is not None
    assert other.high == pytest.approx(own.high, rel=0.2)
    k = tolerance_factor(int(1 + EFFICIENCY * 59), CONTENT, CONFIDENCE)
    assert own.high / own.median == pytest.approx(math.exp(k * own.sigma))
    assert plain.digest != spoiled.digest


def test_learning_needs_25_accepted_ones() -> None:
    _, features = good_ones(32, 40)
    with pytest.raises(CurveError, match="at least 25 are needed"):
        learn("KN-CW-014", features, np.arange(40) < 24)
    assert learn("KN-CW-014", features, np.arange(40) < 25).n == 25
    with pytest.raises(CurveError, match="one answer for each"):
        learn("KN-CW-014", features, [True])


def test_both_bases_are_shown_and_learned_windows_hold_good_curves() -> None:
    made, features = good_ones(33, 80)
    learned = learn("KN-CW-014", features, np.ones(80, bool))
    later, _ = good_ones(34, 300)
    judged = judge(later.curves, later.expectation, learned)
    assert judged.learned is not None and judged.learned.basis != judged.mechanics.basis
    assert judged.learned.found.any(axis=1).mean() <= 0.02
    parts = list(judged_in_parts(iter([(later.curves[:100], stacked([made.expectation, made.expectation]))][:0])))
    assert parts == []


def test_drift_is_told_and_changes_no_window() -> None:
    _, features = good_ones(35, 60)
    learned = learn("KN-CW-014", features, np.ones(60, bool))
    before = learned.windows
    _, same = good_ones(36, 60)
    assert "no drift" in told(drift(learned, same))
    _, moved = good_ones(37, 60, shift=0.3)
    found = {one.name: one for one in drift(learned, moved)}
    assert found["k_el"].moved and found["k_el"].shift > 3.3
    assert "learn anew only" in told(tuple(found.values()))
    assert learned.windows is before


def test_a_column_is_judged_as_its_curves_are() -> None:
    made = simulate(SEED + 1, list(FAULTS))
    whole = judge(made.curves, made.expectation).mechanics
    parts = [(made.curves[c:c + 5], Expectation(**{name: getattr(made.expectation, name)[c:c + 5]
                                                   for name in made.expectation.__slots__})) for c in range(0, 14, 5)]
    found = np.concatenate([one.mechanics.found for one in judged_in_parts(iter(parts))])
    assert np.array_equal(found, whole.found)
    assert len(joined([curves for curves, _ in parts])) == 14
