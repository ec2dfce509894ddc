"""What remains to be done after a release, said with where the rule comes from. Nothing here decides a release."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from evenpull.plan.model import Plan
from evenpull.proof.dispositions import standing
from evenpull.proof.model import Proof
from evenpull.proof.rules import PERSON
from evenpull.proof.texts import pass_label

DWELL = 4 * 3600.0  # s between the end of the last torque pass and the check; see GASKET
GASKET = (
    "dwell of at least 4 h: ASME PCC-1-2019, second-hand, not read; before pressure comes on: from memory, not re-read"
)
HYDROGEN = (
    "hydrogen embrittlement of hard fasteners: ISO 4042, from memory, not re-read; the days are an assumption, set "
    "after a public report of rods that broke days after tensioning"
)
_COATED = re.compile(r"galvani[sz]|zinc|electroplat|plated|hot[- ]dip", re.IGNORECASE)
_HARD = re.compile(r"^\s*12\.9\b")
_HARD_WHEN_COATED = re.compile(r"^\s*10\.9\b|grade 8(\.|\b)|A490|A354|A574", re.IGNORECASE)


def follow_ups(plan: Plan, proof: Proof) -> tuple[str, ...]:
    """All follow-ups of a joint that nothing open stands against: what persons took, then what its kind asks for."""
    return (*_taken(plan, proof), *_settling(plan, proof), *_late_fracture(plan))


def dwell_kept(plan: Plan, proof: Proof) -> bool:
    """The last check pass of every unit began at least four hours after its last torque pass ended, by sure times."""
    last = max((p.number for p in plan.passes if not p.check), default=0)
    final = max((p.number for p in plan.passes if p.check), default=0)
    if not last or not final or not proof.cells:
        return False
    ended = dict.fromkeys(proof.units, -math.inf)
    began = dict.fromkeys(proof.units, math.inf)
    for cell in proof.cells:
        if cell.pass_number not in (last, final):
            continue
        record = cell.proving
        if record is None or record.time is None or record.time_doubt or cell.verdict != "accepted":
            return False
        at = record.time.timestamp()
        if cell.pass_number == last:
            ended[cell.unit_id] = max(ended[cell.unit_id], at)
        else:
            began[cell.unit_id] = min(began[cell.unit_id], at)
    return all(began[unit] - ended[unit] >= DWELL for unit in proof.units)


def _settling(plan: Plan, proof: Proof) -> Iterator[str]:
    if plan.spec.kind != "gasketed flange" or dwell_kept(plan, proof):
        return
    last = next((pass_label(p) for p in reversed(plan.passes) if not p.check), "the last pass")
    yield (
        f"The gasket settles: at least 4 h after {last} and before pressure comes on, go round all fasteners again at "
        "the full torque until none moves, and record it. When pressure may come on is decided by the holder of the "
        f"permit under the rules of the site ({GASKET})."
    )


def _late_fracture(plan: Plan) -> Iterator[str]:
    spec = plan.spec
    strength_class = spec.fasteners.strength_class
    words = " ".join((spec.friction.lubricant, spec.friction.basis, spec.notes, strength_class))
    coated = bool(_HARD_WHEN_COATED.search(strength_class)) and bool(
        _COATED.search(words) or "hydrogen" in spec.cautions
    )
    if coated or _HARD.search(strength_class):
        yield (
            f"Fasteners of class {strength_class}{' with a coating' if coated else ''} can break hours to weeks after "
            "tightening: keep people out of their line and inspect every one after 1, 3, 7 and 14 days. What a broken "
            f"one means for the others is decided by the materials engineer ({HYDROGEN})."
        )


def _taken(plan: Plan, proof: Proof) -> Iterator[str]:
    """Blocking flags that a named person closed by taking them as they stand."""
    open_keys = {flag.key for flag in proof.open_flags}
    decided = standing(proof.dispositions)
    last = max((p.number for p in plan.passes if not p.check), default=0)
    for flag in proof.flags:
        by = decided.get(flag.key)
        if by is None or by.action not in PERSON or not flag.blocking or flag.key in open_keys:
            continue
        bare = flag.code == "missing" and flag.pass_number is not None and flag.pass_number >= last
        more = "nothing shows the full torque there; look at it" if bare else "look at it again"
        yield (
            f"{flag.text}. Decided by {by.by} on {by.at:%Y-%m-%d}, {by.action!r}: {by.reason.strip()}. To do: {more} "
            "at the next inspection, or earlier where the decision says so (common practice, no source)."
        )
