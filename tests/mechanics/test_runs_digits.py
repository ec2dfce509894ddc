"""Runs, last digits, scatter, pace, slips of writing: against enumeration, scipy, published values and simulation."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from evenpull.statistics.chance import deviation_at_least, most_alike, scatter_too_small, variance_too_small
from evenpull.statistics.digits import decimal_shifts, digit_test, exact_tail, last_digit, transpositions
from evenpull.statistics.pace import too_fast
from evenpull.statistics.rounding import alike_chance, lattice_step, rounded_shares
from evenpull.statistics.runs import longest_run, repeat_chance, run_chance, seen_shares


def run_probability(n: int, length: int, k: int) -> float:
    """Exact, for k values of equal shares: the recursion on the first run of length - 1 repeats (Feller, An
    Introduction to Probability Theory, vol. 1, XIII.7, from memory)."""
    p, repeats, trials = 1 / k, length - 1, n - 1
    u = [0.0] * (trials + 1)
    u[repeats] = p**repeats
    for m in range(repeats + 1, trials + 1):
        u[m] = u[m - 1] + (1 - u[m - repeats - 1]) * (1 - p) * p**repeats
    return u[trials]


@pytest.mark.parametrize(("n", "length"), [(4, 2), (5, 3), (8, 3), (9, 4)])
def test_expected_number_of_runs_by_counting_all_cases(n: int, length: int) -> None:
    """A coin with heads at 0.7: every sequence of n throws counted with its weight; runs that reach the length."""
    expected = 0.0
    for case in itertools.product("ht", repeat=n):
        runs = sum(len(list(run)) >= length for _, run in itertools.groupby(case))
        expected += runs * 0.7 ** case.count("h") * 0.3 ** case.count("t")
    assert run_chance(n, length, np.array([0.7, 0.3])) == pytest.approx(min(1.0, expected), abs=1e-12)


@pytest.mark.parametrize(("n", "length", "k"), [(24, 4, 30), (72, 5, 10), (1_000, 8, 6), (30, 4, 10)])
def test_the_bound_on_runs_is_close_to_the_exact_probability(n: int, length: int, k: int) -> None:
    exact, bound = run_probability(n, length, k), run_chance(n, length, np.full(k, 1 / k))
    assert exact <= bound <= exact * (1 + 1.05 * bound)


def test_five_heads_in_ten_throws() -> None:
    """Among the 1,024 sequences of ten throws 112 have five heads in a row (counted here). Tails are left out."""
    hits = sum("hhhhh" in "".join(case) for case in itertools.product("ht", repeat=10))
    assert hits == 112
    assert 112 / 1024 <= run_chance(10, 5, np.array([0.5])) <= 1.01 * 112 / 1024


def test_probability_of_a_run_of_rounded_values_by_simulation() -> None:
    """30 normal values with a step of 0.7 standard deviations; four or more alike in a row. The mean that lies on a
    step is the worst: the bound holds for the others too."""
    dice = np.random.default_rng(7)
    for phase in (0.0, 0.25, 0.5):
        draws = np.round((dice.standard_normal((40_000, 30)) + 0.7 * phase) / 0.7)
        alike = draws[:, 1:] == draws[:, :-1]
        share = float((alike[:, 2:] & alike[:, 1:-1] & alike[:, :-2]).any(axis=1).mean())
        bound = run_chance(30, 4, rounded_shares(0.7, 1.0))
        assert 0.6 * bound < share < bound + 4 * math.sqrt(bound / 40_000)


def test_runs_and_repeats() -> None:
    assert longest_run([]) == (0, 0) and longest_run([1, 2, 2, 2, 3, 3]) == (3, 1)
    assert repeat_chance(["a", "a", "b", "b"]) == pytest.approx(2 / 6)  # of 6 pairs 2 are equal
    assert seen_shares(["a", "a", "b"]).tolist() == pytest.approx([2 / 3]) and not seen_shares([]).size
    assert run_chance(3, 4, np.array([1.0])) == 0.0 and run_chance(4, 4, np.array([1.0])) == 1.0
    for wrong in ((5, 1, [0.5]), (5, 3, [1.5])):
        with pytest.raises(ValueError, match="probability"):
            run_chance(*wrong[:2], np.array(wrong[2]))


def test_shares_of_rounded_values() -> None:
    shares = rounded_shares(1.0, 2.0)
    assert shares.sum() == pytest.approx(1.0, abs=1e-8)
    assert shares.max() == pytest.approx(stats.norm.cdf(0.25) - stats.norm.cdf(-0.25))
    assert alike_chance(0.1, 2.0) == pytest.approx(0.1 / (2 * math.sqrt(math.pi) * 2.0), rel=2e-4)
    assert alike_chance(0.01, 2.0) == pytest.approx(0.01 / (2 * math.sqrt(math.pi) * 2.0), rel=1e-9)
    assert alike_chance(1.0, 0.0) == 1.0
    with pytest.raises(ValueError, match="positive"):
        rounded_shares(0.0, 1.0)


@given(st.integers(1, 50), st.integers(-100, 100), st.lists(st.integers(-30, 30), min_size=1))
def test_all_values_stand_on_the_lattice(step: int, first: int, places: list[int]) -> None:
    found = lattice_step([first + step * place for place in places])
    assert found % step == 0 and (found > 0) == (len(set(places)) > 1)


def test_digits_against_scipy() -> None:
    digits = np.random.default_rng(3).integers(0, 10, 200).tolist()
    ours = digit_test(digits)
    theirs = stats.chisquare(np.bincount(digits, minlength=10))
    assert (ours.statistic, ours.p) == (pytest.approx(theirs.statistic), pytest.approx(theirs.pvalue))


def test_digits_that_a_step_allows() -> None:
    even = [d * 2 for d in np.random.default_rng(4).integers(0, 5, 200).tolist()]
    assert digit_test(even).allowed == (0, 2, 4, 6, 8) and digit_test(even).p > 1e-4
    assert digit_test(even, 1).p < 1e-4  # the tool has ten digits
    assert digit_test(even, 5).allowed == (0, 2, 4, 6, 8)  # the step cannot be 5
    assert digit_test([0, 5] * 30 + [0] * 60).p < 1e-4
    assert digit_test([0, 5] * 30, 5).p == 1.0 and digit_test([7] * 50, 10).allowed == tuple(range(10))
    assert digit_test([1, 2, 3]).p > 0.5


@pytest.mark.parametrize(("n", "k"), [(4, 3), (6, 2), (5, 4)])
def test_exact_tail_by_counting_all_cases(n: int, k: int) -> None:
    """Every way of n draws into k cells."""
    cases = [sum(c * c for c in np.bincount(case, minlength=k)) for case in itertools.product(range(k), repeat=n)]
    for squares in range(n * n + 2):
        share = sum(case >= squares for case in cases) / k**n
        assert exact_tail(n, k, squares) == pytest.approx(share, abs=1e-12)


def test_exact_tail_by_simulation_and_in_the_limit() -> None:
    draws = np.random.default_rng(1).multinomial(45, [0.1] * 10, 200_000)
    squares = (draws**2).sum(axis=1)
    for at in (250, 300, 330):
        share = float((squares >= at).mean())
        assert exact_tail(45, 10, at) == pytest.approx(share, abs=4 * math.sqrt(share / 200_000))
    statistic = 1200 * 10 / 99 - 99
    assert exact_tail(99, 10, 1200) == pytest.approx(stats.chi2.sf(statistic, 9), rel=0.3)


def test_slips_of_writing() -> None:
    assert last_digit("12.50") == 0 and last_digit("350") == 0 and last_digit("x") is None
    assert decimal_shifts(35.0, 332.5, 367.5) == (10.0,) and decimal_shifts(350.0, 332.5, 367.5) == ()
    assert decimal_shifts(35_000.0, 332.5, 367.5) == (0.01,)
    assert transpositions("530") == ("350", "503") and transpositions("33") == ()


@given(st.decimals(0, 9999, places=1, allow_nan=False))
def test_exchanged_digits_differ_by_a_multiple_of_nine(value: object) -> None:
    for other in transpositions(str(value)):
        tenths = round(float(other) * 10) - round(float(str(value)) * 10)
        assert tenths % 9 == 0


def test_a_variance_that_is_too_small() -> None:
    """Lower tail of chi-square: for n = 10 the 1 % point of 9 degrees is 2.088 (tables); the upper 5 % point is 16.919,
    by which the lower 95 % bound of a standard deviation is 0.729 s."""
    assert variance_too_small(np.sqrt(2.0879 / 9), 1.0, 10) == pytest.approx(0.01, abs=1e-4)
    assert deviation_at_least(1.0, 10, 0.05) == pytest.approx(math.sqrt(9 / 16.919), abs=1e-4)


def test_how_often_the_most_frequent_value_stands() -> None:
    """Two dice of six faces: P(some face stands twice) = 1/6, and the bound of two draws is exact."""
    assert most_alike(2, 2, np.full(6, 1 / 6)) == pytest.approx(1 / 6)
    assert most_alike(3, 1, np.full(6, 1 / 6)) == 1.0


@pytest.mark.parametrize("step", [0.1, 0.5, 0.6, 1.0, 2.0])
@pytest.mark.parametrize("n", [8, 12, 24])
def test_honest_values_scatter_too_little_as_seldom_as_promised(n: int, step: float) -> None:
    """Tools that are as good as can be, at the mean that is worst: a chance of c is found in at most c of the cases."""
    dice = np.random.default_rng(n)
    found = []
    for _ in range(4_000):
        values = np.round(dice.standard_normal(n) / step) * step
        found.append(scatter_too_small(values.tolist(), 1.0, step))
    for c in (0.05, 0.01, 0.002):
        assert np.mean(np.array(found) < c) <= c + 4 * math.sqrt(c / 4_000)


def test_pace() -> None:
    times = np.array([0.0, 10.0, 11.0, 11.0, 5.0, 30.0])
    assert too_fast(times, 3.0).tolist() == [1, 2]  # the clock that went back says nothing
    assert too_fast(times, 3.0, 2).tolist() == [1]  # two tools at once
    assert too_fast(np.array([]), 3.0).tolist() == []
    with pytest.raises(ValueError, match="at least one"):
        too_fast(times, 3.0, 0)
