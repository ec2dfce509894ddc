"""Follow-ups: hand-worked dates and readings; the rules themselves are the joint's."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.ledger.entry import Entry
from evenpull.ledger.follow_up import FollowUp, assess, required
from evenpull.plan.model import FollowUpRule

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def entry(kind: str, after_hours: float, seq: int = 0, **values: str) -> Entry:
    at = START + timedelta(hours=after_hours)
    name, by = "KN-CW-014", "S. Tamblyn"
    return Entry(f"entry {seq}", kind, "joint", name, "", (), at, 0.0, "did it", "", by, at, values, seq)


def one(rule: FollowUpRule, entries: list[Entry], at_hours: float, released: float | None = None) -> FollowUp:
    [found] = assess(
        [rule], entries, tightened=START, released=None if released is None else START + timedelta(hours=released),
        now=START + timedelta(hours=at_hours),
    )  # fmt: skip
    return found


DWELL = FollowUpRule("dwell", "dwell re-tightening", days=4 / 24, late=5.0, before="pressure", source="the joint's own")
HOURS = FollowUpRule("500 h", "re-tighten after service", "start-up", hours=500, days=180, early=0.1, late=0.1)


@pytest.mark.parametrize(
    ("hours", "state"), [(3.9, "in its window"), (4.1, "in its window"), (24.1, "overdue")]
)
def test_dwell_before_pressure_is_open_until_done(hours: float, state: str) -> None:
    """4 h and five times as late: from 4 h to 24 h. Before that it is open all the same, because of the pressure."""
    assert one(DWELL, [], hours).state == state


def test_done_too_early_closes_nothing_and_pressure_makes_it_overdue() -> None:
    early = entry("follow-up done", 1, 1, follow_up="dwell", result="in order", found="nothing moved")
    found = one(DWELL, [early], 5)
    assert found.open and found.too_early == (early,) and "closes nothing" in found.text
    put_on = entry("service", 6, 2, state="pressurised")
    assert one(DWELL, [early, put_on], 7).state == "overdue"
    right = entry("follow-up done", 5, 3, follow_up="dwell", result="in order", found="nothing moved")
    assert one(DWELL, [early, right, put_on], 7).state == "done"
    wrong = entry("follow-up done", 5.5, 4, follow_up="dwell", result="not in order", found="number 3 moved")
    assert one(DWELL, [early, right, wrong], 7).state == "done, not in order"


def test_the_earliest_of_hours_and_calendar_counts() -> None:
    """500 h +- 10 %: window 450 h to 550 h; 180 d +- 10 %: 162 d to 198 d, from start-up at 100 h."""
    up = entry("service", 100, 1, state="started")
    assert one(HOURS, [], 120).state == "not started"
    assert one(HOURS, [up], 120).state == "cannot be told"  # running, and nobody has read the meter

    def read(after_days: float, value: float) -> str:
        meter = entry("meter", 100 + after_days * 24, 2, meter="hours", value=f"{value:g}", unit="h")
        return one(HOURS, [up, meter], 100 + after_days * 24).state

    assert [read(30, 449), read(30, 450), read(30, 550), read(30, 551)] == [
        "not due", "in its window", "in its window", "overdue",
    ]  # fmt: skip
    assert [read(161.9, 10), read(162, 10), read(198, 10), read(198.1, 10)] == [
        "not due", "in its window", "in its window", "overdue",
    ]  # fmt: skip


def test_done_when_the_hours_had_opened_although_the_calendar_had_not() -> None:
    up = entry("service", 100, 1, state="started")
    meter = entry("meter", 100 + 24 * 30, 2, meter="hours", value="470")
    done = entry("follow-up done", 100 + 24 * 30, 3, follow_up="500 h", result="in order", found="all at rest")
    assert one(HOURS, [up, meter, done], 100 + 24 * 31).state == "done"
    before = entry("follow-up done", 100 + 24 * 29, 3, follow_up="500 h", result="in order", found="all at rest")
    assert one(HOURS, [up, meter, before], 100 + 24 * 31).open


def test_a_reading_before_the_start_is_taken_off() -> None:
    rule = FollowUpRule("review", "review", hours=100)
    entries = [
        entry("meter", -1, 1, meter="hours", value="1000"), entry("meter", 50, 2, meter="hours", value="1099,5"),
    ]  # fmt: skip
    found = one(rule, entries, 60)
    assert found.state == "not due" and "99.5 of 100 h" in found.text


def test_distance_in_km_and_miles() -> None:
    """Wheels: 40 km; 25 miles are 40.2 km (1 mi = 1.609344 km, exactly)."""
    rule = FollowUpRule("wheels", "re-tighten after service", distance=40_000)
    assert one(rule, [entry("meter", 1, 1, meter="distance", value="25", unit="mi")], 2).state == "overdue"
    assert one(rule, [entry("meter", 1, 1, meter="distance", value="39", unit="km")], 2).state == "not due"


def test_what_a_release_names_does_not_change_with_time() -> None:
    assert required(HOURS) == (
        "re-tighten after service: 500 h: due at the earliest of 180 d, 500 running hours after the start-up, window "
        "10 % early to 10 % late"
    )
    assert required(DWELL).endswith("and before pressure (the joint's own)")


@given(
    st.lists(st.tuples(st.sampled_from(["service", "meter", "follow-up done"]), st.floats(0, 5000), st.floats(0, 900))),
    st.floats(0, 6000),
)
def test_never_done_without_an_entry_that_says_so(acts: list[tuple[str, float, float]], now: float) -> None:
    entries = []
    for number, (kind, at, value) in enumerate(acts):
        values = {
            "service": {"state": "started"}, "meter": {"meter": "hours", "value": f"{value:.1f}"},
            "follow-up done": {"follow_up": "another", "result": "in order", "found": "x"},
        }[kind]  # fmt: skip
        entries.append(entry(kind, at, number, **values))
    assert one(HOURS, entries, now).open and one(DWELL, entries, now).open
