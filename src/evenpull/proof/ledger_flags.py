"""Open items, parts and recurrence as flags."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from hashlib import sha256

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.machine import Debt, FastenerState
from evenpull.ledger.parts import stated_in
from evenpull.ledger.words import fasteners
from evenpull.plan.model import PartRules, Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.gates import independent_check
from evenpull.proof.judging import Judge
from evenpull.proof.moments import Moment
from evenpull.proof.owed import walk
from evenpull.proof.placing import NOT_PROVING, undoes
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import at_place, some, unit_label
from evenpull.proof.undone import found_loose, moment_of, times_found
from evenpull.proof.unit_work import CellWork

TOUCHING = ("loosened", "removed", "disturbed", "as found", "checked", "follow-up done", "parts fitted",
            "drag measured", "protrusion seen")  # fmt: skip


def flag_ledger(
    plan: Plan,
    records: Sequence[Tightening],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> tuple[FastenerState, ...]:
    """The flags, and the state of each fastener; () where the joint asks for nothing, nothing was entered and no record
    undid anything. To be called once every verdict has been lowered that has to be: only what is accepted closes
    an open item."""
    _leaking(plan, records, around, judge, book)
    if not _concerned(plan, records, around):
        return ()
    blocked = {lot: mark for lot, entries in around.lots.items() if (mark := _blocked(entries))}
    states = walk(plan, records, around, judge, work, blocked)
    _open_items(plan, states, _said(plan, records, around, judge, book), book)
    faulty: dict[tuple[str, str], list[int]] = defaultdict(list)
    for state in states:
        for text in state.faults:
            faulty[state.unit, text].append(state.fastener)
    for (unit, text), numbers in sorted(faulty.items()):
        book.add(
            "part not fit",
            f"{fasteners(numbers)}: {text}",
            blocking=True,
            unit=unit,
            fastener=numbers[0] if len(numbers) == 1 else None,
            name=_name(numbers, text),
            places=[(unit, number, plan.passes[-1].number) for number in numbers] if plan.passes else (),
        )
    _again(plan, records, around, judge, book)
    return states


def _said(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, book: FlagBook
) -> set[tuple[str, str, int]]:
    """(what, unit, fastener) of the debts that another blocking flag says, which no decision closes before the work is
    done."""
    units = {r.unit_id for r in records} if plan.spec.series else {""}
    found = {
        ("tightening", flag.unit_id, flag.fastener) for flag in book.flags()
        if flag.code == "loosened later" and flag.blocking and flag.fastener is not None
    }  # fmt: skip
    if independent_check(plan, records, around, judge).state == "not met":
        numbers = range(1, plan.spec.fasteners.count + 1)
        found |= {("independent check", unit, number) for unit in units for number in numbers}
    return found


def _open_items(
    plan: Plan, states: Sequence[FastenerState], said: set[tuple[str, str, int]], book: FlagBook
) -> None:
    owed: dict[tuple[str, str, str], list[tuple[int, Debt]]] = defaultdict(list)
    for state in states:
        for debt in state.debts:
            if (debt.what, state.unit, state.fastener) not in said:
                owed[state.unit, debt.what, debt.text].append((state.fastener, debt))
    for (unit, what, text), found in sorted(owed.items()):
        numbers = [number for number, _ in found]
        label = unit_label(plan.spec, unit)
        by_cause: dict[str, list[int]] = defaultdict(list)
        for number, debt in found:
            if debt.cause:
                by_cause[debt.cause].append(number)
        causes = list(by_cause)
        told = [c if len(own) == len(found) else f"{fasteners(own)}: {c}" for c, own in by_cause.items()]
        since = f" (since: {some(told, 2)})" if causes else ""
        passes = plan.passes if what == "tightening" else ()
        book.add(
            "open item",
            f"{label + ', ' if label else ''}{fasteners(numbers)}: {text}{since}",
            blocking=True,
            unit=unit,
            fastener=numbers[0] if len(numbers) == 1 else None,
            name=_name(numbers, f"{what} {text} {causes}"),
            places=[(unit, number, one.number) for number in numbers for one in passes],
        )


def _name(numbers: Sequence[int], text: str) -> str:
    """Names the fasteners and what is said of them: a decision on one finding does not cover another."""
    return "#" + sha256(f"{sorted(numbers)} {text}".encode()).hexdigest()[:16]


def _concerned(plan: Plan, records: Sequence[Tightening], around: Surroundings) -> bool:
    if plan.spec.parts != PartRules() or plan.spec.gates.independent_check:
        return True
    if plan.spec.fasteners.condition == "used":
        return True
    if any(entries and _blocked(entries) for entries in around.lots.values()):
        return True
    if any(undoes(record) or record.event == "replace" or stated_in(record) for record in records):
        return True
    return any(entry.kind in TOUCHING for entry in around.entries)


def _blocked(entries: Sequence[Entry]) -> Entry | None:
    """The entry that blocks a lot, when the last one about it does."""
    marks = sorted((e for e in entries if e.kind in ("lot blocked", "lot unblocked")), key=lambda e: e.seq)
    return marks[-1] if marks and marks[-1].kind == "lot blocked" else None


def _leaks(entry: Entry) -> bool:
    """Whether an entry says that the joint leaked: by the state as found, or by a leak test that was not passed."""
    failed = entry.kind == "test" and entry.text("result") == "not passed" and "leak" in entry.text("test").casefold()
    return failed or (entry.kind == "as found" and entry.text("leaking") == "yes")


def _leaking(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, book: FlagBook
) -> None:
    """The same joint, or unit of a series, found leaking more than once."""
    found: dict[str, set[Moment]] = defaultdict(set)
    for entry in around.entries:
        if _leaks(entry):
            found[entry.unit if plan.spec.series else ""].add(moment_of(entry))
    for unit, moments in sorted(found.items()):
        own = [r for r in records if (not plan.spec.series or r.unit_id == unit) and not undoes(r)]
        pulls = [judge.moments[r.key] for r in own if r.event not in NOT_PROVING]
        count = times_found(list(moments), pulls)
        if count > 1:
            book.add(
                "leaking again",
                f"{unit_label(plan.spec, unit) if unit else 'the joint'} was found leaking {count} times "
                f"({_days(moments)} UTC): tightening once more is no repair; find out why. The engineer who answers "
                "for the joint decides",
                blocking=True,
                unit=unit,
                name=f"{count} times",
            )


def _days(moments: set[Moment]) -> str:
    stamps = sorted({(moment.low + moment.high) / 2 for moment in moments})
    return ", ".join(f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d %H:%M}" for at in stamps)


def _again(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, book: FlagBook
) -> None:
    """The same fastener found loose more than once."""
    series = plan.spec.series is not None
    found: dict[tuple[str, int], set[Moment]] = defaultdict(set)
    for entry in around.entries:
        for number in found_loose(entry):
            found[entry.unit if series else "", number].add(moment_of(entry))
    for (unit, number), moments in sorted(found.items()):
        pulls = [
            judge.moments[r.key] for r in records
            if r.fastener == number and (not series or r.unit_id == unit) and not undoes(r)
            and r.event not in NOT_PROVING
        ]  # fmt: skip
        count = times_found(list(moments), pulls)
        if count > 1:
            book.add(
                "loose again",
                f"{at_place(plan.spec, unit, number, None)} was found loose {count} times ({_days(moments)} UTC): "
                "stop, and find out why before it is tightened again; the engineer who answers for the joint decides",
                blocking=True,
                unit=unit,
                fastener=number,
                name=f"{count} times",
            )
