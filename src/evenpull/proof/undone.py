"""What undid a fastener: loosened, removed, replaced, disturbed, found loose, found not in order.

Entries are instants with the uncertainty that their writer states; records have their moments. What is said of the
joint as a whole is said of each of its fasteners.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evenpull.intake.record import Tightening
from evenpull.ledger.check import fastener_numbers
from evenpull.ledger.entry import Entry
from evenpull.plan.model import Plan
from evenpull.proof.judging import Judge
from evenpull.proof.moments import Moment, before
from evenpull.proof.placing import undoes
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import record_label

UNDOING = ("loosened", "removed", "disturbed")
CHECKS = ("checked", "follow-up done")
_LOOSE = re.compile(r"\b(found|was|were|came|come|been)\s+loose\b", re.IGNORECASE)


@dataclass(frozen=True)
class Undoing:
    """`words`: what was done and when; `out`: the fastener left its place, so its parts may be others since then."""

    moment: Moment
    words: str
    by: str
    out: bool
    record: Tightening | None = None  # None when an entry says it
    seq: int = -1  # place of that entry in the log

    @property
    def renews(self) -> bool:
        """A pull of a new fastener: it undoes what stood there before, and proves its own place."""
        return self.record is not None and self.record.event == "replace" and not undoes(self.record)


def moment_of(entry: Entry) -> Moment:
    """An entry as an instant with its uncertainty, to be ordered among the pulls."""
    at = entry.at.timestamp()
    return Moment(None, 0, "", at - entry.at_uncertainty, at + entry.at_uncertainty, "", 0.0)


def known_before(moment: Moment, entry: Entry) -> bool:
    """Whether an entry is known to be later than a moment; two statements of the same instant are in no order."""
    return before(moment, moment_of(entry))


def found_loose(entry: Entry) -> tuple[int, ...]:
    """Fasteners that an entry says were found loose: by the state as found, or as the reason for loosening them."""
    if entry.kind == "as found":
        text = entry.text("loose")
        return () if text in ("", "none") else fastener_numbers(text)
    if entry.kind in UNDOING and _LOOSE.search(entry.text("why")):
        return entry.fasteners
    return ()


def concerns(entry: Entry, unit: str, fastener: int) -> bool:
    """Whether an entry is about this fastener; one without numbers is about all, one without a unit about all units."""
    return (not entry.unit or entry.unit == unit) and (not entry.fasteners or fastener in entry.fasteners)


def _said(entry: Entry, unit: str, fastener: int) -> str:
    """What an entry says was done to a fastener, in words; "" when it undid nothing there."""
    when = f"on {entry.at:%Y-%m-%d %H:%M} UTC"
    if entry.kind == "as found":
        here = (not entry.unit or entry.unit == unit) and fastener in found_loose(entry)
        return f"found loose {when}" if here else ""
    if not concerns(entry, unit, fastener):
        return ""
    if entry.kind in UNDOING:
        return f"{entry.kind} {when} ({entry.text('why')})"
    if entry.text("result") != "not in order":
        return ""
    # a follow-up without numbers is about the joint and stands against its release as such
    if entry.kind == "checked" or (entry.kind == "follow-up done" and entry.fasteners):
        return f"found not in order {when}"
    return ""


def _entries(around: Surroundings) -> list[Entry]:
    return [e for e in around.entries if e.kind in (*UNDOING, *CHECKS, "as found")]


def undone_by_entries(plan: Plan, unit: str, around: Surroundings) -> dict[int, list[Moment]]:
    """Fastener -> when entries say that it was undone."""
    entries = _entries(around)
    found: dict[int, list[Moment]] = {}
    for number in range(1, plan.spec.fasteners.count + 1) if entries else ():
        if times := [moment_of(e) for e in entries if _said(e, unit, number)]:
            found[number] = times
    return found


def undoings(
    around: Surroundings, unit: str, fastener: int, records: Iterable[Tightening], judge: Judge
) -> tuple[Undoing, ...]:
    """Everything that undid one fastener, earliest first. `records`: those of the fastener."""
    found = [
        Undoing(moment_of(e), words, e.by, e.kind == "removed", seq=e.seq)
        for e in _entries(around) if (words := _said(e, unit, fastener))
    ]  # fmt: skip
    for record in records:
        if undoes(record) or record.event == "replace":
            word = {"remove": "removed", "replace": "replaced"}.get(record.event, "loosened")
            out = record.event in ("remove", "replace")
            moment = judge.moments[record.key]
            found.append(Undoing(moment, f"{word} ({record_label(record)})", record.operator, out, record))
    return tuple(sorted(found, key=lambda one: (one.moment.low, one.words)))


SAME_FINDING = 24 * 3600.0  # s; told twice within a day and not pulled in between; common practice, no source


def times_found(found: Sequence[Moment], pulls: Sequence[Moment]) -> int:
    """How many findings these are: what two people tell of the same finding is one. `pulls`: of the
    fastener or joint that was found so."""
    count, last = 0, None
    for moment in sorted(found, key=lambda m: (m.low, m.high)):
        between = last is not None and any(not before(p, last) and not before(moment, p) for p in pulls)
        if last is None or between or moment.low - last.high > SAME_FINDING:
            count += 1
        last = moment
    return count
