"""Rows of surface pressure that no table prints: by hand, and what is refused."""

from __future__ import annotations

import math

import pytest

from tests.reference.evaluate import NotEvaluatedError, evaluate

LIMIT = "limiting surface pressure pG"
FACE = {"dw_mm": 22.49, "dh_mm": 17.5}


@pytest.mark.parametrize(
    ("quantity", "inputs", "value"),
    [
        # VDI 2230-1 limiting pressures by edition, from memory, not re-read
        (LIMIT, {"material": "C45", "Rm_min_MPa": 700}, 630), (LIMIT, {"material": "C45", "Rm_min_MPa": 800}, 700),
        (LIMIT, {"material": "S235", "Rm_min_MPa": 340, "edition": "1986"}, 260),
        (LIMIT + " (edition 2003)", {"material": "S235"}, 490), (LIMIT, {"material": "AW-5083 (AlMg4.5Mn F27)"}, 230),
        # by hand: pi/4 (22.49^2 - 17.5^2) = 156.726 mm2
        ("bearing area under the head", FACE, 156.726), ("bearing area", {**FACE, "chamfer_mm": 19}, 113.726),
        # slot 17.5 wide, 20 long: 397.255 - 17.5 x 2.5 - 240.528 = 112.976 mm2
        ("bearing area", {**FACE, "l_slot_mm": 20}, 112.976),
        # washer 3 mm thick, 30 mm: 22.49 + 4.8 = 27.29 mm; pi/4 (27.29^2 - 17.5^2) = 344.39 mm2
        ("bearing area", {**FACE, "h_S_mm": 3, "d_washer_mm": 30}, math.pi / 4 * (27.29**2 - 17.5**2)),
        ("surface pressure under the head", {**FACE, "FMzul_kN": 76.8039}, 490.051),
        ("safety against surface pressure", {**FACE, "FMzul_kN": 76.8039, "material": "S355"}, 760 / 490.051),
        ("load at the limiting surface pressure", {**FACE, "pG_MPa": 760}, 760 * 156.7263),
    ],
)
def test_by_hand(quantity: str, inputs: dict[str, object], value: float) -> None:
    assert evaluate("surface_pressure", quantity, inputs) == pytest.approx(value, rel=2e-5)


@pytest.mark.parametrize(
    ("quantity", "inputs", "message"),
    [
        (LIMIT, {"material": "S355", "Rm_min_MPa": 700}, "state of S355"),
        (LIMIT, {"material": "C45"}, "several states"),
        (LIMIT, {"material": "chalk"}, "not a material"), (LIMIT, {}, "material or p_G is missing"),
        (LIMIT, {"material": "S355", "colour": "red"}, "not used"), (LIMIT, {"material": "316"}, "limiting surface"),
        (LIMIT, {"material": "S355", "edition": "next"}, "not understood"),
        (LIMIT, {"material": "S355", "edition": "1986"}, "edition of 1986"),
        (LIMIT, {"material": "S355", "pG_MPa": 700}, "not that of the material"),
        (LIMIT, {"material": "S355", "Rm_min_MPa": -510}, "greater than zero"),
        ("bearing area", {"dw_mm": 22.49}, "hole dh is missing"),
        ("bearing area", {**FACE, "Ap_mm2": 200}, "not that of the diameters"),
        ("bearing area", {**FACE, "h_S_mm": 3}, "washer needs"),
        ("bearing area", {**FACE, "l_slot_mm": 20, "chamfer_mm": 19}, "slot with a chamfer"),
        ("thread flank pressure", {**FACE, "F_kN": 10}, "not covered"), ("colour", FACE, "not covered"),
    ],
)
def test_refused(quantity: str, inputs: dict[str, object], message: str) -> None:
    with pytest.raises(NotEvaluatedError, match=message):
        evaluate("surface_pressure", quantity, inputs)
