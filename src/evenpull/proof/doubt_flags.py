"""Records that look untrue (copied, too regular, too fast, too few, slips of writing), as flags with numbers."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan.model import Plan
from evenpull.proof.copies import flag_copies, flag_near, sheet_fingerprint
from evenpull.proof.counters import flag_gaps, gaps, missing_counters
from evenpull.proof.doubts import doubts
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.model import FlagCode
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import above, at_place, below
from evenpull.proof.unit_work import CellWork
from evenpull.proof.written import written
from evenpull.quantities import unit_shown
from evenpull.statistics.digits import decimal_shifts, transpositions

IN_CLASS_A: tuple[str, ...] = ("no variance", "digit preference")  # a note in the other classes

__all__ = ["flag_doubts", "gaps", "missing_counters", "sheet_fingerprint"]


def flag_doubts(
    plan: Plan,
    records: Sequence[Tightening],
    unread: Sequence[UnreadRow],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> None:
    """Add the flags of this module. `work` holds the places of all units, judged."""
    for cell in work:
        for record in cell.valid:
            _slips(plan, cell, record, book)
    flag_gaps(records, unread, around, book)
    flag_near(plan, records, around, book)
    flag_copies(plan, around, work, book)
    for doubt in doubts(plan, judge, work):
        keys = sorted(record.key for record in doubt.records)
        blocking = doubt.code not in IN_CLASS_A or plan.spec.joint_class == "A"
        book.add(doubt.code, doubt.text, blocking=blocking, records=keys)


def _slips(plan: Plan, cell: CellWork, record: Tightening, book: FlagBook) -> None:
    """A value outside its window that a slip of writing would explain."""
    lower, upper = cell.one.window(record.fastener)
    if record.torque is None or lower <= 0 or not (below(record.torque, lower) or above(record.torque, upper)):
        return
    where = at_place(plan.spec, cell.unit, cell.fastener, cell.one)
    unit = unit_shown(record.torque_unit) if record.torque_unit else ""
    shown = f"{record.torque_text or f'{record.torque:g}'} {unit}".strip()
    shifts = decimal_shifts(record.torque, lower, upper)
    if shifts:
        way = "right" if shifts[0] > 1 else "left"
        places = "one place" if shifts[0] in (10.0, 0.1) else "two places"
        text = f"{where}: {shown} would be inside the window with its decimal sign moved {places} to the {way}"
        _note(book, "decimal shift suspected", text, cell, record)
    found = written(record)
    if found is None:
        return
    for other in transpositions(found.digits):
        if lower <= float(other) * found.factor <= upper:
            text = (
                f"{where}: {shown} would be inside the window as {other}, two neighbouring digits exchanged (the "
                "difference is divisible by 9 in units of the last digit)"
            )
            _note(book, "digits transposed", text, cell, record)
            return


def _note(book: FlagBook, code: FlagCode, text: str, cell: CellWork, record: Tightening) -> None:
    book.add(
        code, text, blocking=False, unit=cell.unit, fastener=cell.fastener, pass_number=cell.one.number,
        records=[record.key],
    )  # fmt: skip
