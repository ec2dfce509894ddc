"""Fitness of an instrument for the pulls of a plan: each reason alone, the risk by hand, and the order of the fit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
import pytest

from evenpull.instrument.assembly import instrument
from evenpull.instrument.candidate import Candidate, PassValue, UseLimit
from evenpull.instrument.certificate import Certificate
from evenpull.instrument.conformity import GUARDED
from evenpull.instrument.fitness import fitness, percent
from evenpull.instrument.parts import Adapter, Driver, Multiplier
from evenpull.instrument.ranking import ranked, rounding_error, window_share
from tests.instrument.cases import FIRST, LAST, entry, made

DAY = date(2026, 6, 1)
WRENCH = Driver(serial="TW-0207", unit="N.m", lower=40.0, upper=200.0, resolution=1.0, w=0.01, lever=0.48)


def cert(a: float = 0.0, W: float = 0.02, **changed: object) -> Certificate:
    points = (entry(x, x / (1 + a), stage=stage, direction="clockwise", uncertainty=W)
              for stage in ("as found", "as left") for x in (40.0, 120.0, 200.0))
    return made(*points, **changed)  # type: ignore[arg-type]


READY = Candidate(instrument=instrument([WRENCH]), certificates=(cert(),), serves="B")
FINAL = PassValue("pass 3", 180.0, 171.0, 189.0)
BACK = replace(FINAL, direction="anticlockwise")
FIRST_PASS = PassValue("pass 1", 54.0, 51.3, 56.7)


def test_a_tool_that_is_fit_says_why() -> None:
    """Certificate W = 2 %, steps of 1 N.m: w = sqrt(1^2 + (100/180/3.4641)^2) % = 1.01278 %, u = 1.82300 N.m. Window
    +-9 N.m = 4.93692 u: risk 2 Phi(-4.93692) = 7.9e-7."""
    found = fitness(READY, [FIRST_PASS, FINAL], DAY, "B")
    assert found.fit and found.refusals == ()
    last = found.passes[1]
    assert last.u == pytest.approx(1.82300, abs=1e-5)
    assert last.risk == pytest.approx(2 * NormalDist().cdf(-9 / 1.82300), rel=1e-4)
    assert found.risk == max(p.risk for p in found.passes)  # type: ignore[type-var]
    assert found.days_left == (LAST - DAY).days
    words = "\n".join(reason.words for one in found.passes for reason in one.reasons)
    assert "set 180 N·m for 180 N·m" in words and "false acceptance below 0.01 %" in words
    assert [reason.code for reason in found.reasons] == ["chain", "validity", "class"]
    assert [reason.code for reason in last.reasons] == ["direction", "range", "setting", "uncertainty"]


def test_each_part_that_measures_needs_its_own_certificate() -> None:
    """A multiplier without one is refused, with one the first to end counts; an adapter may have none."""
    gear, bent = Multiplier(serial="MU-3", ratio=4.6, w=0.01), Adapter(serial="AD-11", length=0.06)
    value = PassValue("pass 3", 600.0, 540.0, 660.0)
    chained = replace(READY, instrument=instrument([WRENCH, bent, gear]))
    bare = fitness(chained, [value], DAY, "B")
    assert bare.refusals == ("multiplier MU-3: there is no certificate",) and bare.days_left is None
    ends = DAY + timedelta(days=9)
    certified = replace(chained, part_certificates={"MU-3": (cert(id="KNC-26-0500", valid_until=ends),)})
    found = fitness(certified, [value], DAY, "B")
    assert found.fit and found.days_left == 9
    late = fitness(certified, [value], ends + timedelta(days=1), "B")
    assert "multiplier MU-3: certificate KNC-26-0500 ran out" in late.refusals[0]
    old = replace(certified, part_certificates={**certified.part_certificates, "AD-11": (cert(valid_until=FIRST),)})
    assert "adapter AD-11" in fitness(old, [value], DAY, "B").refusals[0]


def test_the_risk_is_what_drawn_inputs_do() -> None:
    """200,000 drawn pulls with every input about its stated value, the lever law written out: the share outside the
    window against the risk (3.1 %). Nothing of the budget is used in the drawing."""
    draw, n = np.random.default_rng(14), 200_000
    bent = Adapter(serial="AD-11", length=0.09, angle=0.5, length_error=0.003, hand_shift=0.03, angle_error=0.08)
    candidate = replace(READY, instrument=instrument([WRENCH, bent]), certificates=(cert(0.01, 0.03),))
    value = PassValue("p", 150.0, 144.0, 156.0)
    one, = fitness(candidate, [value], DAY, None).passes
    assert one.setting is not None and one.risk is not None
    hand, length, angle, step = (
        draw.uniform(-half, half, n) for half in (bent.hand_shift, bent.length_error, bent.angle_error, 0.5))
    lever = 0.48 + hand
    law = (lever + (bent.length + length) * np.cos(bent.angle + angle)) / lever
    true = (one.setting.value + step) / (1 + 0.01) * (1 + draw.normal(0, 0.015, n)) * law
    outside = float(((true < value.lower) | (true > value.upper)).mean())
    assert one.risk == pytest.approx(0.0306, abs=1e-4)
    assert outside == pytest.approx(one.risk, abs=0.003)


def test_the_known_deviation_moves_the_torque() -> None:
    """Left reading 4 % high: 180 shown are 180/1.04 = 173.077 N.m, u = 1.01278 % = 1.75289; the lower limit 171 is
    1.18488 u away: risk Phi(-1.18488) = 11.8 %, more than 5 %."""
    found = fitness(replace(READY, certificates=(cert(0.04),)), [FINAL], DAY, "B")
    one, = found.passes
    assert one.expected == pytest.approx(173.077, abs=5e-4)
    assert one.risk == pytest.approx(0.118, abs=5e-4)
    assert not found.fit
    refusal, = found.refusals
    assert refusal.startswith("pass 3: at this setting 173.1 N·m") and "acceptance 12 %, 5 % allowed" in refusal


@pytest.mark.parametrize(("change", "day", "joint_class", "code", "words"), [
    ({"certificates": ()}, DAY, "B", "validity", "driver TW-0207: there is no certificate"),
    ({}, FIRST - timedelta(days=1), "B", "validity", "before the first certificate KNC-26-0311"),
    ({}, LAST + timedelta(days=1), "B", "validity", "ran out on 2027-02-09"),
    ({}, DAY, "A", "class", "the joint is of class A, the tool may serve class B and below"),
    ({"serves": None}, DAY, "C", "class", "not stated"),
    ({"missing": ("multiplier MU-3 has no certificate",)}, DAY, "B", "chain", "MU-3 has no certificate"),
    ({"events": ("dropped on 2026-05-20",)}, DAY, "B", "event", "dropped on 2026-05-20; not settled"),
    ({"cycles": 5001, "cycles_allowed": 5000}, DAY, "B", "cycles", "5001 of 5000"),
    ({"cycles_allowed": 5000}, DAY, "B", "cycles", "read its counter"),
])
def test_what_holds_for_all_pulls(change: dict, day: date, joint_class: str, code: str, words: str) -> None:  # type: ignore[type-arg]
    found = fitness(replace(READY, **change), [FINAL], day, joint_class)  # type: ignore[arg-type]
    wrong, = [reason for reason in found.reasons if not reason.fit]
    assert wrong.code == code and words in wrong.words
    assert not found.fit


@pytest.mark.parametrize(("change", "value", "code", "words"), [
    ({}, PassValue("p", 30.0, 28.0, 32.0), "range", "below the lowest marked value"),
    ({}, PassValue("p", 220.0, 210.0, 230.0), "range", "above the end"),
    ({}, BACK, "direction", "to be turned anticlockwise, the tool turns clockwise"),
    ({"directions": ("clockwise", "anticlockwise")}, BACK, "certificate", "no points turned anticlockwise"),
    ({"limits": (UseLimit(100.0, 200.0, "scatter at 40"),)}, FIRST_PASS, "limit on use",
     "limited to 100 N·m to 200 N·m"),
    ({"instrument": instrument([replace(WRENCH, resolution=10.0)])}, PassValue("p", 124.0, 121.0, 127.0), "setting",
     "outside the window"),
    ({"instrument": instrument([replace(WRENCH, resolution=400.0)])}, FINAL, "setting", "no setting"),
    ({"certificates": (cert(W=0.06),)}, FINAL, "uncertainty", "probability of a false acceptance"),
])
def test_what_holds_for_one_pull(change: dict, value: PassValue, code: str, words: str) -> None:  # type: ignore[type-arg]
    found = fitness(replace(READY, **change), [value], DAY, "B")
    wrong = {reason.code: reason.words for reason in found.passes[0].reasons if not reason.fit}
    assert code in wrong and words in wrong[code]
    assert not found.fit and found.refusals


def test_outside_the_points_of_the_certificate_it_cannot_be_judged() -> None:
    """The scale goes to 200, the certificate only to 120: a value of its own, not a risk of zero."""
    short = made(entry(40.0, 40.0), entry(120.0, 120.0))
    one, = fitness(replace(READY, certificates=(short,)), [FINAL], DAY, "B").passes
    assert (one.risk, one.u, one.expected) == (None, None, None)
    assert any("cannot be judged" in reason.words for reason in one.reasons if not reason.fit)


def test_a_certificate_kept_without_points() -> None:
    """The register states 2 % for the whole scale: as by points without deviation, and the words say what is missing.
    Without a stated figure, and with points of another direction only, nothing is judged."""
    kept = Certificate("KNC-26-0311", FIRST, FIRST, LAST, ("KN-RS-2",), ())
    stated, = fitness(replace(READY, certificates=(kept,), stated_W=0.02), [FINAL], DAY, "B").passes
    by_points, = fitness(READY, [FINAL], DAY, "B").passes
    assert stated.risk == by_points.risk and stated.fit
    assert "uncertainty 2 % as stated for the whole scale; no points are known" in stated.reasons[-1].words
    assert fitness(replace(READY, certificates=(kept,)), [FINAL], DAY, "B").risk is None
    turned = replace(READY, directions=("clockwise", "anticlockwise"), stated_W=0.02)
    assert fitness(turned, [BACK], DAY, "B").risk is None


def test_limits_hold_for_the_torque_at_the_drive() -> None:
    """Limited to 100 to 200; behind an adapter of ratio 1.125, 111 N.m are 99 at the drive and 114 are 101."""
    bent = instrument([WRENCH, Adapter(serial="AD-11", length=0.06)])
    limited = replace(READY, instrument=bent, limits=(UseLimit(100.0, 200.0, "scatter at 40"),))
    values = [PassValue("a", 111.0, 100.0, 122.0), PassValue("b", 114.0, 103.0, 125.0)]
    low, high = fitness(limited, values, DAY, "B").passes
    assert (low.fit, high.fit) == (False, True)


def test_the_last_cycle_allowed_and_a_risk_not_known() -> None:
    assert fitness(replace(READY, cycles=5000, cycles_allowed=5000), [FINAL], DAY, "B").fit
    half = made(entry(40.0, 40.0), entry(120.0, 120.0))
    found = fitness(replace(READY, certificates=(half,)), [FIRST_PASS, FINAL], DAY, "B")
    assert found.passes[0].risk is not None and found.risk is None


def test_the_adapter_is_in_setting_risk_and_words() -> None:
    held = replace(READY, instrument=instrument([WRENCH, Adapter(serial="AD-11", length=0.06)]))
    one, = fitness(held, [FINAL], DAY, "B").passes
    assert one.setting is not None and one.setting.digits == "160"
    assert "the hand 10 mm from its mark changes it by 0.24 %" in "".join(r.words for r in one.reasons)
    plain, = fitness(READY, [FINAL], DAY, "B").passes
    assert one.u is not None and plain.u is not None and one.u > plain.u


def test_what_judging_the_records_would_do() -> None:
    """Pulls scatter by 2 % (3.6 N.m, the window is 2.5 of them): 1.24 % of them are outside; simple acceptance lets
    some of these pass, a guard band of U fewer, at the price of more that are refused. Checked in test_conformity."""
    simple = fitness(READY, [FINAL], DAY, "B", scatter=0.02).passes[0]
    guarded = fitness(READY, [FINAL], DAY, "B", scatter=0.02, rule=GUARDED).passes[0]
    assert simple.records is not None and guarded.records is not None
    assert 1 - simple.records.conforming == pytest.approx(0.01242, abs=1e-5)
    assert guarded.records.consumer < simple.records.consumer < 0.01242
    assert guarded.records.producer > simple.records.producer
    assert "records judged by guard band of U, pulls scattering by 2 %" in guarded.reasons[-1].words
    coarse = fitness(replace(READY, certificates=(cert(W=0.06),)), [FINAL], DAY, "B", scatter=0.02, rule=GUARDED)
    assert "no acceptance interval" in "".join(coarse.refusals)


@pytest.mark.parametrize("values", [[], [PassValue("p", 180.0, 190.0, 200.0)], [PassValue("p", 5.0, 5.0, 5.0)]])
def test_pass_values_that_cannot_be(values: list[PassValue]) -> None:
    with pytest.raises(ValueError, match=r"no pass values|does not hold"):
        fitness(READY, values, DAY, "B")
    with pytest.raises(ValueError, match="allowed risk"):
        fitness(READY, [FINAL], DAY, "B", allowed_risk=1.0)


def named(serial: str, **changed: object) -> Candidate:
    return replace(READY, instrument=instrument([replace(WRENCH, serial=serial)]), **changed)  # type: ignore[arg-type]


def test_the_order_of_the_fit_tools() -> None:
    """Smallest risk first; alike in steps of 0.01 % the smaller uncertainty, then the longer certificate, then the
    serial; the refused stand apart with their reasons."""
    longer = (cert(valid_until=LAST + timedelta(days=30)),)
    candidates = [
        named("TW-D"), named("TW-C", certificates=longer), named("TW-B", certificates=(cert(W=0.01),)),
        named("TW-A", certificates=(cert(0.025),)), named("TW-E"), named("TW-X", certificates=()),
    ]
    order = ranked(fitness(one, [FINAL], DAY, "B") for one in candidates)
    assert [one.fitness.candidate.instrument.name for one in order.fit] == ["TW-B", "TW-C", "TW-D", "TW-E", "TW-A"]
    assert [one.place for one in order.fit] == [1, 2, 3, 4, 5]
    assert [one.candidate.instrument.name for one in order.refused] == ["TW-X"]
    assert "days left on the certificate" in order.fit[0].reason and "pass 3" in order.fit[0].reason
    assert order == ranked(fitness(one, [FINAL], DAY, "B") for one in reversed(candidates))


def test_figures_of_the_order() -> None:
    """2 u = 3.646 N.m over half the window of 9: 40.5 %; 54.4 N.m in steps of 1 gives 54: 0.74 % off."""
    assert window_share(fitness(READY, [FINAL], DAY, "B")) == pytest.approx(0.4051, abs=1e-4)
    between = fitness(READY, [PassValue("p", 54.4, 51.0, 57.0)], DAY, "B")
    assert rounding_error(between) == pytest.approx(0.4 / 54.4)
    with pytest.raises(ValueError, match="no pass value was judged"):
        window_share(fitness(replace(READY, certificates=()), [FINAL], DAY, "B"))


def test_percent_for_reading() -> None:
    assert [percent(p) for p in (1e-9, 0.00023, 0.023, 0.5, 0.9987)] == [
        "below 0.01 %", "0.023 %", "2.3 %", "50 %", "99.87 %"]
