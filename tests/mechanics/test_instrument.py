"""Tool settings, and describing readings."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.instrument import (
    adapter_ratio,
    adapter_setting,
    hand_sensitivity,
    multiplier_setting,
    round_to_resolution,
    tool_setting,
)
from evenpull.quantities import from_si, in_words
from evenpull.statistics import describe
from tests.mechanics.formulas import recompute


@pytest.mark.parametrize(
    ("degrees", "error"), [(0, 0.25), (45, 0.177), (60, 0.125), (90, 0.0), (135, -0.177), (180, -0.25)]
)
def test_correction_left_out(degrees: float, error: float) -> None:
    """What happens when the correction is forgotten with E/L = 0.25 (computed from M_set = M L/(L + E cos alpha))."""
    assert adapter_ratio(0.4, 0.1, math.radians(degrees)) - 1 == pytest.approx(error, abs=5e-4)


def test_setting_of_a_straight_adapter() -> None:
    """M = 100, L = 12, E = 6 give 66.7 (FAA AC 43.13-1B par. 7-40; computed)."""
    assert adapter_setting(100, 0.12, 0.06) == pytest.approx(66.7, abs=0.05)


@pytest.mark.parametrize(
    ("lever", "length", "angle", "message"),
    [(0, 0.1, 0, "longer than zero"), (0.4, -0.1, 0, "negative"), (0.4, 0.4, math.pi, "past the hand")],
)
def test_impossible_adapters(lever: float, length: float, angle: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        adapter_setting(100, lever, length, angle)


@given(st.floats(0.2, 1.5), st.floats(0.0, 0.15), st.floats(0, math.pi))
def test_sensitivity_is_what_a_shifted_hand_does(lever: float, length: float, angle: float) -> None:
    setting = adapter_setting(100, lever, length, angle)
    found = hand_sensitivity(lever, length, angle)
    for shift in (0.01, -0.01):
        assert abs(setting * adapter_ratio(lever + shift, length, angle) / 100 - 1) <= found + 1e-12
    if length == 0:
        assert found == 0


def test_sensitivity_at_a_right_angle_is_nothing() -> None:
    assert hand_sensitivity(0.5, 0.1, math.pi / 2) == pytest.approx(0, abs=1e-12)
    with pytest.raises(ValueError, match="shift"):
        hand_sensitivity(0.5, 0.1, shift=0.6)


settings = st.fixed_dictionaries({
    "unit": st.sampled_from(["N.m", "lbf.ft", "lbf.in", "kgf.m"]), "torque": st.floats(20, 3000),
    "resolution": st.sampled_from([0.1, 0.25, 1.0, 1.3558179483314004, 5.0]), "adapter_length": st.floats(0, 0.2),
    "adapter_angle": st.floats(0, math.pi), "multiplier_ratio": st.sampled_from([1.0, 3.8, 5.2]),
})


@given(settings)
def test_dialled_value_gives_the_torque_within_half_a_step(case: dict[str, object]) -> None:
    made = tool_setting(lever=0.5, **case)  # type: ignore[arg-type]
    ratio = made.torque / made.chain[-1].value
    assert abs(made.torque - float(case["torque"])) <= ratio * float(case["resolution"]) / 2 * 1.001  # type: ignore[arg-type]
    assert from_si(made.chain[-1].value, made.unit) == pytest.approx(made.value)
    assert made.words == in_words(float(made.digits), made.unit)
    assert float(made.digits) == pytest.approx(made.value, abs=1e-4)
    symbols = {"M"}
    for step in made.chain[1:]:
        assert step.symbol not in symbols
        symbols.add(step.symbol)
        if step.symbol in ("M_in", "M_set"):
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value)
            assert step.formula.startswith(f"{step.symbol} = ")


def test_setting_in_the_unit_and_resolution_of_the_tool() -> None:
    made = tool_setting(350.0, "lbf.ft", 1.3558179483314004)  # 1 lbf.ft steps
    assert (made.digits, made.unit, made.words) == ("258", "lbf.ft", "two hundred and fifty-eight pound-force feet")
    assert tool_setting(20.3, "N.m", 0.5).digits == "20.5"
    assert tool_setting(20.24, "N.m", 0.5).digits == "20.0"
    assert tool_setting(1000.0, "N.m", 2.0, multiplier_ratio=4.0).digits == "250"
    assert tool_setting(100.0, "N.m", 1.0).hand_sensitivity == 0


@pytest.mark.parametrize(
    ("change", "message"),
    [({"torque": 0.0}, "greater than zero"), ({"resolution": 0.0}, "resolution"), ({"torque": 0.1}, "half a step"),
     ({"adapter_length": 0.1}, "needs the lever"), ({"multiplier_ratio": 0.0}, "ratio")],
)
def test_settings_that_cannot_be(change: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        tool_setting(**{"torque": 100.0, "unit": "N.m", "resolution": 1.0, **change})  # type: ignore[arg-type]


def test_rounding_is_halves_up_in_steps() -> None:
    assert round_to_resolution(2.5, 1) == 3
    assert round_to_resolution(0.35, 0.1) == 0.4  # 3.5 steps, although 0.35/0.1 is 3.4999999999999996
    assert round_to_resolution(101, 2) == 102
    assert multiplier_setting(500, 5) == 100


def test_description_of_readings() -> None:
    """Shigley Table 8-14: ten lubricated bolts at 90 N.m, mean 34.18 kN, deviation 2.88 kN (read)."""
    found = describe([30.3, 32.5, 32.5, 32.9, 32.9, 33.8, 34.3, 34.7, 37.4, 40.5])
    assert (found.n, found.minimum, found.maximum) == (10, 30.3, 40.5)
    assert found.mean == pytest.approx(34.18, abs=0.005)
    assert found.deviation == pytest.approx(2.88, abs=0.005)
    assert found.median == pytest.approx(33.35)
    assert found.variation == pytest.approx(2.88 / 34.18, rel=2e-3)


def test_one_reading_has_no_deviation_and_none_is_an_error() -> None:
    assert describe([5.0]).deviation is None
    assert describe([5.0]).variation is None
    with pytest.raises(ValueError, match="no values"):
        describe([])
    with pytest.raises(ValueError, match="not finite"):
        describe([1.0, math.nan])
