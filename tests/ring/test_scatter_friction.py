"""Friction and tools: closed forms, the root of the torque equation, measured runs."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from evenpull.joint.tightening.friction_test import fit_nut_factor
from evenpull.ring.scatter.friction import NutFriction, Tool, draw, factors

MEASURED = Path(__file__).parents[1] / "mechanics" / "measured" / "iowa_anchor_rod_1p5in_curves.csv"
D = 0.036


def test_the_load_solves_the_torque_equation() -> None:
    friction = NutFriction(K=0.15, F_ref=2e5, m=0.25)
    for torque in (300.0, 900.0, 1500.0):
        root = optimize.brentq(lambda F, M=torque: 0.15 * 1.1 * (F / 2e5) ** -0.25 * F * D - M, 1e2, 1e7)
        assert friction.load(np.array(torque), np.array(1.1), D) == pytest.approx(root, rel=1e-9)
    assert friction.load(friction.torque(1.5e5, D), np.array(1.0), D) == pytest.approx(1.5e5)


def test_without_fall_it_is_the_short_form() -> None:
    friction = NutFriction(K=0.2, F_ref=1e5)
    assert friction.load(np.array(720.0), np.array(1.0), D) == pytest.approx(720.0 / (0.2 * D))


def test_a_standing_nut_breaks_away_late() -> None:
    """At 90 % of the load the torque for 100 % is 1.11 times what keeps the nut turning: less than 1.25 times."""
    friction = NutFriction(K=0.15, F_ref=1e5, static_excess=0.25)
    torque, one = friction.torque(np.array([1e5, 1e5]), D), np.ones(2)
    assert friction.reached(torque, one, D, np.array([0.9e5, 0.7e5])) == pytest.approx([0.9e5, 1e5])
    easy = NutFriction(K=0.15, F_ref=1e5, static_excess=0.0)
    assert easy.reached(torque, one, D, np.array([0.9e5, 1.2e5])) == pytest.approx([1e5, 1.2e5])


def test_reuse_multiplies_K() -> None:
    used = NutFriction(K=0.15, F_ref=1e5, reuse=1.1, uses=2)
    assert used.load(np.array(540.0), np.array(1.0), D) == pytest.approx(1e5 / 1.21)


def test_factors_are_lognormal_with_their_moments() -> None:
    x = factors(np.random.default_rng(3), 0.15, (20_000,))
    sigma = np.sqrt(np.log(1 + 0.15**2))
    assert stats.kstest(x, stats.lognorm(sigma, scale=np.exp(-(sigma**2) / 2)).cdf).pvalue > 0.01
    assert x.mean() == pytest.approx(1.0, abs=4 * 0.15 / np.sqrt(20_000))
    assert x.std() == pytest.approx(0.15, rel=0.03)


def test_the_lot_is_one_for_the_assembly() -> None:
    friction = NutFriction(K=0.15, F_ref=1e5, cv_lot=0.1, cv_nut=0.05)
    drawn = draw(friction, Tool(cv_own=0.03), 4000, 16, 2, np.random.default_rng(5))
    logs = np.log(drawn.nut)
    assert logs.std(axis=1, ddof=1).mean() == pytest.approx(0.05, rel=0.03)
    assert logs.mean(axis=1).std() == pytest.approx(np.sqrt(np.log1p(0.1**2) + np.log1p(0.05**2) / 16), rel=0.05)
    assert drawn.tool.shape == (4000, 2)
    assert abs(np.corrcoef(drawn.tool.T)[0, 1]) < 0.06
    same = draw(friction, Tool(cv_own=0.03), 4000, 16, 2, np.random.default_rng(5))
    assert np.array_equal(same.nut, drawn.nut)


def test_m_of_measured_runs_of_lithium_grease() -> None:
    """From a tenth of the load to the whole K about halves (docs/nut-factor.md): 10^-m about 0.5, m about 0.3."""
    exponents = []
    with MEASURED.open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["lubricant"] == "lithium grease"]
    for run in sorted({row["run"] for row in rows}):
        here = [row for row in rows if row["run"] == run]
        loads = [float(row["clamp_kip"]) * 4448.222 for row in here]
        torques = [float(row["turning_torque_lbfft"]) * 1.355818 for row in here]
        exponents.append(NutFriction.of_fit(fit_nut_factor(loads, torques, 0.0381)).m)
    assert len(exponents) == 6
    assert 0.2 < np.mean(exponents) < 0.4


def test_a_split_spread_comes_together_again() -> None:
    friction = NutFriction.split(K=0.15, F_ref=1e5, cv=0.1, own=0.7, m=0.05)
    assert (1 + friction.cv_nut**2) * (1 + friction.cv_pull**2) == pytest.approx(1 + 0.1**2)
    assert np.log1p(friction.cv_nut**2) == pytest.approx(0.7 * np.log1p(0.1**2))
    assert friction.m == 0.05
    with pytest.raises(ValueError, match="share from 0 to 1"):
        NutFriction.split(K=0.15, F_ref=1e5, cv=0.1, own=1.2)


@pytest.mark.parametrize(
    "wrong", [{"K": 0.0}, {"m": 1.0}, {"cv_nut": -0.1}, {"static_excess": 1.5}, {"uses": -1}, {"F_ref": float("nan")}]
)
def test_out_of_range(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"not (-?[0-9.]+|nan)$"):
        NutFriction(**({"K": 0.15, "F_ref": 1e5} | wrong))  # type: ignore[arg-type]
