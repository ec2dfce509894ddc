"""What is known about the order of records: by the counter within one tool, by the time else, nothing where neither is.

Each record gets a `Moment`: the earliest and latest instant at which it can have happened. A record whose own time is
missing or doubtful is enclosed by the sure times of its neighbours in the same tool's counter. An order between two
records is asserted only where it is known, so two records can be in no order at all.

Clocks of different tools are compared as they are, but only when they differ by more than CLOCK_MARGIN; a clock that
was read beside a trusted one is corrected first, and its uncertainty takes the place of the margin.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import accumulate
from types import MappingProxyType

from evenpull.intake.record import Tightening
from evenpull.ledger.clocks import Corrected

CLOCK_MARGIN = 60.0  # s between clocks of different tools; common practice, no source
TWICE = 3600.0  # s; an hour that occurred twice when the clocks went back
_NO_STREAM = ("", "")


@dataclass(frozen=True, slots=True)
class Moment:
    """`stream` is (tool, epoch) where a counter exists; `low`, `high` in seconds of the epoch, may be infinite."""

    stream: tuple[str, str] | None
    counter: int
    tool: str
    low: float
    high: float
    doubt: str  # why the record's own time is not relied on, "" when it is
    margin: float = CLOCK_MARGIN  # s to be kept against other clocks; 0 where the uncertainty is in low and high

    @property
    def sure(self) -> bool:
        return not self.doubt

    @property
    def bounded(self) -> bool:
        """Both ends are known, so that the day of use is known to lie between them."""
        return math.isfinite(self.low) and math.isfinite(self.high)


def before(one: Moment, other: Moment) -> bool:
    """Whether `one` is known to have happened before `other`."""
    if one.stream is not None and one.stream == other.stream:
        return one.counter < other.counter
    margin = 0.0 if one.tool and one.tool == other.tool else max(one.margin, other.margin)
    return one.high + margin < other.low


def clock_denies(one: Tightening, other: Tightening) -> bool:
    """The clocks put `one` after `other`, whatever the counter says (a counter that began again counts from 1)."""
    if one.time is None or other.time is None or one.time_doubt or other.time_doubt:
        return False
    return one.time > other.time


def sequence_key(moment: Moment, key: str) -> tuple[float, float, str, str, int, str]:
    """Sorts records into one sequence that contradicts no known order; the rest is settled by names, for no reason
    but to come out the same each time."""
    tool, epoch = moment.stream or _NO_STREAM
    return moment.low, moment.high, tool, epoch, moment.counter, key


def moments(
    records: Iterable[Tightening], corrected: Mapping[str, Corrected] = MappingProxyType({})
) -> dict[str, Moment]:
    """Moment of each record by its key. The records may be in any order; `corrected`: times by a clock model."""
    found: dict[str, Moment] = {}
    streams: dict[tuple[str, str], list[Tightening]] = defaultdict(list)
    for record in records:
        if record.tool and record.counter is not None:
            streams[record.tool, record.epoch].append(record)
        else:
            low, high = _own(record, corrected)
            found[record.key] = Moment(None, 0, record.tool, low, high, _own_doubt(record))
    for stream, members in streams.items():
        found.update(_stream(stream, members, corrected))
    return found


def _own_doubt(record: Tightening) -> str:
    return record.time_doubt or ("no time is stated" if record.time is None else "")


def _own(record: Tightening, corrected: Mapping[str, Corrected]) -> tuple[float, float]:
    if record.key in corrected:
        return corrected[record.key].low, corrected[record.key].high
    if record.time is None:
        return -math.inf, math.inf
    at = record.time.timestamp()
    return (at - TWICE, at + TWICE) if record.time_doubt else (at, at)


def _stream(
    stream: tuple[str, str], members: list[Tightening], corrected: Mapping[str, Corrected]
) -> dict[str, Moment]:
    ordered = sorted(members, key=lambda r: (r.counter or 0, _own(r, corrected), r.key))
    sure = [place for place, record in enumerate(ordered) if not _own_doubt(record)]
    kept = {sure[index] for index in longest_rising([_middle(_own(ordered[place], corrected)) for place in sure])}
    bounds = [
        _own(record, corrected) if place in kept or _own_doubt(record) else (-math.inf, math.inf)
        for place, record in enumerate(ordered)
    ]
    # what was counted later cannot have happened earlier
    lows = list(accumulate((low for low, _ in bounds), max))
    highs = list(accumulate((high for _, high in reversed(bounds)), min))[::-1]
    made = {}
    for place, record in enumerate(ordered):
        doubt = _own_doubt(record)
        if not doubt and place not in kept:
            doubt = f"the clock of {record.tool} does not fit its counter here"
        made[record.key] = Moment(
            stream, record.counter or 0, stream[0], lows[place], max(lows[place], highs[place]), doubt,
            0.0 if record.key in corrected else CLOCK_MARGIN,
        )  # fmt: skip
    return made


def _middle(bounds: tuple[float, float]) -> float:
    return (bounds[0] + bounds[1]) / 2


def longest_rising(values: list[float]) -> list[int]:
    """Places of a longest part of the values that never falls (patience sorting, O(n log n))."""
    tails: list[float] = []
    ends: list[int] = []
    previous: list[int] = []
    for place, value in enumerate(values):
        pile = bisect_right(tails, value)
        previous.append(ends[pile - 1] if pile else -1)
        if pile == len(tails):
            tails.append(value)
            ends.append(place)
        else:
            tails[pile], ends[pile] = value, place
    chain: list[int] = []
    place = ends[-1] if ends else -1
    while place >= 0:
        chain.append(place)
        place = previous[place]
    return chain[::-1]


class MomentSet:
    """Extremes of many moments, so that one record is compared with all of them at once."""

    def __init__(self, members: Iterable[Moment] = ()) -> None:
        # (tool, stream) -> [least counter, greatest counter, least low, greatest low, greatest high, greatest margin]
        self._parts: dict[tuple[str, tuple[str, str] | None], list[float]] = {}
        for member in members:
            self.add(member)

    def __bool__(self) -> bool:
        return bool(self._parts)

    def add(self, m: Moment) -> None:
        part = self._parts.setdefault((m.tool, m.stream), [math.inf, -math.inf, math.inf, -math.inf, -math.inf, 0.0])
        part[0], part[1] = min(part[0], m.counter), max(part[1], m.counter)
        part[2], part[3], part[4] = min(part[2], m.low), max(part[3], m.low), max(part[4], m.high)
        part[5] = max(part[5], m.margin)

    def all_before(self, m: Moment) -> bool:
        """Every member is known to have happened before `m`."""
        for (tool, stream), (_, greatest, _, _, high, margin) in self._parts.items():
            if stream is not None and stream == m.stream:
                if not greatest < m.counter:
                    return False
            elif not high + self._margin(tool, margin, m) < m.low:
                return False
        return True

    def all_after(self, m: Moment) -> bool:
        """`m` is known to have happened before every member."""
        for (tool, stream), (least, _, low, _, _, margin) in self._parts.items():
            if stream is not None and stream == m.stream:
                if not m.counter < least:
                    return False
            elif not m.high + self._margin(tool, margin, m) < low:
                return False
        return True

    def any_after(self, m: Moment) -> bool:
        """`m` is known to have happened before at least one member."""
        for (tool, stream), (_, greatest, _, low, _, margin) in self._parts.items():
            if stream is not None and stream == m.stream:
                if m.counter < greatest:
                    return True
            elif m.high + self._margin(tool, margin, m) < low:
                return True
        return False

    @staticmethod
    def _margin(tool: str, margin: float, m: Moment) -> float:
        return 0.0 if tool and tool == m.tool else max(margin, m.margin)
