"""Conformity: check values of JCGM 106, decision rules on their limits, and global risks in two ways."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from evenpull.instrument.conformity import (
    FEW_DEGREES,
    GUARDED,
    NON_BINARY,
    PROVEN,
    RULES,
    SIMPLE,
    capability_index,
    conformance_probability,
    decide,
    guard_band,
    outside_probability,
    with_guard,
)
from evenpull.instrument.risk import global_risks, rule_risks

VALUES = list(csv.DictReader((Path(__file__).parent / "jcgm106_check_values.csv").read_text("utf-8").splitlines()))


@pytest.mark.parametrize("row", VALUES, ids=lambda row: row["source"][:30])
def test_published_probabilities(row: dict[str, str]) -> None:
    upper = float(row["upper"]) if row["upper"] else None
    found = conformance_probability(float(row["y"]), float(row["u"]), float(row["lower"]), upper)
    assert found == pytest.approx(float(row["probability"]), abs=6e-5)


def test_probabilities_of_arrays_are_those_of_floats() -> None:
    y, u = np.array([13.6, 12.0, 17.0]), np.array([1.8, 0.4, 1.0])
    found = conformance_probability(y, u, 12.5, np.array([16.3, 16.3, 20.0]))
    each = ((13.6, 1.8, 12.5, 16.3), (12.0, 0.4, 12.5, 16.3), (17.0, 1.0, 12.5, 20.0))
    assert found == pytest.approx([conformance_probability(*one) for one in each])


def test_small_risks_keep_their_figures() -> None:
    """Both limits 9 u away: 2 Phi(-9) = 2.257e-19, which 1 - p would lose."""
    assert outside_probability(0.0, 1.0, -9.0, 9.0) == pytest.approx(2.257e-19, rel=1e-3)
    assert conformance_probability(-20.0, 1.0, 0.0, 1.0) == pytest.approx(2.7536e-89, rel=1e-3)  # Phi(-20)


@given(
    st.floats(-50, 50), st.floats(0.01, 20), st.floats(-20, 0), st.floats(0.1, 20),
    st.sampled_from([3.0, 10.0, math.inf]),
)
def test_inside_and_outside_are_all(y: float, u: float, lower: float, width: float, degrees: float) -> None:
    inside = conformance_probability(y, u, lower, lower + width, degrees)
    assert inside + outside_probability(y, u, lower, lower + width, degrees) == pytest.approx(1, abs=1e-9)
    assert 0 <= inside <= 1


def test_few_degrees_of_freedom_widen() -> None:
    """t with 4 degrees, one limit 2 u away: P(t4 < 2) = 0.9419 (t table); with 100 it is within 0.002 of normal."""
    assert conformance_probability(2.0, 1.0, 0.0, None, 4) == pytest.approx(0.9419, abs=5e-5)
    normal = conformance_probability(2.0, 1.0, 0.0, None)
    assert abs(conformance_probability(2.0, 1.0, 0.0, None, FEW_DEGREES - 1e-9) - normal) < 0.002


@pytest.mark.parametrize(("arguments", "message"), [
    ((1.0, 0.0, 0.0, 2.0), "greater than zero"), ((1.0, 1.0, 2.0, 0.0), "below the upper"),
    ((1.0, 1.0, None, None), "at least one limit"), ((1.0, 1.0, math.nan, 2.0), "not a number"),
])
def test_what_has_no_probability(arguments: tuple, message: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(ValueError, match=message):
        conformance_probability(*arguments)
    with pytest.raises(ValueError, match=message):
        outside_probability(*arguments)


def test_capability_index() -> None:
    """C_m = (210 - 190)/(4 x 2) = 2.5."""
    assert capability_index(190, 210, 2) == pytest.approx(2.5)


def test_guard_band_for_95_percent() -> None:
    """One-sided 1.6449 u = 0.8224 U; nearly the same for a wide window, more for a near one, none for a hopeless one.

    Window 4 u wide, both tails: w solves Phi(4 - w) - Phi(-w) = 0.95, found here by bisection.
    """
    assert guard_band(10, None, 1.0) == pytest.approx(1.6449, abs=5e-5)
    assert guard_band(10, None, 1.0) / 2 == pytest.approx(0.8224, abs=5e-5)
    assert guard_band(0, 20, 1.0) == pytest.approx(1.6449, abs=5e-5)

    def p(w: float) -> float:
        return (math.erf((4 - w) / math.sqrt(2)) + math.erf(w / math.sqrt(2))) / 2

    low, high = 0.0, 2.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if p(middle) < 0.95 else (low, middle)
    assert guard_band(0, 4, 1.0) == pytest.approx(low, abs=1e-9)
    assert low > 1.70
    assert guard_band(0, 100, 1.0, 0.5) == guard_band(None, 100, 1.0, 0.5) == 0
    with pytest.raises(ValueError, match="too coarse"):
        guard_band(0, 3, 1.0)
    with pytest.raises(ValueError, match="probabilities"):
        guard_band(0, 3, 1.0, 0.4)


@pytest.mark.parametrize(("rule", "y", "verdict"), [
    (SIMPLE, 210.0, "conforms"), (SIMPLE, 210.001, "fails"), (GUARDED, 206.0, "conforms"), (GUARDED, 206.001, "fails"),
    (PROVEN, 206.71, "conforms"), (PROVEN, 206.72, "fails"), (NON_BINARY, 206.0, "conforms"),
    (NON_BINARY, 206.001, "conforms conditionally"), (NON_BINARY, 210.0, "conforms conditionally"),
    (NON_BINARY, 210.001, "fails conditionally"), (NON_BINARY, 214.0, "fails conditionally"),
    (NON_BINARY, 214.001, "fails"), (NON_BINARY, 185.999, "fails"), (GUARDED, 194.0, "conforms"),
    (GUARDED, 193.9, "fails"),
])
def test_rules_on_their_limits(rule, y: float, verdict: str) -> None:  # type: ignore[no-untyped-def]
    """Window 190 to 210, u = 2, U = 4: guard band 4; proven at 95 %: 210 - 1.6449 x 2 = 206.710."""
    found = decide(y, 2.0, 190.0, 210.0, rule)
    assert found.verdict == verdict
    inside = conformance_probability(y, 2.0, 190.0, 210.0)
    assert found.probability == pytest.approx(inside)
    assert found.risk == pytest.approx(1 - inside if found.accepted else inside)


def test_risk_on_the_acceptance_limit_is_what_the_rules_say() -> None:
    assert decide(210.0, 2.0, 190.0, 210.0, SIMPLE).risk == pytest.approx(0.5, abs=1e-6)
    assert decide(206.0, 2.0, 190.0, 210.0, GUARDED).risk == pytest.approx(1 - 0.97725, abs=1e-5)
    assert decide(206.7102, 2.0, 190.0, 210.0, PROVEN).risk == pytest.approx(0.05, abs=1e-4)
    assert with_guard(0.5).width(190, 210, 2.0) == pytest.approx(2.0)
    with pytest.raises(ValueError, match="zero or more"):
        with_guard(-0.1)
    assert len({rule.name for rule in RULES}) == len(RULES)


def bivariate(mean: float, u_0: float, u_m: float, limits: tuple[float, float], accept: tuple[float, float]) -> float:
    """P(accepted and within limits): true value and result are jointly normal with covariance u_0^2."""
    joint = multivariate_normal([mean, mean], [[u_0**2, u_0**2], [u_0**2, u_0**2 + u_m**2]])
    return float(joint.cdf([limits[1], accept[1]], lower_limit=[limits[0], accept[0]]))


@pytest.mark.filterwarnings("error")
@settings(max_examples=20, deadline=None)
@given(st.floats(-1, 1), st.floats(0.2, 3), st.floats(0.05, 2), st.floats(-0.5, 0.5))
def test_global_risks_by_quadrature_and_by_the_bivariate_normal(mean: float, u_0: float, u_m: float, w: float) -> None:
    found = global_risks(mean, u_0, u_m, -2.0, 2.0, -2.0 + w, 2.0 - w)
    both = bivariate(mean, u_0, u_m, (-2.0, 2.0), (-2.0 + w, 2.0 - w))
    spread = math.hypot(u_0, u_m)
    accepted = conformance_probability(mean, spread, -2.0 + w, 2.0 - w)
    assert found.accepted == pytest.approx(accepted, abs=1e-7)
    assert found.consumer == pytest.approx(accepted - both, abs=1e-6)
    assert found.producer == pytest.approx(conformance_probability(mean, u_0, -2.0, 2.0) - both, abs=1e-6)


def test_global_risks_of_a_made_case() -> None:
    """A process of 3 u_m, window +-2 of its deviations: conforming 95.45 %. A guard band of U moves risk from the one
    who relies on the result to the one who made it; one-sided limits work alike (symmetry: half of a mirrored case)."""
    simple = rule_risks(0.0, 1.5, 0.5, -3.0, 3.0, SIMPLE)
    guarded = rule_risks(0.0, 1.5, 0.5, -3.0, 3.0, GUARDED)
    assert simple.conforming == pytest.approx(0.9545, abs=5e-5)
    assert guarded.consumer < simple.consumer / 10
    assert guarded.producer > simple.producer
    one = rule_risks(0.0, 1.5, 0.5, None, 3.0, SIMPLE)
    assert one.consumer == pytest.approx(simple.consumer / 2, rel=1e-3)
    with pytest.raises(ValueError, match="no acceptance interval"):
        rule_risks(0.0, 1.5, 1.6, -3.0, 3.0, GUARDED)
    with pytest.raises(ValueError, match="spreads"):
        global_risks(0.0, 0.0, 1.0, -1.0, 1.0, -1.0, 1.0)


@pytest.mark.filterwarnings("error")
def test_limits_that_differ_by_rounding_only() -> None:
    """An acceptance limit a rounding away from the tolerance limit: a piece with no room for the quadrature."""
    same = global_risks(0.0, 1.0, 0.5, -2.0, 2.0, -2.0, 2.0)
    for w in (4.5e-16, 1e-14, 5e-324):
        near = global_risks(0.0, 1.0, 0.5, -2.0, 2.0, -2.0 + w, 2.0 - w)
        assert near.consumer == pytest.approx(same.consumer, abs=1e-12)


@pytest.mark.filterwarnings("error")
def test_a_measurement_far_finer_than_the_process_has_hardly_a_risk() -> None:
    """A narrow transition must not slip between the points of the quadrature: u_m a ten-thousandth of u_0."""
    found = global_risks(0.0, 1.0, 1e-4, -1.5, 1.5, -1.5, 1.5)
    # near a limit the density is even: R_C = R_P = u_m phi(1.5) 2 E|z|/2 = 2 x 1e-4 x 0.12952 x 0.39894
    assert found.consumer == pytest.approx(2e-4 * 0.1295176 * 0.3989423, rel=1e-3)
    assert found.producer == pytest.approx(found.consumer, rel=1e-2)
