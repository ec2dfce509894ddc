"""Capability: textbook intervals, scipy's noncentral t, simulation of the limits, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from evenpull.statistics.capability import (
    bissell_limits,
    capability,
    centred_limits,
    index_needed,
    one_sided_limit,
    process_capability,
    spread_limits,
    values_needed,
)
from evenpull.statistics.noncentral_t import noncentral_t_cdf, noncentral_t_quantile, noncentrality
from evenpull.statistics.normality import normality
from evenpull.statistics.tolerance import tolerance_factor_one_sided


def exact(mean: float, s: float, n: int) -> list[float]:
    """n values with exactly this mean and standard deviation, normal in shape."""
    x = stats.norm.ppf((np.arange(n) + 0.5) / n)
    return list(mean + s * (x - x.mean()) / x.std(ddof=1))


def test_montgomery_spread() -> None:
    """Introduction to Statistical Quality Control, chapter on capability (from memory): limits 62 and 38, n = 20, s =
    1.75: 2.29, at 95 % from 1.57 to 3.01, computed there from the rounded 2.29."""
    found = capability(exact(50, 1.75, 20), 38, 62)
    assert found.spread is not None
    assert round(found.spread.value, 2) == 2.29
    assert [round(x, 2) for x in spread_limits(2.29, 19)[1:]] == [1.57, 3.01]
    assert (found.spread.least, found.spread.low, found.spread.high) == spread_limits(found.spread.value, 19)
    assert (found.spread.name, found.centred.name) == ("Cm", "Cmk")


def test_montgomery_centred() -> None:
    """The same book (from memory): n = 20, 1.33, approximate limits 0.88 and 1.78."""
    low, high = bissell_limits(1.33, 20, 19)
    assert (low, high) == pytest.approx((0.883, 1.777), abs=1e-3)


def test_handbook_example() -> None:
    """NIST/SEMATECH handbook 6.1.6 (from memory): limits 8 and 20, mean 16, s 2: Cp 1.0, Cpk 0.6667."""
    found = capability(exact(16, 2, 60), 8, 20, kind="process")
    assert found.spread is not None
    assert (found.spread.value, found.centred.value) == pytest.approx((1.0, 2 / 3))
    assert found.outside == pytest.approx(float(stats.norm.sf(2) + stats.norm.sf(4)))
    assert any("125 are usual" in note for note in found.notes)


@pytest.mark.parametrize(("C", "n"), [(1.33, 20), (1.67, 50), (0.4, 8), (-0.3, 10), (3.0, 5), (2.0, 1000)])
@pytest.mark.parametrize("p", [0.05, 0.5, 0.975])
def test_one_sided_limit_against_noncentral_t(C: float, n: int, p: float) -> None:
    limit = one_sided_limit(C, n, n - 1, p)
    root = 3 * math.sqrt(n)
    assert stats.nct.cdf(root * C, n - 1, root * limit) == pytest.approx(1 - p, abs=1e-6)


@pytest.mark.parametrize("df", [1, 2, 5, 30, 400])
@pytest.mark.parametrize("d", [-2.0, 0.0, 1.5, 9.0])
def test_noncentral_t(df: int, d: float) -> None:
    """Against scipy's own where it gives a number, and against simulation where it gives none."""
    for p in (0.01, 0.3, 0.95):
        t = noncentral_t_quantile(p, df, d)
        assert noncentral_t_cdf(t, df, d) == pytest.approx(p, abs=1e-9)
        assert stats.nct.cdf(t, df, d) == pytest.approx(p, abs=1e-6)
        assert noncentrality(t, df, p) == pytest.approx(d, abs=1e-6)


def test_noncentral_t_far_out_by_simulation() -> None:
    rng = np.random.default_rng(1)
    for df, d in ((4, 200.0), (4000, 400.0)):
        drawn = (rng.normal(size=100_000) + d) / np.sqrt(rng.chisquare(df, 100_000) / df)
        for p in (0.05, 0.5, 0.95):
            seen = (drawn <= noncentral_t_quantile(p, df, d)).mean()
            assert seen == pytest.approx(p, abs=4 * math.sqrt(p * (1 - p) / 1e5))


def test_lower_limit_is_the_tolerance_factor_read_backwards() -> None:
    """mean + k s holds 99 % above with 95 %: an index of k/3 has the lower limit z_0.99/3."""
    k = tolerance_factor_one_sided(15, 0.99, 0.95)
    assert one_sided_limit(k / 3, 15, 14, 0.05) == pytest.approx(float(stats.norm.ppf(0.99)) / 3, rel=1e-6)


def test_exact_and_approximate_meet_for_many_values() -> None:
    least, low, high = centred_limits((1.5, 4.0), 2000, 1999)
    assert (low, high) == pytest.approx(bissell_limits(1.5, 2000, 1999), abs=0.015)
    assert low < least < 1.5


@pytest.mark.parametrize("mean", [0.0, 1.2])
def test_limits_hold_as_often_as_they_say(mean: float) -> None:
    """n = 12, window +-4 sigma; mean in the middle (both ends count) and off it. The least of centred and spread, and
    the two-sided limits, each at 95 %."""
    rng = np.random.default_rng(9)
    n, trials = 12, 1200
    true, spread = (4 - mean) / 3, 8 / 6
    held = np.zeros(4)
    for x in rng.normal(mean, 1, (trials, n)):
        m, s = float(x.mean()), float(x.std(ddof=1))
        least, low, high = centred_limits(((m + 4) / (3 * s), (4 - m) / (3 * s)), n, n - 1)
        least_p, low_p, high_p = spread_limits(8 / (6 * s), n - 1)
        held += (least <= true, low <= true <= high, least_p <= spread, low_p <= spread <= high_p)
    error = 4 * math.sqrt(0.95 * 0.05 / trials)
    assert (held / trials >= 0.95 - error).all()
    assert (held[2:] / trials <= 0.95 + error).all()  # exact
    assert held[0] / trials <= (1.0 if mean == 0 else 0.95 + error)


def test_process_in_groups() -> None:
    """25 groups of 5: within by the pooled scatter of the groups, 100 degrees; overall by all. A mean that wanders
    makes overall worse than within, and is named."""
    rng = np.random.default_rng(14)
    still = rng.normal(100, 1, (25, 5))
    found = process_capability(list(still), 94, 106)
    pooled = math.sqrt(still.var(axis=1, ddof=1).mean())
    assert (found.within.s, found.within.df) == (pytest.approx(pooled), 100)
    assert found.overall.s == pytest.approx(still.std(ddof=1))
    assert found.within.spread is not None and found.overall.spread is not None
    assert (found.within.spread.name, found.overall.centred.name) == ("Cp", "Ppk")
    assert found.within.spread.value == pytest.approx(2 / pooled)
    assert found.p == pytest.approx(float(stats.f_oneway(*still).pvalue)) and found.within.notes == ()
    moving = process_capability(list(still + 2 * rng.normal(size=(25, 1))), 94, 106)
    assert moving.overall.centred.value < 0.7 * moving.within.centred.value
    assert any("not stable" in note for note in moving.overall.notes)
    assert not any("do not look normal" in note for note in moving.within.notes)  # shapes are judged within the groups


def test_share_outside_limit_holds() -> None:
    rng = np.random.default_rng(10)
    share, trials = float(stats.norm.sf(2.5) * 2), 300
    held = sum(capability(x, -2.5, 2.5).outside_most >= share for x in rng.normal(size=(trials, 15)))
    assert held / trials >= 0.95 - 4 * math.sqrt(0.95 * 0.05 / trials)


def test_one_limit_only() -> None:
    values = exact(100, 4, 50)
    below, above = capability(values, 80, None), capability(values, None, 120)
    assert below.spread is None and above.spread is None
    assert below.centred.value == pytest.approx(20 / 12) == above.centred.value
    assert below.centred.least == pytest.approx(one_sided_limit(20 / 12, 50, 49, 0.05))
    assert below.notes == ()


def test_values_that_are_not_normal_are_named() -> None:
    rng = np.random.default_rng(12)
    found = capability(rng.exponential(size=80), 0, 10)
    assert any("do not look normal (Shapiro-Wilk" in note and "two mixed lots" in note for note in found.notes)
    coarse = capability(np.round(rng.normal(100, 1, 80)), 90, 110)
    assert any("coarse display" in note for note in coarse.notes)


def test_normality_is_scipys_and_says_wrong_as_often_as_it_promises() -> None:
    rng = np.random.default_rng(13)
    values = rng.normal(size=60)
    assert (normality(values).statistic, normality(values).p) == pytest.approx(tuple(stats.shapiro(values)))
    assert normality(rng.normal(size=6000)).test == "D'Agostino-Pearson"
    low = sum(normality(x).p < 0.05 for x in rng.normal(size=(1500, 30)))
    assert low / 1500 == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / 1500))


def test_planning() -> None:
    assert one_sided_limit(index_needed(1.67, 50), 50, 49, 0.05) == pytest.approx(1.67, abs=1e-6)
    n = values_needed(1.67, 2.0)
    assert index_needed(1.67, n) <= 2.0 < index_needed(1.67, n - 1)
    with pytest.raises(ValueError, match="never shows"):
        values_needed(1.67, 1.67)


@pytest.mark.parametrize(
    ("values", "lower", "upper", "message"),
    [
        ([1.0, 2.0], 0, 3, "at least 3 values"), ([1.0, 2.0, math.nan], 0, 3, "number 3 is not finite"),
        ([1.0, 1.0, 1.0], 0, 3, "finer resolution"), ([1.0, 2.0, 3.0], None, None, "finite lower or upper"),
        ([1.0, 2.0, 3.0], 3, 3, "below the upper"), ([1.0, 1.0001, 1.0002], 0, 3e9, "do not belong together"),
        ([1.0, 2.0, 3.0], -math.inf, 3, "finite lower or upper"),
    ],
)
def test_refusals(values: list[float], lower: float | None, upper: float | None, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        capability(values, lower, upper)
