"""Retention and legal hold: the later of both counts, a lifting ends only its own matter, nothing is deleted."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.ledger.entry import Entry
from evenpull.ledger.keeping import keeping, later
from evenpull.plan.model import Keeping

RELEASED = datetime(2026, 3, 19, 8, 30, tzinfo=UTC)
TODAY = date(2026, 11, 25)


def entry(kind: str, day: int, matter: str, seq: int = 0, unit: str = "") -> Entry:
    at = datetime(2026, 4, 1, tzinfo=UTC) + timedelta(days=day)
    return Entry(f"entry {seq}", kind, "joint", "KN-CW-008", unit, (), at, 0.0, "did it", "asked", "R. Quillfeather",
                 at, {"matter": matter}, seq)  # fmt: skip


def test_the_time_is_counted_from_the_release() -> None:
    found = keeping(Keeping("pressure parts", 10), RELEASED, (), TODAY)
    assert found.until == date(2036, 3, 19) and not found.over and not found.held
    assert "keep at least until 2036-03-19" in found.text and "pressure parts" in found.text
    waiting = keeping(Keeping("pressure parts", 10), None, (), TODAY)
    assert waiting.until is None and "no release yet" in waiting.text
    endless = keeping(Keeping("life of the plant", None), RELEASED, (), TODAY)
    assert endless.until is None and not endless.over and "no end" in endless.text
    assert "no retention class" in keeping(Keeping(), RELEASED, (), TODAY).text


def test_the_last_day_is_still_kept() -> None:
    rule = Keeping("short", 1)
    assert not keeping(rule, RELEASED, (), date(2027, 3, 18)).over
    after = keeping(rule, RELEASED, (), date(2027, 3, 19))
    assert after.over and "nothing was deleted" in after.text


def test_a_hold_outlives_the_retention_until_its_own_matter_is_lifted() -> None:
    rule, then = Keeping("short", 0.5), date(2030, 1, 1)
    held = keeping(rule, RELEASED, [entry("hold", 3, "Claim 12")], then)
    assert held.held and not held.over and "held since 2026-04-04 by R. Quillfeather: Claim 12" in held.text
    other = [entry("hold", 3, "Claim 12"), entry("hold lifted", 9, "Claim 13", 1)]
    assert keeping(rule, RELEASED, other, then).held
    assert "never entered" in keeping(rule, RELEASED, other, then).text
    lifted = [entry("hold", 3, "Claim 12"), entry("hold lifted", 9, "claim  12", 1)]
    assert not keeping(rule, RELEASED, lifted, then).held and keeping(rule, RELEASED, lifted, then).over
    assert keeping(rule, RELEASED, lifted, date(2026, 4, 8)).held  # as it stood before the lifting
    again = [*lifted, entry("hold", 20, "Claim 12", 2)]
    assert keeping(rule, RELEASED, again, then).held
    unit = [entry("hold", 3, "Claim 12", unit="U2"), entry("hold lifted", 9, "Claim 12", 1, unit="U1")]
    assert keeping(rule, RELEASED, unit, then).held


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.floats(0, 200, allow_nan=False))
def test_never_shorter_than_asked(start: date, years: float) -> None:
    """A Gregorian year has 365.2425 days on average over 400 years; whole years may fall short of it by 1.2 days."""
    days = (later(start, years) - start).days
    assert years * 365.2425 - 1.6 <= days <= years * 365.2425 + 3
    whole = int(years)
    assert later(start, whole).year == start.year + whole


def test_leap_day_and_limits() -> None:
    assert later(date(2024, 2, 29), 1) == date(2025, 3, 1)
    assert later(date(2024, 2, 29), 4) == date(2028, 2, 29)
    assert later(date(2024, 2, 29), 20_000) == date.max
    for bad in (-1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError):
            later(date(2024, 1, 1), bad)
