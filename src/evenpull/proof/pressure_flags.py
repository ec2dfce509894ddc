"""Fasteners that hold the pressure of the joint and were opened, as flags."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.intake.record import Tightening
from evenpull.ledger.words import fasteners
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.moments import Moment, before
from evenpull.proof.placing import undoes
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import record_label, unit_label
from evenpull.proof.undone import UNDOING, moment_of


def flag_never_loosened(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, book: FlagBook
) -> None:
    """One flag for each entry and each record that undid a fastener of `gates.never_loosen`. It names no place of the
    matrix: a decision on it says nothing on a pull."""
    never = plan.spec.gates.never_loosen
    for entry in around.entries if never else ():
        if entry.kind in UNDOING:
            numbers = [number for number in never if number in entry.fasteners or not entry.fasteners]
            what = f"{entry.kind} on {entry.at:%Y-%m-%d %H:%M} UTC by {entry.by} ({entry.text('why')})"
            if numbers:
                _add(plan, around, book, entry.unit, numbers, what, moment_of(entry), (), f"#{entry.id}")
    for record in records if never else ():
        if record.fastener in never and (undoes(record) or record.event == "replace"):
            word = {"remove": "removed", "replace": "replaced"}.get(record.event, "loosened")
            who = f" by {record.operator}" if record.operator.strip() else ""
            what = f"{word}{who} ({record_label(record)})"
            unit = record.unit_id if plan.spec.series else ""
            moment = judge.moments[record.key]
            _add(plan, around, book, unit, [record.fastener], what, moment, (record.key,), None)


def _add(
    plan: Plan, around: Surroundings, book: FlagBook, unit: str, numbers: list[int], what: str, moment: Moment,
    records: tuple[str, ...], name: str | None,
) -> None:  # fmt: skip
    stated = [e for e in around.entries if e.kind == "isolation confirmed" and before(moment_of(e), moment)]
    said = "no isolation is stated that is known to be earlier"
    if stated:
        last = max(stated, key=lambda e: (e.at, e.seq))
        said = (
            f"isolation as stated before: {last.text('isolation')}, permit {last.text('permit')}, no energy proven by "
            f"{last.text('proven_by')} ({last.text('how')})"
        )
    label = unit_label(plan.spec, unit) if unit else ""
    one = len(numbers) == 1
    book.add(
        "not to be loosened",
        f"{label + ', ' if label else ''}{fasteners(numbers)} hold{'s' if one else ''} the pressure and "
        f"{'was' if one else 'were'} {what}; {said}. Never while the joint is under pressure: the engineer who answers "
        "for the joint decides, under the rules of the site",
        blocking=True,
        unit=unit,
        fastener=numbers[0] if one else None,
        records=records,
        name=name,
    )
