"""From the proof to the state of the joint. Nothing is weighed here: what is open stands against the release."""

from __future__ import annotations

from collections import defaultdict

from evenpull.plan.model import Plan
from evenpull.proof.actions import LEAVE_OUT
from evenpull.proof.follow_up import follow_ups, found_not_in_order
from evenpull.proof.model import Action, Cell, Decision, Flag, Proof, State
from evenpull.proof.reasons import open_reasons
from evenpull.proof.surroundings import NOTHING_ELSE, Surroundings
from evenpull.proof.texts import at_place, counted, newton_metres, pass_label, some, window_text


def decide(plan: Plan, proof: Proof, around: Surroundings = NOTHING_ELSE) -> Decision:
    """State of the joint with its reasons first, worst first.

    Not released while a blocking flag is open, a place is not accepted and no decision closed what is wrong there, or
    there is nothing to release: no place, or decisions only and no record. Released with follow-up when a person's
    decision took something as it stands, or when the joint or its kind asks for more work. A follow-up that was done
    and found something wrong stands against a release. The words do not depend on the day. ValueError when the plan and
    the proof are of two joints.
    """
    if proof.joint != plan.spec.id:
        raise ValueError(f"the proof is of joint {proof.joint}, the plan of {plan.spec.id}")
    against = [*open_reasons(plan, proof), *_uncovered(plan, proof), *found_not_in_order(plan, proof, around)]
    if not proof.cells:
        against.append(_no_cells(plan))
    elif not against and all(cell.proving is None for cell in proof.cells):
        against.append("no place of the plan has a record that counts, and decisions alone release nothing")
    if against:
        return Decision("not released", (*against, _progress(proof)), (), False)
    more = follow_ups(plan, proof)
    state: State = "released with follow-up" if more else "released"
    return Decision(state, _for_release(plan, proof), more, True)


def _no_cells(plan: Plan) -> str:
    if plan.spec.series is not None:
        return f"no record of any {plan.spec.series.unit_name} has been received"
    return "the plan has no tightening to prove"


def _uncovered(plan: Plan, proof: Proof) -> list[str]:
    """Places that are not accepted although nothing is flagged open: they must not slip through."""
    latest = {d.flag_key: d for d in proof.dispositions}
    is_open = {flag.key for flag in proof.open_flags}
    # open ones are said already, closed ones decided on; leaving records out decides nothing on what remains
    blocking = {
        flag.key
        for flag in proof.flags
        if flag.blocking and (flag.key in is_open or flag.key not in latest or latest[flag.key].action not in LEAVE_OUT)
    }
    found = []
    for cell in proof.cells:
        if cell.verdict != "accepted" and not blocking.intersection(cell.flags):
            place = at_place(plan.spec, cell.unit_id, cell.fastener, plan.pass_by_number(cell.pass_number))
            found.append(f"{place}: {cell.verdict}: {cell.reason}")
    return found


def _accepted(proof: Proof) -> list[Cell]:
    return [cell for cell in proof.cells if cell.verdict == "accepted"]


def _progress(proof: Proof) -> str:
    return f"{len(_accepted(proof)):,} of {counted(len(proof.cells), 'planned tightening')} accepted"


def _for_release(plan: Plan, proof: Proof) -> tuple[str, ...]:
    accepted = len(_accepted(proof))
    per = f"{counted(plan.spec.fasteners.count, 'fastener')} in {counted(len(plan.passes), 'pass', 'passes')}"
    if plan.spec.series is not None:
        per += f" on {counted(len(proof.units), 'unit')} ({plan.spec.series.unit_name})"
    if accepted == len(proof.cells):
        lead = f"all {accepted:,} planned tightenings are accepted: {per}"
    else:
        rest = len(proof.cells) - accepted
        lead = (
            f"{accepted:,} of {len(proof.cells):,} planned tightenings are accepted ({per}); for the other {rest:,} "
            "named persons decided"
        )
    return (lead, *_last_pass(plan, proof), *_closed(proof), *_excepted(proof))


def _last_pass(plan: Plan, proof: Proof) -> list[str]:
    number = max((one.number for one in plan.passes if not one.check), default=0)
    one = plan.pass_by_number(number)
    summary = next((s for s in proof.summaries if s.pass_number == number), None)
    if one is None or summary is None or summary.minimum is None or summary.maximum is None:
        return []
    seen = f"{pass_label(one)}: records from {newton_metres(summary.minimum)} to {newton_metres(summary.maximum)}"
    if one.own:
        return [f"{seen}, each against the window of its own setting; the loads left are predicted, not proven"]
    return [f"{seen}, window {window_text(one.lower, one.upper)}"]


def _excepted(proof: Proof) -> list[str]:
    """Gates that were not met and from which somebody with the authority made an exception."""
    return [f"gate {gate.name!r} not met, excepted: {gate.reason}" for gate in proof.gates if gate.state == "excepted"]


def _closed(proof: Proof) -> list[str]:
    """What named persons decided, drawn together by action and person."""
    flags: dict[str, Flag] = {flag.key: flag for flag in proof.flags if flag.blocking}
    latest = {d.flag_key: d for d in proof.dispositions if d.flag_key in flags}
    groups: dict[tuple[Action, str], list[str]] = defaultdict(list)
    for key, disposition in latest.items():
        groups[disposition.action, disposition.by].append(flags[key].text)
    return [
        f"{counted(len(texts), 'flag')} closed by {by} with {action!r}: {some(texts, 3)}"
        for (action, by), texts in sorted(groups.items())
    ]
