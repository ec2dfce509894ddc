"""Chains of parts as one instrument: what is refused, one setting, one uncertainty worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.instrument.assembly import beyond_parts, budget_of, instrument, setting_of
from evenpull.instrument.chain import adapter_ratio, angle_sensitivity, pressure_setting
from evenpull.instrument.parts import (
    Adapter,
    ChainError,
    Driver,
    Gauge,
    Multiplier,
    Part,
    Pump,
    multiplier_ratio,
    opened,
)
from evenpull.quantities import from_si
from tests.mechanics.formulas import recompute

WRENCH = Driver(serial="TW-0207", unit="N.m", lower=40.0, upper=200.0, resolution=1.0, w=0.01, lever=0.48)
OPEN_END = Adapter(serial="AD-11", length=0.06)
GEAR = Multiplier(serial="MU-3", ratio=4.6, w=0.015, strongest=1500.0)
HEAD = Driver(serial="HT-1", unit="N.m", lower=500.0, upper=6000.0, resolution=1.0, w=0.01, torque_per_pressure=1e-4)
PUMP = Pump(serial="PU-1", strongest=70e6, ripple=0.01)
GAUGE = Gauge(serial="GA-1", unit="bar", lower=5e6, upper=70e6, resolution=1e6, W_full_scale=0.01)


def parts_of(*parts: Part) -> dict[str, float]:
    one = instrument(parts)
    found = budget_of(one, 1150.0 if one.multipliers else 3000.0 if one.gauge else 180.0)
    return {row.symbol: row.part for row in found.rows} | {"u": found.u}


def test_wrench_with_adapter_by_hand() -> None:
    """L = 480 mm, E = 60 mm straight: ratio 1 + 60/480 = 1.125; 180 N.m need 160 on the scale.

        hand +-10 mm   (1 + 60/470)/1.125 - 1 = 0.236407 %, /sqrt 3   = 0.136490 %
        angle +-2 deg  0.125 (1 - cos 2 deg)/1.125 = 0.006769 %, /sqrt 3 = 0.003908 %
        length +-0.5   0.5/540 = 0.092593 %, /sqrt 3                  = 0.053458 %
        resolution     1/160 = 0.625 %, /(2 sqrt 3)                   = 0.180422 %
        driver                                                          1 %
        sum of squares (1e-6): 1.86296 + 0.00153 + 0.28578 + 3.25521 + 100 = 105.40548; w = 1.026672 %
    """
    one = instrument([WRENCH, OPEN_END])
    assert one.ratio == pytest.approx(1.125)
    assert setting_of(one, 180.0).digits == "160"
    assert parts_of(WRENCH, OPEN_END) == pytest.approx({
        "w_hand": 0.00136490, "w_angle": 3.908e-5, "w_length": 0.00053458, "w_r": 0.00180422, "w_driver": 0.01,
        "u": 0.01026672,
    }, abs=1e-8)


def test_multiplier_by_hand() -> None:
    """Gears 5:1, efficiency 92 %: i = 4.6. 1150 N.m need 250. w = sqrt(1^2 + 1.5^2 + (0.4/3.4641)^2) % = 1.80647 %."""
    assert multiplier_ratio(5.0, 0.92, 0.015) == pytest.approx((4.6, 0.015))
    strong = replace(WRENCH, upper=400.0)
    assert setting_of(instrument([strong, GEAR]), 1150.0).digits == "250"
    assert parts_of(strong, GEAR)["u"] == pytest.approx(0.0180647, abs=1e-7)


def test_hydraulic_by_hand() -> None:
    """c = 1e-4 m3: 3000 N.m need 3e7 Pa = 300 bar. Gauge 1 % of 700 bar = 7 bar: 7/300/2 = 1.16667 %; step 10 bar:
    10/300/3.4641 = 0.96225 %; ripple 1 %/1.73205 = 0.57735 %; head 1 %: w = sqrt(3.62037) % = 1.90273 %."""
    one = instrument([PUMP, GAUGE, HEAD])
    setting = setting_of(one, 3000.0)
    assert (setting.digits, setting.unit, setting.words) == ("300", "bar", "three hundred bar")
    assert setting.torque == pytest.approx(3000.0)
    assert parts_of(PUMP, GAUGE, HEAD) == pytest.approx({
        "w_gauge": 0.0116667, "w_r": 0.0096225, "w_pump": 0.0057735, "w_driver": 0.01, "u": 0.0190273}, abs=5e-8)


def test_pressure_setting_traced_and_rounded() -> None:
    """1240 N.m through 4:1 are 310; with c = 2e-5 m3 15.5 MPa = 155 bar, in steps of 10 bar 160: 1280 N.m."""
    made = pressure_setting(1240.0, 2e-5, "bar", 1e6, multiplier_ratio=4.0)
    assert (made.digits, made.torque) == ("160", pytest.approx(1280.0))
    for step in made.chain[1:-1]:
        assert recompute(step.formula, step.inputs) == pytest.approx(step.value)
    assert from_si(made.chain[-1].value, "bar") == pytest.approx(160)
    assert (made.chain[-1].symbol, made.chain[-1].unit) == ("p_dial", "Pa")
    for change in ((0.0, 2e-5), (100.0, 0.0), (1e-3, 2e-5)):
        with pytest.raises(ValueError, match=r"greater than zero|half a step"):
            pressure_setting(*change, "bar", 1e6)


@given(st.floats(0.2, 1.5), st.floats(0.001, 0.15), st.floats(0, 2.9), st.floats(0, 0.2), st.floats(-1, 1))
def test_an_angle_within_its_error_changes_no_more(
    lever: float, length: float, angle: float, error: float, share: float,
) -> None:
    found = angle_sensitivity(lever, length, angle, error)
    for part in (share, 1, -1):
        moved = adapter_ratio(lever, length, angle + part * error) / adapter_ratio(lever, length, angle)
        assert abs(moved - 1) <= found + 1e-12


def test_a_hand_far_from_its_mark() -> None:
    """+-40 mm on L = 400 mm with E = 100 mm: 1.25 becomes 1 + 100/440 = 1.22727 or 1 + 100/360 = 1.27778, the larger
    change 2.2222 %, /sqrt 3 = 1.28300 %."""
    held = replace(OPEN_END, length=0.1, hand_shift=0.04)
    assert parts_of(replace(WRENCH, lever=0.4), held)["w_hand"] == pytest.approx(0.0128300, abs=1e-7)


def test_a_chain_that_contains_itself() -> None:
    with pytest.raises(ChainError, match="AS-1 contains itself: AS-1 - AS-2 - AS-1"):
        opened("AS-1", {"AS-1": ["TW-1", "AS-2"], "AS-2": ["MU-1", "AS-1"]})
    with pytest.raises(ChainError, match="AS-1 contains itself: AS-1 - AS-1"):
        opened("AS-1", {"AS-1": ["AS-1"]})
    with pytest.raises(ChainError, match="MU-1 stands twice in AS-1"):
        opened("AS-1", {"AS-1": ["TW-1", "MU-1", "AS-2"], "AS-2": ["MU-1"]})
    with pytest.raises(ChainError, match="without parts"):
        opened("AS-1", {"AS-1": []})
    assert opened("AS-1", {"AS-1": ["TW-1", "AS-2"], "AS-2": ["MU-1", "MU-2"]}) == ("TW-1", "MU-1", "MU-2")
    assert opened("TW-1", {}) == ("TW-1",)


@pytest.mark.parametrize(("parts", "message"), [
    ([], "no driver"), ([OPEN_END, GEAR], "no driver"),
    ([WRENCH, WRENCH], "TW-0207 stands twice"), ([WRENCH, GEAR, GEAR], "MU-3 stands twice"),
    ([WRENCH, replace(WRENCH, serial="X")], "driver X cannot follow driver TW-0207: one driver"),
    ([WRENCH, GEAR, OPEN_END], "adapter AD-11 cannot follow multiplier MU-3: an adapter is corrected by the lever"),
    ([WRENCH, OPEN_END, replace(OPEN_END, serial="AD-12")], "one length and one angle"),
    ([OPEN_END, WRENCH], "cannot follow adapter AD-11"), ([GEAR, WRENCH], "cannot follow multiplier"),
    ([PUMP, HEAD], "gauge between"), ([GAUGE, HEAD], "its pump and its gauge belong"),
    ([HEAD], "its pump and its gauge"), ([WRENCH, GAUGE], "gauge GA-1 cannot follow driver"),
    ([WRENCH, OPEN_END, GAUGE], "gauge GA-1 cannot follow adapter"),
    ([PUMP, GAUGE, WRENCH], "states no torque per pressure"),
    ([PUMP, GAUGE, HEAD, OPEN_END], "needs the lever of driver HT-1"),
    ([replace(WRENCH, resolution=0.0)], "resolution"), ([replace(WRENCH, upper=40.0)], "scale has to rise"),
    ([WRENCH, replace(GEAR, ratio=0.0)], "ratio"), ([replace(WRENCH, w=-0.1)], "uncertainty"),
    ([WRENCH, replace(OPEN_END, hand_shift=-0.1)], "hand shift"),
    ([replace(PUMP, strongest=0.0), GAUGE, HEAD], "pressure"),
])
def test_parts_that_make_no_instrument(parts: list[Part], message: str) -> None:
    with pytest.raises(ChainError, match=message):
        instrument(parts)


def test_an_adapter_folded_back_to_the_hand_is_refused_at_once() -> None:
    with pytest.raises(ValueError, match="past the hand"):
        instrument([WRENCH, Adapter(serial="A", length=0.48, angle=math.pi)])
    with pytest.raises(ValueError, match="efficiency"):
        multiplier_ratio(5.0, 1.1, 0.01)
    with pytest.raises(ValueError, match="gear ratio"):
        multiplier_ratio(0.0, 0.9, 0.01)


def test_what_scale_and_parts_do_not_bear() -> None:
    """40 to 200 on the scale are 45 to 225 N.m behind the adapter."""
    one = instrument([WRENCH, OPEN_END])
    assert beyond_parts(one, 45.0) == () == beyond_parts(one, 225.0)
    below, = beyond_parts(one, 44.0)
    assert below == ("39.11 N·m is below the lowest marked value of driver TW-0207, whose scale is 40 N·m to 200 N·m")
    assert "above the end" in beyond_parts(one, 226.0)[0]
    weak = instrument([WRENCH, replace(OPEN_END, strongest=150.0)])
    assert beyond_parts(weak, 180.0) == ("adapter AD-11 bears 150 N·m, here it would carry 180 N·m",)
    geared = instrument([replace(WRENCH, upper=400.0), GEAR])
    assert beyond_parts(geared, 1600.0) == ("multiplier MU-3 bears 1500 N·m, here it would carry 1600 N·m",)
    assert beyond_parts(geared, 180.0) == (  # 180/4.6
        "39.13 N·m is below the lowest marked value of driver TW-0207, whose scale is 40 N·m to 400 N·m",)
    pumped = instrument([replace(PUMP, strongest=50e6), GAUGE, HEAD])
    assert beyond_parts(pumped, 3000.0) == ()
    assert beyond_parts(pumped, 5500.0) == ("pump PU-1 reaches 500 bar, 550 bar is needed",)


def test_an_adapter_at_a_right_angle_does_not_care_where_the_hand_is() -> None:
    found = parts_of(WRENCH, replace(OPEN_END, angle=math.pi / 2))
    assert found.get("w_hand", 0.0) == pytest.approx(0, abs=1e-12)
    assert found["w_angle"] == pytest.approx(0.125 * math.sin(math.radians(2)) / math.sqrt(3))
