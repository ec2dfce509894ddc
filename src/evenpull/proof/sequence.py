"""The order that was followed against the order that was planned: d1, d2 within a pass, d3 between passes.

d1  fasteners out of their planned position
d2  n less the longest part that was pulled in the planned order
d3  pulls of a pass made before the pass before it was complete on all fasteners

Fasteners pulled at the same time form one step; within a step no order is asked. Fasteners without a record are left
out of d1 and d2. d3 asserts an order only where it is known (see `moments`); a pass that has never been complete makes
every pull of the next one early. The last check pass is early as well when any fastener was tightened after it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass
from evenpull.proof.judging import Judge
from evenpull.proof.moments import MomentSet, before, longest_rising
from evenpull.proof.unit_work import CellWork, UnitWork


@dataclass(frozen=True)
class Followed:
    """The order within one pass of one unit."""

    sequence: tuple[int, ...]  # fasteners in the order of their first record
    unplaced: tuple[Tightening, ...]  # first records whose place in the order is not known
    tied: tuple[Tightening, ...]  # first records of several steps by one tool at one time, without a counter
    displaced: int  # d1
    distance: int  # d2
    out: tuple[Tightening, ...]  # first records outside the longest part in planned order


@dataclass(frozen=True)
class Early:
    """One pull made before the pass before it was complete: `lacking` fasteners had nothing accepted there yet."""

    cell: CellWork
    lacking: tuple[int, ...]


def followed(unit: UnitWork, one: Pass, judge: Judge) -> Followed:
    """d1 and d2 of one pass from the first record of each fastener."""
    firsts = [cell.records[0] for work in unit.fasteners.values() if (cell := work.cells[one.number]).records]
    step = {fastener: place for place, group in enumerate(one.order) for fastener in group}
    moments = judge.moments
    streams = {moments[r.key].stream for r in firsts}
    if len(streams) == 1 and None not in streams:
        placed = sorted(firsts, key=lambda r: (moments[r.key].counter, r.key))
    else:
        placed = [r for r in firsts if moments[r.key].sure]
        # at the same second the plan is given the benefit: an order is not asserted
        placed.sort(key=lambda r: (moments[r.key].low, step.get(r.fastener, -1), moments[r.key].counter, r.key))
    known = {r.key for r in placed}
    steps = [step.get(r.fastener, -1) for r in placed]
    expected = sorted(steps)
    kept = set(longest_rising([float(s) for s in steps]))
    return Followed(
        tuple(r.fastener for r in placed),
        tuple(r for r in firsts if r.key not in known),
        _tied(placed, step, judge),
        sum(1 for have, want in zip(steps, expected, strict=True) if have != want),
        len(placed) - len(kept),
        tuple(r for place, r in enumerate(placed) if place not in kept),
    )


def _tied(placed: Sequence[Tightening], step: dict[int, int], judge: Judge) -> tuple[Tightening, ...]:
    """One tool cannot pull two steps at once, so where it bears one time for several its order is not known."""
    same: dict[tuple[str, float], list[Tightening]] = defaultdict(list)
    for record in placed:
        moment = judge.moments[record.key]
        if moment.stream is None:
            same[record.tool, moment.low].append(record)
    return tuple(r for found in same.values() if len({step.get(r.fastener, -1) for r in found}) > 1 for r in found)


@dataclass(frozen=True)
class Mixing:
    """d3 of one pass of one unit: `early` where the order is known, `never` while the pass before is not complete."""

    early: tuple[Early, ...]
    never: tuple[int, ...]  # fasteners without an accepted record in the pass before
    pulls: int  # records that count in this pass
    unknown: tuple[CellWork, ...] = ()  # not known whether the same fastener had the pass before first

    @property
    def count(self) -> int:
        return self.pulls if self.never else len(self.early)


def mixing(unit: UnitWork, prior: Pass, one: Pass, judge: Judge, tightening: Sequence[Pass] = ()) -> Mixing:
    """Pulls of `one` before `prior` was complete. A fastener has had a pass from its first accepted record on; when it
    was loosened later, that does not make the pulls of others early. `tightening`: passes of which no record that
    counts may come after `one`, for the last check pass: it shows nothing about what was tightened after it."""
    first = {f: _first_accepted(work.cells[prior.number].records, prior, judge) for f, work in unit.fasteners.items()}
    never = tuple(f for f, record in first.items() if record is None)
    moments = judge.moments
    due = {f: [r] if r is not None else [] for f, r in first.items()}
    for other in tightening:
        for f, work in unit.fasteners.items():
            due[f] += work.cells[other.number].valid[-1:]
    latest = MomentSet(moments[r.key] for found in due.values() for r in found)
    early: list[Early] = []
    unknown: list[CellWork] = []
    cells = [c for work in unit.fasteners.values() if (c := work.cells[one.number]).proving is not None]
    for cell in cells:
        proving = cell.proving
        if proving is None:
            continue
        at = moments[proving.key]
        own = _first_accepted(unit.fasteners[cell.fastener].cells[prior.number].valid, prior, judge)
        own_late = own is not None and before(at, moments[own.key])
        if own_late or latest.any_after(at):
            lacking = (
                [f for f, found in due.items() if any(before(at, moments[r.key]) for r in found)]
                if len(early) < 3
                else []
            )
            if own_late and cell.fastener not in lacking:
                lacking.append(cell.fastener)
            early.append(Early(cell, tuple(sorted(lacking))))
        elif own is not None and not before(moments[own.key], at) and not moments[own.key].high < at.low:
            unknown.append(cell)  # between two tools the margin of their clocks is given to the work
    return Mixing(tuple(early), never, len(cells), tuple(unknown))


def _first_accepted(records: Sequence[Tightening], one: Pass, judge: Judge) -> Tightening | None:
    return next((record for record in records if judge(record, one).verdict == "accepted"), None)
