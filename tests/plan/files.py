"""Joint and tool files for the tests: right ones to change. Everything in them is invented."""

from __future__ import annotations

import re

from evenpull.plan import Fault, SpecificationError, read_specification, read_tools

JOINT = '''form = "evenpull joint 1"

[joint]
id = "KN-CW-014"
name = "Pump discharge flange"
place = "Kestrel Narrows / unit 2 / gallery 3"
kind = "gasketed flange"
class = "B"
viewed_from = "the pump, looking downstream"
first_fastener = "at 12 o'clock, under the lifting eye"
numbering = "clockwise"

[source]
document = "KN-SPEC-0114"
revision = "C"
place = "table 4, line 14"
approved_by = "M. Okonjo-Reyes"
in_force_from = 2026-02-02

[fasteners]
count = 16
thread = "M24"
class = "8.8"
length = "110 mm"
head = "hexagon"
counterpart = "nut"
nut_class = "8"
washer_under_head = true
washer_under_nut = true
hole = "medium"
turned = "nut"
condition = "new"
lot = "KL-7731"
circle = "470 mm"

[[clamped]]
part = "flange, pump side"
material = "steel"
thickness = "30 mm"

[[clamped]]
part = "flange, pipe side"
material = "steel"
thickness = "33 mm"

[friction]
lubricant = "paste of the store"
mu_G = [0.10, 0.12, 0.14]
mu_K = [0.10, 0.12, 0.14]
basis = "test KN-T-031 of lot KL-7731, method of ISO 16047"

[target]
method = "torque"
rule = "friction"
torque = "520 N.m"
tolerance = "5 %"
required_preload = "95 kN"

[procedure]
order = "star"
passes = [30, 70, 100]
check_passes = 1
check_order = "circular"
tools_at_once = 1
movement_limit = "5 deg"

[tools]
allowed = ["TW-0219", "TW-0252"]
'''

STATED = """mu_G = [0.10, 0.12, 0.14]
mu_K = [0.10, 0.12, 0.14]
basis = "test KN-T-031 of lot KL-7731, method of ISO 16047"
"""

TOOLS = '''form = "evenpull tools 1"

[[tool]]
serial = "TW-0219"
name = "Setting torque wrench, long"
kind = "setting"
unit = "N.m"
range = ["150 N.m", "800 N.m"]
resolution = "2 N.m"
uncertainty = "2.8 %"
certificate = "KNC-26-0318"
certificate_from = 2026-02-12
certificate_until = 2027-02-11
lever = "1150 mm"

[[tool]]
serial = "TW-0252"
name = "Setting torque wrench with crow-foot"
kind = "setting"
unit = "lbf.ft"
range = ["80 lbf.ft", "450 lbf.ft"]
resolution = "1 lbf.ft"
uncertainty = "3.0 %"
certificate = "KNC-26-0340"
certificate_from = 2026-02-24
certificate_until = 2027-02-23
lever = "900 mm"

[tool.adapter]
name = "crow-foot, straight out"
length = "60 mm"
angle = "0 deg"
'''


def changed(text: str, *changes: tuple[str, str]) -> str:
    """The text with each first part replaced by the second; a part that is not there is an error of the test."""
    for before, after in changes:
        assert before in text, before
        text = text.replace(before, after)
    return text


def tapped(text: str = JOINT) -> str:
    """The joint with a tapped hole instead of nuts."""
    return changed(
        text, ('counterpart = "nut"\nnut_class = "8"\n', 'counterpart = "tapped hole"\ntapped_material = "steel S355"\n'
               'engagement = "36 mm"\n'), ("washer_under_nut = true\n", ""), ('turned = "nut"', 'turned = "head"'),
    )


def faults(text: str) -> tuple[Fault, ...]:
    """The faults of a joint file; empty when it reads."""
    try:
        read_specification(text, "joint.toml")
    except SpecificationError as error:
        return error.errors
    return ()


def tool_faults(text: str) -> tuple[Fault, ...]:
    try:
        read_tools(text, "tools.toml")
    except SpecificationError as error:
        return error.errors
    return ()


def line_of(text: str, start: str) -> int:
    """1-based number of the only line that begins so; a bare key has to be followed by its equals sign."""
    pattern = re.escape(start) + (r"\s*=" if start.isidentifier() else "")
    found = [number for number, line in enumerate(text.split("\n"), start=1) if re.match(pattern, line)]
    assert len(found) == 1, (start, found)
    return found[0]


# The joint with nuts, its thread not stated: all that would need the thread is gone.
IN_NUTS = changed(
    JOINT, ('thread = "M24"', 'thread = "not stated"'), ('class = "8.8"', 'class = "not stated"'),
    ('rule = "friction"', 'rule = "not stated"'), ('required_preload = "95 kN"\n', ""),
    (STATED, ""),
)  # fmt: skip
