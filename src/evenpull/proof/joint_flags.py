"""Flags on the joint as a whole: units, clocks, unread rows, the specification itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.ledger.clocks import ClockEvent
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import at_place, record_label, some
from evenpull.proof.unit_work import CellWork

RAW_SHOWN = 120


def of_joint(plan: Plan, row: UnreadRow) -> bool:
    """The unread row names this joint."""
    return row.joint.strip().casefold() == plan.spec.id.casefold()


def flag_units(plan: Plan, records: Sequence[Tightening], book: FlagBook) -> None:
    if plan.spec.series is None:
        named: dict[str, list[str]] = defaultdict(list)
        for record in records:
            named[record.unit_id].append(record.key)
        if len(named) > 1:
            keys = sorted(key for unit, found in named.items() if unit for key in found)
            units = some([unit or "none" for unit in sorted(named)])
            book.add(
                "extra",
                f"the joint is one joint, but its records name different units of it ({units})",
                blocking=True,
                records=keys,
            )
        return
    for record in records:
        if not record.unit_id:
            book.add(
                "extra",
                f"fastener {record.fastener}: the record does not say which {plan.spec.series.unit_name} it "
                f"belongs to ({record_label(record)})",
                blocking=True,
                fastener=record.fastener,
                records=[record.key],
            )


def flag_clocks(
    plan: Plan, records: Sequence[Tightening], judge: Judge, work: Sequence[CellWork], book: FlagBook
) -> None:
    """Doubtful times that block nothing: where they do, they were flagged with the place they block."""
    flagged = {key for flag in book.flags() if flag.code == "time in doubt" for key in flag.records}
    where = {record.key: cell for cell in work for record in cell.records}
    for record in records:
        doubt = judge.moments[record.key].doubt
        if not doubt or record.key in flagged:
            continue
        cell = where.get(record.key)
        unit = record.unit_id if plan.spec.series else ""
        book.add(
            "time in doubt",
            f"{at_place(plan.spec, unit, record.fastener, cell.one if cell else None)}: {doubt} "
            f"({record_label(record)}); the order is taken from the counter where there is one",
            blocking=False,
            unit=unit,
            fastener=record.fastener,
            pass_number=cell.one.number if cell else None,
            records=[record.key],
        )


def flag_clock_events(events: Sequence[ClockEvent], book: FlagBook) -> None:
    """Jumps of a tool's clock, as notes: where they leave a day or a binding order unknown, that is flagged itself."""
    for event in events:
        memory = f", memory {event.epoch}" if event.epoch else ""
        name = f"{event.tool} {event.epoch} {event.before} {event.after} {event.kind}"[:150]
        book.add("clock event", event.text + memory, blocking=False, name=name)


def flag_joint(
    plan: Plan, records: Sequence[Tightening], unread: Sequence[UnreadRow], around: Surroundings, book: FlagBook
) -> None:
    """Specification, unread rows, drag."""
    stops: dict[str, list[str]] = defaultdict(list)
    for problem in plan.problems:
        # A certificate that has ended since forbids new work, not the work done while it held: each record is judged
        # by the certificate of its own day.
        if problem.severity == "stop" and problem.code != "no valid certificate":
            stops[problem.code].append(problem.text)
    for code, texts in stops.items():
        book.add("specification stop", " ".join(texts), blocking=True, name=code)
    seen: set[str] = set()
    for row in unread:
        name = f"{row.file_sha256[:16]}/{row.row}/{row.raw_sha256[:16]}"
        if not of_joint(plan, row) or name in seen:
            continue
        seen.add(name)
        raw = row.raw if len(row.raw) <= RAW_SHOWN else row.raw[:RAW_SHOWN] + " …"
        book.add(
            "unread row",
            f"row {row.row} of file {row.file_sha256[:8]} names this joint and could not be read: {row.reason} [{raw}]",
            blocking=True,
            name=name,
        )
    drag = plan.spec.target.prevailing_torque
    measured = any("drag" in r.particulars for r in records) or any(e.kind == "drag measured" for e in around.entries)
    if drag is not None and records and not measured and plan.spec.parts.drag_window is None:
        book.add(
            "prevailing not recorded",
            f"the target includes a drag of {drag.text}; the records do not show the drag of "
            "each fastener, so a nut that no longer locks is not seen here",
            blocking=False,
        )
