"""Clocks of tools: offset and drift from the moments at which a tool's clock and a trusted clock were read together.

    contacts + raw times by counter --segments--> stretches of one clock --fit--> corrected time with its uncertainty

The raw time is never overwritten. Across a jump of the clock only the counter orders; a time without any contact stays
as it is, and the model says so.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry

DRIFT = 25e-6  # s/s; quartz clocks keep within about 1 min a month (23 ppm); from memory, not re-read
K = 2.0  # coverage factor of what is stated (GUM, JCGM 100 6.2)
MISFIT = 60.0  # s; a contact that is farther from its line shows that the clock was touched in between
SUMMER = 3600.0  # s
NEAR_CHANGE = timedelta(hours=36)  # a jump this near to a change of summer time is taken for it
SET_UNSEEN = "clock set, nobody noted when"
LONG_AGO = timedelta(days=300)  # a step back of more is a reset to a default date


@dataclass(frozen=True)
class Contact:
    """Seconds since 1970, UTC. `u` is the standard uncertainty of the comparison; `counter` None when not noted."""

    true: float
    shown: float
    u: float
    counter: int | None
    entry: str  # id of the entry


@dataclass(frozen=True)
class ClockEvent:
    """A jump of the clock between two counters of one memory of a tool."""

    tool: str
    epoch: str
    before: int  # counter of the last record before it
    after: int
    step: float  # s that the clock showed from one to the next; negative: backwards
    kind: str  # "summer time", "reset", "set", "jump"
    text: str


@dataclass(frozen=True)
class ClockModel:
    """True time = raw + o0 + r (raw - t0) on one stretch of one clock. `id` names model and inputs for good."""

    id: str
    tool: str
    epoch: str
    first: int  # counters of the stretch
    last: int
    contacts: tuple[Contact, ...]
    t0: float
    o0: float
    r: float
    covariance: tuple[tuple[float, float], tuple[float, float]]  # of (o0, r)
    words: str

    def correct(self, raw: float) -> tuple[float, float]:
        """(true time, half-width at k = 2) in s for a raw time. Beyond the contacts the bound of the drift is added."""
        x = raw - self.t0
        (a, b), (_, d) = self.covariance
        fit = K * math.sqrt(max(0.0, a + 2 * b * x + d * x * x))
        shown = [contact.shown for contact in self.contacts]
        outside = max(0.0, min(shown) - raw, raw - max(shown))
        return raw + self.o0 + self.r * x, fit + DRIFT * outside


@dataclass(frozen=True)
class Corrected:
    """What is known of the time of one record: between `low` and `high`, s since 1970."""

    low: float
    high: float
    model: str
    words: str


@dataclass(frozen=True)
class Clocks:
    """All that the contacts and the counters tell. `times` by the key of the record, only where a model exists."""

    times: Mapping[str, Corrected]
    models: tuple[ClockModel, ...]
    events: tuple[ClockEvent, ...]


def contacts_of(entries: Iterable[Entry]) -> tuple[Contact, ...]:
    """Contacts from the entries about one tool; one whose tool time cannot be told (a local time that did not exist) is
    left out."""
    found = []
    for entry in entries:
        if entry.kind != "clock contact":
            continue
        shown = _local(entry.text("tool_clock"), entry.text("zone"))
        if shown is None:
            continue
        true = datetime.fromisoformat(entry.text("true_clock")).timestamp()
        u = max(0.05, float(entry.text("uncertainty").replace(",", "."))) / K
        counter = entry.text("counter")
        found.append(Contact(true, shown, u, int(counter) if counter else None, entry.id))
    return tuple(sorted(found, key=lambda c: (c.true, c.entry)))


def _local(text: str, zone: str) -> float | None:
    try:
        when = datetime.fromisoformat(text.strip())
        if when.tzinfo is None:
            when = when.replace(tzinfo=ZoneInfo(zone))
        return when.timestamp()
    except (ValueError, ZoneInfoNotFoundError, OSError):
        return None


def offset_fit(contacts: Sequence[Contact]) -> tuple[float, float, float, tuple[tuple[float, float], ...]]:
    """(t0, o0, r, covariance of o0 and r) of o(t) = o0 + r (t - t0): least squares weighted by 1/u^2, t0 the weighted
    mean of the shown times (JCGM 100 H.3 with known variances). One contact: r = 0, its bound of drift as rectangular.
    Raises ValueError without contacts."""
    if not contacts:
        raise ValueError("no contact, so no offset")
    if len({c.shown for c in contacts}) == 1:
        weights = sum(1 / c.u**2 for c in contacts)
        o0 = sum((c.true - c.shown) / c.u**2 for c in contacts) / weights
        return contacts[0].shown, o0, 0.0, ((1 / weights, 0.0), (0.0, 0.0))
    w = np.array([1 / c.u**2 for c in contacts])
    t = np.array([c.shown for c in contacts])
    o = np.array([c.true - c.shown for c in contacts])
    t0 = float((w * t).sum() / w.sum())
    x = t - t0
    sxx = float((w * x * x).sum())
    return t0, float((w * o).sum() / w.sum()), float((w * x * o).sum() / sxx), (
        (1 / float(w.sum()), 0.0), (0.0, 1 / sxx),
    )  # fmt: skip


def clocks(records: Iterable[Tightening], about: Mapping[str, Sequence[Entry]]) -> Clocks:
    """Models, events and corrected times of all records. `about`: serial -> entries about the tool."""
    streams: dict[tuple[str, str], list[Tightening]] = defaultdict(list)
    for record in records:
        if record.tool and record.counter is not None and record.time is not None:
            streams[record.tool, record.epoch].append(record)
    times: dict[str, Corrected] = {}
    models: list[ClockModel] = []
    events: list[ClockEvent] = []
    for (tool, epoch), members in sorted(streams.items()):
        members.sort(key=lambda r: (r.counter or 0, r.key))
        entries = about.get(tool, ())
        marks = sorted(int(e.text("counter")) for e in entries if e.kind == "clock set" and e.text("counter"))
        stretches, found = _stretches(tool, epoch, members, marks)
        events += found
        contacts = contacts_of(entries)
        for stretch in stretches:
            mine = _contacts_in(contacts, stretch, len(stretches) == 1)
            if not mine:
                continue
            model = _model(tool, epoch, stretch, mine, events)
            models += [] if model is None else [model]
            coarse = 30.0 if _no_seconds(stretch) else 0.0
            for record in stretch:
                assert record.time is not None
                raw = record.time.timestamp()
                if record.time_doubt:
                    continue
                if model is None:
                    low, high = _somewhere(raw, mine)
                    times[record.key] = Corrected(low - coarse, high + coarse, SET_UNSEEN, events[-1].text)
                else:
                    best, half = model.correct(raw)
                    times[record.key] = Corrected(best - half - coarse, best + half + coarse, model.id, model.words)
    return Clocks(times, tuple(models), tuple(events))


def _stretches(
    tool: str, epoch: str, members: Sequence[Tightening], marks: Sequence[int]
) -> tuple[list[list[Tightening]], list[ClockEvent]]:
    """Members parted where the clock went back although the counter rose, and where somebody noted that it was set."""
    parts: list[list[Tightening]] = [[]]
    events: list[ClockEvent] = []
    last: Tightening | None = None
    for record in members:
        if last is not None:
            assert record.time is not None and last.time is not None
            step = (record.time - last.time).total_seconds()
            low, high = last.counter or 0, record.counter or 0
            marked = any(low < mark <= high for mark in marks)
            sure = not record.time_doubt and not last.time_doubt
            if marked or (sure and step < 0 and high > low):
                kind = "set" if marked else _kind(last, step)
                events.append(ClockEvent(tool, epoch, low, high, step, kind, _event_words(tool, low, high, step, kind)))
                parts.append([])
        parts[-1].append(record)
        if not record.time_doubt:
            last = record
    return [part for part in parts if part], events


def _kind(last: Tightening, step: float) -> str:
    if timedelta(seconds=-step) > LONG_AGO:
        return "reset"
    assert last.time is not None
    if -SUMMER <= step < 0 and _near_a_change(last.time, last.time_basis):
        return "summer time"
    return "jump"


def _near_a_change(at: datetime, zone: str) -> bool:
    """Whether the clocks of the zone were changed within a day and a half of this moment."""
    try:
        found = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    offsets = {(at + shift).astimezone(found).utcoffset() for shift in (-NEAR_CHANGE, timedelta(0), NEAR_CHANGE)}
    return len(offsets) > 1


def _event_words(tool: str, low: int, high: int, step: float, kind: str) -> str:
    size = f"{abs(step):,.0f} s {'back' if step < 0 else 'on'}"
    meaning = {
        "summer time": "the change of summer time, so the hour is told twice",
        "reset": "a reset to a default date, as after a flat battery",
        "set": "the clock was set, as entered",
        "jump": "the clock was set or failed",
    }[kind]
    return f"{tool}: from counter {low} to {high} its clock went {size}: {meaning}; across it only the counter orders"


def _contacts_in(contacts: Sequence[Contact], stretch: Sequence[Tightening], only: bool) -> tuple[Contact, ...]:
    """Contacts that belong to a stretch: by the counter where it was noted; by the time shown, or all when there is one
    stretch only."""
    first, last = stretch[0].counter or 0, stretch[-1].counter or 0
    sure = [r.time.timestamp() for r in stretch if r.time is not None and not r.time_doubt]
    found = []
    for contact in contacts:
        if contact.counter is not None:
            if only or first - 1 <= contact.counter <= last:
                found.append(contact)
        elif only or (sure and min(sure) - 60 <= contact.shown <= max(sure) + 60):
            found.append(contact)
    return tuple(found)


def _model(
    tool: str, epoch: str, stretch: Sequence[Tightening], contacts: tuple[Contact, ...], events: list[ClockEvent]
) -> ClockModel | None:
    """The model of one stretch; None, and an event, where its contacts show that the clock was set between them."""
    t0, o0, r, covariance = offset_fit(contacts)
    first, last = stretch[0].counter or 0, stretch[-1].counter or 0
    worst = max(abs(c.true - c.shown - o0 - r * (c.shown - t0)) for c in contacts)
    offsets = [c.true - c.shown for c in contacts]
    if worst > MISFIT or abs(r) > DRIFT + K * math.sqrt(covariance[1][1]):
        why = f"one reading is {worst:,.0f} s off any steady drift"
        if worst <= MISFIT:
            why = f"it would have to drift by {abs(r) * 1e6:,.0f} ppm, and a quartz clock keeps within {DRIFT * 1e6:g}"
        text = (
            f"{tool}: its clock was read {len(contacts)} times beside a trusted one, and {why}: it was set in between "
            f"and nobody noted when, so its times are known only to between {min(offsets):+,.0f} and "
            f"{max(offsets):+,.0f} s of what it showed"
        )
        events.append(ClockEvent(tool, epoch, first, last, max(offsets) - min(offsets), "jump", text))
        return None
    inputs = repr((tool, epoch, first, last, contacts)).encode()
    one = "1 contact" if len(contacts) == 1 else f"{len(contacts)} contacts"
    words = (
        f"clock of {tool}, counters {first} to {last}: {one}; "
        f"{abs(o0):.1f} s {'slow' if o0 > 0 else 'fast'} at {datetime.fromtimestamp(t0, UTC):%Y-%m-%d %H:%M} UTC"
        + (f", gaining {-r * 86400:+.2f} s a day" if r else f", drift taken as at most {DRIFT * 1e6:g} ppm")
    )
    name = f"clock {sha256(inputs).hexdigest()[:12]}"
    (a, b), (c, d) = covariance
    return ClockModel(name, tool, epoch, first, last, contacts, t0, o0, r, ((a, b), (c, d)), words)


def _somewhere(raw: float, contacts: Sequence[Contact]) -> tuple[float, float]:
    """Earliest and latest true time, s, of a raw time on a clock that was set once somewhere between its contacts: its
    offset is that of one of them, but for what it drifts until then."""
    lows = [c.true - c.shown - K * c.u - DRIFT * abs(raw - c.shown) for c in contacts]
    highs = [c.true - c.shown + K * c.u + DRIFT * abs(raw - c.shown) for c in contacts]
    return raw + min(lows), raw + max(highs)


def _no_seconds(stretch: Sequence[Tightening]) -> bool:
    whole = all(r.time is not None and r.time.second == 0 and r.time.microsecond == 0 for r in stretch)
    return whole and len(stretch) > 2
