"""Two rule sets beside each other: what is matched, how far they differ and the reason that their steps show."""

from __future__ import annotations

import re
from collections.abc import Mapping

import pytest

from evenpull.calculation import compare
from evenpull.calculation.compare import Comparison, Pair
from evenpull.calculation.sheet import RulePart
from evenpull.joint.result import RuleResult, RuleSet, StepGroup
from evenpull.joint.traced import Band, Traced
from tests.calculation.files import demo_sheets, everywhere


def part(key: str, *steps: Traced, preload: Band | None = None, unused: tuple[str, ...] = ()) -> RulePart:
    rule_set = RuleSet(key, f"rules {key}", "2020", "", "")
    result = RuleResult(rule_set, (StepGroup("one", steps),), (), preload, None, unused=unused)
    return RulePart(rule_set, result, (), (), (), "")


def step(
    symbol: str, value: float, unit: str, formula: str, inputs: Mapping[str, float] | None = None, source: str = "doc",
) -> Traced:
    return Traced(symbol, f"name of {symbol}", value, unit, formula, source, inputs=dict(inputs or {}))


def pair_of(made: Comparison, quantity: str) -> Pair:
    return next(pair for pair in made.pairs if pair.quantity == quantity)


def test_a_rule_set_beside_itself_differs_nowhere() -> None:
    for sheet in demo_sheets():
        for one in sheet.parts:
            if one.result is not None:
                made = compare(one, one)
                assert made.both and all(pair.kind == "same" for pair in made.both)
                assert not made.lone("only first") and not made.lone("only second") and made.only == ((), ())


def test_another_number_in_the_same_formula_is_named() -> None:
    made = compare(
        part("a", step("F_p", 6.0, "N", "F_p = A S_p", {"A": 2.0, "S_p": 3.0})),
        part("b", step("F_p", 8.0, "N", "F_p = A S_p", {"A": 2.0, "S_p": 4.0})),
    )
    pair = pair_of(made, "proof load")
    assert pair.kind == "differs" and pair.ratio == pytest.approx(8 / 6)
    assert pair.reason == "same formula, other numbers for S_p"


def test_another_formula_is_shown_with_both_and_what_went_in() -> None:
    made = compare(
        part("a", step("T", 10.0, "N.m", "T = K F d", {"K": 0.2, "F": 50.0, "d": 1.0})),
        part("b", step("M_A", 12.0, "N.m", "M_A = F d / 4.1667", {"F": 50.0, "d": 1.0})),
    )
    pair = pair_of(made, "tightening torque")
    assert "another formula: T = K F d against M_A = F d / 4.1667" in pair.reason
    assert pair.first is not None and pair.second is not None
    assert (pair.first.symbol, pair.second.symbol) == ("T", "M_A")


def test_given_against_computed() -> None:
    made = compare(
        part("a", step("T", 10.0, "N.m", "stated", source="KN-1")),
        part("b", step("T", 12.0, "N.m", "T = K F", {"K": 0.2, "F": 60.0})),
    )
    assert pair_of(made, "tightening torque").reason == (
        "the first takes it as given (KN-1), the other computes it: T = K F"
    )


def test_rounding_is_not_a_difference() -> None:
    made = compare(part("a", step("A_s", 353e-6, "m2", "M24")), part("b", step("A_t", 352.5e-6, "m2", "M24")))
    assert pair_of(made, "stress area").kind == "close"


def test_one_letter_for_two_things_is_not_matched() -> None:
    made = compare(part("a", step("P", 0.003, "m", "M24")), part("b", step("P", 22e3, "N", "stated")))
    assert all(pair.first is None or pair.second is None for pair in made.pairs)


def test_what_only_one_has_is_listed() -> None:
    made = compare(
        part("a", step("F_Z", 1.0, "N", "stated"), unused=("flange.bolts",)),
        part("b", step("K", 0.2, "1", "stated"), unused=("loads.n", "flange.bolts")),
    )
    assert [pair.quantity for pair in made.lone("only first")] == ["preload loss by embedding"]
    assert [pair.quantity for pair in made.lone("only second")] == ["nut factor"]
    assert made.only == (("loads.n",), ())  # only the first uses it


def test_a_resilience_is_set_beside_a_stiffness() -> None:
    made = compare(
        part("a", step("delta_S", 2e-9, "m/N", "delta_S = l / (E A)", {"l": 0.1, "E": 2e11, "A": 2.5e-4})),
        part("b", step("k_b", 6e8, "N/m", "k_b = E A / l", {"l": 0.1, "E": 2e11, "A": 3e-4})),
    )
    pair = pair_of(made, "stiffness of the bolt")
    assert pair.first is not None and pair.unit == "N/mm"
    assert (pair.first.symbol, pair.first.shown) == ("1/delta_S", "500000")
    assert pair.ratio == pytest.approx(1.2) and "k = 1 / delta_S against k_b = E A / l" in pair.reason


def test_outcome_is_set_beside_each_other() -> None:
    made = compare(part("a", preload=Band(90e3, 100e3, 110e3)), part("b", preload=Band(95e3, 120e3, 130e3)))
    aimed = next(pair for pair in made.outcome if pair.quantity == "preload at assembly, aimed at")
    assert aimed.ratio == pytest.approx(1.2) and aimed.first is not None and aimed.first.shown == "100"


def test_a_rule_set_that_cannot_be_applied_cannot_be_compared() -> None:
    parts = everywhere().parts
    broken = next(p for p in parts if p.problem)
    able = next(p for p in parts if not p.problem)
    with pytest.raises(ValueError, match="cannot be applied"):
        compare(able, broken)


def test_every_difference_of_the_demo_says_where_it_comes_from() -> None:
    seen = 0
    for sheet in demo_sheets():
        able = [p for p in sheet.parts if p.result is not None]
        for one in able:
            for two in able:
                for pair in compare(one, two).both if one is not two else ():
                    if pair.kind in ("differs", "close"):
                        seen += 1
                        assert len(pair.reason) > 10, pair
    assert seen > 3


def test_two_torques_are_taken_apart_into_load_and_torque_per_load() -> None:
    sheet = demo_sheets()[0]
    able = [part for part in sheet.parts if part.result and part.result.preload and part.result.torque]
    made = compare(able[0], able[1])
    (row,) = [pair for pair in made.outcome if pair.quantity == "torque, aimed at"]
    a, b = able[0].result, able[1].result
    assert a and b and a.preload and b.preload and a.torque and b.torque and row.ratio
    found = re.fullmatch(r"([\d.]+) by the load aimed at, ([\d.]+) by the torque per load .*", row.reason)
    assert found and float(found[1]) * float(found[2]) == pytest.approx(row.ratio, rel=2e-3)
    assert float(found[1]) == pytest.approx(b.preload.nominal / a.preload.nominal, abs=6e-4)
