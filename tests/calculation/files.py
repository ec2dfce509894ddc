"""Calculation files of the tests; joints and documents are invented."""

from __future__ import annotations

import re
from dataclasses import replace

from evenpull.calculation import Calculation, Sheet, make_sheet, read_calculation
from evenpull.demo import scenario
from evenpull.joint.rules import rule_sets

PLAIN = """form = "evenpull calculation 1"
[calculation]
id = "T-1"
name = "cover"
rules = [{rules}]
revision = "A"
basis = "T-SPEC 1"
[bolt]
thread = "M12"
class = "8.8"
material = "bolt steel"
head = "hexagon"
length = "60 mm"
[[section]]
length = "18 mm"
d = "12 mm"
[counterpart]
kind = "nut"
material = "bolt steel"
class = "8"
[[layer]]
part = "cover"
thickness = "20 mm"
material = "part steel"
hole = "medium"
D_A = "40 mm"
[[layer]]
part = "frame"
thickness = "20 mm"
material = "part steel"
hole = "13.5 mm"
D_A = "40 mm"
[[material]]
name = "bolt steel"
E = "205 GPa"
alpha = "11.5e-6 1/K"
basis = "T-SPEC 2"
[[material]]
name = "part steel"
E = "205 GPa"
alpha = "11.5e-6 1/K"
R_m = "490 MPa"
R_p02 = "300 MPa"
p_G = "490 MPa"
basis = "T-SPEC 2"
[friction]
mu_G = [0.10, 0.12, 0.14]
mu_K = [0.10, 0.12, 0.14]
basis = "T-TEST 3"
[tightening]
alpha_A = 1.6
tool_scatter = "5 %"
torque = "70 N.m"
[loads]
F_A_max = "6 kN"
F_Kerf = "12 kN"
n = 0.5
basis = "T-LOAD 4"
[embedding]
f_Z = "11 um"
"""


def plain(*rules: str) -> str:
    """The file with these rule sets."""
    return PLAIN.replace("{rules}", ", ".join(f'"{rule}"' for rule in (rules or ("shigley",))))


def changed(text: str, old: str, new: str) -> str:
    """The text with one place changed; the place must be there."""
    assert old in text, old
    return text.replace(old, new, 1)


def demo(name: str) -> Calculation:
    return read_calculation(scenario.calculation_text(name), f"{name}.toml")


def demo_sheets() -> list[Sheet]:
    return [make_sheet(demo(name)) for name in scenario.CALCULATIONS]


def everywhere() -> Sheet:
    """The plain joint under every rule set there is; some cannot be applied to it."""
    return make_sheet(replace(read_calculation(plain(), "t.toml"), rules=tuple(rule.key for rule in rule_sets())))


def calculator(typed: str) -> str:
    """What stands under a formula, as Python: an independent way from the one that the sheet was made with."""
    text = re.sub(r"·10\^(−?\d+)", r"e\1", typed)
    for printed, python in (("·", "*"), ("−", "-"), ("√", "sqrt"), ("π", "pi"), ("^", "**"), (";", ",")):
        text = text.replace(printed, python)
    return text
