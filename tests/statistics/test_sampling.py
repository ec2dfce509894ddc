"""Sampling: the tables of the trade's notes, enumeration of every sample, scipy, definitions turned round."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from evenpull.statistics.sampling import (
    bad_limit_of_lot,
    bad_share_limit,
    clopper_pearson,
    detection,
    sample_needed,
    zero_failures,
    zero_failures_of_lot,
)


@pytest.mark.parametrize(("b", "chance"), [(1, 0.10), (2, 0.19), (3, 0.27), (5, 0.42), (10, 0.67)])
def test_ten_of_a_hundred(b: int, chance: float) -> None:
    """Counted by binomial coefficients, and rounded as such tables are printed."""
    assert detection(100, b, 10) == pytest.approx(1 - math.comb(100 - b, 10) / math.comb(100, 10), rel=1e-12)
    assert round(detection(100, b, 10), 2) == chance


@pytest.mark.parametrize(("share", "n"), [(0.01, 299), (0.05, 59), (0.10, 29)])
def test_zero_failures_for_95_per_cent(share: float, n: int) -> None:
    assert zero_failures(share) == n == sample_needed(share)
    assert (1 - share) ** n <= 0.05 < (1 - share) ** (n - 1)


def test_every_sample_of_a_small_lot() -> None:
    """All samples of 3 out of 7, pieces 0 and 1 bad, counted; each bad one seen with 0.6."""
    samples = list(itertools.combinations(range(7), 3))
    assert detection(7, 2, 3) == pytest.approx(sum(0 in s or 1 in s for s in samples) / len(samples))
    missed = sum(0.4 ** sum(piece < 2 for piece in s) for s in samples) / len(samples)
    assert detection(7, 2, 3, 0.6) == pytest.approx(1 - missed)


def test_all_checked_and_none_checked() -> None:
    assert detection(16, 1, 16) == 1.0
    assert detection(16, 1, 0) == 0.0
    assert detection(16, 0, 8) == 0.0
    assert detection(16, 1, 16, 0.9) == pytest.approx(0.9)
    assert detection(100_000, 50_000, 100_000, 0.5) == pytest.approx(1.0)
    assert detection(100_000_000, 50_000_000, 50_000_000) == 1.0
    assert detection(1_000_000, 1, 1, 0.5) == pytest.approx(0.5e-6)


def test_a_large_lot_against_the_endless_one_and_scipy() -> None:
    assert detection(10_000_000, 100_000, 299) == pytest.approx(1 - 0.99**299, rel=1e-4)
    told = float(stats.hypergeom.sf(0, 1_000_000, 12, 40_000))
    assert detection(1_000_000, 12, 40_000) == pytest.approx(told, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 300), st.data())
def test_sample_of_a_lot_is_the_fewest(N: int, data: st.DataObject) -> None:
    b = data.draw(st.integers(1, N))
    n = zero_failures_of_lot(N, b, 0.9)
    assert stats.hypergeom.pmf(0, N, b, n) <= 0.1 + 1e-9
    assert stats.hypergeom.pmf(0, N, b, n - 1) > 0.1 - 1e-9
    assert n <= zero_failures(b / N, 0.9) if b < N else n == 1


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 200), st.data())
def test_limit_of_the_number_bad_is_the_largest_that_can_be(N: int, data: st.DataObject) -> None:
    n = data.draw(st.integers(1, N))
    c = data.draw(st.integers(0, n))
    b = bad_limit_of_lot(N, n, c)
    assert c <= b <= N - n + c
    assert stats.hypergeom.cdf(c, N, b, n) > 0.05
    assert b == N or stats.hypergeom.cdf(c, N, b + 1, n) <= 0.05 + 1e-12


def test_the_limit_covers_as_often_as_it_says() -> None:
    """For every number bad in a lot of 40: the limit from a sample of 12 lies below it with at most 5 %, counted
    exactly over the hypergeometric distribution."""
    for b in range(41):
        c = np.arange(13)
        short = np.array([bad_limit_of_lot(40, 12, int(x)) < b for x in c])
        assert stats.hypergeom.pmf(c, 40, b, 12)[short].sum() <= 0.05 + 1e-12


def test_clopper_pearson_against_scipy() -> None:
    for c, n in ((0, 20), (3, 20), (20, 20), (7, 1000)):
        told = stats.binomtest(c, n).proportion_ci(0.95, "exact")
        assert clopper_pearson(c, n) == pytest.approx((told.low, told.high), abs=1e-12)
        one = stats.binomtest(c, n, alternative="less").proportion_ci(0.95, "exact")
        assert bad_share_limit(c, n) == pytest.approx(one.high, abs=1e-12)


def test_none_bad_is_the_rule_of_three() -> None:
    """1 - 0.05^(1/n), about 3/n."""
    assert bad_share_limit(0, 100) == pytest.approx(1 - 0.05 ** (1 / 100))


@pytest.mark.parametrize(
    ("share", "c", "n"),
    [  # distribution-free one-sided tables: the (c+1)th extreme, 95 % confidence (from memory, not re-read)
        (0.10, 1, 46), (0.10, 2, 61), (0.05, 1, 93), (0.05, 2, 124), (0.01, 1, 473),
    ],
)
def test_sample_with_some_bad_ones(share: float, c: int, n: int) -> None:
    assert sample_needed(share, c) == n
    assert stats.binom.cdf(c, n, share) <= 0.05 < stats.binom.cdf(c, n - 1, share)


def test_sample_of_a_lot_with_some_bad_ones() -> None:
    n = sample_needed(0.05, 1, 0.95, 200)
    assert stats.hypergeom.cdf(1, 200, 10, n) <= 0.05 < stats.hypergeom.cdf(1, 200, 10, n - 1)
    assert n < sample_needed(0.05, 1)
    assert bad_limit_of_lot(200, n, 1) < 10


def test_refusals() -> None:
    with pytest.raises(ValueError, match="n = 11 of a lot of 10"):
        detection(10, 1, 11)
    with pytest.raises(ValueError, match="N has to be a whole number, 1 to"):
        detection(0, 0, 0)
    with pytest.raises(ValueError, match="up to 1, not"):
        detection(10, 1, 1, 1.5)
    with pytest.raises(ValueError, match="even on all 20: take a surer check"):
        zero_failures_of_lot(20, 1, 0.95, 0.9)
    with pytest.raises(ValueError, match="confidence lies between"):
        zero_failures(0.1, 1.0)
    with pytest.raises(ValueError, match="share lies between"):
        zero_failures(math.nan)
    with pytest.raises(ValueError, match="6 of 5"):
        bad_share_limit(6, 5)
    with pytest.raises(ValueError, match="shown not to be so"):
        sample_needed(0.05, 5, 0.95, 100)
