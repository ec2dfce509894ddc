"""Rows of the textbook kind that no table here has: by hand, and those that have to be refused."""

from __future__ import annotations

from typing import Any

import pytest

from tests.reference.evaluate import evaluate

J = "joint_example_textbook"
KB_KM = {"kb_Mlbf_in": 4.0, "km_Mlbf_in": 12.0}
NASA = {
    "D_in": 0.25, "T_nom_lbf_in": 75, "K_nom": 0.2, "Gamma": 0.3, "c_min": 0.95, "c_max": 1.05, "P_creep_lbf": 0,
    "P_thermal_max_lbf": 10, "P_thermal_min_loss_lbf": 20, "relaxation": "5 % of Ppi-min",
}
LOW = "recommended torque, tension-type nut, low"
TABLE = {"series": "fine", "finish": "oil-free cadmium plated"}


@pytest.mark.parametrize(
    ("topic", "quantity", "inputs", "value"),
    [
        (J, "joint constant", KB_KM, 0.25),
        (J, "load of one bolt", {"P_total_kN": 18, "n_bolts": 2}, 9),
        (J, "external load per bolt", {"p_psi": 1500, "seal_diameter_in": 3.5, "n_bolts": 8}, 1.80396),
        # F_i = 0.9 x 0.1419 x 85 kip; T = 0.2 x 0.5 x F_i
        (J, "tightening torque", {"thread": "1/2-13 UNC", "grade": "SAE 5", "K": 0.2, "reused": False,
                                  "At_in2": 0.1419}, 1085.535),
        # n C P/(S_p A_t - F_i) with F_i three quarters of the proof load
        (J, "number of bolts before rounding", {"grade": "SAE 5", "thread": "1/2-13", "At_in2": 0.1419, "C": 0.3,
                                                "P_total_kip": 50, "load_factor": 2}, 30 / (0.25 * 85 * 0.1419)),
        (J, "clamp force", {"Fi_lbf": 2250, "kb_over_kc": 2, "P_lbf": 3000}, 1250),
        (J, "separation load", {"Fi_kN": 20, "kb_MN_m": 100, "km_MN_m": 300}, 20 / 0.75),
        # 360/1.75 x 38 kN x (1/500 + 1/1400) mm/kN
        (J, "nut rotation from snug", {"thread": "M12", "kb_MN_m": 500, "km_MN_m": 1400, "Fi_kN": 38},
         360 / 1.75 * 38 * (1 / 500 + 1 / 1400)),
        (J, "alternating stress", {"C": 0.25, "Pmax_kN": 12, "Pmin_kN": 4, "At_mm2": 80, "Fi_kN": 30}, 12.5),
        (J, "mean stress", {"C": 0.25, "Pmax_kN": 12, "Pmin_kN": 4, "At_mm2": 80, "Fi_kN": 30}, 400),
        (J, "torque to raise", {"F_kN": 5, "pitch_mm": 4, "starts": 2, "d_mm": 28, "f": 0.1, "thread": "square"},
         13 * 5 * (8 + 0.1 * 3.14159265 * 26) / (3.14159265 * 26 - 0.8)),
        ("nasa_preload", "minimum initial preload Ppi-min=c_min(1-Gamma/sqrt(nf))Ppi-nom",
         {**NASA, "separation_critical": False, "nf": 4}, 1500 * 0.95 * 0.85),
        ("nasa_preload", "minimum preload Pp-min=Ppi-min-Ppr-Ppc-Pdt-min", {**NASA, "separation_critical": True},
         1500 * 0.95 * 0.7 * 0.95 - 20),
        ("prevailing_torque", "final torque = mid-range of tension-nut range + run-on torque",
         {"thread": "1/4-28", "run_on_lbf_in": 8}, 68),
    ],
)
def test_by_hand(topic: str, quantity: str, inputs: dict[str, Any], value: float) -> None:
    assert evaluate(topic, quantity, inputs) == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("topic", "quantity", "inputs", "message"),
    [
        (J, "joint constant", {**KB_KM, "C": 0.4}, "two ways"),
        (J, "preload", {"thread": "1/2-13", "grade": "SAE 5", "Sp_ksi": 105}, "not that of"),
        (J, "preload", {"thread": "1/2-13", "grade": "SAE 9"}, "not in the textbook's tables"),
        (J, "preload", {"thread": "1/2-13", "grade": "SAE 5", "At_in2": 0.16}, "stress area"),
        (J, "load factor", {**KB_KM, "Fi_kip": 9, "P_kip": 2, "At_in2": 0.1419}, "Sp is missing"),
        (J, "colour of the bolt", KB_KM, "not covered"),
        (J, "bolt stiffness", {"thread": "1/2-13", "l_in": 2, "ld_in": 1, "lt_in": 0.5}, "add up"),
        (J, "Goodman Sa", {"Se_MPa": 129, "Sut_MPa": 830, "sigma_i_MPa": 850}, "preload stress"),
        (J, "mean stress", {"C": 0.25, "Pmax_kN": 4, "Pmin_kN": 12, "At_mm2": 80, "Fi_kN": 30}, "greatest"),
        (J, "largest bolt load", {"M_lbf_in": 12000, "R_in": 4, "N": 12}, "name the model"),
        (J, "torque to raise", {"F_kN": 5, "lead_mm": 5, "dm_mm": 22, "f": 0.1, "thread": "buttress"}, "buttress"),
        ("fatigue", "fully corrected endurance strength", {"grade": "ISO 8.8", "size": "M5-M12"}, "endurance"),
        ("fatigue", "fully corrected endurance strength", {"grade": "SAE 5", "size": "1/4-1-1/2 in"}, "two rows"),
        ("nasa_preload", "preload uncertainty", {"method": "guess"}, "hydraulic tensioner"),
        ("nasa_preload", "preload of the method", {"method": "ultrasonic"}, "uncertainty"),
        ("nasa_preload", "minimum preload", {**NASA, "separation_critical": False}, "number of fasteners"),
        ("aviation_torque", LOW, {**TABLE, "thread": "1/4-20"}, "no fine thread"),
        ("aviation_torque", LOW, {"thread": "1/4-28", "finish": "plain"}, "plain"),
        ("aviation_torque", "maximum allowable torque, shear nut (90 ksi)", {**TABLE, "thread": "1/4-28"}, "90 ksi"),
        ("prevailing_torque", "minimum prevailing torque, reused nut", {"thread": "1/4-28"}, "7/16"),
        ("prevailing_torque", "final torque, mid-range", {"range_lbf_in": [40, 30], "run_on_lbf_in": 5}, "rise"),
    ],
)
def test_refused(topic: str, quantity: str, inputs: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        evaluate(topic, quantity, inputs)
