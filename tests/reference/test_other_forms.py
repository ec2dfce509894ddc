"""Rows in other forms than the tables: parts by other names, one material, turned nuts, pairs, structural bolts.

Printed values are those of Shigley's Mechanical Engineering Design, 9th ed., Example 8-2, and of problem 8-15 of the
8th ed. (both from memory, not re-read); the others are worked by hand beside them.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.reference.evaluate import evaluate

J = "joint_example_textbook"
BOLT = {"example": "T90 two plates and a washer", "thread": "1/2-20 UNF x 1-1/2"}
PLATES = [
    {**BOLT, "tw_in": 0.095, "t_steel_in": 0.5, "t_ci_in": 0.75, "E_steel_Mpsi": 30, "E_ci_Mpsi": 14.5},
    {**BOLT, "washer_in": 0.095, "t1_in": 0.5, "t2_in": 0.75, "E1_Mpsi": 30, "E2_Mpsi": 14.5},
    {**BOLT, "t_washer_in": 0.095, "t_cover_in": 0.5, "t_base_in": 0.75, "E_cover_Mpsi": 30, "E_base_Mpsi": 14.5,
     "l_in": 1.345, "At_in2": 0.1599},
    {**BOLT, "t_washer_in": 0.095, "t_cover_in": 0.5, "t_base_in": 0.75, "E_Mpsi": [30, 14.5]},
]
PRINTED = [
    ("stiffness of upper frustum k1", 30.80), ("stiffness of middle frustum k2", 285.5), ("lower frustum k3", 14.15),
    ("member stiffness km", 9.378), ("member stiffness of both steel and iron", 9.378),
    ("member stiffness km, both plates steel", 14.64),
    ("member stiffness km, all steel, eq. 8-22", 14.64), ("member stiffness km, both steel, exponential fit", 14.92),
    ("threaded length LT", 1.25), ("unthreaded in grip", 0.25), ("threaded in grip", 1.095),
    ("bolt stiffness kb", 3.69), ("joint constant", 3.694 / (3.694 + 9.378)),
]
TUBE = {"thread": "3/4-16 UNF", "grade": "SAE 5", "kb_Mlbf_in": 1.02, "km_Mlbf_in": 1.27}
PAIR = {
    "grade": "SAE 5", "C_coarse": 0.30, "C_fine": 0.32, "At_coarse_in2": 0.969, "At_fine_in2": 1.073, "Sp_ksi": 74,
    "Sut_ksi": 105, "Se_ksi": 16.3, "design_factor": 2,
}
GERBER = (105 * math.sqrt(105**2 + 4 * 16.3 * (16.3 + 55.5)) - 105**2 - 2 * 55.5 * 16.3) / (2 * 16.3)
SCREW = {"thread": "M12x1.75", "h_mm": 20, "t2_mm": 25, "E_steel_GPa": 207, "E_ci_GPa": 100}
FRUSTA = {"d_mm": 12, "frusta": [[207, 18, 13], [207, 24.9288, 7], [100, 18, 6]]}
VESSEL = {"thread": "3/8-16 UNC", "grade": "SAE 5", "p_ksi": 2, "seal_diameter_in": 4, "C": 0.114, "At_in2": 0.0775}


@pytest.mark.parametrize("inputs", PLATES)
@pytest.mark.parametrize(("quantity", "value"), PRINTED)
def test_two_plates(inputs: dict[str, Any], quantity: str, value: float) -> None:
    assert evaluate(J, quantity, inputs) == pytest.approx(value, rel=1.5e-3)


@pytest.mark.parametrize("turn", [{"turn": "1/3"}, {"turn": 1 / 3}, {"nut_turn_deg": 120}])
def test_turned_nut(turn: dict[str, Any]) -> None:
    """1/3 turn of 16 threads per inch on 1.02 and 1.27 Mlbf/in in series: printed 11.8 kip, and 21.25 at opening."""
    assert evaluate(J, "preload", {**TUBE, **turn}) == pytest.approx(1000 / 48 / (1 / 1.02 + 1 / 1.27), rel=1e-6)
    assert evaluate(J, "preload", {**TUBE, **turn}) == pytest.approx(11.8, abs=0.05)
    assert evaluate(J, "load at joint opening", {**TUBE, **turn}) == pytest.approx(21.25, rel=5e-3)


@pytest.mark.parametrize(
    ("quantity", "inputs", "value"),
    [
        ("tube stiffness", {"tube_OD_in": 1.125, "tube_ID_in": 0.75, "l_in": 13, "E_Mpsi": 30},
         math.pi / 4 * (1.125**2 - 0.75**2) * 30 / 13),
        ("bolt stiffness", {"thread": "3/4-16 UNF", "Ad_in2": 0.4418, "l_in": 13}, 0.4418 * 30 / 13),
        ("nut rotation", {"threads_per_in": 11, "Fi_kip": 14.4, "kb_Mlbf_in": 5.21, "km_Mlbf_in": 8.95}, 17.317),
        ("turn of the nut, turns", {"N": 11, "Fi_kip": 14.4, "kb_Mlbf_in": 5.21, "km_Mlbf_in": 8.95}, 17.317 / 360),
        ("Gerber Sa", PAIR, GERBER),
        ("safe load Gerber, coarse", PAIR, 2 * GERBER * 0.969 / (2 * 0.30)),
        ("safe load Gerber, fine thread", PAIR, 2 * GERBER * 1.073 / (2 * 0.32)),
        ("pressure at separation", {**VESSEL, "n": 6}, 0.75 * 85 * 0.0775 / 0.886 * 6 / (4 * math.pi)),
        ("external load per bolt", {"p_MPa": 6, "sealing_diameter_mm": 150, "n_bolts": 10}, 10.6029),
        ("effective grip", SCREW, 26),
        ("minimum length", SCREW, 38),
        ("stiffness k3", SCREW, evaluate(J, "lower frustum", FRUSTA)),
        ("third frustum", SCREW, evaluate(J, "lower frustum", FRUSTA)),
        ("member stiffness", SCREW, evaluate(J, "member stiffness", FRUSTA)),
        ("load factor", {"cls": "8.8", "Sp_MPa": 600, "sigma_i_MPa": 450, "sigma_a_MPa": 25}, 3.0),
        ("safe total load Goodman", {"C": 0.25, "At_mm2": 80, "Fi_kN": 32, "Se_MPa": 100, "Sut_MPa": 900,
                                     "design_factor": 2, "n_bolts": 3}, 3 * 50 * 2 * 80e-3 / (2 * 0.25)),
        ("member stiffness by exponential fit (steel)", {"d_mm": 20, "l_mm": 50, "E_GPa": 207},
         207 * 20 * 0.78715 * math.exp(0.62873 * 20 / 50)),
    ],
)
def test_other_forms(quantity: str, inputs: dict[str, Any], value: float) -> None:
    assert evaluate(J, quantity, inputs) == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("quantity", "inputs", "message"),
    [
        ("member stiffness", {**BOLT, "t_cover_in": 0.5, "t_base_in": 0.75, "E_cover_Mpsi": 30}, "modulus of a part"),
        ("member stiffness, all aluminium", PLATES[0], "modulus of aluminium is missing"),
        ("member stiffness", {**PLATES[3], "E_Mpsi": [30, 14.5, 10, 10]}, "4 moduli for 3 parts"),
        ("member stiffness", {**PLATES[0], "l_in": 1.2}, "do not add up to the grip"),
        ("bolt stiffness", {**PLATES[0], "example": "T91 cap screw"}, "stiffness of the bolt needs"),
        ("preload", {**TUBE, "turn": "1/3", "Fi_kip": 20}, "preload is stated in two ways"),
        ("preload", {**TUBE, "turn": "half"}, "part of one turn"),
        ("preload", {**TUBE, "turn": 0.3, "nut_turn_deg": 120}, "turn of the nut is stated in two ways"),
        ("tube stiffness", {"tube_OD_in": 0.7, "tube_ID_in": 0.75, "l_in": 13, "E_Mpsi": 30}, "no wall"),
        ("safe load Gerber", PAIR, "stress area is missing"),
        ("safe load Gerber, coarse and fine", PAIR, "names both bolts"),
        ("joint constant", {"thread": "1/2-13", "p_in": 0.0769, "n": 12, "C": 0.3}, "do not agree"),
        ("joint constant", {"C_coarse": 0.3}, "side by side"),
        ("joint constant, coarse", {**PAIR, "C": 0.3}, "both stated"),
        ("load factor", {**VESSEL, "n": 6.5}, "number of bolts is whole"),
        ("bolt stiffness", {"thread": "M12", "Ad_mm2": 200, "l_mm": 45}, "shank area is greater"),
        ("Goodman and Gerber Sa", PAIR, "more than one criterion"),
        ("load factor", {**VESSEL, "n": 6, "n_bolts": 6}, "do not agree"),
    ],
)
def test_refused(quantity: str, inputs: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        evaluate(J, quantity, inputs)


def test_area_as_printed() -> None:
    """A table of torques made with A_s = 0.334 in2: 0.2 x 0.75 in x 98 ksi x 0.334 in2, 409.15 lbf.ft."""
    inputs = {"thread": "3/4-10", "D_in": 0.75, "As_in2": 0.334, "SAE_grade": "8", "bolt_stress_psi": 98000, "K": 0.2}
    quantity = "torque T=K D P, plain bolt K=0.20, P=75 % of yield x As"
    assert evaluate("nut_factor", quantity, inputs) == pytest.approx(409.15, rel=1e-6)


def test_conditions_written_otherwise() -> None:
    """Shigley Table 8-15 (from memory, not re-read); a straight extension on the drive axis changes no lever."""
    assert evaluate("nut_factor", "nut factor K", {"condition": "non-plated, black finish"}) == 0.30
    along = {"T": 30, "L_in": 12, "A_in": 3, "direction": "along the drive axis"}
    assert evaluate("wrench_extension", "wrench setting S=T*L/(L+A)", along) == pytest.approx(30)


@pytest.mark.parametrize(("thread", "load"), [("M12", 70e3), ("M14", 95.5e3), ("M16", 130e3), ("M20", 203e3)])
def test_ultimate_load_of_structural_bolts(thread: str, load: float) -> None:
    """ISO 898-1 Table 4, class 8.8, footnote on structural bolting (read); M20 as without it."""
    quantity = "minimum ultimate tensile load Fm = As,nom*Rm,min, structural bolting"
    assert evaluate("strength_iso898", quantity, {"thread": thread, "class": "8.8"}) == pytest.approx(load, rel=5e-3)
    with pytest.raises(ValueError, match="not covered"):
        evaluate("strength_iso898", "proof load, structural bolting", {"thread": thread, "class": "8.8"})


def test_structural_torques() -> None:
    """M_r = 0.125 d F_p,C of class K1 (EN 1090-2, from memory): 430 N.m for M20 at 172 kN; no load for a torque."""
    inputs = {"size": "M20", "Fp_C_kN": 172}
    assert evaluate("structural", "reference torque Mr=0.125*d*Fp,C", inputs) == pytest.approx(430)
    with pytest.raises(ValueError, match="factor that the quantity names"):
        evaluate("structural", "reference torque Mr=0.125*d*Fp,C", {**inputs, "km": 0.15})
    with pytest.raises(ValueError, match="not covered"):
        evaluate("structural", "torque for Fp,C*, class 10.9", {"size": "M20"})
