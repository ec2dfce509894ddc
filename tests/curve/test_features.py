"""Features against curves whose features are known because they were drawn so; sources stand in `names.FEATURES`."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenpull.curve import FEATURES, CurveError, Curves, FeatureTable, measure
from evenpull.curve.columns import curves_of, joined, one_curve
from evenpull.curve.names import AT, NAMES
from evenpull.curve.places import BEND, IN_ORDER, N_POINTS, SEAT, T_PEAK
from evenpull.curve.read_csv import told_oddities
from evenpull.curve.robust import desk, middle, robust_line, spread
from tests.curve.made import curve, ramp


def features(curves: Curves, target: float = 40.0, **more: float) -> FeatureTable:
    return measure(curves, target=target, **more)


def one(name: str, curves: Curves, target: float = 40.0, **more: float) -> float:
    return float(features(curves, target, **more)[name][0])


def test_places_are_those_of_the_names() -> None:
    places = (N_POINTS, T_PEAK, SEAT, BEND, IN_ORDER)
    assert tuple(AT[name] for name in ("n_points", "T_peak", "seat", "bend", "in_order")) == places
    assert len(set(NAMES)) == len(NAMES)
    assert all(feature.unit and feature.definition and feature.source for feature in FEATURES)


@pytest.mark.parametrize(("name", "value"), [
    ("T_peak", 40.0), ("T_off", 40.0), ("off_ratio", 1.0), ("T_run", 2.0), ("seat", 720.0), ("k_el", 1.0),
    ("k_low", 1.0), ("origin", 720.0), ("origin_zero", 718.0), ("angle_off", 758.0), ("angle_origin", 38.0),
    ("k_max", 1.0), ("k_end", 1.0), ("yield_ratio", 1.0), ("angle_threshold", 36.0), ("rate_10_100", 36.0),
    ("rate_50_100", 20.0), ("angle_rise", 20.0), ("run_slope", 0.0), ("T_run_3", 2.0),
])  # fmt: skip
def test_a_straight_curve(name: str, value: float) -> None:
    """Level 2 N.m over 720 deg, then 1 N.m/deg to 40 N.m."""
    assert one(name, curve()) == pytest.approx(value, abs=0.02)


def test_work_is_the_area() -> None:
    """2 N.m over 720 deg, then the mean of 2 and 40 over 38 deg, in rad."""
    found = features(curve())
    assert found["W_run"][0] == pytest.approx(2 * math.radians(720), rel=2e-3)
    assert found["W_clamp"][0] == pytest.approx(21 * math.radians(38), rel=2e-3)
    assert found["W_total"][0] == pytest.approx(found["W_run"][0] + found["W_clamp"][0])


def test_the_uncertainty_covers_the_truth() -> None:
    """300 curves with noise of 1 % of the target: two standard uncertainties hold the truth for most of them."""
    many = joined([curve(noise=0.4, seed=seed) for seed in range(300)])
    found = features(many)
    for name, u, truth in (("k_el", "u_k_el", 1.0), ("origin", "u_origin", 720.0), ("seat", "u_seat", 720.0)):
        off = np.abs(found[name] - truth) / found[u]
        assert float((off < 2).mean()) > 0.88, (name, float((off < 2).mean()))
        assert float(np.median(off)) > 0.2  # and it is not stated ten times too wide


def test_a_line_that_single_points_cannot_pull_away() -> None:
    x = np.arange(40.0)
    y = 3 * x + 1
    y[[5, 20, 33]] += 400
    slope, level, centre, _, _ = robust_line(x, y, 40, desk())
    assert slope == pytest.approx(3) and level - 3 * centre == pytest.approx(1)
    assert np.polyfit(x, y, 1)[0] != pytest.approx(3, rel=0.01)


@pytest.mark.parametrize("digits", [0, 1, 16])
@pytest.mark.parametrize("n", [1, 2, 5, 20, 63, 64])
def test_median_and_spread_are_those_of_numpy(n: int, digits: int) -> None:
    """Also where many values are one, as those of a tool with coarse steps are."""
    room = desk()
    for seed in range(20):
        values = np.random.default_rng(seed).normal(size=n).round(digits)
        assert middle(values, n, room) == np.sort(values)[n // 2]
        centre = middle(values, n, room)
        assert spread(values, n, centre, room) == pytest.approx(1.4826 * np.sort(np.abs(values - centre))[n // 2])
    assert math.isnan(middle(values, 0, room))


def test_yielding_bends_the_end() -> None:
    time, angle, torque = ramp(tail=0)
    bent = np.where(angle > 740, 22 + 0.3 * (angle - 740), torque)
    found = features(one_curve(time, angle, bent), target=20.0)
    assert found["yield_ratio"][0] == pytest.approx(0.3, abs=0.03)
    assert found["k_el"][0] == pytest.approx(1.0, abs=0.02)
    # 18 deg at 0.3 take 5.4 N.m for which the elastic line needs 5.4 deg: 12.6 deg beyond 25.4 deg
    assert found["bend"][0] == pytest.approx(12.6 / 25.4, abs=0.03)


def test_slipping_falls_before_shut_off() -> None:
    time, angle, torque = ramp(tail=0)
    fallen = np.where(angle > 740, 22 - 0.8 * (angle - 740), torque)
    assert one("off_ratio", one_curve(time, angle, fallen)) == pytest.approx((22 - 0.8 * 15) / 22, abs=0.02)
    assert math.isnan(one("rate_10_100", one_curve(time, angle, fallen)))


def test_the_last_sample_is_no_result() -> None:
    found = features(curve(tail=60))
    assert found["T_off"][0] == pytest.approx(40) and abs(found["T_zero"][0]) < 0.1


def test_a_torque_that_still_falls_is_no_zero() -> None:
    """At 6 kHz a fall of 6 ms time constant changes by less than 2 % over five points while 11 % are left to go."""
    time, angle, torque = ramp(tail=0, T_run=0.0)
    after = np.arange(1, 80) / 6000
    falling = 40 * np.exp(-after / 0.006)
    assert 0.1 < falling[-1] / 40 < 0.12 and falling[-6] - falling[-1] < 0.02 * 40
    t, a = np.append(time, time[-1] + after), np.append(angle, np.full(79, angle[-1]))
    assert math.isnan(one("T_zero", one_curve(t, a, np.append(torque, falling))))
    off = 40 * 0.15 + 0.85 * np.append(torque, falling)  # here no torque is below half of it: five points are enough
    off[-6:] = off[-1]
    assert one("T_zero", one_curve(t, a, off)) == pytest.approx(off[-1], rel=1e-6)
    stands = np.append(torque, np.maximum(falling, 40 * 0.2))  # the zero has shifted while it was loaded
    assert one("T_zero", one_curve(t, a, stands)) == pytest.approx(8.0, rel=1e-6)


def test_no_run_down_is_told_and_not_a_zero() -> None:
    angle = np.linspace(0, 12, 200)
    found = features(one_curve(angle / 60, angle, 40 * angle / 12))
    for name in ("T_run", "W_run", "seat", "T_run_2"):
        assert math.isnan(found[name][0])
        assert found.told(0, name).startswith("cannot be found: ")
    assert found["k_el"][0] == pytest.approx(40 / 12, rel=1e-3)
    assert found["T_first"][0] == pytest.approx(5 / 12, abs=0.02)


def test_breaking_away() -> None:
    """Wound up to 48 N.m, sliding at 38: static over sliding 1.26."""
    angle = np.concatenate([np.linspace(0, 3, 60), np.linspace(3.05, 8, 100)])
    torque = np.where(angle <= 3, 16 * angle, 38 + 0.2 * (angle - 3))
    assert one("breakaway", one_curve(angle / 60, angle, torque), target=38.0) == pytest.approx(48 / 38, rel=0.02)


def test_stick_slip_has_amplitude_and_frequency() -> None:
    time, angle, torque = ramp(tail=0, k=0.25, speed=60.0, per_deg=8.0)
    wavy = torque + np.where(angle > 720, 0.6 * np.sin(2 * np.pi * 8 * time), 0)
    found = features(one_curve(time, angle, wavy))
    assert found["T_waver"][0] == pytest.approx(0.6, rel=0.1)
    assert found["f_waver"][0] == pytest.approx(8, rel=0.1)
    noisy = features(curve(noise=0.3))
    assert math.isnan(noisy["f_waver"][0]), "noise is no stick-slip"


def test_slope_is_not_stated_where_it_is_not_sure() -> None:
    time, angle, torque = ramp(tail=0, run=60, per_deg=0.5)
    wild = torque + np.random.default_rng(3).normal(0, 15, len(torque))
    found = features(one_curve(time, angle, wild))
    known = ~np.isnan(found["k_el"])
    assert not known[0] or found["u_k_el"][0] < 0.25 * found["k_el"][0]
    assert math.isnan(found["yield_ratio"][0])


def test_what_is_odd_is_counted_and_told() -> None:
    time, angle, torque = ramp()
    T = torque.copy()
    T[100] = math.nan
    T[300] = 35.0
    a = angle.copy()
    a[1500:] -= a[1500]  # the count begins anew
    t = time.copy()
    t[2000:] += 1.0
    found = features(one_curve(t, a, T))
    for name in ("n_bad", "n_resets", "n_spikes", "n_gaps"):
        assert found[name][0] == 1, name
    assert found["T_peak"][0] == pytest.approx(40, abs=0.3)
    assert found["angle_off"][0] == pytest.approx(758, abs=0.6), "counted on over the reset"
    told = " ".join(told_oddities(found, 0))
    assert "1 points are no numbers" in told and "began anew 1 times" in told and "1 gaps" in told
    assert told_oddities(features(curve(tail=0)), 0) == ()


def test_a_stop_and_a_restart_change_no_feature_of_the_rise() -> None:
    time, angle, torque = ramp()
    at = int(np.searchsorted(angle, 740.0))
    stop = np.concatenate([np.linspace(torque[at], 0, 40), np.linspace(0, torque[at], 40)])
    t = np.concatenate([time[:at + 1], time[at] + np.arange(1, 81) / 720, time[at + 1:] + 81 / 720])
    a = np.concatenate([angle[:at + 1], np.full(80, angle[at]), angle[at + 1:]])
    T = np.concatenate([torque[:at + 1], stop, torque[at + 1:]])
    found, plain = features(one_curve(t, a, T)), features(curve())
    assert found["n_pauses"][0] == 1 and plain["n_pauses"][0] == 0
    for name in ("k_el", "seat", "origin", "T_run", "angle_off", "yield_ratio"):
        assert found[name][0] == pytest.approx(plain[name][0], abs=0.05), name


@pytest.mark.parametrize("points", [0, 1, 5, 7])
def test_too_few_points_say_nothing(points: int) -> None:
    found = features(one_curve(np.arange(points), np.arange(points), np.arange(points)))
    assert found["n_points"][0] == points
    assert math.isnan(found["T_peak"][0]) and math.isnan(found["k_el"][0])


@pytest.mark.parametrize("odd", [math.nan, math.inf, 0.0, -3.0, 1e20])
def test_any_constant_curve_is_survived(odd: float) -> None:
    n = 50
    found = features(one_curve(np.arange(n), np.arange(n), np.full(n, odd)))
    assert math.isnan(found["k_el"][0])


def test_each_curve_is_judged_alone() -> None:
    """Features do not depend on neighbours in the column, on their order, nor on the number of threads."""
    many = joined([curve(noise=0.2, seed=s, run=300 + 40 * s) for s in range(9)])
    whole = features(many).values
    for c in range(9):
        assert np.array_equal(features(many[c:c + 1]).values[0], whole[c], equal_nan=True)
    assert np.array_equal(features(many.picked([8, 3])).values, whole[[8, 3]], equal_nan=True)
    assert np.array_equal(np.concatenate([features(part).values for part in many.parts(4)]), whole, equal_nan=True)


def test_scale_of_the_torque_changes_nothing_but_torques() -> None:
    time, angle, torque = ramp(noise=0.1)
    small, large = features(one_curve(time, angle, torque)), features(one_curve(time, angle, torque * 100), target=4000)
    for name in ("seat", "origin", "yield_ratio", "off_ratio", "rate_50_100"):
        assert large[name][0] == pytest.approx(small[name][0], rel=1e-3), name
    assert large["k_el"][0] == pytest.approx(100 * small["k_el"][0], rel=1e-4)


@pytest.mark.parametrize(("what", "says"), [
    (lambda: measure(curve(), target=0.0), "greater than 0"),
    (lambda: measure(curve(), target=[1.0, 2.0]), "one for each of the 1"),
    (lambda: Curves(np.zeros(2, np.float32), np.zeros(2, np.float32), np.zeros(3, np.float32), np.zeros(2, np.int16),
                    np.array([0, 3])), "every point needs all four"),
    (lambda: curves_of([0], [0], [0], [1], [0, 2]), "offsets"),
    (lambda: curves_of([0], [0], [0], [1.5], [0, 1]), "whole numbers"),
])  # fmt: skip
def test_what_cannot_be_taken_is_refused(what: object, says: str) -> None:
    with pytest.raises(CurveError, match=says):
        what()  # type: ignore[operator]
