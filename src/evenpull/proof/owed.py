"""What is owed on each fastener, why, and what closes it; the state that follows from it."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.machine import Debt, FastenerState, Happening, Step, state_of
from evenpull.ledger.parts import (
    PartFault,
    drag_fault,
    lacking_parts,
    never_again,
    part_faults,
    protrusion_fault,
    stack_fault,
    stated_in,
)
from evenpull.ledger.people import folded
from evenpull.plan.model import Plan
from evenpull.proof.judging import Judge
from evenpull.proof.ledger import Fact, Walk, standing, walks
from evenpull.proof.moments import Moment
from evenpull.proof.placing import NOT_PROVING
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import record_label, some, torque_text
from evenpull.proof.undone import known_before, moment_of
from evenpull.proof.unit_work import CellWork

FAULT_GATE = {"single use": "parts", "uses": "parts", "stack": "parts", "lot": "parts"}  # else the fault's own name
FAULT_STEP: dict[str, Step] = {"protrusion": "lock"}  # else "parts"
TOLD = {
    "parts fitted": "parts fitted", "drag measured": "drag measured", "locking fitted": "locking fitted",
    "mark made": "witness mark made", "protrusion seen": "protrusion seen", "checked": "checked",
}  # fmt: skip


def walk(
    plan: Plan,
    records: Sequence[Tightening],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    blocked: Mapping[str, Entry],
) -> tuple[FastenerState, ...]:
    """The state of every fastener with its debts and its history. `blocked`: lot -> the entry that blocks it."""
    found = []
    for one in walks(plan, records, around, judge, work):
        found.append(state_now(one, debts_of(one), faults_of(one, blocked)))
    return tuple(found)


def debts_of(one: Walk) -> tuple[Debt, ...]:
    """What is owed on a fastener by what the joint asks for and by what was done to it."""
    rules, found = one.plan.spec.parts, list[Debt]()
    cause = "; ".join(f"{u.words}, {u.by}" if u.by else u.words for u in one.undone[-2:])

    def owe(step: Step, what: str, text: str, gate: str) -> None:
        if gate not in one.excepted:
            found.append(Debt(step, what, text, cause))

    fitted = [e for e in one.told("parts fitted") if one.of_now(e)]
    for what in lacking_parts(rules, fitted, one.lots_now):
        owe("parts", what, f"{what} not stated", "parts")
    if rules.drag_window is not None and not any(now for _, _, (_, _, now, _) in one.drags()):
        owe("parts", "drag", "the drag of the self-locking nut is not measured", "drag")
    lacking = {number: u for u in one.undone for number in one.lacking_since(u)}  # the latest that left it lacking
    if lacking:  # nobody can except this
        latest = max(lacking.values(), key=lambda u: (u.moment.low, u.words))
        passes = ", ".join(str(number) for number in sorted(lacking))
        text = f"not known to be tightened again since it was undone, in pass {passes}"
        found.append(Debt("tighten", "tightening", text, f"{latest.words}, {latest.by}" if latest.by else latest.words))
    locked = _locks(one)
    pulled = any(r.event not in NOT_PROVING for r in one.records)
    for what, entries in locked.items():
        if not entries:
            name = f"{what} ({rules.locking})" if what == "locking" else what
            owe("lock", what, f"{name}: no entry" + (" after its last pull" if pulled else ""), what)
    if one.plan.spec.gates.independent_check and not any(
        e.text("result") == "in order"
        and folded(e.by) not in one.operators
        and one.after_pulls(e)
        and all(any(known_before(moment_of(lock), e) for lock in locks) for what, locks in locked.items()
                if what not in one.excepted)
        for e in one.told("checked")
    ):  # fmt: skip
        after = " and ".join(["its last pull", *(w for w in locked if w not in one.excepted)])
        text = f"not seen in order by a second person after {after}"
        owe("check", "independent check", text, "independent check")
    return tuple(found)


def _locks(one: Walk) -> dict[str, list[Entry]]:
    """What the joint asks for once a fastener is tight, each with the entries that prove it."""
    rules = one.plan.spec.parts
    asked = {
        "locking": "locking fitted" if rules.locking else "",
        "mark": "mark made" if rules.witness_mark else "",
        "protrusion": "protrusion seen" if rules.protrusion is not None else "",
    }
    found = {what: [e for e in one.told(kind) if one.after_pulls(e)] for what, kind in asked.items() if kind}
    if "locking" in found:
        found["locking"] = [e for e in found["locking"] if _same_device(e.text("device"), rules.locking)]
    return found


def _same_device(stated: str, asked: str) -> bool:
    """The device named is the one asked for: all words of the rule stand in what was stated."""
    words = set(re.findall(r"\w+", stated.casefold()))
    return set(re.findall(r"\w+", asked.casefold())) <= words


def faults_of(one: Walk, blocked: Mapping[str, Entry]) -> tuple[PartFault, ...]:
    """Parts of the fastener that must not be there, and measures outside their windows. What was stated or measured
    last counts; where the last is not known, each that may be it. An exception covers a fault that it had in view."""
    rules = one.plan.spec.parts
    fitted: dict[str, list[tuple[Moment, int, Entry]]] = {}
    stack: list[tuple[Moment, int, Entry]] = []
    for entry in one.told("parts fitted"):
        fact = (moment_of(entry), entry.seq, entry)
        fitted.setdefault(entry.text("part"), []).append(fact)
        if entry.text("complete"):
            stack.append(fact)
    seen = [(moment_of(e), e.seq, e) for e in one.told("protrusion seen")]
    by_record: dict[str, Tightening] = {}
    for record in one.records:
        for entry in stated_in(record):
            fact = (one.judge.moments[record.key], -1, entry)
            by_record[entry.id] = record
            if entry.kind == "protrusion seen":
                seen.append(fact)
            if entry.text("condition"):
                fitted.setdefault(entry.text("part"), []).append(fact)
            if entry.text("complete"):
                stack.append(fact)

    def told(entry: Entry) -> tuple[Fact, ...]:
        return (by_record.get(entry.id, entry),)

    found: list[tuple[PartFault | None, tuple[Fact, ...]]] = []
    for facts in fitted.values():
        for e in standing(facts):
            found += [(fault, told(e)) for fault in part_faults(rules, [e], (), {})]
            why = never_again(one.plan.spec, e.text("part"), e.text("coating")) if e.text("condition") == "used" else ""
            if why:
                found.append((PartFault("single use", why), told(e)))
    if one.plan.spec.fasteners.condition == "used" and not {"bolt", "stud"} & fitted.keys():
        why = never_again(one.plan.spec, "bolt", "")
        if why or "bolt" in rules.single_use:
            found.append((PartFault("single use", why or "the bolt is used, and a bolt is used once only here"), ()))
    for part, lot, source in one.lots():
        if lot in blocked:
            why = f"{blocked[lot].reason} ({blocked[lot].by})"
            all_told = (blocked[lot],) if source is None else (blocked[lot], source)
            found += [(fault, all_told) for fault in part_faults(rules, (), [(part, lot)], {lot: why})]
    found += [(stack_fault([e]), told(e)) for e in standing(stack)]
    found += [(drag_fault(rules, drag, text), (source,)) for drag, text, _, source in standing(one.drags())]
    found += [
        (protrusion_fault(rules, float(e.text("threads").replace(",", "."))), told(e)) for e in standing(seen)
    ]  # fmt: skip
    kept = [f for f, facts_of in found if f and not one.covered(FAULT_GATE.get(f.what, f.what), facts_of)]
    return tuple(dict.fromkeys(kept))


def state_now(one: Walk, debts: Sequence[Debt], faults: Sequence[PartFault]) -> FastenerState:
    """The state of a fastener from its debts, its faults and its places."""
    owed: set[Step] = {debt.step for debt in debts} | {FAULT_STEP.get(fault.what, "parts") for fault in faults}
    unproven = tuple(cell.one.number for cell in one.cells if cell.verdict != "accepted")
    if unproven:
        owed.add("tighten")
    again = sum(record.event == "re-tighten after service" for record in one.records)
    given = [
        f"{gate}: exception by {e.by}, authority: {e.text('authority')}: {e.reason}"
        for gate, e in sorted(one.excepted.items())
    ]
    return FastenerState(
        one.unit, one.fastener, state_of(bool(one.undone), owed), tuple(debts), len(one.undone), again,
        tuple(fault.text for fault in faults), tuple(given), _history(one), unproven,
    )  # fmt: skip


def _history(one: Walk) -> tuple[Happening, ...]:
    """What happened to the fastener, in time; what has no known time stands first."""
    found: list[tuple[float, str, str]] = [(u.moment.low, u.words, u.by) for u in one.undone]
    for entry in one.told(*TOLD):
        values = some([value for value in entry.values.values() if value], 4)
        words = TOLD[entry.kind] + (f": {values}" if values else "")
        found.append((entry.at.timestamp(), words, entry.by))
    said = {u.record.key for u in one.undone if u.record is not None and not u.renews}
    for record in one.records:
        if record.key not in said:
            event = "pulled" if record.event == "unstated" else record.event
            words = f"{event}: {torque_text(record)} ({record_label(record)})"
            found.append((one.judge.moments[record.key].low, words, record.operator))
    return tuple(
        Happening(f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d %H:%M} UTC" if math.isfinite(at) else "", words, by)
        for at, words, by in sorted(found)
    )
