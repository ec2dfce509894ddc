"""Tolerance intervals, figures of a lot and values that stand apart: published factors, enumeration, simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from evenpull.statistics.lots import grubbs_limit, lot_figures
from evenpull.statistics.tolerance import (
    ordered_confidence,
    ordered_interval,
    ordered_least,
    runs_needed,
    tolerance_factor,
    tolerance_factor_approximate,
    tolerance_factor_one_sided,
)


@pytest.mark.parametrize(
    ("n", "k"),
    [  # exact two-sided factors 95 %/95 %: Odeh and Owen's tables, as in ISO 16269-6 (from memory, not re-read)
        (2, 36.519), (3, 9.789), (4, 6.341), (5, 5.077), (6, 4.422), (10, 3.393), (20, 2.760), (30, 2.555),
        (50, 2.382), (100, 2.234),
    ],
)
def test_two_sided_factor(n: int, k: float) -> None:
    assert tolerance_factor(n, 0.95, 0.95) == pytest.approx(k, abs=6e-4)


@pytest.mark.parametrize(
    ("n", "content", "k"),
    [  # one-sided factors at 95 % confidence, tables of MIL-HDBK-17 / CMH-17 (from memory, not re-read)
        (5, 0.90, 3.407), (10, 0.90, 2.355), (20, 0.90, 1.926), (30, 0.90, 1.777), (10, 0.99, 3.981),
    ],
)
def test_one_sided_factor(n: int, content: float, k: float) -> None:
    assert tolerance_factor_one_sided(n, content, 0.95) == pytest.approx(k, abs=6e-4)


def test_approximate_factor() -> None:
    """NIST/SEMATECH handbook 7.2.6.3 (from memory): n = 43, content 90 %, confidence 99 %: 2.217."""
    assert tolerance_factor_approximate(43, 0.90, 0.99) == pytest.approx(2.217, abs=1e-3)
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.217, rel=0.004)


def test_two_sided_factor_covers_as_often_as_it_says() -> None:
    rng = np.random.default_rng(11)
    n, trials = 8, 40_000
    sample = rng.normal(size=(trials, n))
    mean, half = sample.mean(axis=1), tolerance_factor(n, 0.9, 0.95) * sample.std(axis=1, ddof=1)
    content = norm.cdf(mean + half) - norm.cdf(mean - half)
    assert (content >= 0.9).mean() == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / trials))


def test_grubbs() -> None:
    """NIST/SEMATECH handbook 1.3.5.17.1 (from memory): eight readings, G = 2.4687, one-sided limit 2.032 at 5 %;
    two-sided limit for n = 10: 2.290 (Grubbs' table, from memory).
    """
    readings = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    found = lot_figures(readings)
    assert (found.most - found.mean) / found.s == pytest.approx(2.4687, abs=1e-4)
    assert grubbs_limit(8, two_sided=False) == pytest.approx(2.032, abs=1e-3)
    assert grubbs_limit(10) == pytest.approx(2.290, abs=1e-3)
    assert found.apart == (7,)
    assert lot_figures([1.0, 1.0, 1.0]).apart == ()


def test_runs_needed() -> None:
    n = runs_needed(0.05, 0.15)
    assert tolerance_factor(n, 0.95, 0.95) * 0.05 <= 0.15 < tolerance_factor(n - 1, 0.95, 0.95) * 0.05
    assert runs_needed(0.001, 0.5) == 2
    with pytest.raises(ValueError, match="more runs cannot help"):
        runs_needed(0.10, 0.15)
    for wrong in ((0.0, 0.1), (math.nan, 0.1), (0.1, math.inf)):
        with pytest.raises(ValueError):
            runs_needed(*wrong)


@pytest.mark.parametrize(
    ("side", "content", "confidence", "n"),
    [  # smallest n without a distribution: ISO 16269-6 annex and W. J. Conover's table (from memory, not re-read)
        ("both", 0.95, 0.95, 93), ("both", 0.99, 0.95, 473), ("both", 0.90, 0.95, 46), ("both", 0.90, 0.90, 38),
        ("above", 0.95, 0.95, 59), ("below", 0.99, 0.95, 299), ("above", 0.90, 0.95, 29), ("below", 0.90, 0.90, 22),
    ],
)
def test_fewest_values_without_a_distribution(side: str, content: float, confidence: float, n: int) -> None:
    assert ordered_least(content, confidence, side) == n  # type: ignore[arg-type]


def test_fewest_values_of_a_high_demand_by_the_formula() -> None:
    """One-sided: 1 - content^n >= confidence, solved by logarithms."""
    assert ordered_least(0.9999, 0.95, "above") == math.ceil(math.log(0.05) / math.log(0.9999))


def test_ordered_interval_covers_as_often_as_it_says_for_a_skewed_lot() -> None:
    rng = np.random.default_rng(5)
    n, trials = 150, 4_000
    values = rng.exponential(size=(trials, n))
    one = ordered_interval(values[0], content=0.9, confidence=0.9)
    cut = one.left_out // 2
    low, high = np.partition(values, (cut, n - 1 - cut), axis=1)[:, [cut, n - 1 - cut]].T
    assert (low[0], high[0]) == (one.low, one.high)
    held = (np.exp(-low) - np.exp(-high) >= 0.9).mean()
    assert one.reached >= 0.9
    assert held == pytest.approx(one.reached, abs=4 * math.sqrt(0.1 * 0.9 / trials))
    assert one.reached == pytest.approx(ordered_confidence(n, one.left_out + 2, 0.9))
    assert ordered_confidence(n, one.left_out + 4, 0.9) < 0.9  # one more at each end is one too many


def test_ordered_interval_with_one_end() -> None:
    values = [float(x) for x in range(1, 60)]
    below, above = ordered_interval(values, side="below"), ordered_interval(values, side="above")
    assert (below.low, below.high, above.low, above.high, above.left_out) == (1.0, None, None, 59.0, 0)
    assert above.reached == pytest.approx(1 - 0.95**59)
    with pytest.raises(ValueError, match="59 are needed"):
        ordered_interval(values[:-1], side="above")
    with pytest.raises(ValueError, match="number 2 is not finite"):
        ordered_interval([1.0, math.inf], side="above")
    for wrong in (0.0, 1.0, math.nan):
        with pytest.raises(ValueError, match="content lies between 0 and 1"):
            ordered_interval(values, content=wrong)
