"""Plan against records: what is proven, what is not, and what a person has to look at.

prove(plan, tightenings) -> Proof. Nothing here reads a clock, a file or a database, and the order in which the records
are given has no influence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.ledger.corrections import apply
from evenpull.ledger.people import folded
from evenpull.paper.cross import cross
from evenpull.plan.model import Plan, Tool
from evenpull.proof.actions import AGAINST
from evenpull.proof.dispositions import (
    Closing,
    allowed,
    check_form,
    check_records,
    excepted_by,
    in_time,
    left_out,
    standing,
)
from evenpull.proof.examine import examine
from evenpull.proof.flags import in_order
from evenpull.proof.gates import told_apart
from evenpull.proof.joint_flags import of_joint
from evenpull.proof.model import RULES_VERSION, Disposition, Flag, Proof
from evenpull.proof.surroundings import NOTHING_ELSE, Surroundings


def prove(
    plan: Plan,
    tightenings: Iterable[Tightening],
    *,
    unread: Sequence[UnreadRow] = (),
    repeated: int = 0,
    dispositions: Iterable[Disposition] = (),
    register: Iterable[Tool] = (),
    around: Surroundings = NOTHING_ELSE,
) -> Proof:
    """Judge the records of one joint against its plan.

    `unread` may hold rows of other joints; only those that name this one count. `repeated` is the number of records
    already recognised as received again; those found here are added, and
    lines of cards that a tool confirms. `register` may hold further entries of the tool
    register, such as earlier certificates of the same tool. `around`: what else the dossier
    knows. Raises ValueError for a record of another joint and
    DispositionError for a disposition without reason, name, or flag of this joint. A disposition on a flag that no
    longer stands is kept and does nothing.
    """
    received, again = _distinct(plan, tightenings)
    applied, corrections = apply(received, around.entries)
    named = {folded(r.operator) for r in (*received, *applied) if r.operator.strip()}
    around = replace(around, operators=around.operators | named)
    records = [record for record in applied if record.joint == plan.spec.id]
    # A line of a card that the tool's memory confirms is one pull with it: the memory proves, nothing stands double.
    confirmed = {paper.key for paper, _ in cross(records).agree}
    records = [record for record in records if record.key not in confirmed]
    given = in_time(dispositions)
    for disposition in given:
        check_form(plan, disposition)
    check_records(given, {record.key for record in received})
    decided = standing(allowed(plan, received, given))
    tools = tuple(register)
    found = examine(plan, records, unread, tools, around, corrections)
    flags = {flag.key: flag for flag in found.flags}
    answered: dict[str, Flag] = {}
    out = left_out(plan, found.flags, decided, records)
    if out:
        answered = {key: flags[key] for key in out.values()} | {
            key: flag
            for key, flag in flags.items()
            if flag.blocking and flag.code in AGAINST and flag.records and out.keys() >= set(flag.records)
        }
        found = examine(plan, [r for r in records if r.key not in out], unread, tools, around, corrections)
        flags = {flag.key: flag for flag in found.flags} | answered
    ordered = in_order(list(flags.values()))
    closing = Closing(plan, found.cells, found.judge.moments, found.overloaded, excepted_by(found.gates))
    open_flags = tuple(
        flag
        for flag in ordered
        if flag.blocking and flag.key not in answered and not closing.closed(flag, decided.get(flag.key))
    )
    is_open = {flag.key for flag in open_flags}
    return Proof(
        plan.spec.id,
        RULES_VERSION,
        found.cells,
        ordered,
        open_flags,
        given,
        found.summaries,
        found.units,
        len(records),
        sum(1 for row in unread if of_joint(plan, row)),
        repeated + again + len(confirmed),
        tuple(told_apart(gate, is_open) for gate in found.gates),
        found.states,
    )


def _distinct(plan: Plan, tightenings: Iterable[Tightening]) -> tuple[list[Tightening], int]:
    """Each record once, and how many came again.

    The same record is known by its source key. A source without counters has no such key that outlives the file; there
    the same text of the row, time included, in another file is the same record received again.
    """
    by_key: dict[str, Tightening] = {}
    count = 0
    for record in tightenings:
        if record.joint != plan.spec.id:
            raise ValueError(f"a record of joint {record.joint!r} was given to the plan of {plan.spec.id!r}")
        count += 1
        have = by_key.get(record.key)
        if have is None or (record.file_sha256, record.row) < (have.file_sha256, have.row):
            by_key[record.key] = record
    kept: list[Tightening] = []
    files: dict[str, str] = {}  # hash of the row text -> the file from which it is kept
    for key in sorted(by_key):
        record = by_key[key]
        nameless = record.counter is None and record.time is not None
        if nameless and files.setdefault(record.raw_sha256, record.file_sha256) != record.file_sha256:
            continue
        kept.append(record)
    return kept, count - len(kept)
