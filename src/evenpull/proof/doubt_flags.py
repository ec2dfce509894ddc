"""Records that look untrue (copied, too regular, too fast, too few), as flags with numbers."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from evenpull.intake.record import Tightening
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.unit_work import CellWork


def flag_doubts(
    plan: Plan,
    records: Sequence[Tightening],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> None:
    """Add the flags of this module. `work` holds the places of all units, judged; verdicts may be lowered."""


def sheet_fingerprint(records: Sequence[Tightening]) -> str:
    """Names the values of a joint as they are written, by pass and fastener; "" for fewer than six or all the same."""
    values = sorted((r.pass_number or 0, r.fastener, r.torque_text, r.torque_unit) for r in records)
    if len(values) < 6 or len({value[2] for value in values}) == 1:
        return ""
    return sha256(repr(values).encode()).hexdigest()
