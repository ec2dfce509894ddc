"""Control chart: published run lengths, the handbook's example, simulation of the false alarms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from evenpull.statistics.control_chart import THREE_SIGMA, Method, chart, moving_range_degrees
from evenpull.statistics.run_rules import (
    RULES,
    Rule,
    Signal,
    false_alarm_within,
    mean_run_length,
    signals_of,
    window_chance,
)

# NIST/SEMATECH handbook 6.3.2.2 (from memory): flow rates of ten batches
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_handbook_individuals() -> None:
    """Printed: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 with d2 = 1.128."""
    found = chart(FLOW)
    assert found.mean == pytest.approx(50.81)
    assert found.sigma * 2 / math.sqrt(math.pi) == pytest.approx(1.8778, abs=5e-5)
    assert found.three_sigma == pytest.approx((45.8159, 55.8041), abs=0.002)
    assert found.low < found.three_sigma[0] and found.high > found.three_sigma[1]
    assert found.three_sigma_alarm > 8 * THREE_SIGMA  # what three sigma of ten values really promise
    assert found.apart == ()


@pytest.mark.parametrize(
    ("rules", "length"),
    [  # C. W. Champ, W. H. Woodall, Technometrics 29 (1987), table of run lengths without a shift (from memory)
        (("beyond",), 370.40), (("beyond", "two of three"), 225.44), (("beyond", "four of five"), 166.05),
        (("beyond", "eight"), 152.73), (("beyond", "two of three", "four of five"), 132.89),
        (("beyond", "two of three", "eight"), 122.05), (("beyond", "four of five", "eight"), 105.78), (RULES, 91.75),
    ],
)
def test_published_run_lengths(rules: tuple[Rule, ...], length: float) -> None:
    assert mean_run_length(rules) == pytest.approx(length, abs=0.005)


def test_false_alarms_of_one_rule_within_a_series() -> None:
    assert false_alarm_within(50, ("beyond",)) == pytest.approx(1 - (1 - THREE_SIGMA) ** 50)
    assert false_alarm_within(8, ("eight",)) == pytest.approx(2 / 2**8) == window_chance("eight")


def test_false_alarms_of_all_rules_by_simulation() -> None:
    rng = np.random.default_rng(21)
    trials = 3000
    alarmed = sum(bool(signals_of(z)) for z in rng.normal(size=(trials, 20)))
    expected = false_alarm_within(20)
    assert alarmed / trials == pytest.approx(expected, abs=4 * math.sqrt(expected / trials))


@pytest.mark.parametrize("rule", RULES)
def test_chance_of_one_window(rule: Rule) -> None:
    rng = np.random.default_rng(22)
    z = rng.normal(size=(400_000, 8))
    if rule == "beyond":
        seen = (np.abs(z[:, 0]) > 3).mean()
    else:
        need, window, line = {"two of three": (2, 3, 2), "four of five": (4, 5, 1), "eight": (8, 8, 0)}[rule]
        seen = sum(((side * z[:, :window] > line).sum(axis=1) >= need).mean() for side in (1, -1))
    assert seen == pytest.approx(window_chance(rule), abs=4 * math.sqrt(window_chance(rule) / 400_000))


def test_each_rule_at_its_place() -> None:
    assert signals_of([0.1, 3.1, -0.1]) == (Signal(1, "beyond", 1),)
    assert signals_of([-2.1, 0.5, -2.2]) == (Signal(2, "two of three", -1),)
    assert signals_of([1.1, 1.2, -0.3, 1.3, 1.4]) == (Signal(4, "four of five", 1),)
    assert signals_of([0.1] * 8) == (Signal(7, "eight", 1),)
    assert signals_of([0.1] * 7 + [-0.1]) == ()
    assert signals_of([2.1, 2.2, 0.0], ("two of three",)) == (Signal(1, "two of three", 1),)  # told once
    with pytest.raises(ValueError, match="unknown rule 'nine'"):
        signals_of([0.0], ("nine",))  # type: ignore[arg-type]


@pytest.mark.parametrize("method", ["moving range", "standard deviation"])
@pytest.mark.parametrize(
    ("n", "risk"), [(4, 0.05), (4, THREE_SIGMA), (10, 0.01), (10, THREE_SIGMA), (70, THREE_SIGMA)],
)
def test_limits_alarm_as_seldom_as_they_say(method: Method, n: int, risk: float) -> None:
    """The value after a baseline of n, and the classical limits beside: both chances as promised, over baselines.
    Width in sigma from one chart, put to 100,000 other baselines; the chance of the next value given each of them."""
    one = np.random.default_rng(1).normal(size=n)
    found = chart(one, method=method, false_alarm=risk)
    k = (found.high - found.mean) / found.sigma
    x = np.random.default_rng(23).normal(size=(100_000, n))
    mean = x.mean(axis=1)
    sigma = x.std(axis=1, ddof=1) if method == "standard deviation" else (
        np.abs(np.diff(x, axis=1)).mean(axis=1) * math.sqrt(math.pi) / 2)
    for width, promised in ((k, risk), (3.0, found.three_sigma_alarm)):
        chance = stats.norm.cdf(mean - width * sigma) + stats.norm.sf(mean + width * sigma)
        error = chance.std() / math.sqrt(len(chance))
        assert chance.mean() == pytest.approx(promised, abs=4 * error + 0.02 * promised)


@pytest.mark.parametrize(("method", "n"), [("moving range", 5), ("standard deviation", 5), ("moving range", 20)])
def test_false_alarms_after_a_short_baseline(method: Method, n: int) -> None:
    """Whole charts drawn, later values judged by `signals`: as often alarmed as said, and more often than with mean and
    sigma known."""
    rng = np.random.default_rng(26)
    trials = 700
    draws = rng.normal(size=(trials, n + 10))
    seen = sum(bool(chart(x[:n], method=method).signals(x[n:])) for x in draws) / trials
    said = chart(draws[0, :n], method=method).false_alarm_within(10)
    assert seen == pytest.approx(said, abs=4 * math.sqrt(said / trials))
    assert said > 1.2 * false_alarm_within(10)


def test_a_long_baseline_alarms_as_if_all_were_known() -> None:
    found = chart(np.random.default_rng(27).normal(size=1500), method="standard deviation")
    assert found.false_alarm_within(20) == pytest.approx(false_alarm_within(20), abs=0.012)


def test_moving_range_degrees_against_simulation() -> None:
    rng = np.random.default_rng(24)
    for n in (4, 10, 40):
        ranges = np.abs(np.diff(rng.normal(size=(100_000, n)), axis=1)).mean(axis=1)
        df = moving_range_degrees(n)
        chi = stats.chi(df)
        assert ranges.std() / ranges.mean() == pytest.approx(chi.std() / chi.mean(), rel=0.01)
        assert 0.5 * n < df < 0.75 * n


def test_a_trend_in_the_baseline_does_not_widen_the_moving_range() -> None:
    rng = np.random.default_rng(25)
    values = rng.normal(size=40) + np.arange(40) * 0.2
    assert chart(values).sigma < 0.6 * chart(values, method="standard deviation").sigma


def test_signals_after_a_baseline() -> None:
    found = chart([*FLOW, *FLOW], method="standard deviation")
    later = [50.0, 51.0, 75.0, 50.0]
    assert found.signals(later, ("beyond",)) == (Signal(2, "beyond", 1),)
    assert found.signals([found.high - 1e-6, found.low + 1e-6], ("beyond",)) == ()
    assert [s.place for s in found.signals([found.high + 1e-6, found.low - 1e-6], ("beyond",))] == [0, 1]
    assert float(found.z([found.mean])[0]) == 0.0


def test_one_that_stands_apart_is_named() -> None:
    assert chart([10.0, 10.1, 9.9, 10.0, 10.05, 9.95, 14.0]).apart == (6,)


@pytest.mark.parametrize(
    ("values", "message"),
    [([1.0, 2.0, 3.0], "at least 4 values of the baseline"), ([1.0] * 6, "finer resolution"),
     ([1.0, 2.0, math.nan, 3.0], "number 3 is not finite")],
)
def test_chart_refuses(values: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        chart(values)
