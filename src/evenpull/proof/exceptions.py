"""Exceptions from gates: whose count, and what each of them covers.

An exception is a decision on what is there, never a licence for what comes. It covers a fault only when it was written
with the fault in view, the fault lies on fasteners that it names, and the fault is known to be older than it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.people import folded
from evenpull.plan.model import Plan
from evenpull.proof.judging import Judge
from evenpull.proof.model import Excepted
from evenpull.proof.moments import Moment, before
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import some
from evenpull.proof.undone import known_before, moment_of

# What stands against these lies in records: an exception names each of them (`Entry.covers`).
NAMED = ("pass order", "last pass", "revision", "qualification", "tool fit")


@dataclass(frozen=True)
class Against:
    """One thing that stands against a gate: a flag or a record by its key, in words, with the records it lies in."""

    key: str
    text: str
    records: tuple[Tightening, ...]
    unit: str = ""


def exceptions(plan: Plan, records: Iterable[Tightening], around: Surroundings, gate: str) -> list[Entry]:
    """The exceptions entered for a gate, as they were written; one by an operator of a class A joint does not count,
    whatever was corrected or left out since."""
    operators = set[str]()
    if plan.spec.joint_class == "A":
        operators = {folded(r.operator) for r in records} | around.operators
    found = [e for e in around.entries if e.kind == "exception" and e.text("gate") == gate]
    return sorted((e for e in found if folded(e.by) not in operators), key=lambda e: e.seq)


def in_view(given: Entry, fact: Entry) -> bool:
    """Whether an entry was there when the exception was written, and tells of what happened before it."""
    same = (fact.at, fact.at_uncertainty) == (given.at, given.at_uncertainty)
    return fact.seq <= given.seq and (same or known_before(moment_of(fact), given))


def received_by(given: Entry, record: Tightening, around: Surroundings) -> bool:
    """Whether a record was there when the exception was written, as far as it is known when it was received."""
    at = around.received.get(record.file_sha256)
    return at is None or at <= given.written_at


def _older(given: Entry, record: Tightening, around: Surroundings, judge: Judge) -> bool:
    """The record is known to have happened before the exception: by its time, or because it was received by then."""
    if before(judge.moments[record.key], moment_of(given)):
        return True
    received = around.received.get(record.file_sha256)
    return received is not None and received.timestamp() <= given.at.timestamp() - given.at_uncertainty


def covering(given: Sequence[Entry], one: Against, around: Surroundings, judge: Judge) -> Entry | None:
    """The last exception that covers this fault, None when none does."""
    for entry in reversed(given):
        named = one.key in entry.covers and one.records and (not entry.unit or entry.unit == one.unit)
        within = not entry.fasteners or all(r.fastener in entry.fasteners for r in one.records)
        if named and within and all(
            received_by(entry, r, around) and _older(entry, r, around, judge) for r in one.records
        ):
            return entry
    return None


def standing_for_all(
    given: Sequence[Entry], fasteners: Sequence[int], since: Iterable[Entry | Moment]
) -> Entry | None:
    """The last exception from a gate that no record stands against, for these fasteners (none: the joint as a whole);
    `since`: what spoke against the gate or undid the joint, and has to be older."""
    told = list(since)
    for entry in reversed(given):
        within = not entry.fasteners or (fasteners and set(fasteners) <= set(entry.fasteners))
        if within and all(
            in_view(entry, one) if isinstance(one, Entry) else known_before(one, entry) for one in told
        ):
            return entry
    return None


def excepted(entry: Entry, key: str = "") -> Excepted:
    """The exception as a proof names it. `key`: of the flag or record that it covers."""
    return Excepted(
        key, entry.id, entry.text("gate"), entry.by, entry.text("authority"), entry.reason, entry.text("limits"),
        entry.written_at,
    )  # fmt: skip


def said(found: Iterable[Excepted]) -> str:
    """Who excepted it, by which authority and why; each exception once."""
    words = dict.fromkeys(
        f"exception by {e.by}, authority: {e.authority}: {e.reason}" + (f"; limits: {e.limits}" if e.limits else "")
        for e in found
    )
    return some(list(words), 3)
