"""Work after the tightening: what is due when, by the earliest of calendar, running hours, distance and cycles.

Rule + start + meter readings + what was done --assess--> due date, window, state. The rules are the joint's, or those
of its kind where the joint says nothing (`proof.follow_up`); none is universal. A follow-up stays open until an entry
says that it was done inside its window.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from evenpull.ledger.entry import Entry
from evenpull.ledger.people import folded
from evenpull.plan.model import FollowUpRule

State = Literal["not started", "not due", "in its window", "overdue", "cannot be told", "done", "done, not in order"]
OPEN: tuple[State, ...] = ("not started", "not due", "in its window", "overdue", "cannot be told")
# worst first: what several triggers say together is what the first of them says
_WORST: tuple[State, ...] = ("overdue", "in its window", "cannot be told", "not due", "not started")
BEFORE = {"pressure": ("pressurised", "started"), "service": ("started",)}


@dataclass(frozen=True)
class Trigger:
    """One way in which it falls due. `due`, `opens`, `closes` are dates for the calendar and readings for a meter."""

    kind: Literal["calendar", "hours", "distance", "cycles", "before"]
    state: State
    text: str
    due: datetime | None = None
    opens: datetime | None = None
    closes: datetime | None = None


@dataclass(frozen=True)
class FollowUp:
    """`due` is the earliest known date, None when only a meter or an event tells; it is counted from `start`."""

    rule: FollowUpRule
    state: State
    start: datetime | None
    due: datetime | None
    opens: datetime | None
    closes: datetime | None
    triggers: tuple[Trigger, ...]
    done: Entry | None
    too_early: tuple[Entry, ...]  # said to be done before its window opened: they close nothing
    text: str

    @property
    def open(self) -> bool:
        return self.state in OPEN


def assess(
    rules: Iterable[FollowUpRule],
    entries: Sequence[Entry],
    *,
    tightened: datetime | None,
    released: datetime | None,
    now: datetime,
) -> tuple[FollowUp, ...]:
    """The follow-ups of a joint as they stand at `now`.

    `tightened` is the end of the last tightening, `released` the first signature; None while there is none. Start-up is
    the first entry "service" with the state started after the tightening. Times aware, UTC.
    """
    return tuple(_assess(rule, entries, tightened, released, now) for rule in rules)


def _assess(
    rule: FollowUpRule, entries: Sequence[Entry], tightened: datetime | None, released: datetime | None, now: datetime
) -> FollowUp:
    started = _first_service(entries, ("started",), tightened)
    start = {"tightening": tightened, "start-up": started, "release": released}[rule.counted_from]
    triggers = tuple(_triggers(rule, entries, start, tightened, now))
    states = {trigger.state for trigger in triggers}
    state: State = next((one for one in _WORST if one in states), "not started") if start else "not started"
    dues = [trigger for trigger in triggers if trigger.due is not None]
    first = min(dues, key=lambda trigger: trigger.due or now, default=None)
    opens = None if first is None else first.opens
    said = [e for e in entries if e.kind == "follow-up done" and folded(e.text("follow_up")) == folded(rule.name)]
    counting = [e for e in said if start is not None and e.at >= start and _opened(rule, entries, start, e.at)]
    early = tuple(e for e in said if e not in counting and start is not None and e.at >= start)
    last = max(counting, key=lambda e: (e.at, e.seq), default=None)
    if last is not None:
        state = "done" if last.text("result") == "in order" else "done, not in order"
    return FollowUp(
        rule, state, start, None if first is None else first.due, opens, None if first is None else first.closes,
        triggers, last, early, _words(rule, state, start, triggers, last, early),
    )  # fmt: skip


def _triggers(
    rule: FollowUpRule, entries: Sequence[Entry], start: datetime | None, tightened: datetime | None, now: datetime
) -> Iterable[Trigger]:
    if start is None:
        return
    if rule.days is not None:
        due, opens, closes = (start + timedelta(days=rule.days * share) for share in (1, 1 - rule.early, 1 + rule.late))
        state: State = "not due" if now < opens else "in its window" if now <= closes else "overdue"
        yield Trigger("calendar", state, f"{_span(rule.days)} after {_day(start)}: {_day(due)}", due, opens, closes)
    for meter, limit, unit in (
        ("hours", rule.hours, "h"),
        ("distance", None if rule.distance is None else rule.distance / 1000, "km"),
        ("cycles", rule.cycles, "cycles"),
    ):
        if limit is None:
            continue
        used = _used(entries, meter, start)
        if used is None:
            running = _first_service(entries, ("started",), start) is not None or rule.counted_from == "start-up"
            state = "cannot be told" if running else "not due"
            yield Trigger(meter, state, f"{limit:g} {unit}: no reading since {_day(start)}")  # type: ignore[arg-type]
            continue
        low, high = limit * (1 - rule.early), limit * (1 + rule.late)
        state = "not due" if used < low else "in its window" if used <= high else "overdue"
        yield Trigger(meter, state, f"{used:g} of {limit:g} {unit} run")  # type: ignore[arg-type]
    if rule.before:
        put_on = _first_service(entries, BEFORE[rule.before], tightened)
        words = f"before {rule.before}"
        if put_on is None:
            yield Trigger("before", "in its window", f"{words}, which has not been entered yet")
        else:
            yield Trigger("before", "overdue", f"{words}, which was entered for {_day(put_on)}", put_on, start, put_on)


def _first_service(entries: Sequence[Entry], states: tuple[str, ...], since: datetime | None) -> datetime | None:
    found = [e.at for e in entries if e.kind == "service" and e.text("state") in states]
    return min((at for at in found if since is None or at >= since), default=None)


def _readings(entries: Sequence[Entry], meter: str) -> list[tuple[datetime, float]]:
    """Meter readings in time; distance in km whatever unit was written (km, m, mi)."""
    found = []
    for entry in entries:
        if entry.kind == "meter" and entry.text("meter") == meter:
            value = float(entry.text("value").replace(",", "."))
            if meter == "distance":
                value *= {"m": 1e-3, "km": 1.0, "": 1.0, "mi": 1.609344}[entry.text("unit")]
            found.append((entry.at, value))
    return sorted(found)


def _used(entries: Sequence[Entry], meter: str, start: datetime, until: datetime | None = None) -> float | None:
    """What ran since `start`: the latest reading less the last one before it, 0 where there is none (the meter counts
    from start-up). Counted so, it is rather too much than too little. None without a reading after `start`."""
    readings = _readings(entries, meter)
    after = [value for at, value in readings if at >= start and (until is None or at <= until)]
    before = [value for at, value in readings if at < start]
    return None if not after else max(after) - (before[-1] if before else 0.0)


def _opened(rule: FollowUpRule, entries: Sequence[Entry], start: datetime, at: datetime) -> bool:
    """Whether the window of some trigger had opened when it was done; true where the rule only says before what."""
    if rule.days is not None and at >= start + timedelta(days=rule.days * (1 - rule.early)):
        return True
    limits = {"hours": rule.hours, "distance": rule.distance and rule.distance / 1000, "cycles": rule.cycles}
    asked = {meter: limit for meter, limit in limits.items() if limit is not None}
    if not asked:
        return rule.days is None
    return any((_used(entries, meter, start, at) or 0.0) >= limit * (1 - rule.early) for meter, limit in asked.items())


def _day(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"


def _span(days: float) -> str:
    return f"{days:g} d" if days >= 2 else f"{days * 24:.3g} h"


def _words(
    rule: FollowUpRule,
    state: State,
    start: datetime | None,
    triggers: Sequence[Trigger],
    done: Entry | None,
    early: Sequence[Entry],
) -> str:
    whose = f", owner {rule.owner}" if rule.owner else ""
    if done is not None:
        return f"{rule.name}: {state} on {_day(done.at)} by {done.by}: {done.text('found')}"
    if start is None:
        return f"{rule.name}: counted from {rule.counted_from}, which is not known yet{whose}"
    said = "; ".join(trigger.text for trigger in triggers) or f"from {_day(start)}"
    more = "".join(f"; {e.by} did it on {_day(e.at)}, before its window opened, which closes nothing" for e in early)
    return f"{rule.name}: {state} ({said}){more}{whose}"


def required(rule: FollowUpRule) -> str:
    """The rule itself in words, the same whatever has happened since: what a release names and a signature covers."""
    shares = []
    if rule.days is not None:
        shares.append(f"{_span(rule.days)}")
    for limit, unit in ((rule.hours, "running hours"), (rule.cycles, "cycles")):
        if limit is not None:
            shares.append(f"{limit:g} {unit}")
    if rule.distance is not None:
        shares.append(f"{rule.distance / 1000:g} km")
    after = f"at the earliest of {', '.join(shares)}" if len(shares) > 1 else f"at {shares[0]}" if shares else ""
    after += f" after the {rule.counted_from}" if shares else ""
    window = f", window {100 * rule.early:g} % early to {100 * rule.late:g} % late" if rule.early or rule.late else ""
    before = f"{', and ' if shares else ''}before {rule.before}" if rule.before else ""
    owner = f"; owner: {rule.owner}" if rule.owner else ""
    source = f" ({rule.source})" if rule.source else ""
    return f"{rule.kind}: {rule.name}: due {after}{window}{before}{owner}{source}"
