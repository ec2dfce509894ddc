"""Trend, change point, interval advice, two samples: certified and published values, enumeration, scipy, simulation."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from evenpull.statistics.change_point import change_point
from evenpull.statistics.interval_advice import advise_interval, fit_drift
from evenpull.statistics.trend import line, mann_kendall, sen_slope
from evenpull.statistics.two_samples import compare_samples, holm, smirnov
from tests.statistics.published import NILE, NORRIS

# trend ---------------------------------------------------------------------------------------------------------------


def test_norris() -> None:
    """NIST StRD linear regression, certified (from memory)."""
    y, x = zip(*NORRIS, strict=True)
    found = line(x, y)
    assert found.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert found.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert found.slope_error == pytest.approx(0.429796848199937e-3, rel=1e-11)
    assert found.s == pytest.approx(0.884796396144373, rel=1e-12)
    low, high = found.band(0.0)
    assert (high - low) / 2 == pytest.approx(0.232818234301152 * stats.t.isf(0.025, 34), rel=1e-10)


def test_line_is_scipys() -> None:
    x, y = [1.0, 2.0, 4.0, 7.0, 8.0], [3.0, 2.5, 4.1, 5.2, 7.7]
    told, found = stats.linregress(x, y), line(x, y)
    assert (found.slope, found.intercept, found.p, found.slope_error) == pytest.approx(
        (told.slope, told.intercept, told.pvalue, told.stderr))


def test_bands_hold_as_often_as_they_say() -> None:
    rng = np.random.default_rng(31)
    x, trials = np.array([0.0, 1.0, 2.0, 5.0, 9.0, 10.0]), 3000
    held = np.zeros(3)
    for e in rng.normal(size=(trials, 7)):
        found = line(x, 2 + 0.5 * x + e[:6], 0.9)
        mean, one = found.band(12.0), found.prediction(12.0)
        held += (mean[0] <= 8 <= mean[1], one[0] <= 8 + e[6] <= one[1], found.low <= 0.5 <= found.high)
    assert held / trials == pytest.approx([0.9] * 3, abs=4 * math.sqrt(0.09 / trials))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 4), min_size=4, max_size=7).filter(lambda y: len(set(y)) > 1))
def test_mann_kendall_against_every_order(y: list[int]) -> None:
    def S(order: tuple[int, ...]) -> int:
        return sum((b > a) - (b < a) for a, b in itertools.combinations(order, 2))

    orders = list(itertools.permutations(y))
    found = mann_kendall(y)
    assert S(tuple(y)) == found.S and found.exact
    assert found.p == pytest.approx(sum(abs(S(order)) >= abs(found.S) for order in orders) / len(orders))


def test_mann_kendall_against_scipy_and_its_table() -> None:
    """Table of the exact law (M. Hollander, D. A. Wolfe, Nonparametric Statistical Methods, from memory): n = 10, S >=
    23 with 0.023; n = 4, S = 6 with 1/24; n = 5, S >= 8 with 0.042."""
    up = list(range(10))
    for y in ([0, 1, 2, 3, 4, 9, 8, 7, 6, 5], [0, 2, 1, 4, 3, 5, 6, 9, 8, 7]):
        told = stats.kendalltau(up, y, method="exact")
        assert (mann_kendall(y).tau, mann_kendall(y).p) == pytest.approx((told.statistic, told.pvalue))
    assert mann_kendall([0, 1, 2, 3]).p == pytest.approx(2 / 24)
    assert mann_kendall([0, 1, 2, 4, 3]).p / 2 == pytest.approx(0.042, abs=5e-4)
    swapped = [5, 4, 0, 1, 3, 2, 6, 7, 9, 8]
    assert mann_kendall(swapped).S == 23
    assert mann_kendall(swapped).p / 2 == pytest.approx(0.023, abs=5e-4)


def test_mann_kendall_of_many_is_close_to_the_exact_one() -> None:
    rng = np.random.default_rng(32)
    y = np.round(rng.normal(size=61) + np.arange(61) * 0.012, 1)
    long, short = mann_kendall(y), mann_kendall(y[:60])
    assert not long.exact and short.exact
    told = stats.kendalltau(np.arange(61), y, method="asymptotic")
    assert long.p == pytest.approx(told.pvalue, rel=0.05)


def test_sen_slope() -> None:
    x = np.arange(12.0)
    rng = np.random.default_rng(33)
    held, trials = 0, 2000
    for e in rng.standard_t(2, size=(trials, 12)):
        _, low, high = sen_slope(x, 3 * x + e)
        held += low <= 3 <= high
    assert 0.95 - 4 * math.sqrt(0.05 * 0.95 / trials) <= held / trials <= 0.985
    y = 3 * x
    y[4] = 1000.0
    assert sen_slope(x, y)[0] == pytest.approx(3.0)
    z = np.random.default_rng(38).normal(size=30).cumsum()
    assert sen_slope(np.arange(30.0), z)[0] == pytest.approx(stats.theilslopes(z, np.arange(30.0)).slope)


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [([1, 2], [1, 2], "at least 3 x"), ([1, 1, 1], [1, 2, 3], "different times"), ([1, 2, 3], [1, 2, 3], "on one line"),
     ([1, 2, 3], [1, 2, 4, 5], "3 x and 4 y"), ([1, 2, math.nan], [1, 2, 4], "x: number 3")],
)
def test_line_refuses(x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        line(x, y)


def test_order_tests_refuse() -> None:
    for call, message in (
        (lambda: mann_kendall([1, 2, 3]), "at least 4 values"), (lambda: mann_kendall([1] * 5), "hides any trend"),
        (lambda: sen_slope([1, 2, 2, 3], [1, 2, 3, 4]), "has to rise"),
        (lambda: sen_slope([1, 2, 3, 4], [1, 2, 3, 5], 0.95), "too few for limits"),
        (lambda: sen_slope(range(61), range(61)), "up to 60"),
    ):
        with pytest.raises(ValueError, match=message):
            call()


# change point --------------------------------------------------------------------------------------------------------

def test_nile() -> None:
    """Published (Cobb 1978 and later work, from memory): the level falls after 1898, from 1097.75 to 849.97."""
    found = change_point(NILE)
    assert 1871 + found.place == 1899
    assert (round(found.before, 2), round(found.after, 2)) == (1097.75, 849.97)
    assert found.p == pytest.approx(1 / 10_000)
    assert found.t == pytest.approx(float(stats.ttest_ind(NILE[28:], NILE[:28]).statistic))


def test_change_point_over_all_orders() -> None:
    y = [1.0, 1.2, 0.9, 2.1, 2.0, 2.3]
    found = change_point(y)

    def best(order: tuple[float, ...]) -> float:
        return max(abs(stats.ttest_ind(order[:k], order[k:]).statistic) for k in range(2, 5))

    orders = list(itertools.permutations(y))
    seen = [best(order) for order in orders]
    assert found.exact and found.place == 3
    assert found.p == pytest.approx(np.mean(np.array(seen) >= best(tuple(y)) * (1 - 1e-9)))


def test_change_point_says_wrong_as_often_as_it_promises() -> None:
    rng = np.random.default_rng(34)
    trials = 400
    low = sum(change_point(y, orders=199).p <= 0.05 for y in rng.exponential(size=(trials, 15)))
    assert low / trials == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / trials))


def test_change_point_refuses_and_repeats() -> None:
    assert change_point(NILE, seed=3, orders=99) == change_point(NILE, seed=3, orders=99)
    with pytest.raises(ValueError, match="at least 4 values"):
        change_point([1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="finer resolution"):
        change_point([1.0] * 9)
    step = change_point([1.0] * 5 + [2.0] * 5)
    assert (step.place, step.s, step.t) == (5, 0.0, math.inf)


# interval ------------------------------------------------------------------------------------------------------------

TIMES, DRIFTS = [360.0, 370.0, 350.0, 365.0], [0.010, 0.013, 0.009, 0.012]


def test_fit_by_hand() -> None:
    """Steady: sum tD/sum t^2; wandering: sum D/sum t, and s^2 = sum((D - rt)^2/t)/(n - 1)."""
    t, D = np.array(TIMES), np.array(DRIFTS)
    steady, wandering = fit_drift(TIMES, DRIFTS, "steady"), fit_drift(TIMES, DRIFTS, "wandering")
    assert steady.rate == pytest.approx((t * D).sum() / (t**2).sum())
    assert wandering.rate == pytest.approx(D.sum() / t.sum())
    assert wandering.s**2 == pytest.approx((((D - wandering.rate * t) ** 2) / t).sum() / 3)
    assert wandering.rate_error == pytest.approx(wandering.s / math.sqrt(t.sum()))


def test_advice_meets_the_limit() -> None:
    found = advise_interval(TIMES, DRIFTS, limit=0.02, k_u=0.004)
    for fit in found.drifts:
        at = found.computed[fit.law]
        low, high = fit.bounds(at, 0.0, 0.95)
        assert max(high, -low) == pytest.approx(0.016, rel=1e-6)
    assert found.interval == min(*found.computed.values(), 370.0)
    assert "4 calibrations over intervals of 350 to 370" in found.basis
    shifted = advise_interval(TIMES, DRIFTS, limit=0.02, k_u=0.004, start=-0.01)
    assert shifted.interval > found.interval  # it drifts up, and was left below


def test_advice_stays_within_the_history() -> None:
    found = advise_interval(TIMES, DRIFTS, limit=0.06, k_u=0.004)
    assert found.interval == 370.0 and min(found.computed.values()) > 370
    assert "where the history ends" in found.basis
    assert advise_interval(TIMES, DRIFTS, limit=0.06, k_u=0.004, stretch=1.25).interval == pytest.approx(462.5)
    late = advise_interval(TIMES, DRIFTS, limit=0.02, k_u=0.004, start=0.0159)
    assert late.interval < 10
    gone = advise_interval(TIMES, DRIFTS, limit=0.02, k_u=0.004, start=0.018)
    assert gone.interval == 0 and "adjust or repair first" in gone.basis


@pytest.mark.parametrize("law", ["steady", "wandering"])
def test_bounds_of_the_next_drift_hold_as_often_as_they_say(law: str) -> None:
    rng = np.random.default_rng(35)
    t, next_time, trials = np.array([100.0, 300.0, 200.0, 400.0, 150.0]), 350.0, 3000
    spread = (lambda x: 0.01) if law == "steady" else (lambda x: 0.0008 * math.sqrt(x))
    held = 0
    for e in rng.normal(size=(trials, 6)):
        D = [3e-5 * x + spread(x) * z for x, z in zip(t, e, strict=False)]
        low, high = fit_drift(list(t), D, law).bounds(next_time, 0.0, 0.9)  # type: ignore[arg-type]
        held += low <= 3e-5 * next_time + spread(next_time) * e[5] <= high
    assert held / trials == pytest.approx(0.9, abs=4 * math.sqrt(0.09 / trials))


@pytest.mark.parametrize(
    ("times", "drifts", "more", "message"),
    [
        (TIMES[:2], DRIFTS[:2], {}, "at least 3 are needed for advice; until then keep the interval"),
        (TIMES, DRIFTS[:3], {}, "4 intervals and 3 drifts"), ([0.0, 1.0, 2.0], DRIFTS[:3], {}, "check the dates"),
        (TIMES, [0.0] * 4, {}, "hidden by the resolution"), (TIMES, DRIFTS, {"k_u": 0.02}, "better standard"),
        (TIMES, DRIFTS, {"stretch": 3.0}, "stretch from 1 to 2"), (TIMES, DRIFTS, {"limit": math.nan}, "limit has to"),
        (TIMES, [0.1, 0.2, math.inf, 0.1], {}, "drifts: number 3"),
    ],
)
def test_advice_refuses(times: list[float], drifts: list[float], more: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        advise_interval(times, drifts, **{"limit": 0.02, "k_u": 0.004, **more})


# two samples ---------------------------------------------------------------------------------------------------------

def test_holm() -> None:
    assert holm((0.01, 0.04, 0.03)) == pytest.approx((0.03, 0.06, 0.06))
    assert holm((0.5, 0.9, 0.6)) == (1.0, 1.0, 1.0)


def test_smirnov_against_scipy_and_every_deal() -> None:
    rng = np.random.default_rng(39)
    for n, m in ((5, 7), (6, 6), (12, 40)):
        a, b = rng.normal(size=n), rng.normal(0.5, 1, size=m)
        assert smirnov(a, b) == pytest.approx(float(stats.ks_2samp(a, b, method="exact").pvalue), abs=1e-12)
    a, b = np.array([1.0, 1, 2, 3, 3]), np.array([2.0, 3, 3, 4, 4])
    values = np.concatenate((a, b))

    def distance(first: tuple[int, ...]) -> float:
        one, two = values[list(first)], np.delete(values, list(first))
        return max(abs(float((one <= v).mean() - (two <= v).mean())) for v in values)

    deals = [distance(first) for first in itertools.combinations(range(10), 5)]
    assert smirnov(a, b) == pytest.approx(np.mean(np.array(deals) >= distance((0, 1, 2, 3, 4)) - 1e-9))
    assert smirnov(a, a) == 1.0


def test_compare_says_wrong_no_oftener_than_it_promises() -> None:
    rng = np.random.default_rng(36)
    trials = 1000
    low = sum(compare_samples(x[:20], x[20:]).least <= 0.05 for x in rng.normal(size=(trials, 45)))
    assert low / trials <= 0.05 + 4 * math.sqrt(0.05 * 0.95 / trials)


def test_compare_sees_a_new_level_and_a_new_scatter() -> None:
    rng = np.random.default_rng(37)
    first = rng.normal(100, 1, 40)
    moved, wider = compare_samples(first, rng.normal(102, 1, 40)), compare_samples(first, rng.normal(100, 4, 40))
    assert moved.level < 1e-6 and moved.scatter > 0.05 and moved.shift == pytest.approx(2, abs=0.6)
    assert wider.scatter < 1e-4 and wider.level > 0.05 and wider.ratio == pytest.approx(4, rel=0.4)
    with pytest.raises(ValueError, match="at least 5 readings of the second"):
        compare_samples(first, [1.0] * 4)
    with pytest.raises(ValueError, match="readings of the second are 1"):
        compare_samples(first, [1.0] * 9)
