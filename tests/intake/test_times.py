"""Local times: zones, clock changes, dates that do not exist, twelve-hour clocks, numbers that count days.

Clock changes: 29 March 2026 01:00 UTC and 25 October 2026 01:00 UTC (Directive 2000/84/EC: last Sundays of March and
October; the United Kingdom keeps the same instants; from memory, not re-read, and as in the IANA database).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from evenpull.intake.times import Clock, format_fault, zone_named
from tests.intake.samples import cell, read

LONDON = zone_named("Europe/London")
GERMAN = "%d.%m.%Y %H:%M:%S"


@pytest.mark.parametrize(
    ("form", "zone", "text", "utc"),
    [
        (GERMAN, "Europe/London", "01.07.2026 12:00:00", datetime(2026, 7, 1, 11, tzinfo=UTC)),
        (GERMAN, "Europe/Berlin", "01.01.2026 12:00:00", datetime(2026, 1, 1, 11, tzinfo=UTC)),
        ("%m/%d/%Y %I:%M:%S %p", "America/New_York", "03/20/2026 12:05:00 AM", datetime(2026, 3, 20, 4, 5, tzinfo=UTC)),
        ("%m/%d/%Y %I:%M %p", "UTC", "12/31/2026 12:30 PM", datetime(2026, 12, 31, 12, 30, tzinfo=UTC)),
        ("%Y-%m-%dT%H:%M:%S%z", "", "2026-03-18T09:12:00+05:30", datetime(2026, 3, 18, 3, 42, tzinfo=UTC)),
        ("%y%m%d%H%M%S", "UTC", "260318091200", datetime(2026, 3, 18, 9, 12, tzinfo=UTC)),
        ("%d %b %Y %H:%M", "UTC", "18 Mar 2026 09:12", datetime(2026, 3, 18, 9, 12, tzinfo=UTC)),
        ("unix seconds", "", "1000000000", datetime(2001, 9, 9, 1, 46, 40, tzinfo=UTC)),
        ("unix milliseconds", "", "1000000000500", datetime(2001, 9, 9, 1, 46, 40, 500000, tzinfo=UTC)),
        ("spreadsheet days", "UTC", "46099,5", datetime(2026, 3, 18, 12, tzinfo=UTC)),
    ],
)
def test_a_clear_time(form: str, zone: str, text: str, utc: datetime) -> None:
    assert format_fault(form) == ""
    found = Clock(form, zone_named(zone) if zone else None).read([text], [None])
    assert (found.utc, found.doubt, found.text) == (utc, "", text)


def test_a_local_time_that_did_not_exist_has_no_instant() -> None:
    found = Clock(GERMAN, LONDON).read(["29.03.2026 01:30:12"], [None])
    assert found.utc is None
    assert found.doubt == "2026-03-29 01:30:12 did not exist in Europe/London: the clocks went forward"
    assert Clock(GERMAN, LONDON).read(["29.03.2026 02:00:00"], [None]).utc == datetime(2026, 3, 29, 1, tzinfo=UTC)
    assert Clock(GERMAN, LONDON).read(["29.03.2026 00:59:59"], [None]).doubt == ""


def test_a_local_time_that_occurred_twice_is_the_earlier_with_a_doubt() -> None:
    found = Clock(GERMAN, LONDON).read(["25.10.2026 01:30:00"], [None])
    assert found.utc == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert "occurred twice in Europe/London, as 00:30:00 and as 01:30:00 UTC" in found.doubt
    assert Clock(GERMAN, LONDON).read(["25.10.2026 02:00:00"], [None]).doubt == ""


@pytest.mark.parametrize("day", ["31.02.2026", "29.02.2026", "00.01.2026", "32.12.2026", "01.13.2026"])
def test_a_date_that_does_not_exist_keeps_the_record_without_a_time(day: str) -> None:
    one = read(cell(2, day)).tightenings[0]
    assert one.time is None
    assert one.time_text == f"{day} 09:12:00"
    assert one.time_doubt == f"'{day} 09:12:00': there is no such date or time"


@pytest.mark.parametrize("text", ["", "yesterday", "2026-03-18", "01.01.0001", "01.01.9999"])
def test_other_doubts(text: str) -> None:
    one = read(cell(2, text)).tightenings[0]
    assert one.time is None and one.time_doubt


def test_only_the_day_is_no_time() -> None:
    found = Clock("%d.%m.%Y", LONDON).read(["18.03.2026"], [None])
    assert found.utc is None and found.doubt == "only the day is stated: 2026-03-18"


def test_cells_of_a_spreadsheet_that_hold_times() -> None:
    clock = Clock(GERMAN, LONDON)
    moment = datetime(2026, 7, 1, 12, 0, 0, 400)  # rounding of a count of days
    assert clock.read(["2026-07-01 12:00:00"], [moment]).utc == datetime(2026, 7, 1, 11, tzinfo=UTC)
    assert "only the day" in clock.read(["2026-07-01"], [date(2026, 7, 1)]).doubt
    assert "the number 46099.5 and no date" in clock.read(["46099.5"], [46099.5]).doubt
    two = Clock(GERMAN, LONDON, two_columns=True)
    expected = datetime(2026, 7, 1, 11, 30, tzinfo=UTC)
    assert two.read(["a", "b"], [datetime(2026, 7, 1), time(12, 30)]).utc == expected
    assert two.read(["a", "12:30:00"], [date(2026, 7, 1), None]).utc == expected
    assert two.read(["01.07.2026", "b"], [None, timedelta(hours=12, minutes=30)]).utc == expected
    assert two.read(["01.07.2026", "0.5"], [None, 12.5 / 24]).utc == expected
    assert "no time of day" in two.read(["01.07.2026", "30:00"], [None, timedelta(hours=30)]).doubt
