"""Open items, parts and recurrence as flags."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.intake.record import Tightening
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.unit_work import CellWork


def flag_ledger(
    plan: Plan,
    records: Sequence[Tightening],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> None:
    """Add the flags of this module. `work` holds the places of all units, judged; verdicts may be lowered."""
