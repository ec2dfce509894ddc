"""What is computed in lanes or without branches, for the sake of speed, against numpy and against the plain way."""

from __future__ import annotations

import numpy as np
import pytest

from evenpull.curve.names import NAMES
from evenpull.curve.points import extremes, stopping, unbroken
from evenpull.curve.rise import area, first_at
from evenpull.curve.robust import about_means, moments, total

SIZES = [1, 2, 3, 4, 5, 7, 8, 9, 31, 64]


def drawn(n: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    dice = np.random.default_rng([seed, n])
    return np.cumsum(dice.random(n)), dice.normal(50, 20, n), dice.random(n)


@pytest.mark.parametrize("n", SIZES)
def test_sums_are_those_of_numpy(n: int) -> None:
    x, y, w = drawn(n)
    assert total(y, 0, n - 1) == pytest.approx(y.sum(), rel=1e-12)
    assert total(y, n // 2, n - 1) == pytest.approx(y[n // 2:].sum(), rel=1e-12)
    u, v = x - x[0], y - y[0]
    assert moments(w, x, y, n, x[0], y[0]) == pytest.approx(
        [w.sum(), w @ u, w @ v, w @ (u * u), w @ (u * v)], rel=1e-10, abs=1e-10)
    assert extremes(y, n) == (y.min(), y.max())


@pytest.mark.parametrize("n", SIZES[1:])
def test_squares_about_the_means_and_the_area_are_those_of_numpy(n: int) -> None:
    x, y, _ = drawn(n)
    first = n // 3
    a, b = x[first:], y[first:]
    a0, b0 = a - a.mean(), b - b.mean()
    assert about_means(x, y, first, n - first) == pytest.approx(
        [a.mean(), b.mean(), a0 @ a0, a0 @ b0, b0 @ b0], rel=1e-10, abs=1e-10)
    assert area(x, y, first, n - 1) == pytest.approx(np.trapezoid(b, np.radians(a)), rel=1e-10, abs=1e-10)


def test_an_angle_is_found_as_numpy_finds_it() -> None:
    a = np.array([0.0, 1.0, 2.0, 3.5, 4.0])
    for angle in (-1.0, 0.0, 0.5, 2.0, 3.9, 4.0, 9.0):
        assert first_at(a, angle, 4, False) == np.searchsorted(a, angle, "left")
        assert first_at(a, angle, 4, True) == np.searchsorted(a, angle, "right")


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
    t, a, T = forward_points(seed, stop=stop)
    high = 0.3 * T.max()
    plain, quick = np.full((3, 301), np.nan), np.full((3, 301), np.nan)
    row = np.full(len(NAMES), np.nan)
    m = stopping(t, a, T, 299, *plain, high, row)
    n = unbroken(t, a, T, 299, *quick, high)
    assert n == (0 if stop else m)
    if not stop:
        assert np.array_equal(plain[:, :m], quick[:, :m])
        assert (np.diff(plain[1, :m]) > 0).all()
