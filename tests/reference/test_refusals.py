"""What the reference computations refuse: no input is passed over, guessed or contradicted in silence."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.reference.evaluate import evaluate
from tests.reference.test_joints import rows

Case = tuple[str, str, dict[str, Any]]
VDI = "tightening torque MA at 90 % yield utilisation"
FACES = {"dw_mm": 11.63, "dh_mm": 9}
PERCENT = "torque T=K D P, lubricated K=0.15, P=75 % of yield x As"


# What a textbook example leaves out has its usual value: the recommended preload, and all parts squeezed as the grip.
USUAL = {("joint_example_textbook", "Fi_kip"), ("joint_example_textbook", "l_in")}


def cases() -> list[Case]:
    """One row of every topic, quantity and set of keys."""
    found: dict[object, Case] = {}
    for row in rows():
        inputs = json.loads(row["inputs"])
        found.setdefault((row["topic"], row["quantity"], *inputs), (row["topic"], row["quantity"], inputs))
    return list(found.values())


@pytest.mark.parametrize("case", cases(), ids=lambda case: f"{case[0]}-{case[1][:24]}")
def test_every_input_counts(case: Case) -> None:
    """One more key is refused by its name; one key less is refused, or was stated twice and changes nothing; a value
    of a wrong type is refused."""
    topic, quantity, inputs = case
    value = evaluate(topic, quantity, inputs)
    for extra in ("colour", "x_mm", "T_C"):
        with pytest.raises(ValueError, match=rf"'{extra}' is not used.*keys known"):
            evaluate(topic, quantity, {**inputs, extra: 1.0})
    for key in inputs:
        rest = {other: inputs[other] for other in inputs if other != key}
        try:
            assert evaluate(topic, quantity, rest) == pytest.approx(value, rel=0.007) or (topic, key) in USUAL, key
        except ValueError as error:
            assert "keys known" in str(error), key
        wrongs: tuple[object, ...] = (None, True, "", [], {}, float("nan"), "zebra")
        if isinstance(inputs[key], bool):
            wrongs = (None, 1.0, "", [], {}, "zebra")
        for wrong in wrongs:
            with pytest.raises(ValueError):
                evaluate(topic, quantity, {**inputs, key: wrong})
        number = isinstance(inputs[key], (int, float)) and not isinstance(inputs[key], bool) and inputs[key] != 0
        if number and topic not in ("nut_proof", "wrench_extension"):
            with pytest.raises(ValueError):
                evaluate(topic, quantity, {**inputs, key: -inputs[key]})


@pytest.mark.parametrize(
    ("topic", "quantity", "inputs", "message"),
    [
        ("thread_metric", "stress area As", {}, "the thread .* is missing.*keys known: thread, size"),
        ("thread_metric", "stress area As", {"thread": "M16", "d_mm": 16, "P_mm": 1.5}, "do not agree"),
        ("thread_metric", "stress area As", {"thread": "3/8-16"}, "only metric threads"),
        ("thread_metric", "pitch diameter d2 max (6g)", {"thread": "M8"}, "not covered"),
        ("thread_inch", "tensile stress area At", {"thread": "0.250-20 UNC"}, "not a thread"),
        ("thread_inch", "tensile stress area At", {"thread": "1/4-20 UNC", "n": 28}, "do not agree"),
        ("strength_iso898", "minimum tensile strength Rm,min", {"class": "8.8"}, "depends on the diameter"),
        ("strength_iso898", "proof load Fp", {"class": "8.8", "thread": "M12x1.5", "As_nom_mm2": 84.3}, "stress area"),
        ("strength_inch", "proof strength", {"spec": "SAE J429", "grade": "2", "size_in": "1/4-1-1/2"}, "depends on"),
        ("strength_stainless", "tensile strength Rm,min", {"grade": "A2", "class": "A4-70"}, "do not agree"),
        ("nut_proof", "nut proof load (style 1)", {"thread": "M12", "class": 8, "style": 2}, "two ways"),
        ("head_dimensions", "clearance hole dh", {"size": "M16"}, "series of holes"),
        ("wrench_extension", "wrench setting S", {"T": 300, "L_in": 10}, "adapter length A is missing"),
        ("wrench_extension", "wrench setting S", {"T": 300, "L_in": 10, "A": 4}, "both need a unit"),
        ("wrench_extension", "wrench setting S", {"T": 30, "L_in": 10, "A_in": 4, "E_mm": 65}, "'A_in' and 'E_mm'"),
        ("wrench_extension", "wrench setting S", {"T": 30, "L_in": 10, "A_in": -4, "direction": "lengthening"}, "sign"),
        ("wrench_extension", "true torque T=S*(L+A)/L", {"T": 30, "L_in": 10, "A_in": 4}, "not covered"),
        ("units", "1 lb", {}, "force or of mass"),
        ("units", "1 lbf in N.m", {}, "cannot be expressed"),
        ("units", "1 N.m", {}, "name another"),
        ("nut_factor", "torque T=K D F", {"K": 0.2, "D_in": 0.5, "F_lbf": 9000}, "unit of the torque"),
        ("nut_factor", "nut factor K", {"K": 0.2, "d_mm": 16, "F_kN": 90, "T_Nm": 288}, "'K' is not used"),
        ("nut_factor", "torque T=K D F in kN", {"K": 0.2, "d_mm": 16, "F_kN": 90}, "not a unit of torque"),
        ("nut_factor", PERCENT, {"thread": "1/2-13", "SAE_grade": "5", "bolt_stress_psi": 98000, "K": 0.15}, "75 %"),
        ("nut_factor", PERCENT, {"thread": "1/2-13", "SAE_grade": "5", "K": 0.2}, "0.15 of the quantity"),
        ("nut_factor", "nut factor K", {"condition": "dry steel on steel"}, "a range"),
        ("nut_factor", "nut factor K", {"condition": "waxed lubricated"}, "not a surface condition"),
        ("nut_factor", "standard deviation (n)", {"preloads_kN": [30, 32]}, "not covered"),
        ("preload_torque_vdi", VDI, {"thread": "1/2-13", "class": "8.8", "mu": 0.1, **FACES}, "only metric threads"),
        ("preload_torque_vdi", VDI, {"thread": "M8", "class": "8.8", "muG": 0.1, **FACES}, "muK is missing"),
        ("preload_torque_vdi", VDI, {"thread": "M8", "class": "8.8", "mu": 0.1, "nu": 0.8, **FACES}, "two ways"),
        ("preload_torque_vdi", VDI, {"thread": "M8", "class": "8.8", "mu": 0.1}, "d_w, or a kind of head"),
    ],
)
def test_refused(topic: str, quantity: str, inputs: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        evaluate(topic, quantity, inputs)


@pytest.mark.parametrize(
    ("topic", "quantity", "inputs", "value"),
    [  # by hand from the formula of the topic
        ("thread_metric", "pitch diameter d2 (basic)", {"designation": "M16-6g"}, 16 - 0.649519 * 2),
        ("thread_metric", "pitch diameter d2 (basic)", {"size": "M16x2-5g6g", "d_mm": 16, "P_mm": 2}, 14.700962),
        ("thread_inch", "basic pitch diameter in mm", {"thread": "1/2-13 UNC-2A"}, 25.4 * (0.5 - 0.649519 / 13)),
        ("wrench_extension", "wrench setting S=T*L/(L+A)", {"T": 300, "L": 10, "A": 4}, 300 * 10 / 14),
        ("wrench_extension", "wrench setting S", {"T_lbf_ft": 100, "L_in": 20, "E_mm": 127, "theta_deg": 60}, 88.8889),
        ("wrench_extension", "wrench setting in N.m", {"T_lbf_ft": 100, "L_in": 20, "E_in": 5}, 135.581795 * 0.8),
        ("wrench_extension", "true torque T=S*(L+A)/L", {"S_lbf_in": 200, "L_in": 10, "A_in": 4}, 280),
        ("units", "1 lb in kg", {}, 0.45359237), ("units", "1 kgf/mm2", {}, 9.80665),
        ("units", "1 in-lb", {}, 0.1129848),
        ("units", "1 N.m in lbf.in", {}, 8.8507458), ("units", "1 daN.m", {}, 10), ("units", "1 dN.m", {}, 0.1),
        ("nut_factor", "torque T=K D F", {"K": 0.2, "d_mm": 16, "F_kN": 90}, 288),
        ("nut_factor", "torque T=K D F in lbf.in", {"K": 0.2, "D_in": 0.5, "F_lbf": 9000}, 900),
        ("nut_factor", "torque T=K D F (lbf.ft)", {"K": 0.2, "D_in": 0.5, "F_lbf": 9000}, 75),
        ("nut_factor", "preload F=T/(K d)", {"K": 0.2, "thread": "M16", "T_Nm": 288}, 90),
        ("nut_factor", "preload F=T/(K d)", {"K": 0.2, "D_in": 0.5, "T_lbf_ft": 75}, 9000),
        ("nut_factor", "nut factor K=T/(F d)", {"T_Nm": 288, "F_kN": 90, "d_mm": 16}, 0.2),
        ("nut_factor", "mean of the preloads in N", {"preloads_kN": [1, 2]}, 1500),
        ("nut_factor", PERCENT, {"thread": "1/2-13", "SAE_grade": 5, "K": 0.15}, 0.15 * 0.5 / 12 * 69000 * 0.1419),
    ],
)
def test_other_names_and_units_of_the_same_inputs(
    topic: str, quantity: str, inputs: dict[str, Any], value: float
) -> None:
    assert evaluate(topic, quantity, inputs) == pytest.approx(value, rel=2e-5)


def test_friction_may_be_named_in_several_ways() -> None:
    same = [
        evaluate("preload_torque_vdi", VDI, {"thread": "M8", "class": 8.8, **mu, **FACES})
        for mu in ({"mu": 0.1}, {"mu_G": 0.1, "mu_K": 0.1}, {"muG": 0.1, "mu_k": 0.1})
    ]
    assert len(set(same)) == 1
