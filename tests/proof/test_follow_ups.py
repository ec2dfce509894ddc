"""Follow-ups that the kind of joint asks for: named by the release, open until an entry says that they are done."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from evenpull.ledger.entry import Entry
from evenpull.ledger.follow_up import FollowUp
from evenpull.plan.model import FollowUpRule, Plan
from evenpull.proof import decide, may_be_asked, prove, standing_of_follow_ups
from evenpull.proof.follow_up import DWELL, defaults
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import START, plan, work
from tests.proof.test_ledger import entry

GASKET = {"kind": "gasketed flange"}


def standing(at: Plan, hours: float, *entries: Entry, released: float | None = None) -> dict[str, FollowUp]:
    """By name, as they stand so many hours after the work began (it takes less than a quarter of an hour)."""
    signed = None if released is None else START + timedelta(hours=released)
    around = Surroundings(now=START + timedelta(hours=hours), entries=entries, released=signed)
    found = standing_of_follow_ups(at, prove(at, work(at), around=around), around)
    return {one.rule.name: one for one in found}


def done(name: str, hours: float, result: str = "in order") -> Entry:
    return entry("follow-up done", hours, seq=int(hours), follow_up=name, result=result, found="all looked at")


def test_a_gasketed_flange_is_tightened_again_before_pressure() -> None:
    at = plan(**GASKET)  # type: ignore[arg-type]
    assert standing(at, 2)["dwell re-tightening"].open
    assert standing(at, 2, done("dwell re-tightening", 1))["dwell re-tightening"].open  # too early: 4 h
    assert standing(at, 6, done(" Dwell  RE-tightening", 5))["dwell re-tightening"].state == "done"
    assert standing(at, 200)["dwell re-tightening"].open  # for good, until somebody does it
    put_on = entry("service", 6, state="pressurised")
    assert standing(at, 7, put_on)["dwell re-tightening"].state == "overdue"
    decision = decide(at, prove(at, work(at)))
    assert decision.state == "released with follow-up" and "wait at least 4 h" in decision.follow_ups[0]


def test_a_round_that_the_records_hold_may_still_be_entered() -> None:
    """The check pass 5 h after the last tightening fulfils it; who enters the round as well is not turned away."""
    at = plan(**GASKET, checks=1, limit="5 deg")  # type: ignore[arg-type]
    last = at.passes[-1]
    records = [
        one if one.pass_number != last.number or one.time is None else replace(one, time=one.time + timedelta(hours=5))
        for one in work(at)
    ]
    proof = prove(at, records)
    assert defaults(at, proof) == () and defaults(at, prove(at, work(at))) == (DWELL,)
    assert may_be_asked(at) == (DWELL,)
    own = FollowUpRule("own round", "dwell re-tightening", days=2)
    assert may_be_asked(replace(at, spec=replace(at.spec, follow_ups=(own,)))) == (own,)
    assert len(may_be_asked(plan(strength="12.9"))) == 4 and may_be_asked(plan()) == ()


def test_a_series_of_days_for_delayed_fracture() -> None:
    at = plan(strength="12.9")
    names = [f"delayed fracture, day {day}" for day in (1, 3, 7, 14)]
    found = standing(at, 12)
    assert list(found) == names and {one.state for one in found.values()} == {"not due"}
    assert [one.state for one in standing(at, 25).values()] == ["in its window", "not due", "not due", "not due"]
    assert [one.state for one in standing(at, 15 * 24, done(names[0], 25)).values()] == [
        "done", "overdue", "overdue", "in its window",
    ]  # fmt: skip
    (words,) = decide(at, prove(at, work(at))).follow_ups
    assert "1, 3, 7 and 14 days" in words


def test_a_follow_up_of_the_kind_that_found_something_stands_against_the_release() -> None:
    at = plan(strength="12.9")
    bad = done("delayed fracture, day 1", 25, "not in order")
    around = Surroundings(entries=(bad,))
    decision = decide(at, prove(at, work(at), around=around), around)
    assert decision.state == "not released" and any("delayed fracture, day 1" in r for r in decision.reasons)


@pytest.mark.parametrize(
    ("at", "kind"),
    [(plan(**GASKET), "dwell re-tightening"), (plan(strength="12.9"), "delayed-fracture inspection")],  # type: ignore
)
def test_the_rule_of_the_joint_takes_the_place_of_the_default(at: Plan, kind: str) -> None:
    own = FollowUpRule("own rule", kind, days=2, owner="flange team")  # type: ignore[arg-type]
    assert list(standing(replace(at, spec=replace(at.spec, follow_ups=(own,))), 2)) == ["own rule"]


def test_all_that_a_plant_asks_for_is_named_by_the_release_and_stays_open() -> None:
    """Dwell before pressure, start-up, 500 h, kilometres, thermal cycles and a calendar: the earliest counts."""
    rules = (
        FollowUpRule("start-up", "start-up check", "start-up", days=1, early=0.5, late=1.0),
        FollowUpRule("500 h", "re-tighten after service", "start-up", hours=500, days=365, early=0.1, late=0.1),
        FollowUpRule("road", "re-tighten after service", "release", distance=80_000, days=30, early=0.5, late=0.5),
        FollowUpRule("thermal cycles", "review", "tightening", cycles=40, days=3650),
    )
    at = plan()
    at = replace(at, spec=replace(at.spec, follow_ups=rules))
    named = " ".join(decide(at, prove(at, work(at))).follow_ups)
    assert all(rule.name in named for rule in rules)
    for words in ("at the earliest of 365 d, 500 running hours", "80 km", "40 cycles", "50 % early to 50 % late"):
        assert words in named
    meters = [
        entry("service", 10, state="started"), entry("meter", 100, seq=2, meter="hours", value="560"),
        entry("meter", 101, seq=3, meter="distance", value="90", unit="km"),
        entry("meter", 102, seq=4, meter="cycles", value="43"),
    ]  # fmt: skip
    found = standing(at, 103, *meters, released=5)
    assert {name: one.state for name, one in found.items()} == {
        "start-up": "overdue", "500 h": "overdue", "road": "in its window", "thermal cycles": "overdue",
    }  # fmt: skip
    assert all(one.open for one in standing(at, 9_000, *meters, released=5).values())
