"""Printed numbers: coherent units checked against an independent library of units, rounding, and the way back."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.calculation.figures import coherent, figure, printed, typed
from evenpull.joint.traced import Traced

REGISTRY = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("unit", "si", "shown", "name"),
    [
        ("N", "N", "N", "N"), ("m", "m", "mm", "mm"), ("m2", "m**2", "mm**2", "mm²"), ("m4", "m**4", "mm**4", "mm⁴"),
        ("Pa", "Pa", "MPa", "MPa"), ("N.m", "N*m", "N*mm", "N·mm"), ("m/N", "m/N", "mm/N", "mm/N"),
        ("N/m", "N/m", "N/mm", "N/mm"), ("1/m", "1/m", "1/mm", "1/mm"), ("1/K", "1/K", "1/K", "1/K"),
        ("rad", "rad", "rad", "rad"), ("m3", "m**3", "mm**3", "mm³"),
    ],
)  # fmt: skip
def test_coherent_units_against_pint(unit: str, si: str, shown: str, name: str) -> None:
    factor, words = coherent(unit)
    assert words == name
    assert factor == pytest.approx(REGISTRY.Quantity(1, si).to(shown).magnitude, rel=1e-12)


def test_a_pure_number_has_no_unit() -> None:
    assert coherent("1") == (1.0, "")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"), (1, "1"), (0.15936999, "0.15937"), (138158.96, "138160"), (-125410.2, "−125410"), (99999.6, "100000"),
        (4.3210e-6, "4.321·10^−6"), (205e9, "2.05·10^11"), (0.00012345, "0.00012345"), (1e-4, "0.0001"),
        (float("inf"), "not finite"),
    ],
)  # fmt: skip
def test_figures(value: float, text: str) -> None:
    assert figure(value) == text


@given(st.floats(min_value=1e-12, max_value=1e12))
def test_what_is_printed_is_the_value_within_five_figures(value: float) -> None:
    assert typed(figure(value)) == pytest.approx(value, rel=5.1e-5)
    assert typed(figure(-value)) == pytest.approx(-value, rel=5.1e-5)


def test_a_constant_with_a_unit_keeps_the_line_in_si() -> None:
    # 6 mm are added to twice the diameter: in millimetres the number would be another one.
    step = Traced("L_T", "thread length", 0.054, "m", "L_T = 2 d + 0.006", "invented", inputs={"d": 0.024})
    shown = printed(step, {"d": "m"})
    assert (shown.system, shown.inputs, shown.value, shown.unit, shown.checked) == (
        "SI", {"d": "0.024"}, "0.054", "m", True)


def test_a_formula_that_does_not_give_its_value_is_said() -> None:
    step = Traced("F", "force", 3.0, "N", "F = a b", "invented", inputs={"a": 1.0, "b": 2.0})
    assert printed(step, {}).checked is False


def test_an_input_that_is_no_step_gets_the_unit_with_which_the_formula_holds() -> None:
    step = Traced("A", "area", 7.854e-05, "m2", "A = pi / 4 odd^2", "invented", inputs={"odd": 0.01})
    exact = Traced("A", "area", 7.853981633974483e-05, "m2", "A = pi / 4 odd^2", "invented", inputs={"odd": 0.01})
    assert printed(exact, {}).inputs == {"odd": "10"}
    assert printed(step, {}).checked is False  # five figures are not the value
