"""What else is known of fasteners that a review concerns: state of the joint, other tools, tests, stretch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from django.db.models import Q

from evenpull.instrument.deviation import Floats, Truths
from evenpull.ledger.entry import Entry
from evenpull.review import JointState, Other
from evenpull.review.touched import Ints, Small
from evenpull.store.models import Mention, Pull
from evenpull.store.services import facts, readings
from evenpull.store.services.around import entry_of
from evenpull.store.services.fact_kinds import ENTRY, RELEASE
from evenpull.store.services.index import UNDOING

SHIPPED, SERVICE, TEST, STRETCH = "handed over", "service", "test", "load read"
AT_ONCE = 500
WHOLE = 1_000


@dataclass(frozen=True, slots=True)
class Own:
    """The tightenings under review, arrays of one length; joints and units as their numbers."""

    joint: Ints
    unit: Ints
    fastener: Ints
    time: Floats
    seq: Ints


@dataclass(frozen=True, slots=True)
class Around:
    """Codes of JointState and of Other for each tightening; `undone`: another tool turned the fastener loose later."""

    state: Small
    other: Ints
    undone: Truths


def gather(folds: Sequence[str], units: Sequence[str], tools: Sequence[str], own: Own) -> Around:
    places, names = {fold: n for n, fold in enumerate(folds)}, {unit: n for n, unit in enumerate(units)}
    other = np.zeros(own.seq.size, np.int64)
    undone = np.zeros(own.seq.size, bool)
    if own.seq.size:
        undone |= _other_tools(places, names, tools, own, other)
        _entries(places, names, own, other)
    return Around(_states(places, names, own), other, undone)


def later(own: Own, joint: Ints, unit: Ints, fastener: Ints, time: Floats) -> Truths:
    """Which of the tightenings has one of these events on the same fastener after it. Where one of the two times is not
    known the event is not shown to be later."""
    found = np.zeros(own.seq.size, bool)
    if not joint.size or not own.seq.size:
        return found
    units = int(max(own.unit.max(), unit.max())) + 1
    numbers = int(max(own.fastener.max(), fastener.max())) + 1
    key = (joint * units + unit) * numbers + fastener
    keys, which = np.unique(key, return_inverse=True)
    last = np.full(keys.size, -np.inf)
    np.maximum.at(last, which, np.where(np.isnan(time), -np.inf, time))
    mine = (own.joint * units + own.unit) * numbers + own.fastener
    at = np.minimum(np.searchsorted(keys, mine), keys.size - 1)
    result: Truths = (keys[at] == mine) & (last[at] > own.time)
    return result


def _other_tools(
    places: dict[str, int], names: dict[str, int], tools: Sequence[str], own: Own, other: Ints,
) -> Truths:
    """Mark what other tools did afterwards; which tightenings another tool undid."""
    rows = list(_others(list(places), tools))
    rows = [row for row in rows if row[0] in places and row[1] in names]
    if not rows:
        return np.zeros(own.seq.size, bool)
    joint = np.array([places[row[0]] for row in rows], np.int64)
    unit = np.array([names[row[1]] for row in rows], np.int64)
    fastener = np.maximum(np.array([row[2] for row in rows], np.int64), 0)
    time = np.array([row[4] for row in rows], np.float64)
    event = np.array([row[3] for row in rows])

    def after(where: Truths) -> Truths:
        return later(own, joint[where], unit[where], fastener[where], time[where])

    loose = np.isin(event, UNDOING)
    residual = event == "residual check"
    other[after(residual)] |= Other.RESIDUAL
    other[after(~loose & ~residual & (event != "check-device pull"))] |= Other.SECOND_TOOL
    return after(loose)


def _others(folds: list[str], tools: Sequence[str]) -> Iterator[tuple[str, str, int, str, float | None]]:
    """Records of other tools on these joints that count."""
    names = ("fold", "unit", "fastener", "event", "time")
    known = sorted({tool[:100] for tool in tools})
    elsewhere = Pull.objects.exclude(tool__in=known)
    if not _any_other(known):
        return
    if len(folds) > WHOLE:
        mine = Pull.objects.filter(tool__in=known).order_by().values("fold").distinct()
        yield from readings.counting(elsewhere.filter(fold__in=mine)).order_by().values_list(*names).iterator(10_000)
        return
    for begin in range(0, len(folds), AT_ONCE):
        some = elsewhere.filter(fold__in=folds[begin : begin + AT_ONCE])
        yield from readings.counting(some).order_by().values_list(*names)


def _any_other(known: list[str]) -> bool:
    """Whether any record names another tool than these; two steps in the index for each gap between them."""
    gaps = [Q(tool__lt=known[0]), Q(tool__gt=known[-1])]
    gaps += [Q(tool__gt=a, tool__lt=b) for a, b in pairwise(known)]
    return any(Pull.objects.filter(gap).exists() for gap in gaps)


def _entries(places: dict[str, int], names: dict[str, int], own: Own, other: Ints) -> None:
    """Mark stretch that was read and tests that were passed after the tightening."""
    failed = set(Mention.objects.filter(kind="failed", name=TEST).values_list("seq", flat=True))
    for entry, fold in _of_kinds((TEST, STRETCH), places):
        if entry.kind == TEST and (entry.seq in failed or entry.text("result") != "passed"):
            continue
        mask = (own.joint == places[fold]) & ~(own.time > entry.at.timestamp())
        if entry.unit:
            mask &= own.unit == names.get(entry.unit, -1)
        if entry.fasteners:
            mask &= np.isin(own.fastener, entry.fasteners)
        other[mask] |= Other.TEST if entry.kind == TEST else Other.STRETCH


def _of_kinds(kinds: Sequence[str], places: dict[str, int]) -> Iterator[tuple[Entry, str]]:
    """Entries of these kinds on these joints."""
    found = Mention.objects.filter(kind="entry", name__in=kinds).exclude(fold="").values_list("seq", "fold")
    by_place = {seq: fold for seq, fold in found if fold in places}
    for fact in facts.by_seq(by_place):
        if fact.kind == ENTRY:
            yield entry_of(fact), by_place[fact.seq]


def _states(places: dict[str, int], names: dict[str, int], own: Own) -> Small:
    """Open, released or in service, handed over: what the ledger says of the joint, or of the unit of it."""
    of_joint = np.zeros(max(1, len(places)), np.int8)
    released = Mention.objects.filter(Q(kind="kind", name=RELEASE) | Q(kind="entry", name=SERVICE))
    for fold in set(released.order_by().values_list("fold", flat=True).distinct()):
        if fold in places:
            of_joint[places[fold]] = JointState.IN_SERVICE
    shipped = set(Mention.objects.filter(kind="entry", name=SHIPPED).values_list("fold", "unit"))
    for fold, unit in shipped:
        if fold in places and not unit:
            of_joint[places[fold]] = JointState.SHIPPED
    codes: Small = of_joint[own.joint]
    for fold, unit in shipped:
        if unit and fold in places and unit in names:
            codes[(own.joint == places[fold]) & (own.unit == names[unit])] = JointState.SHIPPED
    return codes
