"""Reading tool files."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.plan import SpecificationError, read_tools
from tests.plan.files import TOOLS, changed, line_of, tool_faults


def test_a_right_file_is_read_as_it_says() -> None:
    plain, crowfoot = read_tools(TOOLS, "tools.toml")
    assert (plain.serial, plain.kind, plain.unit, plain.uncertainty) == ("TW-0219", "setting", "N.m", 0.028)
    assert (plain.lower.si, plain.upper.si, plain.resolution.si) == (150, 800, 2)
    assert plain.certificate_until == date(2027, 2, 11) and plain.adapter == "" and plain.multiplier_ratio == 1
    assert crowfoot.unit == "lbf.ft" and crowfoot.lower.si == pytest.approx(108.465, abs=1e-3)
    assert crowfoot.adapter_length is not None and crowfoot.adapter_length.si == pytest.approx(0.060)
    assert crowfoot.adapter_angle is not None and crowfoot.adapter_angle.si == 0


@pytest.mark.parametrize(
    ("change", "field", "line", "says"),
    [
        (('serial = "TW-0252"', 'serial = "TW-0219"'), "tool.1.serial", None, "a second time"),
        (('serial = "TW-0252"', 'serial = "TW,0252"'), "tool.1.serial", 'serial = "TW,', "does not fit"),
        (('unit = "lbf.ft"', 'unit = "mm"'), "tool.1.unit", 'unit = "mm"', "not a unit of torque"),
        (('unit = "lbf.ft"', 'unit = "clicks"'), "tool.1.unit", 'unit = "clicks"', "not known"),
        (('range = ["150 N.m", "800 N.m"]', 'range = ["800 N.m", "150 N.m"]'), "tool.0.range", 'range = ["800',
         "does not rise"),
        (('range = ["150 N.m", "800 N.m"]', "range = [150, 800]"), "tool.0.range", "range = [150", "no unit"),
        (('range = ["150 N.m", "800 N.m"]', 'range = ["150 N.m"]'), "tool.0.range", 'range = ["150 N.m"]',
         "not a range"),
        (('resolution = "2 N.m"', 'resolution = "200 N.m"'), "tool.0.resolution", 'resolution = "200', "too coarse"),
        (('uncertainty = "2.8 %"', "uncertainty = 2.8"), "tool.0.uncertainty", "uncertainty = 2.8", "280 %"),
        (("certificate_until = 2027-02-11", "certificate_until = 2026-02-11"), "tool.0.certificate_until",
         "certificate_until = 2026", "before the first day"),
        (('lever = "900 mm"\n', ""), "tool.1.lever", None, "the lever is missing"),
        (('length = "60 mm"', 'length = "950 mm"'), "tool.1.adapter.length", "length", "not shorter than the lever"),
        (('angle = "0 deg"', 'angle = "0"'), "tool.1.adapter.angle", "angle", "unit is missing"),
        (('name = "crow-foot, straight out"', 'nmae = "x"'), "tool.1.adapter.nmae", "nmae", "did you mean 'name'"),
        (('kind = "setting"\nunit = "N.m"', 'kind = "click"\nunit = "N.m"'), "tool.0.kind", 'kind = "click"',
         "not one"),
    ],
)
def test_a_fault_is_named(change: tuple[str, str], field: str, line: str | None, says: str) -> None:
    text = changed(TOOLS, change)
    found = [fault for fault in tool_faults(text) if fault.field == field]
    assert found, tool_faults(text)
    assert says in found[0].message + found[0].allowed
    assert found[0].line is not None
    if line is not None:
        assert found[0].line == line_of(text, line)


def test_a_joint_file_is_no_tool_file() -> None:
    with pytest.raises(SpecificationError) as caught:
        read_tools('form = "evenpull joint 1"\n[joint]\nid = "x"\n', "t.toml")
    assert {fault.field for fault in caught.value.errors} == {"form", "joint", "tool"}
    assert "[[tool]]" in str(caught.value)


def test_a_register_of_two_thousand_tools_is_read() -> None:
    one = TOOLS.split("[[tool]]")[1]
    text = 'form = "evenpull tools 1"\n' + "".join("[[tool]]" + one.replace("TW-0219", f"T-{n}") for n in range(2000))
    assert len(read_tools(text, "tools.toml")) == 2000
