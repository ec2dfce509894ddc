"""A pocket calculator can check the sheet: what stands under a formula gives what is printed beside it."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable

import pytest

from evenpull.calculation import Sheet, make_sheet, read_calculation
from evenpull.calculation.figures import typed
from evenpull.calculation.sheet import Line
from tests.calculation.files import calculator, changed, demo_sheets, everywhere, plain
from tests.mechanics import formulas

SHEETS = [*demo_sheets(), everywhere()]
_TWO: dict[type, Callable[[float, float], float]] = {
    ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv, ast.Pow: pow,
}  # fmt: skip


def value_and_doubt(text: str) -> tuple[float, float]:
    """Value of a typed expression, and how far rounding its numbers to five figures can move it."""

    def walk(node: ast.expr, shift: float) -> float:
        if isinstance(node, ast.BinOp):
            return _TWO[type(node.op)](walk(node.left, shift), walk(node.right, shift))
        if isinstance(node, ast.UnaryOp):
            return -walk(node.operand, shift)
        if isinstance(node, ast.Call):
            assert isinstance(node.func, ast.Name)
            function = {"max": max, "min": min, "abs": abs, "ln": math.log}.get(node.func.id) or getattr(
                math, node.func.id
            )
            return float(function(*(walk(item, shift) for item in node.args)))
        if isinstance(node, ast.Name):
            return math.pi
        assert isinstance(node, ast.Constant) and isinstance(node.value, int | float)
        numbers[0] += 1
        return float(node.value) * (1 + (shift if numbers[0] == moved[0] else 0.0))

    tree = ast.parse(text, mode="eval").body
    numbers, moved = [0], [0]
    value = walk(tree, 0.0)
    doubt = 0.0
    for place in range(1, numbers[0] + 1):
        numbers, moved = [0], [place]
        doubt += abs(walk(tree, 5e-5) - value)
    return value, doubt


def lines(sheet: Sheet) -> list[Line]:
    return [line for part in sheet.parts for section in part.sections for line in section.lines]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.calculation.id)
def test_a_pocket_calculator_gives_every_printed_value(sheet: Sheet) -> None:
    formula_lines = [line for line in lines(sheet) if line.numbers]
    assert formula_lines
    for line in formula_lines:
        value, doubt = value_and_doubt(calculator(line.numbers))
        shown = typed(line.value)
        assert abs(value - shown) <= doubt + 6e-5 * abs(shown), f"{line.symbol}: {line.numbers} is not {line.value}"


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.calculation.id)
def test_every_formula_was_computed_again(sheet: Sheet) -> None:
    for part in sheet.parts:
        good, formulas_there = part.checked
        assert good == formulas_there, [line.symbol for s in part.sections for line in s.lines if line.checked is False]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.calculation.id)
def test_every_line_names_its_source_and_numbers_are_coherent(sheet: Sheet) -> None:
    for line in lines(sheet):
        assert line.source and line.name and line.symbol
        assert line.unit != "Pa" or line.system == "SI"


def test_the_steps_are_those_of_the_rule_set_and_no_others() -> None:
    for sheet in SHEETS:
        for part in sheet.parts:
            if part.result is None:
                continue
            shown = [line for section in part.sections for line in section.lines]
            assert [line.symbol for line in shown] == [step.symbol for step in part.result.steps]
            for line, step in zip(shown, part.result.steps, strict=True):
                if line.checked is not None:
                    again = formulas.recompute(step.formula, step.inputs)
                    assert again == pytest.approx(step.value, rel=1e-6), step.symbol


def test_a_rule_set_that_cannot_be_applied_says_why_and_judges_nothing() -> None:
    part = next(part for part in everywhere().parts if part.rule_set.key == "structural_eu")
    assert "structural" in part.problem and part.result is None and part.verdict == "not judged"
    assert part.sections == () and part.checks == ()


def test_one_demand_that_fails_decides() -> None:
    text = changed(plain("shigley"), 'torque = "70 N.m"', 'torque = "130 N.m"')
    part = make_sheet(read_calculation(text, "t.toml")).parts[0]
    assert part.verdict == "not accepted"
    assert any(check.verdict == "not accepted" for check in part.checks)


def test_the_words_of_a_verdict_are_the_three() -> None:
    said = {check.verdict for sheet in SHEETS for part in sheet.parts for check in part.checks}
    assert said <= {"accepted", "not accepted", "not judged"} and "accepted" in said


def test_the_torque_says_whether_drag_is_in_it() -> None:
    def torque(text: str) -> str:
        return dict(make_sheet(read_calculation(text, "t.toml")).parts[0].facts)["Torque"]

    assert torque(plain()).endswith("without drag (none is stated)")
    drag = changed(plain(), 'torque = "70 N.m"', 'torque = "70 N.m"\nprevailing = ["2 N.m", "4 N.m", "6 N.m"]')
    assert torque(drag).endswith("without drag, which adds 2 N·m to 6 N·m at the wrench")


def test_a_default_is_not_called_stated() -> None:
    part = make_sheet(read_calculation(plain("vdi2230"), "t.toml")).parts[0]
    (nu,) = [line for section in part.sections for line in section.lines if line.symbol == "nu"]
    assert nu.formula == "taken" and nu.source.startswith("not stated in the file")
    stated = make_sheet(read_calculation(plain("vdi2230") + "[limits]\nnu = 0.8\n", "t.toml")).parts[0]
    (nu,) = [line for section in stated.sections for line in section.lines if line.symbol == "nu"]
    assert nu.formula == "stated" and nu.source == "T-SPEC 1"
