"""First page: the verdict with its reasons, the count, the joint with its map, what was done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from evenpull.card import joint_map_svg
from evenpull.plan.model import Plan, Specification
from evenpull.proof.model import Decision, Proof
from evenpull.quantities import Measured
from evenpull.report.context import ReportContext
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import (
    CLASS_MEANING,
    NOT_IN_VERSION,
    NOT_RECORDED,
    cell_state,
    counted,
    fastener_states,
    moment,
)

DRAFT = "DRAFT, not signed"
READY = "READY TO SIGN"
_MEANS = {
    "released": "The rules find nothing in the records that stands against the joint.",
    "released with follow-up": "The joint is released; the points under “To follow up” stay open until they are done.",
    "not released": "The joint must not be taken as tightened right, for the reasons below.",
}


def state_line(context: ReportContext) -> str:
    return DRAFT if context.signature is None else f"Signed {moment(context.signature.signed_at)}"


def verdict(plan: Plan, proof: Proof, decision: Decision, context: ReportContext) -> dict[str, Any]:
    """`state` is printed large. Only a signature makes it a release: unsigned, the headline is never "RELEASED"."""
    signature = context.signature
    headline, means = decision.state.upper(), _MEANS[decision.state]
    if signature is not None:
        kicker = f"Signed by {signature.signer}, {moment(signature.signed_at)}."
    elif decision.signable:
        kicker = "Finding from the records. Nobody has signed."
        headline = READY
        means = f"Nothing recorded stands against: {decision.state}. It takes effect only with a signature."
    else:
        kicker = (
            "Finding from the records. Nobody has signed; it takes effect only with a signature. As it stands it "
            "cannot be signed."
        )
        headline, means = "NOT RELEASED", _MEANS["not released"]
    return {
        "state": headline,
        "kicker": safe(kicker),
        "means": means,
        "reasons": [safe(reason) for reason in decision.reasons],
        "follow_ups": [safe(text) for text in decision.follow_ups],
        "open_points": [safe(text) for text in context.open_points],
        "counts": _counts(plan, proof),
    }


def _counts(plan: Plan, proof: Proof) -> list[dict[str, Any]]:
    """Boxes of the summary line; `weight` marks a count that stands against the joint."""
    states = Counter(cell_state(cell) for cell in proof.cells)
    return [
        {"n": str(len(proof.cells)), "what": "planned", "weight": False},
        {"n": str(states["accepted"]), "what": "accepted", "weight": False},
        *({"n": str(states[s]), "what": s, "weight": states[s] > 0} for s in ("not accepted", "not judged", "missing")),
        {"n": str(len(proof.open_flags)), "what": "open flags", "weight": bool(proof.open_flags)},
        {"n": str(proof.unread), "what": "rows not read", "weight": proof.unread > 0},
    ]


def identity(plan: Plan, proof: Proof, context: ReportContext) -> dict[str, Any]:
    spec = plan.spec
    counting = f"{spec.numbering}, fastener 1 is {spec.first_fastener}"
    facts: list[tuple[str, str | list[str]]] = [
        ("Joint", spec.id),
        ("Name", spec.name),
        ("Place", spec.place),
        ("Kind", spec.kind),
        ("Class", CLASS_MEANING[spec.joint_class]),
        ("Seen from", spec.viewed_from),
        ("Counted", counting),
        ("Permits, isolation", _noted(context, "permits")),
        ("Photographs", _noted(context, "photographs")),
        ("Keeping", context.notes.get("keeping", NOT_RECORDED)),
    ]
    if spec.series is not None:
        text = f"{len(proof.units)} × {spec.series.unit_name}, {counted(spec.fasteners.count, 'fastener')} each"
        facts.insert(4, ("Series", text))
    states = fastener_states(proof)
    drawn = joint_map_svg(plan, states=states, title=f"Map of joint {spec.id}")
    over = "worst verdict of each fastener over all passes"
    if spec.series is not None:
        over = f"worst verdict of each fastener over all passes and every {spec.series.unit_name}"
    return {
        "facts": _pairs(facts),
        "map": drawn,
        "map_caption": safe(f"Map seen from {spec.viewed_from}: {over}. Not to scale."),
        "map_alt": safe(_map_words(spec, states)),
    }


def _map_words(spec: Specification, states: dict[int, str]) -> str:
    found = Counter(states.values())
    words = ", ".join(f"{found[s]} {s}" for s in ("accepted", "not accepted", "not judged", "missing") if found[s])
    return f"Map of {spec.fasteners.count} fasteners seen from {spec.viewed_from}, counted {spec.numbering}: {words}"


def work(plan: Plan, proof: Proof, context: ReportContext) -> dict[str, Any]:
    """What was done, as far as records say; the rest is named as not recorded."""
    times = sorted(record.time for record in context.tightenings if record.time is not None)
    events = Counter(record.event for record in context.tightenings)
    when = f"{moment(times[0])} to {moment(times[-1])}" if times else "no record carries a time that can be used"
    passes = [p for p in plan.passes if not p.check]
    checks = len(plan.passes) - len(passes)
    planned = counted(len(passes), "pass", "passes")
    planned += f", {counted(checks, 'check pass', 'check passes')}" if checks else ", no check pass"
    taken = (
        f"{counted(proof.records, 'record')} taken in, {counted(proof.repeated, 'record')} received again and counted "
        f"once, {counted(proof.unread, 'row')} not readable"
    )
    said = ", ".join(f"{event} {number}" for event, number in sorted(events.items())) or "none"
    facts: list[tuple[str, str | list[str]]] = [
        ("Planned", f"{planned}; order {plan.spec.procedure.order}, tools at once {plan.spec.procedure.tools_at_once}"),
        ("Tightened", when),
        ("Records", taken),
        ("Records by event", said),
        ("Opening, as found", _noted(context, "opening")),
        ("Gasket or faces", _noted(context, "gasket")),
        ("Gap, alignment before", _noted(context, "alignment")),
        ("Witness marks, locking", _noted(context, "marks")),
        ("Temperature, weather", _noted(context, "conditions")),
    ]
    return {"facts": _pairs(facts)}


def material(plan: Plan, context: ReportContext) -> dict[str, Any]:
    f, friction = plan.spec.fasteners, plan.spec.friction
    held = f"nut, class {f.nut_class}" if f.counterpart == "nut" else f"tapped hole in {f.tapped_material}"
    if f.engagement is not None:
        held += f", thread engagement {f.engagement}"
    head = {"stud": "", "not stated": ", head not stated"}.get(f.head, f", {f.head} head")
    clamped = "; ".join(f"{c.part}, {c.material}, {'thickness ' * (not isinstance(c.thickness, Measured))}{c.thickness}"
                        for c in plan.spec.clamped)
    facts: list[tuple[str, str | list[str]]] = [
        ("Fasteners", f"{f.count} × {'stud ' if f.head == 'stud' else ''}{f.size}, length {f.length}{head}"),
        ("Into", f"{held}; turned at the {f.turned}"),
        ("Washers", f.washers),
        ("Lot, as specified", f.lot or NOT_RECORDED),
        ("Condition, as specified", f.condition),
        ("Lot and marking seen", _noted(context, "lot seen")),
        ("Number of uses", _noted(context, "uses")),
        ("Lubricant, as specified", friction.lubricant or "none stated"),
        ("Lubricant lot, applied where", _noted(context, "lubricant lot")),
        ("Clamped parts", clamped or NOT_RECORDED),
    ]
    if plan.spec.notes:
        facts.append(("Note of the specification", plan.spec.notes))
    return {"facts": _pairs(facts)}


def _noted(context: ReportContext, heading: str) -> list[str]:
    """What entries say under a heading, a line each."""
    return context.notes.get(heading, NOT_IN_VERSION).split("\n")


def _pairs(facts: Sequence[tuple[str, str | list[str]]]) -> list[list[str]]:
    """Texts as they are printed; each of several lines stands on a line of its own."""
    return [
        [name, "\n".join(safe(line, NARROW * 2) for line in ([text] if isinstance(text, str) else text))]
        for name, text in facts
    ]
