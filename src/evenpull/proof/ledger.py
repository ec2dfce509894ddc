"""One fastener with all that entries and records say about it, in the order that is known."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.parts import drag_of
from evenpull.ledger.people import folded
from evenpull.plan.model import Plan
from evenpull.proof.exceptions import exceptions, in_view, received_by
from evenpull.proof.judging import Judge
from evenpull.proof.moments import Moment, before
from evenpull.proof.placing import undoes
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.undone import Undoing, concerns, known_before, moment_of, undoings
from evenpull.proof.unit_work import CellWork, follows

T = TypeVar("T")
Fact = Entry | Tightening  # who says it
PART_LOTS = {"bolt_lot": "bolt", "nut_lot": "nut", "washer_lot": "washer"}
SHARED = ("gasket",)  # parts that all fasteners of a joint hold together
EXCEPTABLE = ("parts", "locking", "protrusion", "drag", "mark", "independent check")


def standing(facts: Sequence[tuple[Moment, int, T]]) -> list[T]:
    """What is not known to have been taken over by something later: several where that is not known.

    Each fact is (when, place in the log or -1 of a record, what). Two entries of the very same instant are a statement
    and its correction: the one written later stands.
    """

    def later(one: tuple[Moment, int, T], other: tuple[Moment, int, T]) -> bool:
        if before(one[0], other[0]):
            return True
        return -1 < one[1] < other[1] and (one[0].low, one[0].high) == (other[0].low, other[0].high)

    return [one[2] for one in facts if not any(later(one, other) for other in facts)]


@dataclass(frozen=True)
class Walk:
    """`entries`: those of each kind, in time; `given`: exceptions by gate; `operators`: of the joint, folded."""

    plan: Plan
    around: Surroundings
    judge: Judge
    unit: str
    fastener: int
    cells: Sequence[CellWork]  # of this fastener, all passes
    records: Sequence[Tightening]  # of this fastener
    entries: Mapping[str, Sequence[Entry]]
    given: Mapping[str, Sequence[Entry]]
    operators: frozenset[str]
    together: Sequence[Walk] = field(compare=False, repr=False)  # all fasteners of the unit, this one among them

    def told(self, *kinds: str) -> list[Entry]:
        """Entries of these kinds that concern this fastener, in time."""
        found = [e for kind in kinds for e in self.entries.get(kind, ()) if concerns(e, self.unit, self.fastener)]
        return sorted(found, key=lambda e: (e.at, e.seq))

    @cached_property
    def undone(self) -> tuple[Undoing, ...]:
        """Everything that undid it, by entries and by records, earliest first."""
        return undoings(self.around, self.unit, self.fastener, self.records, self.judge)

    def since(self, entry: Entry) -> bool:
        """Whether an entry is known to be later than everything that undid the fastener."""
        return all(known_before(one.moment, entry) for one in self.undone)

    @cached_property
    def renewal(self) -> frozenset[str]:
        """The pulls of a new fastener that is there now, where records say that it was replaced."""
        return frozenset(r.key for cell in self.cells for r in cell.valid if r.event == "replace")

    def about_it(self, after: Callable[[Moment], bool], named: bool) -> bool:
        """Whether a statement is about the parts that are there now. `after`: whether it is known to be later than a
        moment; `named`: whether it names the fastener.

        Where the pull of a new fastener is recorded as a replacement, its parts were fitted before that pull: then the
        statement names the fastener and is later than all that happened to the one before.
        """
        for one in self.undone:
            if after(one.moment):
                continue
            if one.record is None or one.record.key not in self.renewal or not named:
                return False
            others = (r for r in self.records if r.key not in self.renewal)
            earlier = (r for r in others if not follows(r, one.record, self.judge))
            if not all(after(self.judge.moments[r.key]) for r in earlier):
                return False
        return True

    def of_now(self, entry: Entry) -> bool:
        """Whether an entry on parts is about the parts that are there now."""
        if entry.text("part") in SHARED and not self.opened_since(entry):
            return True
        return self.about_it(lambda moment: known_before(moment, entry), bool(entry.fasteners))

    def opened_since(self, entry: Entry) -> bool:
        """Whether the joint may have been taken apart after an entry: every fastener of the unit may have been undone
        since. While one of them was not, what they hold together is still the same."""
        return all(any(not known_before(one.moment, entry) for one in other.undone) for other in self.together)

    def after_pulls(self, entry: Entry) -> bool:
        """Whether an entry is known to be later than every pull of the fastener, and than what undid it."""
        pulls = (self.judge.moments[r.key] for r in self.records if r.event != "check-device pull")
        return self.since(entry) and all(known_before(pull, entry) for pull in pulls)

    def lacking_since(self, one: Undoing) -> list[int]:
        """Passes without an accepted record that is known to have come after something that undid the fastener."""

        def proven(cell: CellWork) -> bool:
            if cell.proving is None or cell.verdict != "accepted":
                return False
            if one.record is None:
                return before(one.moment, self.judge.moments[cell.proving.key])
            same = one.record.key in self.renewal and cell.proving.key in self.renewal
            return same or follows(cell.proving, one.record, self.judge)

        return [cell.one.number for cell in self.cells if not proven(cell)]

    @cached_property
    def lots_now(self) -> set[str]:
        """Parts whose lot the specification or a record states, of the fastener that is there now."""
        found = {"bolt"} if self.plan.spec.fasteners.lot and not any(one.out for one in self.undone) else set[str]()
        for record in self.records:
            stated = {part for name, part in PART_LOTS.items() if name in record.particulars}
            if stated and self.about_it(self._after(record), named=True):
                found |= stated
        return found

    def lots(self) -> list[tuple[str, str, Fact | None]]:
        """(part, lot, who says so) as entries and records state it, the specification (None) where they do not."""
        stated: dict[str, list[tuple[Moment, int, tuple[str, Fact]]]] = {}
        for entry in self.told("parts fitted"):
            if entry.text("lot"):
                stated.setdefault(entry.text("part"), []).append(
                    (moment_of(entry), entry.seq, (entry.text("lot"), entry))
                )
        for record in self.records:
            for name, part in PART_LOTS.items():
                if name in record.particulars:
                    what = (record.particulars[name].text, record)
                    stated.setdefault(part, []).append((self.judge.moments[record.key], -1, what))
        found: list[tuple[str, str, Fact | None]] = [
            (part, lot, source) for part, facts in stated.items() for lot, source in standing(facts)
        ]
        lot = self.plan.spec.fasteners.lot
        return found if "bolt" in stated or not lot else [*found, ("bolt", lot, None)]

    def _after(self, record: Tightening) -> Callable[[Moment], bool]:
        moment = self.judge.moments[record.key]
        return lambda earlier: before(earlier, moment)

    def drags(self) -> list[tuple[Moment, int, tuple[float, str, bool, Fact]]]:
        """Each drag that was measured: (N.m, text, whether it is of the parts that are there now, who says so), to be
        ordered."""
        found: list[tuple[Moment, int, tuple[float, str, bool, Fact]]] = [
            (moment_of(e), e.seq, (*drag_of(e), self.of_now(e), e)) for e in self.told("drag measured")
        ]
        for record in self.records:
            one = record.particulars.get("drag")
            if one is not None and one.si is not None and not undoes(record):
                now = self.about_it(self._after(record), named=True)
                what = (one.si, f"{one.text} {one.unit}".strip(), now, record)
                found.append((self.judge.moments[record.key], -1, what))
        return found

    @cached_property
    def excepted(self) -> Mapping[str, Entry]:
        """Gate -> the exception for this fastener. One given, or written, before it was undone or before that was
        known does not cover what came after."""
        found = {}
        for gate, entries in self.given.items():
            right = [e for e in entries if concerns(e, self.unit, self.fastener) and self.since(e) and self._knew(e)]
            if right:
                found[gate] = right[-1]
        return found

    def covered(self, gate: str, told: Iterable[Fact]) -> bool:
        """Whether an exception covers a fault: `told` is where it is said, and the exception had all of it in view."""
        given = self.excepted.get(gate)
        return given is not None and all(
            in_view(given, one) if isinstance(one, Entry)
            else received_by(given, one, self.around) and known_before(self.judge.moments[one.key], given)
            for one in told
        )

    def _knew(self, entry: Entry) -> bool:
        """All that undid the fastener was in the dossier when an entry was written."""
        return all(
            u.seq <= entry.seq if u.record is None else received_by(entry, u.record, self.around) for u in self.undone
        )


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
    entries: dict[str, list[Entry]] = {}
    for entry in sorted(around.entries, key=lambda e: (e.at, e.seq)):
        entries.setdefault(entry.kind, []).append(entry)
    given = {gate: exceptions(plan, records, around, gate) for gate in EXCEPTABLE}
    units: dict[str, list[Walk]] = {}
    found = []
    for (unit, fastener), places in cells.items():
        together, its = units.setdefault(unit, []), of.get((unit, fastener), [])
        found.append(Walk(plan, around, judge, unit, fastener, places, its, entries, given, operators, together))
        together.append(found[-1])
    return found
