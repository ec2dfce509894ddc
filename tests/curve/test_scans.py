"""Places found in blocks of eight, against the plain way."""

from __future__ import annotations

import numpy as np
import pytest

from evenpull.curve.scans import extremes, first_at, first_not_up, from_level, highest, last_below

SIZES = [1, 2, 7, 8, 9, 15, 16, 17, 64, 301]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("n", SIZES)
def test_places_are_those_of_the_plain_way(n: int, seed: int) -> None:
    dice = np.random.default_rng([seed, n])
    values = dice.normal(size=n).round(1)
    first = int(dice.integers(n))
    assert extremes(values, n) == (values.min(), values.max())
    assert highest(values, first, n - 1) == first + int(np.argmax(values[first:]))
    for level in (-9.0, *np.unique(values)[:3].tolist(), 0.05, *np.unique(values)[-3:].tolist(), 9.0):
        above = np.flatnonzero(values[first:n - 1] >= level)
        assert from_level(values, first, n - 1, level) == (first + above[0] if len(above) else max(first, n - 1))
        below = np.flatnonzero(values[:first + 1] <= level)
        assert last_below(values, first, level) == (below[-1] if len(below) else -1)
    assert last_below(values, -1, 9.0) == -1


@pytest.mark.parametrize("n", SIZES)
def test_the_first_value_not_above_the_one_before(n: int) -> None:
    assert first_not_up(np.arange(float(n)), n - 1) == max(n, 1)
    for at in range(1, n):
        for fall in (1.0, 3.0):
            values = np.arange(float(n))
            values[at:] -= fall
            assert first_not_up(values, n - 1) == at
            assert first_not_up(values, at - 1) == at


def test_an_angle_is_found_as_numpy_finds_it() -> None:
    a = np.array([0.0, 1.0, 2.0, 3.5, 4.0])
    for angle in (-1.0, 0.0, 0.5, 2.0, 3.9, 4.0, 9.0):
        assert first_at(a, angle, 4, False) == np.searchsorted(a, angle, "left")
        assert first_at(a, angle, 4, True) == np.searchsorted(a, angle, "right")
