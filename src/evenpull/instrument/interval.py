"""When is a calibration due again: by time, by cycles, or at once after an event; the earliest counts."""

from __future__ import annotations

import calendar
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

MOST_MONTHS = 120


@dataclass(frozen=True, slots=True)
class IntervalRule:
    """`months` from the calibration, `cycles` since it, `after` the events that end it at once; None or () for none.
    `source` says whose rule it is. ValueError for a rule that never ends, or figures that are not positive."""

    months: int | None
    cycles: int | None
    after: tuple[str, ...]
    source: str

    def __post_init__(self) -> None:
        if self.months is None and self.cycles is None:
            raise ValueError("an interval needs months, cycles or both: with events alone it would never end")
        if self.months is not None and not 1 <= self.months <= MOST_MONTHS:
            raise ValueError(f"an interval is 1 to {MOST_MONTHS} months: {self.months}")
        if self.cycles is not None and self.cycles < 1:
            raise ValueError(f"an interval is at least one cycle: {self.cycles}")


# for hand tools where the user has no rule of his own
ISO_6789 = IntervalRule(12, 5000, ("drop", "overload", "repair"), "ISO 6789-1:2017 (from memory)")


@dataclass(frozen=True, slots=True)
class Due:
    """`last_day` of use by time, None without months; `cycles_left`, None where not counted or not known; `expected`
    the day on which the cycles run out at the pace so far. `over`: no longer valid, with the reasons in words."""

    last_day: date | None
    cycles_left: int | None
    expected: date | None
    reasons: tuple[str, ...]

    @property
    def over(self) -> bool:
        return bool(self.reasons)


def months_later(day: date, months: int) -> date:
    """The same day `months` later, or the last one of a month that is too short."""
    month = day.month - 1 + months
    year, month = day.year + month // 12, month % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def due(
    rule: IntervalRule, calibrated: date, day: date, cycles: int | None = None, events: Sequence[str] = (),
) -> Due:
    """Where a calibration stands on `day`: `cycles` counted since it (None: not known), `events` that happened since.

    The interval ends on the day before the calibration's day comes round, so that 12 months from 2026-02-10 end on
    2027-02-09. A rule with cycles and an unknown count is over: nothing shows that it is not. ValueError for a day
    before the calibration and a negative count.
    """
    if day < calibrated:
        raise ValueError(f"{day} is before the calibration on {calibrated}")
    if cycles is not None and cycles < 0:
        raise ValueError(f"a count of cycles cannot be negative: {cycles}")
    reasons: list[str] = []
    last = None if rule.months is None else months_later(calibrated, rule.months) - timedelta(days=1)
    if last is not None and day > last:
        reasons.append(f"{rule.months} months from {calibrated} ended on {last}")
    left = expected = None
    if rule.cycles is not None and cycles is None:
        reasons.append(f"it is calibrated for {rule.cycles} cycles, and how many it has made is not known")
    elif rule.cycles is not None and cycles is not None:
        left = rule.cycles - cycles
        if left < 0:
            reasons.append(f"{cycles} cycles since the calibration, {rule.cycles} are allowed")
        elif cycles and day > calibrated:
            ahead = math.floor(left / cycles * (day - calibrated).days)
            expected = day + timedelta(days=ahead) if ahead <= 31 * MOST_MONTHS else None
    reasons += [f"{event} since the calibration" for event in events if event in rule.after]
    return Due(last, left, expected, tuple(reasons))
