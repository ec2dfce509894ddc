"""Certificates: the deviation, the curve between points, and what is refused with the point it stands at."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.instrument.acceptance import calibrated_with, judge_points
from evenpull.instrument.certificate import CertificateError, doubts
from evenpull.instrument.conformity import GUARDED, SIMPLE
from evenpull.instrument.deviation import (
    DeviationCurve,
    deviation_through_standard,
    relative_deviation,
    true_value,
)
from evenpull.instrument.failure import failure_forms
from evenpull.instrument.validity import in_force, last_day, overlaps
from evenpull.quantities import from_si, to_si
from tests.instrument.cases import FIRST, LAST, entry, made


def test_reads_nine_percent_high_and_delivers_91_7_percent() -> None:
    """109 shown at 100: a = (109 - 100)/100 = 0.09; behind a shown 100 stand 100/1.09 = 91.743 (by hand)."""
    assert relative_deviation(109.0, 100.0) == pytest.approx(0.09)
    assert true_value(100.0, 0.09) == pytest.approx(91.743, abs=5e-4)


@given(st.floats(0.1, 1e5), st.floats(0.1, 10))
def test_true_value_is_the_reference_value_again(X_ref: float, share: float) -> None:
    X_ind = share * X_ref
    assert true_value(X_ind, relative_deviation(X_ind, X_ref)) == pytest.approx(X_ref, rel=1e-12)


@pytest.mark.parametrize(("X_ind", "X_ref"), [(0.0, 1.0), (1.0, 0.0), (1.0, -1.0), (float("nan"), 1.0)])
def test_deviation_of_nothing(X_ind: float, X_ref: float) -> None:
    with pytest.raises(ValueError, match="greater than zero"):
        relative_deviation(X_ind, X_ref)


def test_between_points_straight_and_never_beyond() -> None:
    """a = +2 % at 40, +6 % at 120: at 100 it is 2 + (60/80) 4 = 5 % (by hand). 39.9 and 120.1 cannot be judged."""
    curve = DeviationCurve((40.0, 120.0), (0.02, 0.06), (0.004, 0.006))
    at = curve.at([100.0, 40.0, 120.0, 39.9, 120.1, np.nan])
    assert at.judged.tolist() == [True, True, True, False, False, False]
    assert at.a[:3] == pytest.approx([0.05, 0.02, 0.06])
    assert at.w[:3] == pytest.approx([0.006, 0.004, 0.006])  # between two points the larger of theirs
    assert np.isnan(at.a[3:]).all() and np.isnan(at.w[3:]).all()


def test_a_point_in_another_unit_is_still_the_point() -> None:
    """30 lbf.ft converted there and back through inch pounds must not fall below the lowest point of 30 lbf.ft."""
    lowest = to_si(30.0, "lbf.ft", "torque")
    curve = DeviationCurve((lowest, 2 * lowest), (0.01, 0.01), (0.005, 0.005))
    assert curve.at(to_si(from_si(lowest, "lbf.in"), "lbf.in", "torque") * (1 - 1e-12)).judged
    assert not curve.at(lowest * 0.9999).judged


@pytest.mark.parametrize(("X", "a", "w", "message"), [
    ((), (), (), "needs points"), ((1.0, 2.0), (0.0,), (0.1, 0.1), "needs points"),
    ((2.0, 1.0), (0.0, 0.0), (0.1, 0.1), "must rise"), ((1.0, 1.0), (0.0, 0.0), (0.1, 0.1), "must rise"),
    ((1.0,), (-1.0,), (0.1,), "above -1"), ((1.0,), (0.0,), (-0.1,), "not negative"),
])
def test_curves_that_cannot_be(X: tuple[float, ...], a: tuple[float, ...], w: tuple[float, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        DeviationCurve(X, a, w)


def test_one_fault_of_a_standard_reaches_two_tools() -> None:
    """The standard read 3 % high. Tool A was left at +1 %, tool B at -2 % against it:
    A 1.01 x 1.03 - 1 = 4.03 %, B 0.98 x 1.03 - 1 = 0.94 % (by hand); u = sqrt(0.5^2 + 0.2^2) = 0.5385 %."""
    standard = DeviationCurve.constant(0.03, 0.002, 10.0, 500.0)
    for a, expected in ((0.01, 0.0403), (-0.02, 0.0094)):
        behind = DeviationCurve((100.0, 200.0), (a, a), (0.005, 0.005)).behind(standard)
        assert behind is not None
        assert behind.a == pytest.approx((expected, expected), abs=1e-12)
        assert behind.w == pytest.approx((0.0053852, 0.0053852), abs=1e-7)
    assert deviation_through_standard(0.01, 0.03) == pytest.approx(0.0403)


def test_where_the_standard_is_not_known_neither_is_the_tool() -> None:
    standard = DeviationCurve.constant(0.03, 0.002, 90.0, 500.0)
    tool = DeviationCurve((50.0, 100.0, 200.0), (0.0, 0.0, 0.0), (0.005, 0.005, 0.005))
    behind = tool.behind(standard)
    assert behind is not None and behind.X == (100.0, 200.0)
    assert tool.behind(DeviationCurve.constant(0.03, 0.002, 300.0, 500.0)) is None
    bent = DeviationCurve((50.0, 100.0, 110.0), (0.0, -0.5, 0.0), (0.005,) * 3)  # behind a shown 100 stand 200
    assert bent.behind(DeviationCurve.constant(0.03, 0.002, 40.0, 150.0)) is None


def test_both_directions_and_both_stages() -> None:
    found = made(
        entry(40, 41), entry(200, 205), entry(40, 40, stage="as left"), entry(200, 200, stage="as left"),
        entry(40, 42, direction="anticlockwise"), entry(200, 210, direction="anticlockwise"),
    )
    clockwise, back = found.curve("as found", "clockwise"), found.curve("as found", "anticlockwise")
    assert clockwise is not None and back is not None
    assert clockwise.a == pytest.approx((40 / 41 - 1, 200 / 205 - 1))
    assert back.a == pytest.approx((40 / 42 - 1, 200 / 210 - 1))
    assert clockwise.w == (0.005, 0.005)  # W/k
    assert found.curve("as left", "anticlockwise") is None  # adjusted clockwise only: what is left is not known
    gauge = made(entry(40, 41, direction="either"), entry(200, 205, direction="either"))
    assert gauge.curve("as left", "anticlockwise") == gauge.curve("as found", "either") is not None
    unadjusted = made(entry(40, 41), entry(200, 205))
    assert unadjusted.curve("as left", "clockwise") == unadjusted.curve("as found", "clockwise")


@pytest.mark.parametrize(("entries", "point", "field", "words"), [
    ([entry(40, 41), entry(200, 205), entry(120, 123)], 3, "nominal", "out of order"),
    ([entry(40, 41), entry(40, 41)], 2, "nominal", "second time"),
    ([entry(40, -41)], 1, "reference", "different signs"),
    ([entry(-40, -41, direction="anticlockwise")], 1, "indicated", "negative"),
    ([entry(40, 41, direction="")], 1, "direction", "missing"),
    ([entry(40, 41, direction="left")], 1, "direction", "'left'"),
    ([entry(40, 41), entry(60, 61, direction="either")], 2, "direction", "either stands beside clockwise at point 1"),
    ([entry(40, 41, stage="")], 1, "stage", "missing"),
    ([entry(40, 41), entry(60, 61, uncertainty=None)], 2, "uncertainty", "missing"),
    ([entry(40, 41, uncertainty=1.2)], 1, "uncertainty", "1.2"),
    ([entry(40, 41, uncertainty=0.0)], 1, "uncertainty", "0.0"),
    ([entry(40, 41, k=None)], 1, "k", "coverage factor"),
    ([entry(None, 41, indicated=40)], 1, "nominal", "no number"),
    ([entry(40, 41, indicated=None)], 1, "indicated", "no number"),
    ([entry(40, float("nan"))], 1, "reference", "not a number"),
    ([entry(40, 0.0)], 1, "reference", "zero"),
    ([entry(40, 41), entry(60, 61, indicated=39)], 2, "indicated", "does not rise"),
])
def test_bad_points_are_named(entries: list, point: int, field: str, words: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(CertificateError) as raised:
        made(*entries)
    fault, = raised.value.faults
    assert (fault.point, fault.field) == (point, field)
    assert words in fault.message and fault.way_out
    assert str(fault).startswith(f"point {point}, {field}: ")


def test_all_faults_come_at_once() -> None:
    with pytest.raises(CertificateError) as raised:
        made(entry(None, 41, indicated=40), entry(60, 61, direction=""), entry(50, 51), entry(45, 46), standards=("",),
             valid_until=FIRST - timedelta(days=1))
    assert [(f.point, f.field) for f in raised.value.faults] == [
        (None, "valid_until"), (None, "standards"), (1, "nominal"), (2, "direction"), (4, "nominal"),
    ]
    with pytest.raises(CertificateError, match="no points"):
        made()


def test_the_same_nominal_in_another_direction_or_stage_is_no_double() -> None:
    made(entry(40, 41), entry(40, 41, direction="anticlockwise"), entry(40, 40, stage="as left"))


def test_doubts_refuse_nothing_but_ask() -> None:
    """100 shown against 135.58: the 1.356 of newton metres taken for pound-force feet."""
    found = made(entry(40, 41), entry(100, 135.58), entry(120, 110))
    asked = doubts(found.points)
    assert [(d.point, d.field) for d in asked] == [(3, "reference")]  # falls; -26 % is below the bound of 30 %
    assert [(d.point, d.field) for d in doubts(made(entry(135.58, 100)).points)] == [(1, "reference")]
    assert [(d.point, d.field) for d in doubts(made(entry(60, 100)).points)] == [(1, "reference")]  # -40 %
    assert doubts(made(entry(40, 40), entry(100, 100, indicated=140)).points)[1].field == "indicated"


def test_certificates_that_overlap() -> None:
    one = made(entry(40, 40))
    two = made(entry(40, 40), id="KNC-27-0020", calibrated=date(2027, 1, 20), valid_from=date(2027, 1, 20),
               valid_until=date(2028, 1, 19))
    fault, = overlaps((two, one))
    assert "KNC-27-0020 begins on 2027-01-20 and overlaps with KNC-26-0311, in force until 2027-02-09" in fault.message
    with pytest.raises(ValueError, match="overlaps"):
        in_force((one, two), date(2027, 2, 1))
    same_day = made(entry(40, 40), id="KNC-27-0041", calibrated=LAST, valid_from=LAST, valid_until=LAST)
    assert "overlaps with KNC-26-0311" in overlaps((one, same_day))[0].message
    replacing = made(entry(40, 40), id="KNC-27-0020", calibrated=date(2027, 1, 20), valid_from=date(2027, 1, 20),
                     valid_until=date(2028, 1, 19), replaces=one.id)
    assert overlaps((one, replacing)) == ()
    assert last_day(one, (one, replacing)) == date(2027, 1, 19)
    assert in_force((one, replacing), date(2027, 1, 19)).certificate is one
    assert in_force((one, replacing), date(2027, 1, 20)).certificate is replacing
    unknown = made(entry(40, 40), id="X", replaces="Y")
    assert "no earlier certificate" in overlaps((unknown,))[0].message
    assert "twice" in overlaps((one, one))[0].message


def test_in_force_on_the_first_and_last_day_and_not_before_or_after() -> None:
    one = made(entry(40, 40))
    assert in_force((one,), FIRST).certificate is one
    assert in_force((one,), LAST).certificate is one
    before = in_force((one,), FIRST - timedelta(days=1))
    assert before.certificate is None and "before the first certificate KNC-26-0311" in before.reason
    after = in_force((one,), LAST + timedelta(days=1))
    assert after.certificate is None and "ran out on 2027-02-09" in after.reason
    assert in_force((), FIRST).reason == "there is no certificate"


def test_points_against_the_permissible_deviation_by_both_rules() -> None:
    """Limit 4 %, W 1 %: deviations -2.44 % conform either way; 3.63 % lies within the limit but not within 4 - 1 %."""
    found = made(entry(40, 41), entry(200, 193))
    simple = judge_points(found, "as found", 0.04, SIMPLE)
    guarded = judge_points(found, "as found", 0.04, GUARDED)
    assert simple.accepted and not guarded.accepted
    assert [p.decision.accepted for p in guarded.points] == [True, False]
    assert "+3.63 %" in guarded.points[1].words and simple.rule == SIMPLE.statement
    assert not judge_points(found, "as left", 0.04, SIMPLE).accepted  # no points, nothing accepted


def test_what_a_standard_was_used_for() -> None:
    one, other = made(entry(40, 40)), made(entry(40, 40), id="B", standards=("KN-RS-7", "KN-RS-2"))
    third = made(entry(40, 40), id="C", standards=("KN-RS-7",))
    assert calibrated_with({"TW-2": (third, other), "TW-1": (one,)}, "KN-RS-2") == (("TW-1", one), ("TW-2", other))


def test_forms_of_failure() -> None:
    """4 N.m too much everywhere is an offset, 8 % everywhere a slope; the other direction is judged by itself."""
    offset = made(*(entry(x + 4, x) for x in (40, 120, 200)),
                  *(entry(x, x, direction="anticlockwise") for x in (40, 120, 200))).points
    assert [(f.direction, f.form) for f in failure_forms(offset, 0.04)] == [
        ("clockwise", "offset"), ("anticlockwise", "within limits")]
    assert failure_forms(offset, 0.04)[0].offset == pytest.approx(4)
    slope, = failure_forms(made(*(entry(1.08 * x, x) for x in (40, 120, 200))).points, 0.04)
    assert (slope.form, slope.slope) == ("slope", pytest.approx(0.08))
    mixed = made(entry(48, 40), entry(105, 120), entry(208, 200)).points
    assert failure_forms(mixed, 0.04)[0].form == "no simple form"
    assert failure_forms(offset[:2], 0.04)[0].form == "too few points"
