"""Formulas are read as they are written: products side by side, powers, brackets, functions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.calculation.expression import ExpressionError, computable, put_in, recompute, symbols
from tests.mechanics import formulas

NUMBERS = st.floats(min_value=0.01, max_value=100, allow_nan=False)


@pytest.mark.parametrize(
    ("formula", "inputs", "value"),
    [
        ("x = a b / (c + 0.5 d^2)", {"a": 2, "b": 3, "c": 1, "d": 4}, 6 / 9),
        ("x = a / b c", {"a": 6, "b": 2, "c": 3}, 9),  # left to right, as multiplication and division stand
        ("x = -a^2", {"a": 3}, -9),
        ("x = a^-1", {"a": 4}, 0.25),
        ("x = 2 (a + b) (a - b)", {"a": 3, "b": 1}, 16),
        ("x = sqrt(a^2 + 3 b^2)", {"a": 1, "b": 1}, 2),
        ("x = 4 / 3 pi r^3", {"r": 1}, 4 / 3 * math.pi),
        ("x = max(a, b) - min(a, b)", {"a": 2, "b": 5}, 3),
        ("x = ln[(a + 1) (a - 1)]", {"a": math.sqrt(math.e + 1)}, 1),
        ("x = a - -b", {"a": 1, "b": 2}, 3),
        ("x = 1.5e-3 a", {"a": 2}, 0.003),
    ],
)
def test_values(formula: str, inputs: dict[str, float], value: float) -> None:
    assert recompute(formula, inputs) == pytest.approx(value, rel=1e-12)


@given(NUMBERS, NUMBERS, NUMBERS)
def test_reads_as_the_tests_of_the_mechanics_read(a: float, b: float, c: float) -> None:
    for formula in ("x = a b^2 / (c + 0.5 a)", "x = sqrt(a b) - max(b, c) a / c", "x = pi / 4 ((a + b) / 2)^2"):
        inputs = {"a": a, "b": b, "c": c}
        assert recompute(formula, inputs) == pytest.approx(formulas.recompute(formula, inputs), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        ("x = a / b", {"a": 1, "b": 0}, "cannot be computed"),
        ("x = sqrt(a)", {"a": -1}, "cannot be computed"),
        ("x = ln(a)", {"a": 0}, "cannot be computed"),
        ("x = (0 - a)^0.5", {"a": 2}, "root of a negative"),
        ("x = a b", {"a": 1}, "no number for b"),
        ("x = a + ", {"a": 1}, "ends too early"),
        ("x = (a", {"a": 1}, "is missing"),
        ("x = a)", {"a": 1}, "cannot be read"),
        ("x = a $ b", {"a": 1, "b": 1}, "cannot be read"),
        ("M24", {}, "no right-hand side"),
        ("x = ", {}, "no right-hand side"),
        ("x = 10^(a)^9", {"a": 999}, "cannot be computed"),
    ],
)
def test_refusals(formula: str, inputs: dict[str, float], says: str) -> None:
    with pytest.raises(ExpressionError, match=says):
        recompute(formula, inputs)


def test_python_is_not_run() -> None:
    for text in ("x = __import__(a)", "x = a.real", "x = [a for a in b]"):
        with pytest.raises(ExpressionError):
            recompute(text, {"a": 1.0, "b": 1.0})


def test_what_is_a_formula() -> None:
    assert computable("x = a b") and not computable("M24") and not computable("stated") and not computable("a = ?")
    assert symbols("F = a b / (a + pi) sqrt(c)") == ("a", "b", "c")


def test_numbers_put_in() -> None:
    shown = {"a": "1.5", "b": "−2", "c": "3·10^−6"}
    assert put_in("x = a b / (c + 0.5 a^2) - sqrt(a)", shown) == "1.5 · (−2) / ((3·10^−6) + 0.5 · 1.5^2) − √(1.5)"
    assert put_in("x = -a + max(a, b)", shown) == "−1.5 + max(1.5; (−2))"
