"""Records that look untrue (copied, too regular, too fast, too few, slips of writing), as flags with numbers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan.model import Plan
from evenpull.proof.copies import flag_copies, flag_near, sheet_fingerprint
from evenpull.proof.counters import flag_gaps, gaps, missing_counters
from evenpull.proof.doubts import doubts
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.model import FlagCode
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import above, at_place, below, pass_label, record_label
from evenpull.proof.unit_work import CellWork
from evenpull.proof.written import written
from evenpull.quantities import unit_shown, unit_slips
from evenpull.statistics.digits import decimal_shifts, transpositions

IN_CLASS_A: tuple[str, ...] = ("no variance", "digit preference")  # a note in the other classes

__all__ = ["flag_doubts", "flag_unplaced_slips", "gaps", "missing_counters", "sheet_fingerprint"]


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
    """A value outside its window that a slip of writing would explain; the judge looks for another unit."""
    lower, upper = cell.one.window(record.fastener)
    if record.torque is None or lower <= 0 or not (below(record.torque, lower) or above(record.torque, upper)):
        return
    where = at_place(plan.spec, cell.unit, cell.fastener, cell.one)
    for code, text in _written_slips(record, lower, upper, "the window"):
        book.add(
            code, f"{where}: {text}", blocking=False, unit=cell.unit, fastener=cell.fastener,
            pass_number=cell.one.number, records=[record.key],
        )  # fmt: skip


def flag_unplaced_slips(plan: Plan, unit: str, fastener: int, untold: Iterable[Tightening], book: FlagBook) -> None:
    """The same for records whose pass is not known, another unit included: a value in the window of no pass may be
    one of any pass, in another unit or with a slip of writing."""
    at = at_place(plan.spec, unit, fastener, None)
    for record in untold:
        windows = [(one, *one.window(fastener)) for one in plan.passes]
        torque = record.torque
        if torque is None or any(not below(torque, low) and not above(torque, high) for _, low, high in windows):
            continue
        found: dict[FlagCode, list[str]] = defaultdict(list)
        for one, lower, upper in windows:
            if lower <= 0:
                continue
            for code, text in _written_slips(record, lower, upper, f"the window of {pass_label(one)}"):
                found[code].append(text)
            for slip in unit_slips(torque, lower, upper, written_as=record.torque_unit or None)[:1]:
                found["unit slip suspected"].append(f"{slip.text} of {pass_label(one)}")
        for code, texts in found.items():
            book.add(
                code, f"{at}: {'; or '.join(texts)} ({record_label(record)})", blocking=False, unit=unit,
                fastener=fastener, records=[record.key],
            )  # fmt: skip


def _written_slips(record: Tightening, lower: float, upper: float, window: str) -> Iterator[tuple[FlagCode, str]]:
    """A decimal sign moved, two digits exchanged, that would bring the value into the window (N.m)."""
    torque = record.torque
    if torque is None:
        return
    unit = unit_shown(record.torque_unit) if record.torque_unit else ""
    shown = f"{record.torque_text or f'{torque:g}'} {unit}".strip()
    shifts = decimal_shifts(torque, lower, upper)
    if shifts:
        way = "right" if shifts[0] > 1 else "left"
        places = "one place" if shifts[0] in (10.0, 0.1) else "two places"
        yield (
            "decimal shift suspected",
            f"{shown} would be inside {window} with its decimal sign moved {places} to the {way}",
        )
    found = written(record)
    for other in () if found is None else transpositions(found.digits):
        if found is not None and lower <= float(other) * found.factor <= upper:
            yield (
                "digits transposed",
                f"{shown} would be inside {window} as {other}, two neighbouring digits exchanged (the difference is "
                "divisible by 9 in units of the last digit)",
            )
            return
