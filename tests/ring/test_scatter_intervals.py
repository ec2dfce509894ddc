"""Quantiles, chances and the floor against scipy, closed forms and the simulation."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from evenpull.ring.scatter.assembly import LoadPull, assemble, by_torque
from evenpull.ring.scatter.floor import floor
from evenpull.ring.scatter.friction import NutFriction, Tool
from evenpull.ring.scatter.intervals import chance, compare, intervals, quantile, share_above

from .scatter_rings import SHEET, small_model, star_and_circular

FRICTION = NutFriction(K=0.15, F_ref=1e5, m=0.15, cv_lot=0.1, cv_nut=0.08, cv_pull=0.05, static_excess=0.0)


def test_quantile_error_is_that_of_theory() -> None:
    """Asymptotic standard error of a sample quantile: sqrt(q (1 - q)/S)/f(x_q) (M. Kendall, A. Stuart, The Advanced
    Theory of Statistics, vol. 1, 10.10; from memory, not re-read)."""
    S = 2000
    x = np.random.default_rng(1).normal(size=(S, 200))
    for q in (0.05, 0.5, 0.95):
        found = quantile(x, q)
        theory = math.sqrt(q * (1 - q) / S) / stats.norm.pdf(stats.norm.ppf(q))
        assert found.error.mean() == pytest.approx(theory, rel=0.05)
        assert found.value.std() == pytest.approx(theory, rel=0.2)
        covered = ((found.low <= stats.norm.ppf(q)) & (stats.norm.ppf(q) <= found.high)).mean()
        assert 0.9 < covered <= 1.0


def test_quantile_interval_is_that_of_scipy() -> None:
    x = np.random.default_rng(2).lognormal(size=400)
    found = quantile(x[:, None], 0.25, 0.9)
    expected = stats.quantile_test(x, p=0.25).confidence_interval(0.9)
    assert (found.low[0], found.high[0]) == pytest.approx((expected.low, expected.high))


def test_too_few_samples() -> None:
    with pytest.raises(ValueError, match="too few"):
        quantile(np.ones((20, 3)), 0.05)


@pytest.mark.parametrize(("held", "samples"), [(0, 50), (3, 40), (97, 100), (100, 100)])
def test_clopper_pearson_is_that_of_scipy(held: int, samples: int) -> None:
    expected = stats.binomtest(held, samples).proportion_ci(0.95, method="exact")
    found = chance(held, samples)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high))


def test_floor_is_the_spread_of_bolts_that_do_not_act_on_each_other() -> None:
    """All bolts of a ring pulled once by tools that turn together: no later pull changes anything."""
    case, model = small_model(21, SHEET)
    tool = Tool(cv_own=0.0, cv_pull=0.03)
    every = by_torque(LoadPull(tuple(range(8)), (case.bolts.target,) * 8), FRICTION, case.bolts.d)
    result = assemble(
        model, case.bolts, [every], samples=1500, rng=np.random.default_rng(4), friction=FRICTION, tool=tool
    )
    expected = floor(FRICTION, tool)
    logs = np.log(result.final)
    within = math.sqrt(logs.var(axis=1, ddof=1).mean())
    assert math.sqrt(math.expm1(within**2)) == pytest.approx(expected.last_pull, rel=0.02)
    level = math.sqrt(logs.mean(axis=1).var() - within**2 / 8)
    assert math.sqrt(math.expm1(level**2)) == pytest.approx(expected.level, rel=0.08)
    assert expected.nut < expected.last_pull


def test_passes_do_not_go_below_what_the_nuts_keep() -> None:
    """After many circular passes the interaction is gone; the spread is then the nut's part, between both floors."""
    case, model = small_model(22, SHEET)
    pulls = [LoadPull((bolt,), (case.bolts.target,)) for _ in range(8) for bolt in range(8)]
    even = assemble(model, case.bolts, pulls, samples=1, rng=np.random.default_rng(5))
    steps = [by_torque(pull, FRICTION, case.bolts.d) for pull in pulls]
    result = assemble(model, case.bolts, steps, samples=600, rng=np.random.default_rng(5), friction=FRICTION)
    expected = floor(FRICTION)
    found = math.sqrt(np.log(result.final).var(axis=1, ddof=1).mean())
    alone = float(np.log(even.final).std(ddof=1))
    assert alone < 0.3 * found
    assert 0.98 * expected.nut < found < 1.1 * expected.last_pull
    steady = replace(FRICTION, cv_pull=0.0)
    result = assemble(model, case.bolts, steps, samples=600, rng=np.random.default_rng(6), friction=steady)
    kept = math.sqrt(np.log(result.final).var(axis=1, ddof=1).mean() - alone**2)
    assert kept == pytest.approx(expected.nut, rel=0.05)


def test_kinds_are_not_compared() -> None:
    case, model = small_model(23, SHEET)
    pulls = [LoadPull(bolts, (share * case.bolts.target,)) for bolts, share in star_and_circular(8)]
    torqued = [by_torque(pull, FRICTION, case.bolts.d) for pull in pulls]
    rng = np.random.default_rng(7)
    plain = intervals(assemble(model, case.bolts, pulls, samples=200, rng=rng))
    rough = intervals(assemble(model, case.bolts, torqued, samples=200, rng=rng, friction=FRICTION))
    more = intervals(assemble(model, case.bolts, torqued + torqued[-8:], samples=200, rng=rng, friction=FRICTION))
    with pytest.raises(ValueError, match="cannot be set beside"):
        compare(plain, rough)
    difference = compare(more, rough)
    assert difference.kind == "torque control with scatter"
    assert difference.better == pytest.approx((more.spread[:, None] < rough.spread[None, :]).mean(), abs=1e-12)
    assert rough.meets(0.0, 10.0).share == 1.0
    both = ((rough.least >= 0.8) & (rough.spread <= 0.5)).mean()
    assert rough.meets(0.8, 0.5).share == pytest.approx(both)


def test_share_above_a_limit() -> None:
    case, model = small_model(24, SHEET)
    step = by_torque(LoadPull((0,), (1e5,)), FRICTION, case.bolts.d)
    result = assemble(model, case.bolts, [step], samples=1000, rng=np.random.default_rng(8), friction=FRICTION)
    sigma = math.sqrt(sum(math.log1p(cv**2) for cv in (0.1, 0.08, 0.05))) / 0.85
    median = 1e5 * math.exp(sigma**2 / 2 * 0.85)  # the mean of K is 1, its median below
    expected = stats.norm.sf((math.log(1.1e5) - math.log(median)) / sigma)
    above = share_above(result, 1.1e5)
    assert above[0] == pytest.approx(expected, abs=4 * math.sqrt(expected * (1 - expected) / 1000))
    assert (above[1:] == 0.0).all()
