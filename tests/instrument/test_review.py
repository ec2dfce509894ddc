"""Calibration-failure review: cases worked by hand with their arithmetic, and a million against one at a time."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.instrument.deviation import DeviationCurve, relative_deviation
from evenpull.instrument.review import (
    BY_CYCLES,
    BY_DATE,
    FULL,
    STEP,
    FoundOut,
    ReviewUncertainty,
    Span,
    Uses,
    Verdict,
    counted_by,
    review,
    window_verdict,
    worst_case,
)
from evenpull.instrument.review_load import LoadBasis, load_range, worst_load

DAY = 86_400.0
UNCERTAINTY = ReviewUncertainty(resolution=1.0, w_repeat=0.004, w_operator=0.003)
SPAN = Span(start=0.0, end=100 * DAY, first_cycle=1_000, last_cycle=2_000, event=60 * DAY)
FLAT_9 = DeviationCurve((40.0, 400.0), (0.09, 0.09), (0.005, 0.005))
FLAT_1 = DeviationCurve((40.0, 400.0), (0.01, 0.01), (0.005, 0.005))
FAULTS = {"clockwise": FoundOut(FLAT_9, FLAT_1)}


def uses(indicated: object, lower: object = 190.0, upper: object = 210.0, time: object = 50 * DAY,
         **more: object) -> Uses:
    return Uses(indicated=indicated, lower=lower, upper=upper, time=time, **more)  # type: ignore[arg-type]


def test_case_1_reads_nine_percent_high() -> None:
    """A wrench set to 200 N.m reads 9 % high (W/k 0.5 %; steps of 1 N.m; repeatability 0.4 %, operator 0.3 %).

        true   = 200/1.09                                           = 183.4862 N.m = 91.743 % of 200
        u_cal^2 + u_repeat^2 + u_operator^2
               = 183.4862^2 (0.005^2 + 0.004^2 + 0.003^2) = 33667.2 x 50e-6 = 1.68336
        u_resolution^2 = (1/(2 sqrt 3))^2 = 1/12                    = 0.08333
        u      = sqrt 1.76669 = 1.32917;  2 u = 2.65834
        range  = 180.828 to 186.145 N.m
    Window 190 to 210: surely out. 185 to 210: doubtful. 180 to 210: surely in.
    """
    found = review(uses([200.0] * 3, [190.0, 185.0, 180.0]), FAULTS, SPAN, UNCERTAINTY).model(FULL)
    assert found.true == pytest.approx([183.4862] * 3, abs=5e-5)
    assert found.u == pytest.approx([1.32917] * 3, abs=5e-6)
    assert (found.low[0], found.high[0]) == pytest.approx((180.828, 186.145), abs=1e-3)
    assert found.verdict.tolist() == [Verdict.SURELY_OUT, Verdict.DOUBTFUL, Verdict.SURELY_IN]


def test_case_2_between_two_points_and_case_3_below_the_lowest() -> None:
    """As found +2 % at 40 and +6 % at 120 N.m. At 100: a = 2 + 4 (100 - 40)/80 = 5 %, true = 100/1.05 = 95.238.
    At 39 and at 121 there is no point beyond: cannot be judged."""
    fault = {"clockwise": FoundOut(DeviationCurve((40.0, 120.0), (0.02, 0.06), (0.005, 0.005)))}
    found = review(uses([100.0, 39.0, 121.0], 90.0, 110.0), fault, SPAN, UNCERTAINTY)
    full = found.model(FULL)
    assert full.a[0] == pytest.approx(0.05)
    assert full.true[0] == pytest.approx(95.238, abs=5e-4)
    cannot = Verdict.CANNOT_BE_JUDGED
    assert found.decision.tolist() == [Verdict.SURELY_IN, cannot, cannot]
    assert np.isnan(full.true[1:]).all()
    assert found.counts() == {Verdict.SURELY_IN: 1, Verdict.DOUBTFUL: 0, cannot: 2, Verdict.SURELY_OUT: 0}


def test_case_4_linear_drift_by_date_and_by_cycles() -> None:
    """Left at +1 %, found at +9 % after 100 days and 1000 cycles. On day 50 at reading 1300:
        by date    1 + (9 - 1) 50/100            = 5.0 %: 200/1.05  = 190.476 N.m
        by cycles  1 + (9 - 1) (1300 - 1000)/1000 = 3.4 %: 200/1.034 = 193.424 N.m
        full       9 %                                    : 183.486 N.m
    Window 185 to 215: drift would clear it, the decision does not: the range 180.83 to 186.14 is doubtful.
    """
    found = review(uses([200.0], 185.0, 215.0, cycle=[1_300]), FAULTS, Span(
        start=0.0, end=100 * DAY, first_cycle=1_000, last_cycle=2_000), UNCERTAINTY)
    assert found.model(BY_DATE).a == pytest.approx([0.05])
    assert found.model(BY_DATE).true == pytest.approx([190.476], abs=5e-4)
    assert found.model(BY_CYCLES).a == pytest.approx([0.034])
    assert found.model(BY_CYCLES).true == pytest.approx([193.424], abs=5e-4)
    assert found.model(BY_DATE).verdict.tolist() == [Verdict.SURELY_IN]
    assert found.decision.tolist() == [Verdict.DOUBTFUL]
    assert found.left_out == {STEP: "no event is known"}


def test_drift_goes_no_further_than_the_readings_and_is_as_unsure_as_the_worse_certificate() -> None:
    """Readings of 999 and 2001 lie outside 1000 to 2000: no drift is told. The last certificate had w = 1.2 %, the
    as-found points 0.5 %: between them 1.2 % counts, u = sqrt((193.424 x 0.0130)^2 + 1/12) = 2.5310 N.m."""
    rough = DeviationCurve((40.0, 400.0), (0.01, 0.01), (0.012, 0.012))
    found = review(uses([200.0] * 3, cycle=[999, 1_300, 2_001]), {"clockwise": FoundOut(FLAT_9, rough)}, SPAN,
                   UNCERTAINTY).model(BY_CYCLES)
    assert np.isnan(found.a).tolist() == [True, False, True]
    assert found.u[1] == pytest.approx(193.424 * math.hypot(0.012, 0.004, 0.003, 1 / math.sqrt(12) / 193.424), abs=1e-4)
    assert found.u[1] == pytest.approx(2.5310, abs=1e-3)


def test_case_5_step_at_a_drop() -> None:
    """Dropped on day 60: before it 200/1.01 = 198.020, from then on 200/1.09 = 183.486. A use at an unknown time gets
    the found deviation. Before the drop the worst case still says out: a drop that was seen proves no earlier use."""
    found = review(uses([200.0] * 4, time=[59 * DAY, 60 * DAY, 61 * DAY, np.nan]), FAULTS, SPAN, UNCERTAINTY)
    step = found.model(STEP)
    assert step.true == pytest.approx([198.0198, 183.4862, 183.4862, 183.4862], abs=5e-5)
    assert step.verdict.tolist() == [Verdict.SURELY_IN, *[Verdict.SURELY_OUT] * 3]
    assert found.decision.tolist() == [Verdict.SURELY_OUT] * 4
    assert step.delivered == pytest.approx((0.917431, 0.990099), abs=1e-6)
    assert math.isnan(found.model(BY_DATE).a[3])
    assert found.model(BY_DATE).verdict[3] == Verdict.CANNOT_BE_JUDGED


def test_case_6_a_standard_reaches_several_tools() -> None:
    """The reference standard read 3 % high (w 0.2 %). Tool A, left at +1 % against it: 1.01 x 1.03 - 1 = 4.03 %, so
    100 shown were 96.126 N.m; tool B at -2 %: 0.98 x 1.03 - 1 = 0.94 %, 99.069 N.m. Window 97 to 103, 2 u:
        A  sqrt(96.126^2 (0.005^2 + 0.002^2 + 0.004^2 + 0.003^2) + 1/12) = 0.7631, range 94.60 to 97.65: doubtful
        B  sqrt(99.069^2 x 54e-6 + 1/12) = 0.7831, range 97.50 to 100.64: surely in
    """
    standard = DeviationCurve.constant(0.03, 0.002, 10.0, 500.0)
    results = {}
    for tool, a in (("A", 0.01), ("B", -0.02)):
        left = DeviationCurve.constant(a, 0.005, 40.0, 400.0)
        behind = left.behind(standard)
        assert behind is not None
        fault = {"clockwise": FoundOut(behind, left)}
        results[tool] = review(uses([100.0], 97.0, 103.0), fault, Span(start=0.0, end=100 * DAY), UNCERTAINTY)
    a, b = results["A"].model(FULL), results["B"].model(FULL)
    assert (a.true[0], b.true[0]) == pytest.approx((96.126, 99.069), abs=5e-4)
    assert (a.u[0], b.u[0]) == pytest.approx((0.7631, 0.7831), abs=5e-5)
    assert results["A"].decision.tolist() == [Verdict.DOUBTFUL]
    assert results["B"].decision.tolist() == [Verdict.SURELY_IN]


def test_case_7_a_multiplier_whose_ratio_was_stated_wrong() -> None:
    """Stated 5.0, measured 4.6: a = (5.0 - 4.6)/4.6 = 8.696 %. 100 N.m at the wrench were taken for 500 and were
    500/1.08696 = 460 N.m. The value on the scale at fault is the output, 500."""
    a = float(relative_deviation(5.0, 4.6))
    fault = {"clockwise": FoundOut(DeviationCurve.constant(a, 0.005, 200.0, 1000.0))}
    found = review(uses([500.0], 475.0, 525.0), fault, SPAN, UNCERTAINTY)
    assert found.model(FULL).true == pytest.approx([460.0])
    assert found.decision.tolist() == [Verdict.SURELY_OUT]


def test_behind_an_adapter_the_window_is_at_the_fastener() -> None:
    """160 on the scale with an adapter of ratio 1.25 are 200/1.09 at the fastener; a step of the scale counts 1.25."""
    found = review(uses([160.0], ratio=1.25), FAULTS, SPAN, UNCERTAINTY).model(FULL)
    assert found.true == pytest.approx([183.4862], abs=5e-5)
    assert found.u == pytest.approx([math.sqrt(1.683360 + 1.25**2 / 12)], abs=1e-5)


def test_each_direction_by_its_own_points() -> None:
    """Out one way only: +9 % clockwise, +1 % anticlockwise; without points of a direction nothing is judged."""
    both = {**FAULTS, "anticlockwise": FoundOut(FLAT_1)}
    turned = uses([200.0, 200.0], anticlockwise=[False, True])
    assert review(turned, both, SPAN, UNCERTAINTY).decision.tolist() == [Verdict.SURELY_OUT, Verdict.SURELY_IN]
    one = review(turned, FAULTS, SPAN, UNCERTAINTY).decision.tolist()
    assert one == [Verdict.SURELY_OUT, Verdict.CANNOT_BE_JUDGED]


def test_a_lost_tool_cannot_be_judged_at_all() -> None:
    found = review(uses([200.0, 201.0]), {}, SPAN, UNCERTAINTY)
    assert found.counts()[Verdict.CANNOT_BE_JUDGED] == 2
    assert found.model(FULL).delivered is None
    assert set(found.left_out) == {BY_DATE, BY_CYCLES, STEP}


def test_values_and_windows_not_known_are_no_error_but_not_judged() -> None:
    found = review(uses([np.nan, 200.0, -5.0, 200.0], [180, np.nan, 180, -np.inf], [210, 210, 210, np.inf]),
                   FAULTS, SPAN, UNCERTAINTY)
    cannot = Verdict.CANNOT_BE_JUDGED
    assert found.decision.tolist() == [cannot, cannot, cannot, Verdict.SURELY_IN]


@pytest.mark.parametrize(("change", "message"), [
    ({"lower": [190.0, 190.0]}, "lower: 2 values for 1"), ({"time": 0.0}, "outside the suspect period"),
    ({"time": 101 * DAY}, "outside the suspect period"), ({"lower": 220.0}, "above the upper"),
    ({"ratio": 0.0}, "ratio of tightening 1"),
])
def test_uses_that_cannot_be(change: dict, message: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(ValueError, match=message):
        review(uses([200.0], **change), FAULTS, SPAN, UNCERTAINTY)


@pytest.mark.parametrize("given_span", [
    {"start": 5.0, "end": 5.0}, {"start": 0.0, "end": 5.0, "event": 6.0},
    {"start": 0.0, "end": 5.0, "first_cycle": 9, "last_cycle": 9},
])
def test_spans_that_cannot_be(given_span: dict) -> None:  # type: ignore[type-arg]
    with pytest.raises(ValueError, match=r"before the finding|outside the suspect|has to rise"):
        Span(**given_span)
    with pytest.raises(ValueError, match="not negative"):
        ReviewUncertainty(resolution=-1.0, w_repeat=0, w_operator=0)


def test_the_worst_case_is_raised_by_a_step_and_lowered_by_nothing() -> None:
    """All pairs of verdicts of full deviation and step."""
    for full in Verdict:
        for step in Verdict:
            found = Verdict(worst_case(np.array([full], np.int8), np.array([step], np.int8))[0])
            assert found >= full
            assert found == (full if step in (Verdict.CANNOT_BE_JUDGED, *[v for v in Verdict if v <= full]) else step)
    assert Verdict.CANNOT_BE_JUDGED.words == "cannot be judged"


def test_limits_of_the_verdicts() -> None:
    """True 100 +- 2 in windows that touch the range: 98 to 102 is still surely in, up to 97.999 surely out."""
    true, half = np.full(4, 100.0), np.full(4, 2.0)
    lower, upper = np.array([98.0, 98.001, 90.0, 90.0]), np.array([102.0, 110.0, 98.0, 97.999])
    assert window_verdict(true, half, lower, upper).tolist() == [
        Verdict.SURELY_IN, Verdict.DOUBTFUL, Verdict.DOUBTFUL, Verdict.SURELY_OUT]


def test_counts_by_group() -> None:
    codes = np.array([0, 3, 3, 1], np.int8)
    assert counted_by(codes, [0, 0, 2, 2], 3).tolist() == [[1, 0, 0, 1], [0, 0, 0, 0], [0, 1, 0, 1]]
    with pytest.raises(ValueError, match="a group from 0 to 1"):
        counted_by(codes, [0, 0, 2, 2], 2)


def test_carried_to_load() -> None:
    """Case 1 with K 0.12 to 0.18 and d = 20 mm:
        F_low  = 180.828/(0.18 x 0.020) = 50 230 N,  F_high = 186.145/(0.12 x 0.020) = 77 560 N
    Required 50 kN: surely enough, although the torque is surely out. 60 kN: doubtful. 80 kN: surely too little."""
    found = review(uses([200.0] * 4), FAULTS, SPAN, UNCERTAINTY)
    required = [50e3, 60e3, 80e3, np.nan]
    load = load_range(found.model(FULL), LoadBasis(K_low=0.12, K_high=0.18, d=0.020, required=required))
    assert (load.low[0], load.high[0]) == pytest.approx((50_230, 77_560), abs=1)
    assert load.verdict.tolist() == [
        Verdict.SURELY_IN, Verdict.DOUBTFUL, Verdict.SURELY_OUT, Verdict.CANNOT_BE_JUDGED]
    # 20 N.m of drag clamp nothing, 10 % relax: (180.828 - 20) 0.9/0.0036 = 40 207 N
    relaxed = LoadBasis(K_low=0.12, K_high=0.18, d=0.020, required=50e3, drag=20.0, kept=0.9)
    less = load_range(found.model(FULL), relaxed)
    assert less.low[0] == pytest.approx(40_207, abs=1)
    assert less.verdict.tolist() == [Verdict.DOUBTFUL] * 4
    loads, decision = worst_load(found, LoadBasis(K_low=0.12, K_high=0.18, d=0.020, required=required))
    assert set(loads) == {FULL, BY_DATE, STEP}
    assert decision.tolist() == load.verdict.tolist()


@pytest.mark.parametrize(("change", "message"), [
    ({"K_low": 0.2}, "rises"), ({"d": 0.0}, "diameter"), ({"kept": 0.0}, "share kept"), ({"drag": -1.0}, "drag"),
    ({"required": -1.0}, "required load"), ({"d": [0.02, 0.02]}, "d: 2 values for 1"),
])
def test_load_bases_that_cannot_be(change: dict, message: str) -> None:  # type: ignore[type-arg]
    model = review(uses([200.0]), FAULTS, SPAN, UNCERTAINTY).model(FULL)
    with pytest.raises(ValueError, match=message):
        load_range(model, LoadBasis(**{"K_low": 0.12, "K_high": 0.18, "d": 0.020, "required": 1.0, **change}))


def by_hand(x: float, lower: float, upper: float, points: list[tuple[float, float]]) -> Verdict:
    """The text of the rule, one tightening at a time, without arrays."""
    for (x0, a0), (x1, a1) in pairwise(points):
        if x0 <= x <= x1:
            a = a0 + (a1 - a0) * (x - x0) / (x1 - x0)
            true = x / (1 + a)
            u = math.sqrt((true * 0.005) ** 2 + (1 / math.sqrt(12)) ** 2 + (true * 0.004) ** 2 + (true * 0.003) ** 2)
            if lower <= true - 2 * u and true + 2 * u <= upper:
                return Verdict.SURELY_IN
            return Verdict.SURELY_OUT if true + 2 * u < lower or true - 2 * u > upper else Verdict.DOUBTFUL
    return Verdict.CANNOT_BE_JUDGED


@given(st.lists(st.floats(10, 450), min_size=1, max_size=30), st.lists(st.floats(-0.2, 0.2), min_size=3, max_size=3))
def test_many_at_once_are_each_by_hand(values: list[float], deviations: list[float]) -> None:
    X = (40.0, 150.0, 400.0)
    fault = {"clockwise": FoundOut(DeviationCurve(X, tuple(deviations), (0.005,) * 3))}
    x = np.array(values)
    found = review(uses(x, 0.95 * x, 1.05 * x), fault, SPAN, UNCERTAINTY)
    points = list(zip(X, deviations, strict=True))
    assert found.decision.tolist() == [by_hand(v, 0.95 * v, 1.05 * v, points) for v in values]


def test_a_hundred_thousand_with_all_models() -> None:
    """Every model at once on many rows; the counts are those of the rows (speed is measured in the benches)."""
    draw = np.random.default_rng(6)
    n = 100_000
    x = draw.uniform(20, 420, n)
    found = review(Uses(indicated=x, lower=0.95 * x, upper=1.05 * x, time=draw.uniform(1, 100 * DAY, n),
                        cycle=draw.uniform(1_000, 2_000, n), anticlockwise=draw.random(n) < 0.1),
                   FAULTS, SPAN, UNCERTAINTY)
    assert [one.name for one in found.models] == [FULL, BY_DATE, BY_CYCLES, STEP]
    assert sum(found.counts().values()) == n
    outside = (x < 40) | (x > 400)
    assert (found.decision[outside] == Verdict.CANNOT_BE_JUDGED).all()
    drift = found.model(BY_DATE)
    judged = drift.verdict != Verdict.CANNOT_BE_JUDGED
    assert ((drift.a[judged] >= 0.01) & (drift.a[judged] <= 0.09)).all()
