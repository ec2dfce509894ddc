"""The records of one unit laid out: each fastener with its places, what was undone, which record counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.judging import Judge, Judgement
from evenpull.proof.model import Verdict
from evenpull.proof.moments import Moment, MomentSet, before, clock_denies, sequence_key
from evenpull.proof.placing import Placed, Placer


@dataclass
class CellWork:
    """One place of the matrix while it is being judged."""

    unit: str
    fastener: int
    one: Pass
    records: list[Tightening]  # all that fell here, in sequence
    valid: list[Tightening]  # those not undone by a later loosening, removal or replacement
    order_known: bool  # the last of `valid` is known to be the last
    judgement: Judgement | None  # of the last valid record
    verdict: Verdict
    reason: str

    @property
    def place(self) -> tuple[str, int, int]:
        return self.unit, self.fastener, self.one.number

    @property
    def proving(self) -> Tightening | None:
        return self.valid[-1] if self.valid else None

    def lower_to(self, verdict: Verdict, reason: str) -> None:
        """Worsen the verdict for a reason that lies outside the record itself."""
        if self.verdict == "accepted" or (self.verdict == "not judged" and verdict == "not accepted"):
            self.verdict, self.reason = verdict, reason
        elif reason not in self.reason:
            self.reason = f"{self.reason}; {reason}"


@dataclass
class FastenerWork:
    fastener: int
    placed: Placed
    cells: dict[int, CellWork]
    replaced: list[Tightening] = field(default_factory=list)  # records with the event "replace"


@dataclass
class UnitWork:
    unit: str
    fasteners: dict[int, FastenerWork]  # 1 ... count, all of them

    def cells(self) -> Iterable[CellWork]:
        for work in self.fasteners.values():
            yield from work.cells.values()


def lay_out(
    plan: Plan,
    unit: str,
    records: Mapping[int, Sequence[Tightening]],
    judge: Judge,
    entered: Mapping[int, Sequence[Moment]] = MappingProxyType({}),
) -> UnitWork:
    """All fasteners of one unit with their cells judged record by record. `records` by fastener, in any order;
    `entered`: when entries say that a fastener was undone."""
    placer = Placer(plan, judge.moments)
    made = {}
    for fastener in range(1, plan.spec.fasteners.count + 1):
        own = sorted(records.get(fastener, ()), key=lambda r: sequence_key(judge.moments[r.key], r.key))
        made[fastener] = _fastener(plan, unit, fastener, placer.place(own), judge, entered.get(fastener, ()))
    return UnitWork(unit, made)


def _fastener(
    plan: Plan, unit: str, fastener: int, placed: Placed, judge: Judge, entered: Sequence[Moment]
) -> FastenerWork:
    moments = judge.moments
    everything = [record for found in placed.cells.values() for record in found]
    replaced = sorted(
        (r for r in everything if r.event == "replace"), key=lambda r: sequence_key(moments[r.key], r.key)
    )
    current = _last_renewal(replaced, {r.key: n for n, found in placed.cells.items() for r in found}, moments)
    undone = MomentSet([*(moments[r.key] for r in placed.undoing), *entered])
    renewed = MomentSet(moments[r.key] for r in replaced)
    work = FastenerWork(fastener, placed, {}, replaced)
    for one in plan.passes:
        records = placed.cells.get(one.number, [])
        valid = [
            r
            for r in records
            if undone.all_before(moments[r.key])
            and (r.key in current or (r.event != "replace" and renewed.all_before(moments[r.key])))
            and not any(clock_denies(u, r) for u in (*placed.undoing, *(() if r.event == "replace" else replaced)))
        ]
        work.cells[one.number] = _cell(unit, fastener, one, records, valid, placed, judge)
    return work


def _last_renewal(
    replaced: Sequence[Tightening], passes: Mapping[str, int], moments: Mapping[str, Moment]
) -> set[str]:
    """The records of the fastener that is there now, of all that are called a replacement. The pulls of one new
    fastener rise through the passes; one of the same or an earlier pass, or in no known order, is of another."""
    group: list[Tightening] = []
    for record in replaced:
        if group and not (
            passes[group[-1].key] < passes[record.key] and before(moments[group[-1].key], moments[record.key])
        ):
            group = []
        group.append(record)
    return {record.key for record in group}


def _cell(
    unit: str,
    fastener: int,
    one: Pass,
    records: list[Tightening],
    valid: list[Tightening],
    placed: Placed,
    judge: Judge,
) -> CellWork:
    if not valid:
        if records:
            verdict: Verdict = "not accepted"
            reason = "it was loosened, removed or replaced after it was tightened, and not tightened again in this pass"
        else:
            verdict, reason = "not judged", "no record"
            if any(one.number in fit for _, fit, _ in placed.untold):
                reason = "no record that states its pass; one that may belong here could not be placed"
        return CellWork(unit, fastener, one, records, valid, True, None, verdict, reason)
    last = judge.moments[valid[-1].key]
    order_known = MomentSet(judge.moments[r.key] for r in valid[:-1]).all_before(last) and not any(
        clock_denies(r, valid[-1]) for r in valid[:-1]
    )
    judgement = judge(valid[-1], one)
    made = CellWork(unit, fastener, one, records, valid, order_known, judgement, judgement.verdict, judgement.reason)
    if not order_known:
        made.verdict, made.reason = "not judged", f"{len(valid)} records, and which of them is the last is not known"
    return made


def follows(record: Tightening, undoing: Tightening, judge: Judge) -> bool:
    """`record` is known to have come after `undoing`: by counter or clock, and the clock does not deny it."""
    return before(judge.moments[undoing.key], judge.moments[record.key]) and not clock_denies(undoing, record)


def settled_after(work: FastenerWork, passes: Sequence[Pass], undoing: Tightening, judge: Judge) -> bool:
    """Every pass of the fastener has a record known to have come after `undoing`."""
    return all(any(follows(r, undoing, judge) for r in reversed(work.cells[one.number].records)) for one in passes)
