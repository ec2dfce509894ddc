"""Each fastener through its life: entries and records together, what is owed on it and why."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from evenpull.intake.record import Tightening
from evenpull.ledger.check import fastener_numbers
from evenpull.ledger.entry import Entry
from evenpull.ledger.machine import Debt, FastenerState, Step, state_of
from evenpull.ledger.parts import PartFault, drag_fault, drag_of, lacking_parts, part_faults, protrusion_fault
from evenpull.ledger.people import folded
from evenpull.plan.model import Plan
from evenpull.proof.gates import exceptions
from evenpull.proof.judging import Judge
from evenpull.proof.moments import Moment, before
from evenpull.proof.placing import undoes
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.unit_work import CellWork

UNDOING = ("loosened", "removed", "disturbed")
CHECKS = ("checked", "follow-up done")
PART_LOTS = {"bolt_lot": "bolt", "nut_lot": "nut", "washer_lot": "washer"}


def moment_of(entry: Entry) -> Moment:
    """An entry as an instant with its uncertainty, to be ordered among the pulls."""
    at = entry.at.timestamp()
    return Moment(None, 0, "", at - entry.at_uncertainty, at + entry.at_uncertainty, "", 0.0)


def _known_before(moment: Moment, entry: Entry) -> bool:
    """Entries are timed by one clock; a tool has its own."""
    return before(moment, moment_of(entry)) if moment.tool else moment.high <= moment_of(entry).low


def found_loose(entry: Entry) -> tuple[int, ...]:
    """Fasteners that an entry "as found" names as loose."""
    text = entry.text("loose")
    return () if entry.kind != "as found" or text in ("", "none") else fastener_numbers(text)


def undoing_entries(around: Surroundings, unit: str, fastener: int) -> list[tuple[Entry, str]]:
    """The entries that undid a fastener, each with what was done in words."""
    found = []
    for e in around.entries:
        if e.unit and e.unit != unit:
            continue
        when = f"on {e.at:%Y-%m-%d %H:%M} UTC"
        if e.kind in UNDOING and fastener in e.fasteners:
            found.append((e, f"{e.kind} {when} ({e.text('why')})"))
        elif fastener in found_loose(e):
            found.append((e, f"found loose {when}"))
        elif e.kind in CHECKS and e.text("result") == "not in order" and fastener in e.fasteners:
            found.append((e, f"found not in order {when}"))
    return found


def undone_by_entries(plan: Plan, unit: str, around: Surroundings) -> dict[int, list[Moment]]:
    """Fastener -> when entries say that it was undone."""
    if not any(e.kind in (*UNDOING, *CHECKS, "as found") for e in around.entries):
        return {}
    numbers = range(1, plan.spec.fasteners.count + 1)
    return {n: [moment_of(e) for e, _ in found] for n in numbers if (found := undoing_entries(around, unit, n))}


@dataclass(frozen=True)
class Walk:
    """One fastener with all that concerns it."""

    plan: Plan
    around: Surroundings
    judge: Judge
    unit: str
    fastener: int
    cells: Sequence[CellWork]  # of this fastener, all passes
    records: Sequence[Tightening]
    excepted: frozenset[str]  # gates that a person with the authority excepted for this fastener
    operators: frozenset[str]

    def entries(self, *kinds: str) -> list[Entry]:
        """Entries of these kinds that concern this fastener, in time."""
        found = [
            e for e in self.around.entries
            if e.kind in kinds and (not e.unit or e.unit == self.unit)
            and (not e.fasteners or self.fastener in e.fasteners)
        ]  # fmt: skip
        return sorted(found, key=lambda e: (e.at, e.seq))

    @cached_property
    def disturbances(self) -> list[tuple[Moment, str, str]]:
        """(when, what was done in words, who) for everything that undid this fastener by an entry."""
        found = [(moment_of(e), words, e.by) for e, words in undoing_entries(self.around, self.unit, self.fastener)]
        return sorted(found, key=lambda one: (one[0].low, one[1]))

    @cached_property
    def undone(self) -> list[Moment]:
        """Every moment at which it was undone, by entries and by records."""
        marked = [r for r in self.records if undoes(r) or r.event == "replace"]
        return [one[0] for one in self.disturbances] + [self.judge.moments[r.key] for r in marked]

    def since(self, entry: Entry) -> bool:
        """Whether an entry is known to be later than everything that undid the fastener."""
        return all(_known_before(moment, entry) for moment in self.undone)

    def after_pulls(self, entry: Entry) -> bool:
        """Whether an entry is known to be later than the last pull of the fastener, and than what undid it."""
        pulls = [self.judge.moments[c.proving.key] for c in self.cells if c.proving is not None]
        return self.since(entry) and all(_known_before(pull, entry) for pull in pulls)

    def follows(self, record: Tightening, moment: Moment) -> bool:
        """Whether a record is known to be later than a moment."""
        return before(moment, self.judge.moments[record.key])

    @cached_property
    def lots(self) -> dict[str, str]:
        """Part -> lot, as the specification and the records state it."""
        found = {"bolt": self.plan.spec.fasteners.lot} if self.plan.spec.fasteners.lot else {}
        for record in self.records:
            found |= {part: record.particulars[n].text for n, part in PART_LOTS.items() if n in record.particulars}
        return found

    def drags(self) -> list[tuple[float, str, bool]]:
        """(N.m, text, later than all that undid it) of each drag that was measured on this fastener."""
        found = [(*drag_of(e), self.since(e)) for e in self.entries("drag measured")]
        for record in self.records:
            one = record.particulars.get("drag")
            if one is not None and one.si is not None:
                m = self.judge.moments[record.key]
                found.append((one.si, f"{one.text} {one.unit}".strip(), all(before(u, m) for u in self.undone)))
        return found


def debts_of(walk: Walk) -> tuple[Debt, ...]:
    """What is owed on a fastener by what the joint asks for and by what was done to it."""
    rules, found = walk.plan.spec.parts, list[Debt]()
    cause = "; ".join(f"{what}, {who}" for _, what, who in walk.disturbances[-2:])

    def owe(step: Step, what: str, text: str, gate: str = "") -> None:
        if gate not in walk.excepted:
            found.append(Debt(step, what, text, cause))

    fitted = [e for e in walk.entries("parts fitted") if walk.since(e)]
    for what in lacking_parts(rules, fitted, walk.lots):
        owe("parts", what, f"{what} not stated", "parts")
    if rules.drag_window is not None and not any(fresh for _, _, fresh in walk.drags()):
        owe("parts", "drag", "the drag of the self-locking nut is not measured", "drag")
    for moment, what, _ in walk.disturbances:
        lacking = [
            c.one.number for c in walk.cells
            if c.proving is None or c.verdict != "accepted" or not walk.follows(c.proving, moment)
        ]  # fmt: skip
        if lacking:
            passes = ", ".join(map(str, lacking))
            owe("tighten", "tightening", f"{what}, and not tightened again since then in pass {passes}")
            break
    if not any(c.verdict == "accepted" for c in walk.cells) and not walk.disturbances:
        return tuple(found)  # nothing was tightened: that it is missing is said place by place
    for asked, kind, what, gate in (
        (bool(rules.locking), "locking fitted", "locking", "locking"),
        (rules.witness_mark, "mark made", "mark", "mark"),
        (rules.protrusion is not None, "protrusion seen", "protrusion", "protrusion"),
    ):
        right = [e for e in walk.entries(kind) if walk.after_pulls(e)]
        if kind == "locking fitted":
            right = [e for e in right if _same_device(e.text("device"), rules.locking)]
        if asked and not right:
            name = f"{what} ({rules.locking})" if what == "locking" else what
            owe("lock", what, f"{name}: no entry after its last pull", gate)
    if walk.plan.spec.gates.independent_check and "independent check" not in walk.excepted:
        seen = [e for e in walk.entries("checked") if folded(e.by) not in walk.operators and walk.after_pulls(e)]
        if not seen or seen[-1].text("result") != "in order":
            owe("check", "independent check", "not seen in order by a second person after its last pull")
    return tuple(found)


def _same_device(stated: str, asked: str) -> bool:
    """The device named is the one asked for: all words of the rule stand in what was stated."""
    words = set(re.findall(r"\w+", stated.casefold()))
    return set(re.findall(r"\w+", asked.casefold())) <= words


def faults_of(walk: Walk, blocked: Mapping[str, str]) -> tuple[PartFault, ...]:
    """Parts of the fastener that must not be there, and measures outside their windows; the last measure counts."""
    rules = walk.plan.spec.parts
    found = [*part_faults(rules, walk.entries("parts fitted"), walk.lots, blocked)]
    drags, seen = walk.drags(), walk.entries("protrusion seen")
    if drags and (fault := drag_fault(rules, *drags[-1][:2])) is not None:
        found.append(fault)
    if seen and (fault := protrusion_fault(rules, float(seen[-1].text("threads").replace(",", ".")))) is not None:
        found.append(fault)
    gates = {"single use": "parts", "uses": "parts", "stack": "parts", "lot": "parts"}
    return tuple(f for f in found if gates.get(f.what, f.what) not in walk.excepted)


def walks(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, work: Sequence[CellWork]
) -> list[Walk]:
    """Every fastener of every unit that has places in the plan."""
    operators = frozenset(folded(r.operator) for r in records if r.operator.strip())
    series = plan.spec.series is not None
    of: dict[tuple[str, int], list[Tightening]] = {}
    for record in records:
        of.setdefault((record.unit_id if series else "", record.fastener), []).append(record)
    cells: dict[tuple[str, int], list[CellWork]] = {}
    for cell in work:
        cells.setdefault((cell.unit, cell.fastener), []).append(cell)
    names = ("parts", "locking", "protrusion", "drag", "mark", "independent check")
    given = {name: exceptions(plan, records, around, name) for name in names}
    found = []
    for (unit, fastener), places in cells.items():
        excepted = frozenset(
            name for name, entries in given.items() if any(not e.fasteners or fastener in e.fasteners for e in entries)
        )
        mine = of.get((unit, fastener), [])
        found.append(Walk(plan, around, judge, unit, fastener, places, mine, excepted, operators))
    return found


def state_now(walk: Walk, debts: Sequence[Debt]) -> FastenerState:
    """The state of a fastener from its debts and its places."""
    owed: set[Step] = {debt.step for debt in debts}
    if any(cell.verdict != "accepted" for cell in walk.cells):
        owed.add("tighten")
    again = sum(record.event == "re-tighten after service" for record in walk.records)
    return FastenerState(
        walk.unit, walk.fastener, state_of(bool(walk.undone), owed), tuple(debts), len(walk.undone), again
    )
