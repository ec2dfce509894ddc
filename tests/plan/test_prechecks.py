"""The specification against siblings, the joint it was copied from, and a second document."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import evenpull.demo as demo
from evenpull.plan import make_plan
from evenpull.plan.errors import SpecificationError
from evenpull.plan.make import torque_without_drag
from evenpull.plan.model import Specification
from evenpull.plan.prechecks import alike, compare, differences, ratio
from evenpull.plan.read import read_specification, read_specification_file
from evenpull.plan.tools import read_tools

FOLDER = Path(demo.__file__).parent / "kestrel_narrows"
WRONG = (FOLDER / "joints" / "kn-cw-009.toml").read_text(encoding="utf-8")
ON = date(2026, 3, 2)


def ratios(specs: list[Specification]) -> dict[str, float]:
    return {spec.id: ratio(spec, torque_without_drag(spec)) for spec in specs}


def problems(text: str) -> list[str]:
    tools = read_tools((FOLDER / "tools.toml").read_text(encoding="utf-8"), "tools.toml")
    return [problem.code for problem in make_plan(read_specification(text, "x.toml"), tools, ON).problems]


def test_a_second_document_that_disagrees_stops_the_work() -> None:
    found = problems(WRONG)
    assert "two sources disagree" in found and "unit slip suspected" in found
    right = WRONG.replace('torque = "520 N.m"', 'torque = "150 N.m"')
    assert "two sources disagree" not in problems(right) and "unit slip suspected" not in problems(right)


def test_a_torque_left_over_from_a_copy_is_said() -> None:
    spec = read_specification(WRONG, "x.toml")
    model = read_specification_file(FOLDER / "joints" / "kn-cw-014.toml")
    found = compare(spec, 520.0, {}, (model, torque_without_drag(model)))
    assert [problem.code for problem in found] == ["copied target"]
    assert "thread: M24 there, M16 here" in found[0].text
    [unknown] = compare(spec, 520.0, {}, None)
    assert unknown.code == "copied from an unknown joint"
    fine = read_specification(WRONG.replace('torque = "520 N.m"', 'torque = "150 N.m"'), "x.toml")
    [note] = compare(fine, 150.0, {}, (model, torque_without_drag(model)))
    assert (note.code, note.severity) == ("copied from", "note")
    assert ("thread", "M24", "M16") in differences(model, fine)


def test_a_joint_unlike_its_siblings_is_said() -> None:
    spec = read_specification(WRONG.replace('copied_from = "KN-CW-014"\n', ""), "x.toml")
    others = []
    for number, (size, torque) in enumerate((("M12", 63), ("M20", 293), ("M16", 152), ("M24", 506), ("M16", 149))):
        text = WRONG.replace('"M16"', f'"{size}"').replace("KN-CW-009", f"KN-CW-1{number}")
        text = text.replace('copied_from = "KN-CW-014"\n', "").replace('torque = "520 N.m"', f'torque = "{torque} N.m"')
        text = text.replace('length = "80 mm"', 'length = "100 mm"')
        others.append(read_specification(text, f"{number}.toml"))
    assert {alike(one) for one in others} == {alike(spec)}
    [found] = compare(spec, 520.0, ratios(others), None)
    assert found.code == "unlike its siblings" and "KN-CW-10" in found.text
    assert compare(others[2], 152.0, ratios([*others[:2], *others[3:], others[4]]), None) == ()


def test_the_new_keys_are_checked() -> None:
    with pytest.raises(SpecificationError, match="copied_from"):
        read_specification(WRONG.replace('copied_from = "KN-CW-014"', 'copied_from = "?"'), "x.toml")
    with pytest.raises(SpecificationError, match=r"second_source"):
        read_specification(WRONG.replace('place = "page 31"\n', ""), "x.toml")
