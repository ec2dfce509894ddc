"""Runs, last digits, slips of writing: against enumeration, scipy and published values."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from evenpull.statistics.chance import variance_too_small
from evenpull.statistics.digits import decimal_shifts, digit_test, last_digit, transpositions
from evenpull.statistics.runs import longest_run, repeat_chance, run_probability


@pytest.mark.parametrize(("n", "length"), [(4, 2), (5, 3), (8, 3), (9, 4)])
def test_probability_of_a_run_by_counting_all_cases(n: int, length: int) -> None:
    """A fair coin: every sequence of n throws counted; a value equals the one before it with p = 1/2."""
    hits = sum(longest_run(case)[0] >= length for case in itertools.product("ab", repeat=n))
    assert run_probability(n, length, 0.5) == pytest.approx(hits / 2**n, abs=1e-12)


def test_probability_of_a_run_by_simulation_for_ten_digits() -> None:
    draws = np.random.default_rng(7).integers(0, 10, (20_000, 30))
    share = np.mean([longest_run(row.tolist())[0] >= 4 for row in draws])
    assert run_probability(30, 4, 0.1) == pytest.approx(share, abs=4 * np.sqrt(share / 20_000))


def test_runs_and_repeats() -> None:
    assert longest_run([]) == (0, 0) and longest_run([1, 2, 2, 2, 3, 3]) == (3, 1)
    assert repeat_chance(["a", "a", "b", "b"]) == pytest.approx(2 / 6)  # of 6 pairs 2 are equal
    with pytest.raises(ValueError, match="probability"):
        run_probability(5, 1, 0.5)


def test_digits_against_scipy() -> None:
    digits = np.random.default_rng(3).integers(0, 10, 200).tolist()
    ours = digit_test(digits)
    theirs = stats.chisquare(np.bincount(digits, minlength=10))
    assert (ours.statistic, ours.p) == (pytest.approx(theirs.statistic), pytest.approx(theirs.pvalue))
    even = [d * 2 for d in np.random.default_rng(4).integers(0, 5, 200).tolist()]
    assert digit_test(even).allowed == (0, 2, 4, 6, 8) and digit_test(even).p > 1e-4
    assert digit_test([0, 5] * 30 + [0] * 60).p < 1e-4
    assert digit_test([1, 2, 3]).p == 1.0  # too few to say anything


def test_slips_of_writing() -> None:
    assert last_digit("12.50") == 0 and last_digit("350") == 0 and last_digit("x") is None
    assert decimal_shifts(35.0, 332.5, 367.5) == (10.0,) and decimal_shifts(350.0, 332.5, 367.5) == ()
    assert transpositions("530") == ("350", "503") and transpositions("33") == ()


@given(st.decimals(0, 9999, places=1, allow_nan=False))
def test_exchanged_digits_differ_by_a_multiple_of_nine(value: object) -> None:
    for other in transpositions(str(value)):
        tenths = round(float(other) * 10) - round(float(str(value)) * 10)
        assert tenths % 9 == 0


def test_a_variance_that_is_too_small() -> None:
    """Lower tail of chi-square: for n = 10 the 1 % point of 9 degrees is 2.088 (tables)."""
    assert variance_too_small(np.sqrt(2.0879 / 9), 1.0, 10) == pytest.approx(0.01, abs=1e-4)
