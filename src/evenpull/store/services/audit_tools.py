"""Tools in an audit: counters reconciled, readings at issue and return against records, clocks under control."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from django.db.models import Count, Max, Min

from evenpull.ledger.clocks import contacts_of
from evenpull.ledger.entry import Entry
from evenpull.store.models import Mention, Pull
from evenpull.store.services import facts, readings
from evenpull.store.services.around import entries_about, entry_of
from evenpull.store.services.index import name_of

ON_A_PAGE = 50


@dataclass(frozen=True)
class MemoryRow:
    """One memory of a tool: `span` readings from `first` to `last`, of which `records` and `unread` are here."""

    tool: str
    epoch: str
    first: int
    last: int
    records: int
    unread: int

    @property
    def span(self) -> int:
        return self.last - self.first + 1

    @property
    def missing(self) -> int:
        return max(0, self.span - self.records - self.unread)


@dataclass(frozen=True)
class MemoryPage:
    rows: tuple[MemoryRow, ...]
    after: str | None  # goes on after this tool


def memories(after: str = "") -> MemoryPage:
    """Memories of tools with their counters, by serial; the tool's own page names the counters that are missing."""
    tools = _tools(after)
    shown = tools[:ON_A_PAGE]
    found = (
        readings.counting(Pull.objects.filter(tool__in=shown, counter__isnull=False)).order_by().values("tool", "epoch")
        .annotate(first=Min("counter"), last=Max("counter"), n=Count("counter", distinct=True))
    )  # fmt: skip
    unread = _unread(shown)
    rows = [
        MemoryRow(one["tool"], one["epoch"], one["first"], one["last"], one["n"],
                  unread[name_of(one["tool"]), one["epoch"]])
        for one in sorted(found, key=lambda one: (one["tool"], one["epoch"]))
    ]  # fmt: skip
    return MemoryPage(tuple(rows), shown[-1] if len(tools) > ON_A_PAGE else None)


def _unread(tools: Sequence[str]) -> Counter[tuple[str, str]]:
    """Tool as looked up and memory -> how many of its rows could not be read, of readings that count."""
    found = Mention.objects.filter(kind="unread", name__in=[name_of(tool) for tool in tools])
    rows = set(found.values_list("name", "unit", "seq"))
    lost = set[int]()
    if readings.are_some():
        held = facts.by_seq({seq for _, _, seq in rows})
        lost = readings.rows_withdrawn((fact.seq, str(fact.data["file_sha256"])) for fact in held)
    return Counter((name, unit) for name, unit, seq in rows if seq not in lost)


def _tools(after: str) -> list[str]:
    """One page of tools that records name, and one more; each is one step in the index, however many records it has."""
    found: list[str] = []
    while len(found) <= ON_A_PAGE:
        after = Pull.objects.filter(tool__gt=after).order_by("tool").values_list("tool", flat=True).first() or ""
        if not after:
            break
        found.append(after)
    return found


@dataclass(frozen=True)
class Trip:
    """A tool given out and given back with the readings of its counter: so many pulls, so many records of them."""

    to: str
    issued_at: datetime
    returned_at: datetime | None
    epoch: str
    out: int | None
    back: int | None
    pulls: int | None
    records: int | None


def trips(serial: str, entries: Sequence[Entry]) -> tuple[Trip, ...]:
    """Issues and returns of one tool, the newest first; `entries` are those about it."""
    made: list[Trip] = []
    open_one: Entry | None = None
    for entry in sorted(entries, key=lambda e: (e.at, e.seq)):
        if entry.kind == "tool issued":
            if open_one is not None:
                made.append(_trip(serial, open_one, None))
            open_one = entry
        elif entry.kind == "tool returned" and open_one is not None:
            made.append(_trip(serial, open_one, entry))
            open_one = None
    if open_one is not None:
        made.append(_trip(serial, open_one, None))
    return tuple(reversed(made))


def _trip(serial: str, issued: Entry, returned: Entry | None) -> Trip:
    epoch = issued.text("epoch")
    out = _whole(issued.text("counter"))
    back = None if returned is None or returned.text("epoch") != epoch else _whole(returned.text("counter"))
    pulls = records = None
    if out is not None and back is not None and back >= out:
        pulls = back - out
        between = Pull.objects.filter(tool=serial[:100], epoch=epoch[:100], counter__gt=out, counter__lte=back)
        records = readings.counting(between).values("counter").distinct().count()
    until = None if returned is None else returned.at
    return Trip(issued.text("to"), issued.at, until, epoch, out, back, pulls, records)


def _whole(text: str) -> int | None:
    return int(text) if text else None


@dataclass(frozen=True)
class ClockRow:
    """The clock of one tool: `offset` in s is true less shown time at the last contact, None without one."""

    tool: str
    contacts: int
    last: datetime | None
    offset: float | None
    sets: int


@dataclass(frozen=True)
class ClockPage:
    rows: tuple[ClockRow, ...]
    after: str | None


def clock_page(after: str = "") -> ClockPage:
    """Tools with records, by serial: how often each clock was compared, and what it showed last."""
    tools = _tools(after)
    shown = tools[:ON_A_PAGE]
    about = _entries(shown)
    return ClockPage(
        tuple(_clock(tool, about.get(name_of(tool), [])) for tool in shown),
        shown[-1] if len(tools) > ON_A_PAGE else None,
    )


def _entries(tools: Iterable[str]) -> dict[str, list[Entry]]:
    """Entries about clocks, by the tool; those about all these tools in one go."""
    names = [name_of(tool) for tool in tools]
    marks = Mention.objects.filter(kind="entry", name__in=["clock contact", "clock set"])
    places = Mention.objects.filter(kind="tool", name__in=names, fold="", seq__in=marks.values("seq"))
    found: dict[str, list[Entry]] = {}
    for fact in facts.by_seq(places.values_list("seq", flat=True)):
        entry = entry_of(fact)
        found.setdefault(name_of(entry.name), []).append(entry)
    return found


def _clock(tool: str, entries: Sequence[Entry]) -> ClockRow:
    contacts = contacts_of(entries)
    last = contacts[-1] if contacts else None
    at = None if last is None else datetime.fromtimestamp(last.true, UTC)
    offset = None if last is None else last.true - last.shown
    return ClockRow(tool, len(contacts), at, offset, sum(e.kind == "clock set" for e in entries))


def clock_entries(serial: str) -> ClockRow:
    """The clock of one tool."""
    return _clock(serial, entries_about("tool", serial))
