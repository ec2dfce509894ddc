"""Fewer points for a drawing: tops, hollows and ends stay."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.curve.thinned_view import to_draw


@given(st.integers(1, 5000), st.integers(8, 400), st.integers(0, 2**32 - 1))
def test_extremes_and_ends_stay_and_nothing_is_invented(n: int, most: int, seed: int) -> None:
    dice = np.random.default_rng(seed)
    angle, torque = np.cumsum(dice.random(n)), dice.normal(size=n)
    x, y = to_draw(angle, torque, most)
    assert len(x) == len(y) <= most
    assert {y.min(), y.max()} == {torque.min(), torque.max()}
    assert (x[0], x[-1]) == (angle[0], angle[-1]) and (np.diff(x) >= 0).all()
    assert np.isin(list(zip(x, y, strict=True)), list(zip(angle, torque, strict=True))).all()


def test_what_is_not_finite_is_left_out_and_too_few_points_are_refused() -> None:
    x, y = to_draw(np.array([0.0, 1.0, np.nan, 3.0]), np.array([1.0, np.inf, 2.0, 4.0]), 8)
    assert x.tolist() == [0.0, 3.0] and y.tolist() == [1.0, 4.0]
    with pytest.raises(ValueError, match="at least 8"):
        to_draw(np.zeros(3), np.zeros(3), 7)
