"""Everything that the records of one joint show, as cells and flags. Dispositions come later."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.ledger.clocks import clocks
from evenpull.ledger.corrections import Corrected
from evenpull.ledger.machine import FastenerState
from evenpull.ledger.words import fasteners
from evenpull.paper.cross import cross
from evenpull.plan.model import Plan, Tool
from evenpull.proof.cell_flags import Grouped, flag_cells, flag_fastener
from evenpull.proof.condition_flags import flag_conditions
from evenpull.proof.curve_flags import flag_curves
from evenpull.proof.doubt_flags import flag_doubts, flag_unplaced_slips
from evenpull.proof.flags import FlagBook, tail_of
from evenpull.proof.gate_flags import flag_gates
from evenpull.proof.joint_flags import flag_clock_events, flag_clocks, flag_joint, flag_units
from evenpull.proof.judging import Judge
from evenpull.proof.ledger_flags import flag_ledger
from evenpull.proof.model import Cell, Flag, GateResult, PassSummary
from evenpull.proof.moments import moments
from evenpull.proof.movement import moved
from evenpull.proof.pressure_flags import flag_never_loosened
from evenpull.proof.proven_flags import flag_corrections, flag_proven
from evenpull.proof.resting import flag_withdrawn
from evenpull.proof.reviewed import flag_reviews
from evenpull.proof.sequence import Followed, Mixing, followed, mixing
from evenpull.proof.surroundings import NOTHING_ELSE, Surroundings
from evenpull.proof.texts import at_place, counted, pass_label, some, unit_label
from evenpull.proof.undone import undone_by_entries
from evenpull.proof.unit_work import CellWork, UnitWork, lay_out
from evenpull.statistics import describe


@dataclass(frozen=True)
class Examined:
    cells: tuple[Cell, ...]
    flags: tuple[Flag, ...]
    summaries: tuple[PassSummary, ...]
    units: tuple[str, ...]
    judge: Judge
    overloaded: frozenset[str]  # records that may have harmed a fastener which was not loosened or replaced since
    gates: tuple[GateResult, ...]
    states: tuple[FastenerState, ...]


def examine(
    plan: Plan,
    records: Sequence[Tightening],
    unread: Sequence[UnreadRow],
    register: Iterable[Tool] = (),
    around: Surroundings = NOTHING_ELSE,
    corrections: Sequence[Corrected] = (),
) -> Examined:
    """Lay the records (as corrected) out and flag what is missing, doubled, early, moved, or not as specified.

    `records` in any order, each source key once, all of this joint.
    """
    book = FlagBook(plan.spec.id)
    told = clocks(records, around.tools)
    judge = Judge(plan, moments(records, told.times), register, around.revisions, around.fit)
    by_unit: dict[str, dict[int, list[Tightening]]] = defaultdict(lambda: defaultdict(list))
    series = plan.spec.series is not None
    if not series:
        by_unit[""] = defaultdict(list)
    for record in records:
        if series and not record.unit_id:
            continue
        by_unit[record.unit_id if series else ""][record.fastener].append(record)
    flag_units(plan, records, book)
    units = tuple(sorted(by_unit))
    grouped = Grouped()
    work: list[CellWork] = []
    order: dict[int, list[tuple[Followed, Mixing]]] = defaultdict(list)
    clashes = _clashes(records)
    clashing = {record.key for found in clashes for record in found}
    for name in units:
        unit = lay_out(plan, name, by_unit[name], judge, undone_by_entries(plan, name, around))
        _flag_unknown(plan, name, by_unit[name], book)
        for number, one in unit.fasteners.items():
            flag_fastener(plan, name, number, one, judge, book)
            flag_unplaced_slips(plan, name, number, (record for record, _, _ in one.placed.untold), book)
        for cell in unit.cells():
            flag_cells(plan, cell, judge, book, grouped, clashing)
        _flag_movement(plan, unit, judge, book)
        _flag_order(plan, unit, judge, book, order)
        work.extend(unit.cells())
    _flag_clashes(plan, clashes, work, book)
    _flag_cards(plan, records, work, book)
    grouped.flag(plan, book)
    flag_clocks(plan, records, judge, work, book)
    flag_clock_events(told.events, book)
    flag_joint(plan, records, unread, around, book)
    flag_proven(plan, records, around, judge, work, book)
    flag_withdrawn(around, book)
    flag_reviews(around, book)
    flag_corrections(plan, corrections, work, book)
    flag_doubts(plan, records, unread, around, judge, work, book)
    flag_never_loosened(plan, records, around, judge, book)
    flag_conditions(plan, around, book)
    flag_curves(plan, around, book)
    states = flag_ledger(plan, records, around, judge, work, book)
    results = flag_gates(plan, records, around, judge, book)
    cells = tuple(
        Cell(w.unit, w.fastener, w.one.number, w.verdict, w.reason, w.proving, tuple(w.records), book.at(w.place))
        for w in work
    )
    overloaded = frozenset(r.key for w in work for r in w.valid if judge(r, w.one).overload)
    summaries = _summaries(plan, work, order)
    return Examined(cells, tuple(book.flags()), summaries, units, judge, overloaded, results, states)


def _clashes(records: Sequence[Tightening]) -> list[list[Tightening]]:
    """Different records with the same tool, memory and counter: one of them is not what it says. Nor are both when the
    memory differs but the counter and the time do not: that is one pull, named twice."""
    same: dict[tuple[str, str, int], list[Tightening]] = defaultdict(list)
    twice: dict[tuple[str, int, datetime], list[Tightening]] = defaultdict(list)
    for record in records:
        if record.tool and record.counter is not None:
            same[record.tool, record.epoch, record.counter].append(record)
            if record.time is not None:
                twice[record.tool, record.counter, record.time].append(record)
    across = [found for found in twice.values() if len({record.epoch for record in found}) > 1]
    return [found for found in (*same.values(), *across) if len(found) > 1]


def _flag_clashes(plan: Plan, clashes: list[list[Tightening]], work: Sequence[CellWork], book: FlagBook) -> None:
    at = {record.key: cell for cell in work for record in cell.records}
    for found in clashes:
        keys = sorted(record.key for record in found)
        cells = [at[key] for key in keys if key in at]
        names = {at_place(plan.spec, r.unit_id if plan.spec.series else "", r.fastener, None) for r in found}
        book.add(
            "conflicting record",
            f"{len(found)} different records have the number {found[0].counter} of {found[0].tool} "
            f"({some(sorted(names))}): which of them was the pull is not known",
            blocking=True,
            records=keys,
            places=sorted({cell.place for cell in cells}),
        )


def _flag_cards(plan: Plan, records: Sequence[Tightening], work: Sequence[CellWork], book: FlagBook) -> None:
    """Lines of cards that the memory of a tool contradicts."""
    at = {record.key: cell for cell in work for record in cell.records}
    for paper, tool, why in cross(records).differ:
        keys = sorted((paper.key, tool.key))
        place = at_place(plan.spec, paper.unit_id if plan.spec.series else "", paper.fastener, None)
        book.add(
            "card and tool differ",
            f"{place}, pass {paper.pass_number}: {why}: which of them was the pull is not known",
            blocking=True,
            records=keys,
            places=sorted({at[key].place for key in keys if key in at}),
        )


def _flag_unknown(plan: Plan, unit: str, records: dict[int, list[Tightening]], book: FlagBook) -> None:
    count = plan.spec.fasteners.count
    for fastener, found in records.items():
        if 1 <= fastener <= count:
            continue
        for record in found:
            book.add(
                "unknown fastener",
                f"{at_place(plan.spec, unit, fastener, None)}: the joint has {count} fasteners, so "
                "the record belongs to another number or another joint",
                blocking=True,
                unit=unit,
                fastener=fastener,
                pass_number=record.pass_number,
                records=[record.key],
            )


def _flag_movement(plan: Plan, unit: UnitWork, judge: Judge, book: FlagBook) -> None:
    for one in moved(plan, unit, judge):
        cell = one.cell
        book.add(
            "moved on check pass",
            f"{at_place(plan.spec, unit.unit, cell.fastener, cell.one)}: {one.text}",
            blocking=not one.settled,
            unit=unit.unit,
            fastener=cell.fastener,
            pass_number=cell.one.number,
            records=[one.record.key],
        )
        if not one.settled and cell.proving is one.record:
            cell.lower_to("not accepted", one.text)


def _flag_order(
    plan: Plan, unit: UnitWork, judge: Judge, book: FlagBook, order: dict[int, list[tuple[Followed, Mixing]]]
) -> None:
    procedure = plan.spec.procedure
    label = unit_label(plan.spec, unit.unit)
    head = f"{label}, " if label else ""
    prior = None
    for one in plan.passes:
        seen = followed(unit, one, judge)
        checked = [p for p in plan.passes if not p.check] if one.check and one is plan.passes[-1] else []
        mixed = mixing(unit, prior, one, judge, checked) if prior is not None else Mixing((), (), 0)
        order[one.number].append((seen, mixed))
        if seen.distance:
            out = [r.fastener for r in seen.out]
            book.add(
                "out of order",
                f"{head}{pass_label(one)}: {fasteners(out)} not in the planned order (d1 = "
                f"{seen.displaced} out of place, d2 = {seen.distance} to move)",
                blocking=procedure.strict_order,
                unit=unit.unit,
                fastener=out[0] if len(out) == 1 else None,
                pass_number=one.number,
                records=[r.key for r in seen.out],
                name="within " + tail_of([r.key for r in seen.out]),
            )
        if procedure.strict_order:
            _flag_unplaced(plan, unit, seen, one.number, judge, book)
        if mixed.early and prior is not None:
            early = [e.cell for e in mixed.early]
            keys = [c.proving.key for c in early if c.proving is not None]
            lacking = mixed.early[0].lacking
            late = (
                f"before the tightening had ended (d3 = {mixed.count}): after fastener {early[0].fastener}, "
                f"{counted(len(lacking), 'fastener')} had a pull of an earlier pass ({fasteners(lacking)})"
                if one.check
                else f"while {pass_label(prior)} was not complete (d3 = {mixed.count}): at fastener "
                f"{early[0].fastener}, {counted(len(lacking), 'fastener')} had none yet ({fasteners(lacking)})"
            )
            book.add(
                "out of order",
                f"{head}{fasteners([c.fastener for c in early])} had {pass_label(one)} {late}",
                blocking=procedure.strict_passes or one.check,
                unit=unit.unit,
                fastener=early[0].fastener if len(early) == 1 else None,
                pass_number=one.number,
                records=keys,
                places=[c.place for c in early],
                name="passes " + tail_of(keys),
            )
        if mixed.unknown and prior is not None and (procedure.strict_passes or one.check):
            keys = [c.proving.key for c in mixed.unknown if c.proving is not None]
            book.add(
                "time in doubt",
                f"{head}{fasteners([c.fastener for c in mixed.unknown])}: neither time nor counter tells whether "
                f"{pass_label(one)} came after {pass_label(prior)}, and the order is binding here",
                blocking=True,
                unit=unit.unit,
                fastener=mixed.unknown[0].fastener if len(mixed.unknown) == 1 else None,
                pass_number=one.number,
                records=keys,
                places=[c.place for c in mixed.unknown],
                name="passes " + tail_of(keys),
            )
        if mixed.never and mixed.pulls and prior is not None:
            book.add(
                "pass not complete",
                f"{head}{pass_label(one)} has {counted(mixed.pulls, 'record')}, but "
                f"{pass_label(prior)} has never been complete: nothing accepted on {fasteners(mixed.never)} "
                f"(d3 = {mixed.count})",
                blocking=False,
                unit=unit.unit,
                pass_number=one.number,
            )
        prior = one


def _flag_unplaced(plan: Plan, unit: UnitWork, seen: Followed, number: int, judge: Judge, book: FlagBook) -> None:
    for record in (*seen.unplaced, *seen.tied):
        cell = unit.fasteners[record.fastener].cells[number]
        why = judge.moments[record.key].doubt or "the tool has other pulls of the same time, and no counter"
        text = f"its place in the order is not known ({why})"
        book.add(
            "time in doubt",
            f"{at_place(plan.spec, unit.unit, record.fastener, cell.one)}: {text}, and the order is binding here",
            blocking=True,
            unit=unit.unit,
            fastener=record.fastener,
            pass_number=number,
            records=[record.key],
            name="order " + record.key,
        )
        cell.lower_to("not judged", text)


def _summaries(
    plan: Plan, work: Sequence[CellWork], order: dict[int, list[tuple[Followed, Mixing]]]
) -> tuple[PassSummary, ...]:
    by_pass: dict[int, list[CellWork]] = defaultdict(list)
    for cell in work:
        by_pass[cell.one.number].append(cell)
    made = []
    for one in plan.passes:
        cells = by_pass[one.number]
        torques = [c.proving.torque for c in cells if c.proving is not None and c.proving.torque is not None]
        values = [torque for torque in torques if math.isfinite(torque)]
        found = describe(values) if values else None
        verdicts = [c.verdict for c in cells]
        seen = order[one.number]
        made.append(
            PassSummary(
                one.number,
                len(cells),
                verdicts.count("accepted"),
                verdicts.count("not accepted"),
                verdicts.count("not judged"),
                len(values),
                found.minimum if found else None,
                found.mean if found else None,
                found.maximum if found else None,
                found.deviation if found else None,
                sum(f.displaced for f, _ in seen),
                sum(f.distance for f, _ in seen),
                sum(m.count for _, m in seen),
            )
        )
    return tuple(made)
