"""Movement on check passes: a fastener that turned had lost load, and so may its neighbours.

A movement is settled only when after it every fastener of the unit was checked without moving.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.intake.record import Tightening
from evenpull.plan.model import Plan
from evenpull.proof.judging import Judge, movement_of
from evenpull.proof.moments import MomentSet
from evenpull.proof.unit_work import CellWork, UnitWork


@dataclass(frozen=True)
class Moved:
    cell: CellWork
    record: Tightening
    settled: bool
    text: str


def moved(plan: Plan, unit: UnitWork, judge: Judge) -> list[Moved]:
    """Each valid record of a check pass that turned more than the limit (any angle at all when none is stated)."""
    limit = plan.spec.procedure.movement_limit
    most = limit.si if limit is not None else 0.0
    found: list[tuple[CellWork, Tightening]] = []
    at_rest: dict[int, Tightening] = {}
    for cell in unit.cells():
        if not cell.one.check:
            continue
        for record in cell.valid:
            turned = movement_of(record)
            if turned is None:
                continue
            if turned > most + 1e-9:
                found.append((cell, record))
            elif judge(record, cell.one).verdict == "accepted":
                at_rest[cell.fastener] = record  # passes rise and records follow each other: the last one stays
    if not found:
        return []
    complete = len(at_rest) == plan.spec.fasteners.count
    rest = MomentSet(judge.moments[r.key] for r in at_rest.values())
    allowed = f"more than {limit.text}" if limit is not None else "and no movement is allowed"
    made = []
    for cell, record in found:
        settled = complete and rest.all_after(judge.moments[record.key])
        angle = f"it turned {math.degrees(movement_of(record) or 0.0):.3g}°, {allowed}"
        what = (
            "a later check of all fasteners shows no movement"
            if settled
            else "another check pass over all fasteners is needed"
        )
        made.append(Moved(cell, record, settled, f"{angle}; {what}"))
    return made
