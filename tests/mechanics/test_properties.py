"""Joints at random against every rule set: nothing but a refusal by field, or numbers that can be computed again."""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Callable, Iterable
from dataclasses import fields
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from evenpull.joint import rules
from evenpull.joint.case import CaseError, Eccentricity, Gasket, JointCase, Section
from evenpull.joint.parts.engagement import engagement
from evenpull.joint.result import Check
from evenpull.joint.rules import RULES
from evenpull.joint.service.remaining import residual
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening.torque_angle import angle_window
from evenpull.joint.traced import Traced
from evenpull.joint.uncertainty.advice import advise
from evenpull.joint.uncertainty.spread import spread_of

from .formulas import recompute
from .random_cases import CASES, SPOILT, case_at, places

FIELDS = {path[-1] for path in places(case_at(1))} | {field.name for field in fields(JointCase)} | {
    field.name for kind in (Eccentricity, Gasket, Section) for field in fields(kind)}
TRIES = settings(max_examples=40, suppress_health_check=list(HealthCheck))
FEW = settings(max_examples=15, suppress_health_check=list(HealthCheck))


def outcome(call: Callable[[], Any]) -> Any:
    """What the call gives, None where it refuses the case. A refusal says something; nothing else may come out."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            return call()
        except CaseError as error:
            assert set(re.findall(r"\w+", str(error))) & FIELDS, error
            return None


def finite(value: float | None) -> bool:
    return value is None or math.isfinite(value)


def recomputed(steps: Iterable[Traced]) -> None:
    for step in steps:
        assert math.isfinite(step.value), step
        if "=" in step.formula:
            again = recompute(step.formula, step.inputs)
            largest = max(map(abs, step.inputs.values()))  # what a difference of two such numbers may leave
            assert math.isclose(again, step.value, rel_tol=1e-6, abs_tol=1e-12 * largest), step


def honest(check: Check) -> None:
    """The verdict of a check is that of its own numbers, and what is not judged says why."""
    assert finite(check.value), check
    assert finite(check.limit), check
    if check.holds is None:
        assert check.text, check
    elif check.value is not None and check.limit is not None:
        more = check.value - check.limit if check.sense == ">=" else check.limit - check.value
        assert more >= -1e-8 * abs(check.limit) if check.holds else more <= 0, check


def applied(key: str, case: JointCase) -> None:
    result = outcome(lambda: rules.apply(key, case))
    if result is None:
        return
    recomputed(result.steps)
    for check in result.checks:
        honest(check)
    for band in (result.preload, result.torque, result.angle):
        if band is not None:
            assert 0 <= band.low <= band.nominal <= band.high < math.inf


@pytest.mark.parametrize("key", RULES)
@TRIES
@given(case=CASES)
def test_a_rule_set_computes_a_joint_or_says_what_it_lacks(key: str, case: JointCase) -> None:
    applied(key, case)


@pytest.mark.parametrize("key", RULES)
@TRIES
@given(case=SPOILT)
def test_a_rule_set_refuses_senseless_values_by_field(key: str, case: JointCase) -> None:
    applied(key, case)


@pytest.mark.parametrize("function", [
    lambda case: residual(case, 5e4), angle_window, engagement, bolt_resilience, clamped_resilience,
], ids=["residual", "angle_window", "engagement", "bolt_resilience", "clamped_resilience"])
@TRIES
@given(case=SPOILT)
def test_a_part_of_the_computation_refuses_senseless_values_by_field(function: Any, case: JointCase) -> None:
    found = outcome(lambda: function(case))
    recomputed(getattr(found, "steps", ()))
    if hasattr(found, "total"):
        assert 0 < found.total < math.inf
        assert found.total == pytest.approx(sum(part.value for part in found.parts))


@FEW
@given(case=SPOILT)
def test_scatter_and_advice_refuse_senseless_values_by_field(case: JointCase) -> None:
    advice = outcome(lambda: advise(case, trials=1000, alternatives=False))
    spreads = [advice.spread] if advice else []
    if (alone := outcome(lambda: spread_of(case, trials=1000))) is not None:
        spreads.append(alone)
    for spread in spreads:
        p = spread.probability
        for value in (p.within, p.below, p.above, p.below_first_order, p.above_first_order, p.all_within_independent):
            assert 0 <= value <= 1
        assert math.isfinite(spread.required)
        assert spread.assembly.monte_carlo.low <= spread.assembly.monte_carlo.high
