"""How long the records of a joint are kept at least, and which legal holds stand. The program deletes nothing, ever."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from evenpull.ledger.entry import Entry
from evenpull.plan.model import Keeping

HOLD, LIFTED = "hold", "hold lifted"


@dataclass(frozen=True)
class Hold:
    """A legal hold that stands: `matter` as written, since when, and who entered it."""

    matter: str
    unit: str  # of a series; "" for the joint as a whole
    since: datetime
    by: str


@dataclass(frozen=True)
class Kept:
    """`until`: first day on which the stated time is over; None when none can be said (no end, no years, no release).

    `over`: the stated time is over and nothing holds. Even then nothing is deleted: the owner of the records decides.
    """

    text: str
    until: date | None
    holds: tuple[Hold, ...]
    over: bool

    @property
    def held(self) -> bool:
        """Whether a legal hold stands."""
        return bool(self.holds)


def keeping(rule: Keeping, released: datetime | None, entries: Iterable[Entry], today: date) -> Kept:
    """What the joint asks (`rule`), counted from the last signed release (aware, None: not released), and the holds.

    `entries` are those about the joint; others than hold and hold lifted are passed over, as is what happened after
    `today`. A hold counts whatever the retention says, and longer.
    """
    holds, strangers = standing_holds(entries, today)
    name = rule.retention or "no retention class"
    until: date | None = None
    if rule.years is None:
        words = f"{name}: no end is stated" if rule.retention else "the joint file states no retention class and no end"
    elif released is None:
        words = f"{name}: {_years(rule.years)} from the release, and there is no release yet"
    else:
        until = later(released.astimezone(UTC).date(), rule.years)
        words = f"{name}: keep at least until {until}, {_years(rule.years)} from the release of {released:%Y-%m-%d}"
    over = until is not None and today >= until and not holds
    if over:
        words += "; that time is over, and nothing was deleted"
    for hold in holds:
        where = f" (unit {hold.unit})" if hold.unit else ""
        words += f"; held since {hold.since:%Y-%m-%d} by {hold.by}{where}: {hold.matter}"
    for stranger in strangers:
        words += f"; a hold {stranger!r} was lifted that was never entered"
    return Kept(words, until, holds, over)


def standing_holds(entries: Iterable[Entry], today: date) -> tuple[tuple[Hold, ...], tuple[str, ...]]:
    """(holds not lifted by the end of `today`, the oldest first; matters lifted without a hold).

    A lifting ends the hold of the same matter and unit, capitals and blanks aside; any other stays.
    """
    found: dict[tuple[str, str], Hold] = {}
    strangers: list[str] = []
    told = [e for e in entries if e.kind in (HOLD, LIFTED) and e.at.astimezone(UTC).date() <= today]
    for entry in sorted(told, key=lambda e: (e.at, e.seq)):
        matter = entry.text("matter")
        key = (" ".join(matter.split()).casefold(), entry.unit)
        if entry.kind == HOLD:
            found.setdefault(key, Hold(matter, entry.unit, entry.at, entry.by))
        elif found.pop(key, None) is None:
            strangers.append(matter)
    return tuple(sorted(found.values(), key=lambda h: h.since)), tuple(strangers)


def later(start: date, years: float) -> date:
    """The day `years` after `start`: whole years by the calendar, a rest in days, rounded up so as to keep longer.

    29 February plus years that end in a common year is 1 March. Raises ValueError for years below 0; a day beyond the
    calendar's last year is that calendar's last day.
    """
    if not years >= 0 or math.isinf(years):
        raise ValueError(f"{years} years is no time to keep records")
    whole = int(years)
    if start.year + whole >= date.max.year - 1:
        return date.max
    try:
        day = start.replace(year=start.year + whole)
    except ValueError:
        day = date(start.year + whole, 3, 1)
    return day + timedelta(days=math.ceil((years - whole) * 366))


def _years(years: float) -> str:
    return f"{years:g} year" + ("" if years == 1 else "s")
