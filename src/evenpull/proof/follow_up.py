"""What has to be done after the release. Defaults; the specification and local rules come first."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime

from evenpull.ledger.follow_up import FollowUp, assess, required
from evenpull.ledger.words import fasteners
from evenpull.plan.model import FollowUpRule, Plan
from evenpull.proof.actions import AGAINST, PERSON
from evenpull.proof.dispositions import left_out, standing
from evenpull.proof.exceptions import said
from evenpull.proof.model import Action, FlagCode, Proof
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import at_place, counted, some

DWELL_HOURS = 4.0  # ASME PCC-1-2019, known second-hand, not read
HYDROGEN_DAYS = (1, 3, 7, 14)  # an assumption, after a public report of rods that broke days after tensioning
_COATED = re.compile(r"galvani[sz]|zinc|electroplat|plated|hot[- ]dip", re.IGNORECASE)


def follow_ups(plan: Plan, proof: Proof) -> tuple[str, ...]:
    """Everything still to be done, each with the standing of its source. Empty when there is nothing."""
    return (
        *(required(rule) for rule in plan.spec.follow_ups),
        *_taken_as_they_stand(plan, proof),
        *_left_out(plan, proof),
        *_excepted(proof),
        *_gasket(plan, proof),
        *_hydrogen(plan),
    )


NO_END = 1e4  # share of a window that stays open until something else ends it
DWELL = FollowUpRule(
    "dwell re-tightening", "dwell re-tightening", days=DWELL_HOURS / 24, late=NO_END, before="pressure",
    source="ASME PCC-1-2019, second-hand, not read",
)  # fmt: skip


def defaults(plan: Plan, proof: Proof) -> tuple[FollowUpRule, ...]:
    """The follow-ups that the kind of joint asks for where the joint states none of that kind. They stay open until an
    entry says that they are done, like those of the joint."""
    return tuple(rule for rule in _of_kind(plan) if rule is not DWELL or any(_gasket(plan, proof)))


def may_be_asked(plan: Plan) -> tuple[FollowUpRule, ...]:
    """Every follow-up of the joint or its kind, also one that the records have made needless: an entry that one is done
    names one of these, since under any other name it would close nothing."""
    return (*plan.spec.follow_ups, *_of_kind(plan))


def _of_kind(plan: Plan) -> tuple[FollowUpRule, ...]:
    found = [DWELL] if _dwells(plan) else []
    if any(_hydrogen(plan)):
        found += [
            FollowUpRule(
                f"delayed fracture, day {day}", "delayed-fracture inspection", days=day, early=0.25, late=0.5,
                source="the days are an assumption",
            ) for day in HYDROGEN_DAYS
        ]  # fmt: skip
    return tuple(found)


def standing_of_follow_ups(plan: Plan, proof: Proof, around: Surroundings) -> tuple[FollowUp, ...]:
    """The follow-ups that the joint or its kind asks for, as they stand at `around.now`. ValueError without that
    moment."""
    if around.now is None:
        raise ValueError("what is due can only be told at a moment")
    ended = tightened_at(plan, proof)
    rules = (*plan.spec.follow_ups, *defaults(plan, proof))
    return assess(rules, around.entries, tightened=ended, released=around.released, now=around.now)


def found_not_in_order(plan: Plan, proof: Proof, around: Surroundings) -> list[str]:
    """Follow-ups that were done and found something wrong: they stand against a release until done again in order."""
    latest = datetime.max.replace(tzinfo=UTC)
    rules = (*plan.spec.follow_ups, *defaults(plan, proof))
    ended = tightened_at(plan, proof)
    found = assess(rules, around.entries, tightened=ended, released=around.released, now=latest)
    return [f"follow-up {one.text}" for one in found if one.state == "done, not in order"]


AGAIN_LATER = ("re-tighten after service", "check pass", "touch-up")  # they do not begin the count anew


def tightened_at(plan: Plan, proof: Proof) -> datetime | None:
    """When the last tightening ended; None while a place is not accepted, or when a time is missing or in doubt."""
    checks = {one.number for one in plan.passes if one.check}
    ends: list[datetime] = []
    for cell in proof.cells:
        if cell.pass_number in checks:
            continue
        if cell.verdict != "accepted" or cell.proving is None:
            return None
        earlier = [r for r in cell.records if r.event not in AGAIN_LATER] or [cell.proving]
        if earlier[-1].time is None or earlier[-1].time_doubt:
            return None
        ends.append(earlier[-1].time)
    return max(ends, default=None)


def _taken_as_they_stand(plan: Plan, proof: Proof) -> Iterator[str]:
    flags = {flag.key: flag for flag in proof.flags if flag.blocking}
    latest = {d.flag_key: d for d in proof.dispositions if d.flag_key in flags}
    groups: dict[tuple[FlagCode, Action, str, str], list[str]] = defaultdict(list)
    for key, d in latest.items():
        if d.action in PERSON:
            flag = flags[key]
            one = None if flag.pass_number is None else plan.pass_by_number(flag.pass_number)
            groups[flag.code, d.action, d.by, d.reason].append(at_place(plan.spec, flag.unit_id, flag.fastener, one))
    for (code, action, by, reason), places in sorted(groups.items()):
        yield (
            f"look again at the next inspection: {some(sorted(places))} ({code}, {counted(len(places), 'flag')}), "
            f"{action} by {by}: {reason}"
        )


def _left_out(plan: Plan, proof: Proof) -> Iterator[str]:
    """Records that spoke against a fastener and were taken out of the judgement, by whichever flag."""
    decided = standing(proof.dispositions)
    out = left_out(plan, proof.flags, decided)
    for flag in proof.flags:
        if flag.blocking and flag.code in AGAINST and flag.records and out.keys() >= set(flag.records):
            d = decided[out[flag.records[0]]]
            yield (
                f"look again at the next inspection: a record was left out of the judgement as {d.action!r} by {d.by} "
                f"({d.reason}); it says: {flag.text}"
            )


def _excepted(proof: Proof) -> Iterator[str]:
    """What is left to do where a gate that records decide was not met and an exception was made from it."""
    for gate in proof.gates:
        if not gate.against or not gate.excepted:
            continue
        whose = f"gate {gate.name!r}, {said(gate.excepted)}"
        if gate.name == "last pass":
            yield (
                f"{fasteners(gate.fasteners)}: rest is not shown. The exception says who answers for it, not that the "
                "joint holds: go round all fasteners again at the full torque until none moves, and record it "
                f"({whose})"
            )
        else:
            yield f"look again at the next inspection: {fasteners(gate.fasteners)} ({whose})"


def dwell_hours(plan: Plan, proof: Proof) -> float | None:
    """Hours from the last tightening to the first pull of the last check pass, least over all units.

    None when there is no check pass, when a place is not accepted, or when a time is missing or in doubt.
    """
    last = plan.passes[-1] if plan.passes and plan.passes[-1].check else None
    if last is None:
        return None
    ends: dict[str, datetime] = {}
    begins: dict[str, datetime] = {}
    checks = {one.number for one in plan.passes if one.check}
    for cell in proof.cells:
        if cell.verdict != "accepted" or cell.proving is None or cell.proving.time is None or cell.proving.time_doubt:
            return None
        unit, at = cell.unit_id, cell.proving.time
        if cell.pass_number == last.number:
            begins[unit] = min(begins.get(unit, at), at)
        elif cell.pass_number not in checks:
            ends[unit] = max(ends.get(unit, at), at)
    if not begins or set(begins) != set(ends):
        return None
    return min((begins[unit] - ends[unit]).total_seconds() for unit in begins) / 3600


def _asked(plan: Plan, kind: str) -> bool:
    """The joint's own rule takes the place of the program's default."""
    return any(rule.kind == kind for rule in plan.spec.follow_ups)


def _dwells(plan: Plan) -> bool:
    return plan.spec.kind == "gasketed flange" and not _asked(plan, "dwell re-tightening")


def _gasket(plan: Plan, proof: Proof) -> Iterator[str]:
    if not _dwells(plan):
        return
    waited = dwell_hours(plan, proof)
    if waited is not None and waited >= DWELL_HOURS:
        return
    seen = "" if waited is None else f" (the recorded check pass began {waited:.1f} h after it)"
    yield (
        f"gasketed flange: wait at least {DWELL_HOURS:g} h after the last tightening{seen}, then go round all "
        "fasteners again at the full torque until none moves, and record it. No pressure before that is done and "
        "recorded; whether pressure may be put on is decided by the person in charge of the pressure test under the "
        "rules of the site. The gasket gives way and the load falls (4 h: ASME PCC-1-2019, second-hand, not read; "
        "before pressure: from memory, not re-read)"
    )


def _hydrogen(plan: Plan) -> Iterator[str]:
    f = plan.spec.fasteners
    words = " ".join((plan.spec.friction.lubricant, plan.spec.friction.basis, plan.spec.notes))
    coated = f.strength_class == "10.9" and ("hydrogen" in plan.spec.cautions or _COATED.search(words) is not None)
    if (f.strength_class != "12.9" and not coated) or _asked(plan, "delayed-fracture inspection"):
        return
    days = ", ".join(str(day) for day in HYDROGEN_DAYS[:-1]) + f" and {HYDROGEN_DAYS[-1]}"
    yield (
        f"fasteners of class {f.strength_class}{' with a coating' if coated else ''} can break hours to weeks after "
        f"tightening (hydrogen): keep people out of their line and look at every one after {days} days; a cracked, "
        "loose or broken one stops the use of the joint. The engineer who answers for the joint decides (hazard: from "
        "memory, not re-read; the days are an assumption)"
    )
