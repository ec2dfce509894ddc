"""Records that lack fields of the minimum set, times that cannot be, corrections and late entries, as flags."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import timedelta

from evenpull.intake.record import Tightening
from evenpull.ledger.corrections import Corrected
from evenpull.ledger.people import names_nobody
from evenpull.ledger.words import fasteners, known, stated
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook, Place
from evenpull.proof.judging import Judge
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import at_place, counted
from evenpull.proof.unit_work import CellWork

AHEAD = timedelta(hours=1)  # between the clocks of tool and receiver; common practice, no source


def lacking(record: Tightening, plan: Plan) -> tuple[str, ...]:
    """Fields of the minimum set that a record does not state and that no other flag says already (tool, torque and
    angle have their own). A counter may tell the order and the day, but not when it was made."""
    found = []
    if names_nobody(record.operator):
        found.append("who worked")
    if record.time is None and not record.time_text.strip():
        found.append("when it was made")
    if record.torque is not None and not record.torque_unit:
        found.append("the unit of the torque")
    if record.pass_number is None and record.event == "unstated" and len(plan.passes) > 1:
        found.append("the pass or the kind of event")
    return tuple(found)


def flag_proven(
    plan: Plan,
    records: Sequence[Tightening],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> None:
    """Add the flags of this module. `work` holds the places of all units, judged; verdicts are lowered where the record
    that counts does not say enough."""
    _lacking(plan, work, book)
    _future(plan, records, around, work, book)
    for entry in around.entries:
        if entry.late:
            times = f"written {entry.written_at:%Y-%m-%d %H:%M} UTC for {entry.at:%Y-%m-%d %H:%M} UTC"
            late = f"{stated(entry)}; {times}; {known(entry)}"
            book.add("late entry", late, blocking=False, name=entry.id)


def _lacking(plan: Plan, work: Sequence[CellWork], book: FlagBook) -> None:
    sets: dict[tuple[str, ...], list[CellWork]] = defaultdict(list)
    for cell in work:
        if cell.proving is not None and (names := lacking(cell.proving, plan)):
            sets[names].append(cell)
            cell.lower_to("not judged", f"not proven: the record does not state {' nor '.join(names)}")
    for names, cells in sorted(sets.items()):
        keys = [cell.proving.key for cell in cells if cell.proving is not None]
        where = fasteners([cell.fastener for cell in cells])
        verb = "does" if len(cells) == 1 else "do"
        book.add(
            "not proven",
            f"{counted(len(cells), 'record')} on {where} {verb} not state {' nor '.join(names)}: without it "
            "the tightening is not proven",
            blocking=True,
            records=keys,
            places=[cell.place for cell in cells],
        )


def _future(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, work: Sequence[CellWork], book: FlagBook
) -> None:
    """A record that says it was made after it had been received was not made when it says."""
    where: dict[str, CellWork] = {record.key: cell for cell in work for record in cell.records}
    flagged = {key for flag in book.flags() if flag.code == "time in doubt" for key in flag.records}
    for record in records:
        received = around.received.get(record.file_sha256)
        if record.time is None or received is None or record.time <= received + AHEAD or record.key in flagged:
            continue
        cell = where.get(record.key)
        places: list[Place] = []
        text = f"made {record.time:%Y-%m-%d %H:%M} UTC by its own clock, but received {received:%Y-%m-%d %H:%M} UTC"
        if cell is not None:
            places.append(cell.place)
            cell.lower_to("not judged", text)
        unit = record.unit_id if plan.spec.series else ""
        book.add(
            "time in doubt",
            f"{at_place(plan.spec, unit, record.fastener, cell.one if cell else None)}: {text}",
            blocking=True,
            unit=unit,
            fastener=record.fastener,
            pass_number=cell.one.number if cell else None,
            records=[record.key],
            places=places,
        )


def flag_corrections(
    plan: Plan, corrections: Sequence[Corrected], work: Sequence[CellWork], book: FlagBook
) -> None:
    """Every correction as a note. One that does not fit its record blocks, for what was meant is not known; so does one
    that changes what a loosening opened: another person decides whether the open item falls away."""
    where = {record.key: cell for cell in work for record in cell.records}
    for one in corrections:
        cell = where.get(one.record)
        unit = cell.unit if cell is not None else ""
        place = at_place(plan.spec, unit, cell.fastener if cell else None, cell.one if cell else None)
        book.add(
            "corrected",
            f"{place or 'a record'}: {one.text}" + (f"; not applied: {one.fault}" if one.fault else "")
            + ("; before, it was a loosening" if one.opened else ""),
            blocking=bool(one.fault) or one.opened,
            unit=unit,
            fastener=cell.fastener if cell else None,
            pass_number=cell.one.number if cell else None,
            name=one.entry.id,
        )
