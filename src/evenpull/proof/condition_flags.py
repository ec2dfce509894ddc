"""What was found before the tightening and speaks against it, as flags: faces that are not in order, parts that the
fasteners have to pull together."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.ledger.entry import Entry
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import unit_label


def flag_conditions(plan: Plan, around: Surroundings, book: FlagBook) -> None:
    """One flag for the last entry of a kind about each unit, where it says so; a later one takes its place."""
    for entry in _last(around.entries, "faces seen"):
        if entry.text("result") == "not in order":
            done = f"; done about it: {entry.text('done')}" if entry.text("done") else ""
            _add(plan, entry, f"gasket faces not in order: {entry.text('seen')}{done}", book)
    for entry in _last(around.entries, "alignment"):
        if entry.text("pulled_in") == "yes":
            sizes = [f"{name.replace('_', ' ')} {entry.text(name)}" for name in ("gap", "gap_least", "offset")
                     if entry.text(name)]  # fmt: skip
            words = f" ({', '.join(sizes)})" if sizes else ""
            what = f"the fasteners pulled the parts together{words}"
            _add(plan, entry, f"{what}: a part of their load holds the parts, not the joint", book)


def _last(entries: Sequence[Entry], kind: str) -> list[Entry]:
    """The last entry of a kind about each unit, by when it happened and then by its place in the log."""
    found = {entry.unit: entry for entry in sorted(entries, key=lambda e: (e.at, e.seq)) if entry.kind == kind}
    return [found[unit] for unit in sorted(found)]


def _add(plan: Plan, entry: Entry, text: str, book: FlagBook) -> None:
    label = f"{unit_label(plan.spec, entry.unit)}, " if entry.unit else ""
    said = f"{label}{text} (seen on {entry.at:%Y-%m-%d %H:%M} UTC, {entry.by})"
    book.add("found before tightening", said, blocking=True, unit=entry.unit, name=f"#{entry.id}")
