"""The tightenings that rest on an instrument in doubt, of the whole dossier in a few queries, as arrays.

Records of a reading that was withdrawn do not count. Records that turn a fastener loose, and pulls on a check device,
are counted and not reviewed: nothing rests on them but that the fastener no longer stands.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any

import numpy as np
from django.db.models import Q, QuerySet

from evenpull.equipment import Holdings
from evenpull.instrument.deviation import Floats, Truths
from evenpull.review import JointBasis, Other, Suspect, Touched
from evenpull.review.reach import named_part, reach, with_attachments
from evenpull.review.touched import Ints, standing_of
from evenpull.store.models import Mention, Pull
from evenpull.store.services import bases, beside, readings
from evenpull.store.services.bulk import fetched
from evenpull.store.services.index import UNDOING, name_of

COLUMNS = ("seq", "fold", "unit", "fastener", "pass_number", "event", "tool", "epoch", "counter", "time", "torque",
           "angle")  # fmt: skip
ASIDE = (*UNDOING, "check-device pull")
ATTACHED = ("multiplier", "adapter", "pump", "gauge")
MOST_TOOLS = 400  # of one query, below the limit of every database


@dataclass(frozen=True)
class Taken:
    """`touched` with the folds of its joints and what else is to be said: events set aside, bases that had to be made,
    joints whose description this version refuses, records that two instruments in doubt share."""

    touched: Touched
    folds: list[str]
    aside: dict[str, int]
    made: int
    refused: dict[str, str]
    shared: int


def query(tools: Iterable[str], start: float, end: float) -> QuerySet[Pull]:
    """The records of these tools that count, within a period; a time that is not known lies in every period."""
    within = Q(time__isnull=True) | Q(time__lte=end)
    if math.isfinite(start):
        within = Q(time__isnull=True) | (Q(time__gt=start) & Q(time__lte=end))
    return readings.counting(Pull.objects.filter(tool__in=[one[:100] for one in tools]).filter(within)).order_by()


def numbered(values: Sequence[Any]) -> tuple[Ints, list[Any]]:
    """Each value as its place in the list of the different ones."""
    known: defaultdict[Any, int] = defaultdict(count().__next__)
    codes = np.fromiter(map(known.__getitem__, values), np.int64, len(values))
    return codes, list(known)


def take(suspects: Sequence[Suspect], held: Holdings) -> Taken:
    """Everything that was tightened with what is in doubt. Every tightening turns clockwise: the files of joints know
    no left-hand thread, so a suspect turned the other way touches nothing."""
    turned = [(place, one) for place, one in enumerate(suspects) if one.direction == "clockwise"]
    reached = {place: reach(held, one.serial) for place, one in turned}
    rows, named = _rows(turned, reached, held)
    if not rows:
        return Taken(_nothing(), [], {}, 0, {}, 0)
    columns = list(zip(*rows, strict=True))
    del rows
    seq = np.array(columns[0], np.int64)
    joint, folds = numbered(columns[1])
    unit, units = numbered(columns[2])
    event, events = numbered(columns[5])
    tool, tools = numbered(columns[6])
    time, cycle = _floats(columns[9]), _floats(columns[8])
    fastener = np.maximum(np.array(columns[3], np.int64), 0)
    pass_number = np.nan_to_num(_floats(columns[4])).astype(np.int64)
    loose = np.isin(event, [n for n, name in enumerate(events) if name in UNDOING])
    loose |= np.isin(seq, _turned_loose())
    aside = loose | np.isin(event, [n for n, name in enumerate(events) if name in ASIDE])
    set_aside = dict(Counter(events[int(n)] if events[int(n)] in ASIDE else "turned loose" for n in event[aside]))
    at, suspect, ratio = _assigned(turned, reached, named, held, seq, tool, tools, time, ~aside)
    found = bases.of(folds)
    joints = [found.by_fold.get(fold) or JointBasis(fold, "") for fold in folds]
    own = beside.Own(joint[at], unit[at], fastener[at], time[at], seq[at])
    standing = standing_of(own.joint, own.unit, own.fastener, own.time, own.seq)
    around = beside.gather(folds, units, tools, own)
    undone = around.undone | beside.later(own, joint[loose], unit[loose], fastener[loose], time[loose])
    angle = _floats(columns[11])[at]
    touched = Touched(
        joints=joints, units=units, tools=tools, seq=own.seq, joint=own.joint, unit=own.unit, fastener=own.fastener,
        pass_number=pass_number[at], tool=tool[at], suspect=suspect, time=own.time,
        cycle=_cycles(cycle, columns[7])[at], torque=_floats(columns[10])[at], ratio=ratio,
        standing=standing & ~undone & ((around.other & Other.SECOND_TOOL) == 0), state=around.state,
        other=(around.other | _angles(joints, own.joint, angle)).astype(np.int8),
    )  # fmt: skip
    shared = int(own.seq.size - np.unique(own.seq).size) if len(turned) > 1 else 0
    return Taken(touched, folds, set_aside, found.made, found.refused, shared)


def _floats(values: Sequence[Any]) -> Floats:
    return np.array(values, np.float64)  # None becomes NaN


def _rows(
    turned: Sequence[tuple[int, Suspect]], reached: dict[int, dict[str, float]], held: Holdings,
) -> tuple[list[tuple[Any, ...]], dict[int, Ints]]:
    """The records, and of each suspect the places of those that name it as an attachment."""
    start = min((one.period.start for _, one in turned), default=0.0)
    end = max((one.period.end for _, one in turned), default=0.0)
    serials = sorted({serial for some in reached.values() for serial in some})
    rows: list[tuple[Any, ...]] = []
    for begin in range(0, len(serials), MOST_TOOLS):
        rows += fetched(query(serials[begin : begin + MOST_TOOLS], start, end), COLUMNS)
    named = {}
    for place, one in turned:
        item = held.items.get(one.serial)
        if item is not None and item.kind in ATTACHED:
            seqs = Mention.objects.filter(kind="tool", name=name_of(one.serial)).exclude(fold="").values("seq")
            named[place] = np.array(sorted(Pull.objects.filter(seq__in=seqs).values_list("seq", flat=True)), np.int64)
    have = {row[0] for row in rows} if named else set()
    for places in named.values():
        new = [int(seq) for seq in places if int(seq) not in have]
        for begin in range(0, len(new), MOST_TOOLS):
            within = Q(time__isnull=True) | (Q(time__gt=start) & Q(time__lte=end))
            if math.isinf(start):
                within = Q(time__isnull=True) | Q(time__lte=end)
            some = Pull.objects.filter(seq__in=new[begin : begin + MOST_TOOLS]).filter(within)
            rows += fetched(readings.counting(some).order_by(), COLUMNS)
        have |= set(new)
    return rows, named


def _turned_loose() -> Ints:
    """Places of records whose direction is loosening, whatever their event says; a few among many."""
    return np.array(sorted(Mention.objects.filter(kind="undone").values_list("seq", flat=True)), np.int64)


def _assigned(
    turned: Sequence[tuple[int, Suspect]], reached: dict[int, dict[str, float]], named: dict[int, Ints],
    held: Holdings, seq: Ints, tool: Ints, tools: Sequence[str], time: Floats, kept: Truths,
) -> tuple[Ints, Ints, Floats]:
    """Which record stands under which suspect, and with which ratio: three arrays of one length."""
    parts: list[tuple[Ints, Ints, Floats]] = []
    for place, one in turned:
        ratios = np.array([reached[place].get(serial, math.nan) for serial in tools])
        own = np.array([serial in reached[place] for serial in tools])
        mask, ratio = own[tool], ratios[tool]
        item = held.items.get(one.serial)
        if place in named:
            by_name = np.isin(seq, named[place])
            given = np.array([named_part(held, one.serial, serial) for serial in tools])
            ratio = np.where(by_name & ~mask, given[tool], ratio)
            mask = mask | by_name
        elif item is not None and item.drives:
            ratio = _with_named(held, one.serial, seq, tool, tools, ratio)
        at = np.flatnonzero(mask & kept & one.period.holds(time))
        parts.append((at, np.full(at.size, place, np.int64), ratio[at]))
    if not parts:
        return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0)
    at, suspect, ratio = (np.concatenate([part[n] for part in parts]) for n in range(3))
    return at.astype(np.int64), suspect.astype(np.int64), ratio


def _with_named(
    held: Holdings, serial: str, seq: Ints, tool: Ints, tools: Sequence[str], ratio: Floats,
) -> Floats:
    """The ratios where the record of the driver itself names attachments of its own."""
    own = np.array([one == serial[:100] for one in tools])
    if not own.any():
        return ratio
    pulls = Pull.objects.filter(tool=serial[:100]).values("seq")
    parts = defaultdict(list)
    for place, name in Mention.objects.filter(kind="tool", seq__in=pulls).exclude(fold="").values_list("seq", "name"):
        parts[place].append(name)
    if not parts:
        return ratio
    by_fold = {name_of(one): one for one in held.items}
    known: dict[tuple[str, ...], float] = {}
    found = ratio.copy()
    order = np.argsort(seq)
    for place, names in parts.items():
        where = int(np.searchsorted(seq[order], place))
        if where >= seq.size or seq[order[where]] != place or not own[tool[order[where]]]:
            continue
        key = tuple(sorted(names))
        if key not in known:
            known[key] = with_attachments(held, serial, key, by_fold)
        found[order[where]] = known[key]
    return found


def _cycles(cycle: Floats, epochs: Sequence[str]) -> Floats:
    """Counters; none where the tool counted through more than one memory, whose order nobody knows."""
    return cycle if len(set(epochs)) == 1 else np.full(cycle.shape, np.nan)


def _angles(joints: Sequence[JointBasis], joint: Ints, angle: Floats) -> Ints:
    """Whether an angle is on record, and within the window where the joint has one."""
    low = np.array([one.angle[0] if one.angle else np.nan for one in joints])[joint]
    high = np.array([one.angle[1] if one.angle else np.nan for one in joints])[joint]
    known = ~np.isnan(angle)
    within = known & (angle >= low) & (angle <= high)
    return np.where(within, Other.ANGLE_IN, np.where(known & np.isnan(low), Other.ANGLE, 0)).astype(np.int64)


def _nothing() -> Touched:
    whole, real, small = np.zeros(0, np.int64), np.zeros(0), np.zeros(0, np.int8)
    return Touched(
        joints=(), units=(), tools=(), seq=whole, joint=whole, unit=whole, fastener=whole, pass_number=whole,
        tool=whole, suspect=whole, time=real, cycle=real, torque=real, ratio=real, standing=np.zeros(0, bool),
        state=small, other=small,
    )  # fmt: skip
