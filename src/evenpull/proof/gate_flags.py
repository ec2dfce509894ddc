"""Gates that are not met, as flags."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.intake.record import Tightening
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.gates import OWN_FLAGS, gates
from evenpull.proof.judging import Judge
from evenpull.proof.model import GateResult
from evenpull.proof.surroundings import Surroundings


def flag_gates(
    plan: Plan, records: Sequence[Tightening], around: Surroundings, judge: Judge, book: FlagBook
) -> tuple[GateResult, ...]:
    """The gates of the joint; one blocking flag for each that is not met and that no other flag says already. To be
    called after all other flags are in the book."""
    found = gates(plan, records, around, judge, book.flags())
    for gate in found:
        if gate.state == "not met" and gate.name not in OWN_FLAGS:
            book.add("gate not met", f"{gate.name}: {gate.reason}", blocking=True, name=gate.name)
    return found
