"""What is computed in lanes or without branches, for the sake of speed, against numpy and against the plain way."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pytest
from numba.core.errors import TypingError

from evenpull.curve.columns import one_curve
from evenpull.curve.compiled import kernel
from evenpull.curve.features import measure
from evenpull.curve.lanes import ROWS, WHOLE, bitonic_merge, odd_even_merge_sort, upper_middle
from evenpull.curve.names import AT, NAMES
from evenpull.curve.points import cleaned, copied, forward, prepare, stopping
from evenpull.curve.rise import area, equal_parts, sign_changes, steepest
from evenpull.curve.robust import about_means, desk, middle, robust_line, spread, sum_of_squares, thinned, total

SIZES = [1, 2, 3, 4, 5, 7, 8, 9, 31, 64]


def drawn(n: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    dice = np.random.default_rng([seed, n])
    return np.cumsum(dice.random(n)), dice.normal(50, 20, n), dice.random(n)


@pytest.mark.parametrize("n", SIZES)
def test_sums_are_those_of_numpy(n: int) -> None:
    _, y, _ = drawn(n)
    assert total(y, 0, n - 1) == pytest.approx(y.sum(), rel=1e-12)
    assert total(y, n // 2, n - 1) == pytest.approx(y[n // 2:].sum(), rel=1e-12)
    assert sum_of_squares(y, n) == pytest.approx(y @ y, rel=1e-12)


@pytest.mark.parametrize("n", SIZES[1:])
def test_squares_about_the_means_and_the_area_are_those_of_numpy(n: int) -> None:
    x, y, w = drawn(n)
    first = n // 3
    a, b, p = x[first:], y[first:], w[first:]
    for weights, given in ((None, np.ones(len(a))), (w, p)):
        a0, b0 = a - np.average(a, weights=given), b - np.average(b, weights=given)
        assert about_means(weights, x, y, first, n - first) == pytest.approx(
            [given.sum(), a[0] - a0[0], b[0] - b0[0], given @ (a0 * a0), given @ (a0 * b0), given @ (b0 * b0)],
            rel=1e-10, abs=1e-10)
    assert area(x, y, first, n - 1) == pytest.approx(np.trapezoid(b, np.radians(a)), rel=1e-10, abs=1e-10)


def test_networks_sort_whatever_they_are_given() -> None:
    """A network that sorts every row of zeros and ones sorts all rows (zero-one principle, Knuth 5.3.4)."""
    rows = (np.arange(2**ROWS)[:, None] >> np.arange(ROWS)) & 1
    assert (np.diff(put_through(rows, odd_even_merge_sort(ROWS)), axis=1) >= 0).all()
    turns = (np.diff(rows, axis=1) != 0).sum(axis=1)
    assert (np.diff(put_through(rows[turns <= 2], bitonic_merge(ROWS)), axis=1) >= 0).all()
    assert (np.diff(put_through(rows, list(odd_even_merge_sort(ROWS))[:-1]), axis=1) < 0).any()  # none to spare


def put_through(rows: np.ndarray, network: Iterable[tuple[int, int]]) -> np.ndarray:
    out = rows.copy()
    for i, j in network:
        out[:, i], out[:, j] = np.minimum(out[:, i], out[:, j]), np.maximum(out[:, i], out[:, j])
    return out


@kernel
def of_64(values: np.ndarray) -> float:
    return upper_middle(values)


@pytest.mark.parametrize("levels", [2, 5, 64, 10**9])
def test_the_33rd_of_64_is_that_of_numpy(levels: int) -> None:
    for seed in range(200):
        values = np.random.default_rng([seed, levels]).integers(-levels, levels, WHOLE).astype(float)
        kept = values.copy()
        assert of_64(values) == np.sort(values)[32]
        assert np.array_equal(values, kept)


def test_nothing_but_one_row_of_floats_is_taken() -> None:
    values = np.arange(128.0)
    for other in (values[::2], values[:64].astype(np.float32), np.arange(64), values.reshape(2, 64)):
        with pytest.raises(TypingError, match="one row of float64 without gaps"):
            of_64(other)


def test_what_lay_on_the_desk_before_changes_nothing() -> None:
    x, y, _ = drawn(40)
    clean, full = desk(), desk()
    clean[:], full[:] = 0.0, 1e9
    assert robust_line(x, y, 40, clean) == robust_line(x, y, 40, full)
    assert spread(y, 7, 1.0, clean) == spread(y, 7, 1.0, full)
    assert math.isnan(spread(y, 0, 1.0, full))


def test_a_zero_has_no_sign() -> None:
    values = np.array([-0.0, 0.0, -0.0])
    assert not any(math.copysign(1, middle(values, n, desk())) < 0 for n in (1, 2, 3))


@pytest.mark.parametrize("n", [1, 63, 64, 65, 127, 128, 1000])
def test_a_long_stretch_is_thinned_evenly(n: int) -> None:
    x, y = np.arange(n + 5.0), np.arange(n + 5.0) ** 2
    out = np.full((2, 64), np.nan)
    m = thinned(x, y, 3, n + 2, *out)
    places = 3 + np.arange(min(n, 64)) * (n - 1) // max(min(n, 64) - 1, 1)
    assert m == len(places)
    assert np.array_equal(out[0, :m], places) and np.array_equal(out[1, :m], places.astype(float) ** 2)


def test_a_flat_stretch_behind_a_high_one_has_no_slope() -> None:
    """What is left of large values in running sums is rounding, and must not count as a slope."""
    x = np.linspace(0, 1, 400)
    T = np.where(x < 0.3, 5 + 800 * (x < 0.15), 3.3)
    found = measure(one_curve(x, x * 200, T), target=50.0)
    assert np.isnan([found[name][0] for name in ("k_max", "k_end", "u_yield_ratio")]).all()


@pytest.mark.parametrize("n", [8, 20, 32])
def test_the_steepest_of_neighbouring_points_is_that_of_separate_regressions(n: int) -> None:
    x, y, _ = drawn(n)
    size = n // 4 if n > 16 else 4
    slopes, squares = [], []
    for begin in range(n - size + 1):
        a, b = x[begin:begin + size], y[begin:begin + size]
        fitted, covariance = np.polyfit(a, b, 1, cov="unscaled")
        rest = b - np.polyval(fitted, a)
        slopes.append(fitted[0])
        squares.append(rest @ rest / (size - 2) * covariance[0, 0])
    best = int(np.argmax(slopes))
    assert steepest(x, y, n, size) == pytest.approx(
        [slopes[best], squares[best] ** 0.5, np.mean(squares) ** 0.5], rel=1e-8)


@pytest.mark.parametrize("n", [7, 8, 31, 33, 500])
def test_equal_parts_of_a_turn_have_the_means_of_numpy(n: int) -> None:
    a, T, _ = drawn(n)
    x, y = np.zeros(64), np.zeros(64)
    m = equal_parts(a, T, x, y)
    if n < 8:
        assert m == 0
        return
    edges = a[0] + np.arange(1, min(32, n)) * (a[-1] - a[0]) / min(32, n)
    part = np.searchsorted(edges, a, "left")
    own = np.unique(part)
    assert m == len(own)
    assert x[:m] == pytest.approx([a[part == p].mean() for p in own], rel=1e-12)
    assert y[:m] == pytest.approx([T[part == p].mean() for p in own], rel=1e-12)


@pytest.mark.parametrize(("values", "changes"), [
    ([1, -1, 1], 2), ([1, 0, -1], 1), ([1, 0, 1], 0), ([0, 0, 1], 0), ([-1, -2, 3, 4], 1), ([0, -1, 0, 0, 2, -1], 2)])
def test_a_zero_is_no_change_of_sign(values: list[float], changes: int) -> None:
    assert sign_changes(np.array(values, float), len(values)) == changes


ODD = {"nothing": [], "repeats": [("same", 3), ("same", 4), ("same", 60)], "a number missing": [("nan", 10)],
       "first beyond all": [("inf", 0)], "first below all": [("-inf", 0)], "last beyond all": [("inf", 79)],
       "last below all": [("-inf", 79)], "two beyond all": [("inf", 40), ("inf", 41)],
       "a new count of the angle": [("reset", 40)],
       "a clock set back": [("late", 50)], "all": [("same", 9), ("nan", 20), ("reset", 30), ("late", 44)]}


@pytest.mark.parametrize("column", [0, 1, 2])
@pytest.mark.parametrize("odd", ODD)
def test_points_are_prepared_alike_at_once_and_one_by_one(odd: str, column: int) -> None:
    dice = np.random.default_rng(5)
    points = np.stack([np.arange(80) * 0.01, np.cumsum(dice.random(80)), dice.random(80)]).astype(np.float32)
    for what, i in ODD[odd]:
        if what == "same":
            points[:, i] = points[:, i - 1]
        elif what == "reset":
            points[1, i:] -= 35
        elif what == "late":
            points[0, i:] -= 0.5
        else:
            points[column, i] = float(what)
    quick, plain = np.full((3, 80), np.nan), np.full((3, 80), np.nan)
    row, other = np.full(len(NAMES), np.nan), np.full(len(NAMES), np.nan)
    m = prepare(*points, np.ones(80, np.int16), *quick, row)
    assert m == cleaned(*points, *plain, other)
    assert np.array_equal(quick[:, :m], plain[:, :m])
    names = ("n_bad", "n_repeat", "n_resets", "n_late")
    assert [row[AT[name]] for name in names] == [other[AT[name]] for name in names]
    assert (m < 80) == any(what in ("same", "nan", "inf", "-inf") for what, _ in ODD[odd])
    assert copied(*points, *np.empty((3, 80)))[0] == (odd in ("nothing", "repeats"))  # at once where that will do


@pytest.mark.parametrize(("steps", "many", "in_order"), [
    ([1, 1, 1], 1, 1), ([1, 2, 3], 3, 1), ([1, 2, 2, 4], 3, 0), ([2, 2, 3], 2, 0), ([1, 2, 1], 3, 0)])
def test_steps_are_counted(steps: list[int], many: int, in_order: int) -> None:
    n = len(steps)
    row = np.full(len(NAMES), np.nan)
    points = np.arange(3.0 * n, dtype=np.float32).reshape(3, n)
    prepare(*points, np.array(steps, np.int16), *np.empty((3, n)), row)
    assert (row[AT["n_steps"]], row[AT["in_order"]], row[AT["last_step"]]) == (many, in_order, steps[-1])


def forward_points(seed: int, *, stop: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A noisy rise whose angle often stands and sometimes goes back; with `stop`, a fall to nothing under one angle."""
    dice = np.random.default_rng(seed)
    a = np.cumsum(dice.choice([0.0, 0.0, 1.0, 2.0, -0.5], 300))
    T = np.concatenate([dice.normal(1, 1, 150), np.linspace(1, 80, 150)]) + dice.normal(0, 0.5, 300)
    if stop:
        a[230:240], T[232:238] = a[:230].max() + 1, 0.5
    return np.arange(300) * 0.001, a, T


@pytest.mark.parametrize("stop", [False, True])
@pytest.mark.parametrize("seed", range(30))
def test_without_branches_the_same_points_go_forward(seed: int, stop: bool) -> None:
    points = np.stack(forward_points(seed, stop=stop))
    plain, quick = (np.concatenate([points, np.full((3, 1), np.nan)], axis=1) for _ in range(2))
    row, other = np.full(len(NAMES), np.nan), np.full(len(NAMES), np.nan)
    other[AT["T_peak"]] = points[2].max()
    m = stopping(*plain, 0, 0, 299, 0.3 * points[2].max(), 0.0, row)
    assert forward(*quick, 299, other) == m
    assert np.array_equal(plain[:, :m], quick[:, :m])
    assert other[AT["n_pauses"]] == row[AT["n_pauses"]] == (1 if stop else 0)
    assert (np.diff(plain[1, :m]) > 0).all() and m < 300
