"""Reviews worked by hand: the arithmetic stands in each test. Source of the formulas: see `evenpull.instrument`."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.instrument.review import BY_CYCLES, BY_DATE, FULL, STEP, Verdict
from evenpull.review import CLASSES, FOUND_KINDS, Found, FoundPoint, JointState, Reason, ReviewError, lots, suspects
from evenpull.review.considered import forms
from evenpull.review.found import from_json, to_json
from evenpull.review.outcome import NOT_ASKED
from evenpull.review.reach import named_part, reach, with_attachments
from evenpull.review.sampling import plan
from tests.equipment.files import CERTIFICATES, HYDRAULIC, certificate, entry, on, point, store
from tests.review.cases import FIRST, FOUND_AT, HEAD, JOINT, LATER, START, found, held, reviewed, touched


def test_nine_percent_high_delivered_91_7_percent() -> None:
    """As found 1.09 of the reference at 40, 120, 200 N.m; 100 N.m indicated; W = 1.2 % (k = 2), steps of 1 N.m.

        true = 100/1.09 = 91.7431 N.m, 91.7 % of what was indicated
        u^2  = (91.7431 x 0.006)^2 + (1/(2 sqrt 3))^2 = 0.303006 + 0.083333;  u = 0.621562;  2 u = 1.24312
        range 90.500 to 92.986 N.m: surely out of 95 to 105, doubtful in 92 to 105, surely in 90 to 105
    """
    joints = [replace(JOINT, windows=((2, 0, low, 105.0),)) for low in (95.0, 92.0, 90.0)]
    one = reviewed(found(), held(), touched([100.0] * 3, joints=joints, joint=[0, 1, 2]))
    full = one.model(FULL)
    assert full is not None
    assert full.true == pytest.approx([91.7431] * 3, abs=1e-4) and full.u == pytest.approx([0.621562] * 3, abs=1e-6)
    assert one.decision.tolist() == [Verdict.SURELY_OUT, Verdict.DOUBTFUL, Verdict.SURELY_IN]
    low, high = full.delivered or (0, 0)
    assert (round(low, 3), round(high, 3)) == (0.917, 0.917)


def test_three_models_side_by_side() -> None:
    """As left 1.01 on 2 March at counter 1000, as found 1.09 on 1 September at counter 2000; the drop on 1 July.

    A pull on 1 June 12:00 at counter 1250. Period 2 March 00:00 to 1 September 15:00: 183.625 days, 91.5 of them gone.
        by date   a = 0.01 + 0.08 x 91.5/183.625 = 0.049864;  100/1.049864 = 95.250
        by cycles a = 0.01 + 0.08 x 250/1000     = 0.03;      100/1.03     = 97.087
        before the drop a = 0.01;                             100/1.01     = 99.010
    """
    one = reviewed(found(event=on(7, 1).timestamp()), held(), touched([100.0], cycle=[1250]))
    by = {name: one.model(name) for name in (FULL, BY_DATE, BY_CYCLES, STEP)}
    values = [float(m.true[0]) for m in by.values() if m is not None]
    assert values == pytest.approx([91.7431, 95.250, 97.087, 99.010], abs=1e-3)
    assert one.decision.tolist() == [Verdict.SURELY_OUT]  # the worst case decides, whatever the drift says
    assert one.left_out == ()


def test_load_against_what_is_required() -> None:
    """91.7431 +- 1.2431 N.m on M12 with K 0.15 to 0.20:
        lowest  90.5000/(0.20 x 0.012) = 37.708 kN;  highest 92.9862/(0.15 x 0.012) = 51.659 kN
    36 kN required: surely enough; 40 kN: doubtful; 52 kN: surely too little; none stated: cannot be judged.
    """
    joints = [replace(JOINT, required=F) for F in (36e3, 40e3, 52e3, math.nan)]
    one = reviewed(found(), held(), touched([100.0] * 4, joints=joints, joint=[0, 1, 2, 3]))
    assert one.load.tolist() == [Verdict.SURELY_IN, Verdict.DOUBTFUL, Verdict.SURELY_OUT, Verdict.CANNOT_BE_JUDGED]
    load = one.loads(np.array([0]))[FULL]
    assert (load.low[0], load.high[0]) == pytest.approx((37_708, 51_659), abs=1)


def test_only_the_last_tightening_of_a_fastener_carries_its_load() -> None:
    day = [on(6, 1).timestamp(), on(6, 2).timestamp(), math.nan]
    one = reviewed(found(), held(), touched([50.0, 100.0, 100.0], time=day, fastener=[1, 1, 2]))
    assert one.touched.standing.tolist() == [False, True, True]
    assert one.load.tolist()[0] == NOT_ASKED and one.load_counts[Verdict.DOUBTFUL] == 2


def test_nothing_is_said_beyond_the_points() -> None:
    """Points at 40 and 200 N.m: 39.9 and 200.1 cannot be judged, 40 and 200 can."""
    joint = replace(JOINT, windows=((2, 0, 0.0, 1000.0),))
    one = reviewed(found(), held(), touched([39.9, 40.0, 200.0, 200.1], joints=[joint]))
    assert [v == Verdict.CANNOT_BE_JUDGED for v in one.decision] == [True, False, False, True]
    assert one.reasons() == {Reason.OUTSIDE_POINTS: 2}


def test_each_reason_why_one_cannot_be_judged() -> None:
    stranger = replace(JOINT, joint="?", joint_class="", windows=())
    uses = touched([math.nan, 100.0, 100.0, 100.0, 300.0], joints=[JOINT, stranger], joint=[0, 1, 0, 0, 0])
    uses.pass_number[2], uses.ratio[3] = 7, math.nan
    one = reviewed(found(), held(), uses)
    assert one.reason.tolist() == [Reason.NO_TORQUE, Reason.NOT_DESCRIBED, Reason.NO_WINDOW, Reason.NO_RATIO,
                                   Reason.OUTSIDE_POINTS]
    assert one.counts[Verdict.CANNOT_BE_JUDGED] == 5
    lost = reviewed(found(kind="lost", certificate=""), held(FIRST), touched([100.0]))
    assert lost.reasons() == {Reason.NO_CURVE: 1}


def test_a_later_shift_check_shortens_the_period() -> None:
    """The good check of 1 May is the last good evidence: the period begins there (less the minute of its time)."""
    with_check = held().with_entries({"TW-0301": (entry("shift check", on(5, 1), result="within limits"),)})
    one, other = (next(s for s in suspects(found(), h) if s.direction == "clockwise") for h in (held(), with_check))
    assert one.period.start == START and other.period.start == on(5, 1).timestamp() - 60
    assert other.first_cycle is None  # the counter of the certificate is not that of the check


def test_the_certificate_by_which_it_was_found_is_no_evidence() -> None:
    one = suspects(found(at=on(9, 2).timestamp()), held())[0]
    assert one.period.since is not None and one.period.since.id == "KNC-25-0001"


def test_dropped_lost_and_check_failed() -> None:
    """Dropped: the found curve counts for all, and the drop parts the third model. Lost: no curve. A failed check of
    100 N.m set that gave 92: a = 100/92 - 1 = 8.696 %, at 100 N.m only."""
    dropped = suspects(found(kind="dropped", event=on(7, 1).timestamp()), held())[0]
    assert dropped.event == on(7, 1).timestamp() and dropped.found is not None
    lost = suspects(found(kind="lost", certificate=""), held(FIRST))[0]
    assert lost.found is None and "nobody can measure" in lost.unknown
    check = found(kind="shift check failed", certificate="", points=(FoundPoint(100.0, 100 / 92 - 1, 0.005),))
    one = reviewed(check, held(FIRST), touched([100.0, 101.0]))
    assert one.decision.tolist() == [Verdict.SURELY_OUT, Verdict.CANNOT_BE_JUDGED]


def test_a_withdrawn_certificate_is_no_evidence() -> None:
    second = LATER.replace("KNC-26-0900", "KNC-26-0500").replace("2026-09-01", "2026-06-15")
    store_ = held(FIRST.replace("2026-08-31", "2026-06-14"), second)
    one = suspects(found(kind="certificate withdrawn", certificate="", withdrawn="KNC-26-0500",
                         at=on(8, 1).timestamp()), store_)[0]
    assert one.period.since is not None and one.period.since.id == "KNC-25-0001"
    assert one.found is None and "calibrated as found" in one.unknown


def test_a_standard_reaches_what_was_calibrated_with_it() -> None:
    """The standard read 2 % high, the wrench was left reading 1 % high against it: (1.01)(1.02) - 1 = 3.02 % high.
    100 N.m indicated were 100/1.0302 = 97.0685. W: root of 0.6^2 + 0.1^2 = 0.60828 %."""
    recall = certificate("RS-0001", "PTL-9", points=point("as found", 10, 10 / 1.02, "either").replace("1.2 %", "0.2 %")
                         + point("as found", 1000, 1000 / 1.02, "either").replace("1.2 %", "0.2 %")).replace(
        "calibrated = 2026-03-02", "calibrated = 2026-09-01").replace("2027-03-01", "2027-08-31").replace(
        'standards = ["RS-0001"]', 'standards = ["NS-1"]').replace('permissible = "4 %"', 'permissible = "0.2 %"')
    one = found(kind="standard recalled", serial="RS-0001", certificate="PTL-9")
    found_ = suspects(one, held(FIRST, recall))
    assert {s.serial for s in found_} == {"TW-0301"}
    assert "rests on the standard RS-0001" in found_[0].period.reason
    place = next(n for n, s in enumerate(found_) if s.direction == "clockwise")
    outcome = reviewed(one, held(FIRST, recall), touched([100.0], suspect=place))
    full = outcome.model(FULL)
    assert full is not None and full.true[0] == pytest.approx(97.0685, abs=1e-4)
    by_hand = math.hypot(97.0685 * math.hypot(0.006, 0.001), 1 / (2 * math.sqrt(3)))
    assert full.u[0] == pytest.approx(by_hand, rel=1e-5)
    unknown = found(kind="standard recalled", serial="RS-0001", certificate="")
    assert all(s.found is None and "how far RS-0001 was out" in s.unknown for s in suspects(unknown, held(FIRST)))


def test_a_standard_between_two_standards_is_followed() -> None:
    between = certificate("RS-0001", "PTL-8", points=point("as left", 10, 10, "either") + point(
        "as left", 1000, 1000, "either")).replace('standards = ["RS-0001"]', 'standards = ["NS-1"]')
    national = store(HEAD + FIRST + between)
    more = replace(national, items={**national.items, "NS-1": replace(national.items["RS-0001"], serial="NS-1")})
    reached = suspects(found(kind="standard recalled", serial="NS-1", certificate=""), more)
    assert {s.serial for s in reached} == {"TW-0301"}


def test_multiplier_adapter_gauge_and_assembly() -> None:
    """A multiplier stated 13.2 that gives 12.54: a = 13.2/12.54 - 1 = 5.263 %; 1320 N.m were 1254. The wrench of the
    chain shows 1320/13.2 = 100 N.m. A hydraulic set: 2600 N.m at 650 bar = 4e-5 N.m/Pa on its gauge. The crow-foot of
    60 mm on a lever of 480 mm: (480 + 60)/480 = 1.125."""
    h = store(CERTIFICATES + HYDRAULIC)
    assert reach(h, "TW-0301") == pytest.approx({"TW-0301": 1.0, "CF-0007": 1.125, "CH-0007": 13.2})
    assert reach(h, "TM-0051") == pytest.approx({"TM-0051": 1.0, "CH-0007": 1.0})
    assert reach(h, "HG-0041")["HS-0041"] == pytest.approx(4e-5)
    assert reach(h, "CH-0007") == {"CH-0007": 1.0}
    assert named_part(h, "HG-0041", "HW-0041") == pytest.approx(4e-5) and named_part(h, "TM-0051", "TW-0301") == 1.0
    folds = {"tm-0051": "TM-0051", "ad-0007": "AD-0007"}
    assert with_attachments(h, "TW-0301", ["tm-0051", "ad-0007"], folds) == pytest.approx(13.2 * 1.125)
    assert math.isnan(with_attachments(h, "TW-0301", ["tm-9"], folds))
    joint = replace(JOINT, windows=((2, 0, 1300.0, 1340.0),))
    wrong = found(kind="attachment wrong", serial="TM-0051", certificate="", deviation=(13.2 / 12.54 - 1, 0.005))
    one = reviewed(wrong, h, touched([1320.0], joints=[joint]))
    full = one.model(FULL)
    assert full is not None and full.true[0] == pytest.approx(1254.0, abs=1e-9)
    assert one.decision.tolist() == [Verdict.SURELY_OUT]


def test_gauge_that_reads_high() -> None:
    """500 bar shown were 500/1.02 = 490.196 bar; at 4e-5 N.m/Pa: 2000 N.m on record were 1960.78 N.m."""
    gauge = certificate("HG-0041", "G-2", points=point("as found", 102, 100, "either") + point(
        "as found", 612, 600, "either")).replace('unit = "N.m"', 'unit = "bar"')
    one = found(serial="HG-0041", certificate="G-2")
    out = reviewed(one, store(HEAD + gauge), touched([2000.0], ratio=4e-5))
    full = out.model(FULL)
    assert full is not None and full.true[0] == pytest.approx(1960.784, abs=1e-3)


@pytest.mark.parametrize(("share", "n"), [(0.10, 29), (0.05, 59), (0.01, 299)])
def test_zero_failures_of_an_endless_lot(share: float, n: int) -> None:
    """n >= ln 0.05/ln(1 - p): 28.43, 58.40, 298.07."""
    assert plan(10_000_000, share).endless == n
    assert abs(plan(10_000_000, share).n - n) <= 1


def test_sample_of_a_small_lot() -> None:
    """20 fasteners, fewer than 10 % bad: 2 bad must be excluded. 1 - C(18, n)/C(20, n) >= 0.95:
    n = 15: 1 - (5 x 4)/(20 x 19) = 0.9474;  n = 16: 1 - (4 x 3)/380 = 0.9684."""
    one = plan(20, 0.10)
    assert (one.bad, one.n) == (2, 16) and one.detection == pytest.approx(1 - 12 / 380)


def test_lots_by_class_and_what_is_surely_out_needs_no_sample() -> None:
    """Class A: one surely out, one doubtful; class C: thirty doubtful, 5 % proposed: 2 of 30 are to be excluded."""
    a = replace(JOINT, windows=((2, 0, 95.0, 105.0),), required=math.nan)
    doubt = replace(a, windows=((2, 0, 92.0, 105.0),))
    joints = [a, doubt, replace(doubt, joint_class="C")]
    one = reviewed(found(), held(), touched([100.0] * 32, joints=joints, joint=[0, 1] + [2] * 30))
    first, last = lots(one)
    assert (first.joint_class, first.fasteners, first.surely_out, first.proposed) == ("A", 2, 1, None)
    assert (last.joint_class, last.open) == ("C", 30) and last.proposed is not None
    assert (last.proposed.bad, last.proposed.n) == (2, plan(30, 0.05).n)


def test_form_of_the_failure() -> None:
    """Errors in proportion to the value (9 %) are a slope, in both directions."""
    calibration = held().calibrations["TW-0301"][-1]
    assert [(f.direction, f.form) for f in forms(calibration)] == [("clockwise", "slope"), ("anticlockwise", "slope")]
    one_way = HEAD + certificate(points="".join(
        point("as found", nominal, nominal / f, d) for d, f in (("clockwise", 1.09), ("anticlockwise", 1.0))
        for nominal in (40.0, 120.0, 200.0)))
    assert "one direction only" in [f.form for f in forms(store(one_way).calibrations["TW-0301"][0])]


def test_a_finding_is_kept_as_plain_values() -> None:
    one = found(event=FOUND_AT - 5, points=(FoundPoint(100.0, 0.08, 0.005),), deviation=(0.05, 0.01))
    assert from_json(to_json(one)) == one


@pytest.mark.parametrize(("more", "words"), [
    ({"words": "bad"}, "say in words"), ({"event": FOUND_AT + 1}, "after the moment"), ({"serial": " "}, "serial"),
    ({"kind": "certificate withdrawn"}, "which certificate"), ({"w_operator": 1.5}, "operator"),
    ({"kept": 0.0}, "share of the load"), ({"kind": "odd"}, "there are: out of tolerance"),
])
def test_what_is_no_finding(more: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        found(**more)


@pytest.mark.parametrize(("more", "words"), [
    ({"serial": "X"}, "no register"), ({"serial": "AG-0003", "certificate": ""}, "no torque rests on it"),
    ({"certificate": "X"}, "there are: KNC-25-0001"),
    ({"kind": "standard recalled", "serial": "RS-0001", "certificate": "", "at": on(1, 1).timestamp()}, "names the"),
])
def test_from_what_no_review_follows(more: dict[str, object], words: str) -> None:
    with pytest.raises(ReviewError, match=words):
        suspects(found(**more), held())


torques = st.lists(st.one_of(st.floats(20, 260), st.just(math.nan)), min_size=1, max_size=40)


@settings(max_examples=60, deadline=None)
@given(torques, st.sampled_from(FOUND_KINDS[:3]), st.integers(0, 1000))
def test_the_worst_case_is_never_milder(torque: list[float], kind: str, seed: int) -> None:
    """Never milder than the full deviation or the step, wherever those judge; sums of groups are all tightenings."""
    dice = np.random.default_rng(seed)
    within = START + 1 + dice.random(len(torque)) * (FOUND_AT - START - 1)
    times = np.where(dice.random(len(torque)) < 0.2, np.nan, within).tolist()
    joints = [replace(JOINT, joint_class=c, windows=((2, 0, 60.0, 140.0),)) for c in CLASSES]
    joints[-1] = replace(joints[-1], windows=())
    uses = touched(torque, time=times, joints=joints, joint=dice.integers(0, 4, len(torque)).tolist())
    given_: dict[str, object] = {"kind": kind} | ({"event": on(7, 1).timestamp()} if kind == "dropped" else {})
    one = reviewed(found(**given_), held(), uses)
    for name in (FULL, STEP):
        model = one.model(name)
        if model is not None:
            judged = model.verdict != Verdict.CANNOT_BE_JUDGED
            assert (one.decision[judged] >= model.verdict[judged]).all()
    n = len(torque)
    assert one.by_joint().sum() == one.by_class().sum() == one.by_state().sum() == sum(one.counts.values()) == n
    assert sum(one.reasons().values()) == one.counts[Verdict.CANNOT_BE_JUDGED]
    assert one.digest() == reviewed(found(**given_), held(), uses).digest()
    assert one.by_state().shape == (len(JointState), 4)


def test_nothing_touched_is_a_review_too() -> None:
    one = reviewed(found(), held(), touched([]))
    assert sum(one.counts.values()) == 0 and lots(one) == () and len(one.digest()) == 64


def test_found_needs_nothing_else() -> None:
    assert Found(kind="lost", serial="X", at=1.0, words="left in the tunnel").curve() is None
