"""Open items, parts and recurrence as flags."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.machine import FastenerState
from evenpull.plan.model import PartRules, Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.ledger import Walk, debts_of, faults_of, found_loose, state_now, walks
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import fasteners, unit_label
from evenpull.proof.unit_work import CellWork

TOUCHING = ("loosened", "removed", "disturbed", "as found", "checked", "follow-up done", "parts fitted",
            "drag measured", "protrusion seen")  # fmt: skip
GATED = ("independent check",)  # said by its gate


def flag_ledger(
    plan: Plan,
    records: Sequence[Tightening],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> tuple[FastenerState, ...]:
    """The flags, and the state of each fastener; () where the joint asks for nothing and nothing was entered."""
    if not _concerned(plan, records, around):
        return ()
    blocked = {lot: why for lot, entries in around.lots.items() if (why := _blocked(entries))}
    owed: dict[tuple[str, str, str, str], list[Walk]] = defaultdict(list)
    faulty: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    states = []
    for walk in walks(plan, records, around, judge, work):
        debts = debts_of(walk)
        for debt in debts:
            owed[walk.unit, debt.what, debt.text, debt.cause].append(walk)
        for fault in faults_of(walk, blocked):
            faulty[walk.unit, fault.what, fault.text].append(walk.fastener)
        states.append(state_now(walk, debts))
    for (unit, what, text, cause), found in sorted(owed.items()):
        if what in GATED:
            continue
        numbers = [walk.fastener for walk in found]
        label = unit_label(plan.spec, unit)
        since = f" (since: {cause})" if cause and what != "tightening" else ""
        book.add(
            "open item",
            f"{label + ', ' if label else ''}{fasteners(numbers)}: {text}{since}",
            blocking=True,
            unit=unit,
            fastener=numbers[0] if len(numbers) == 1 else None,
            name=f"{what} {_named(numbers)} {cause}"[:150],
            places=[cell.place for walk in found for cell in walk.cells] if what == "tightening" else (),
        )
    for (unit, what, text), numbers in sorted(faulty.items()):
        book.add(
            "part not fit",
            f"{fasteners(numbers)}: {text}",
            blocking=True,
            unit=unit,
            fastener=numbers[0] if len(numbers) == 1 else None,
            name=f"{what} {_named(numbers)} {text}"[:150],
            places=[(unit, number, plan.passes[-1].number) for number in numbers] if plan.passes else (),
        )
    _again(plan, around, book)
    return tuple(states)


def _concerned(plan: Plan, records: Sequence[Tightening], around: Surroundings) -> bool:
    if plan.spec.parts != PartRules() or plan.spec.gates.independent_check or around.earlier_loose:
        return True
    if any(entries and _blocked(entries) for entries in around.lots.values()):
        return True
    return any(entry.kind in TOUCHING for entry in around.entries)


def _blocked(entries: Sequence[Entry]) -> str:
    """Why a lot is blocked, by the last entry about it; "" when it is not."""
    marks = sorted((e for e in entries if e.kind in ("lot blocked", "lot unblocked")), key=lambda e: e.seq)
    return f"{marks[-1].reason} ({marks[-1].by})" if marks and marks[-1].kind == "lot blocked" else ""


def _named(numbers: Sequence[int]) -> str:
    return "-".join(map(str, sorted(set(numbers))[:20]))


def _again(plan: Plan, around: Surroundings, book: FlagBook) -> None:
    """The same fastener found loose more than once."""
    times = {number: set(found) for number, found in around.earlier_loose.items()}
    for entry in around.entries:
        for number in found_loose(entry):
            times.setdefault(number, set()).add(entry.at)
    for number, found in sorted(times.items()):
        if len(found) > 1:
            days = ", ".join(f"{at:%Y-%m-%d %H:%M}" for at in sorted(found))
            book.add(
                "loose again",
                f"fastener {number} was found loose {len(found)} times ({days} UTC): stop, and find out why before it "
                "is tightened again; the engineer who answers for the joint decides",
                blocking=True,
                fastener=number,
                name=f"{len(found)} times",
            )

