"""Calibration intervals: the earliest of time, cycles and events, on their last day and the day after."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.instrument.interval import ISO_6789, IntervalRule, due, months_later

CALIBRATED = date(2026, 2, 10)


def test_by_time_up_to_the_last_day() -> None:
    assert due(ISO_6789, CALIBRATED, date(2027, 2, 9), 100).reasons == ()
    over = due(ISO_6789, CALIBRATED, date(2027, 2, 10), 100)
    assert over.over and over.reasons == ("12 months from 2026-02-10 ended on 2027-02-09",)
    assert over.last_day == date(2027, 2, 9)


def test_by_cycles_with_the_day_they_run_out() -> None:
    """3000 cycles in 60 days, 2000 left: 2000/3000 x 60 = 40 days more, to 2026-05-21."""
    found = due(ISO_6789, CALIBRATED, date(2026, 4, 11), 3000)
    assert (found.cycles_left, found.expected, found.over) == (2000, date(2026, 5, 21), False)
    assert not due(ISO_6789, CALIBRATED, date(2026, 4, 11), 5000).over
    assert due(ISO_6789, CALIBRATED, date(2026, 4, 11), 5001).reasons == (
        "5001 cycles since the calibration, 5000 are allowed",)
    assert "not known" in due(ISO_6789, CALIBRATED, date(2026, 4, 11)).reasons[0]
    assert due(ISO_6789, CALIBRATED, date(2028, 1, 1), 1).expected is None  # beyond any interval


def test_an_event_ends_it_at_once_if_the_rule_says_so() -> None:
    assert due(ISO_6789, CALIBRATED, CALIBRATED, 0, ["drop"]).reasons == ("drop since the calibration",)
    assert not due(IntervalRule(12, None, (), "own"), CALIBRATED, CALIBRATED, None, ["drop"]).over


def test_months_of_unequal_length() -> None:
    assert months_later(date(2024, 2, 29), 12) == date(2025, 2, 28)
    assert months_later(date(2026, 8, 31), 6) == date(2027, 2, 28)
    assert months_later(date(2026, 12, 1), 1) == date(2027, 1, 1)


@pytest.mark.parametrize(("months", "cycles"), [(None, None), (0, None), (121, None), (None, 0)])
def test_rules_that_cannot_be(months: int | None, cycles: int | None) -> None:
    with pytest.raises(ValueError, match="an interval"):
        IntervalRule(months, cycles, (), "own")


def test_days_and_counts_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="before the calibration"):
        due(ISO_6789, CALIBRATED, date(2026, 2, 9), 0)
    with pytest.raises(ValueError, match="negative"):
        due(ISO_6789, CALIBRATED, CALIBRATED, -1)
