"""What was asked, by which document, and why this torque: load window and the chain of numbers behind it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from evenpull.joint.target import NO_LOAD
from evenpull.joint.traced import Band, Traced
from evenpull.plan.model import Plan
from evenpull.quantities import show
from evenpull.report.context import ReportContext, SpecificationReceived
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.symbols import maths
from evenpull.report.words import Scale, moment

_SHOWN_IN = {"m": "mm", "m2": "mm2", "N": "kN", "Pa": "MPa"}
_STATUS = {"read": "", "computed": "", "stated": "", "memory": "value from memory, not re-read"}


def specification(plan: Plan, context: ReportContext) -> dict[str, Any]:
    spec = plan.spec
    now = context.specification
    facts = [
        ("Document", f"{spec.source.document}, revision {spec.source.revision}, {spec.source.place}"),
        ("Approved by", f"{spec.source.approved_by}; in force from {spec.source.in_force_from.isoformat()}"),
        ("Received", f"{moment(now.received_at)}, from {now.received_from}"),
        ("File", f"{spec.file}, attached as specification.toml"),
        ("Earlier revisions", "; ".join(_revision(r) for r in context.earlier_revisions) or "none received"),
        ("Method", _method(plan)),
        ("Acceptance", _acceptance(plan)),
    ]
    return {
        "facts": [[name, safe(text, NARROW * 2)] for name, text in facts],
        "sha256": spec.digest,
        "same": spec.digest == now.sha256,
        "received_sha256": safe(now.sha256),
    }


def _revision(one: SpecificationReceived) -> str:
    return f"{one.document} revision {one.revision}, received {moment(one.received_at)} from {one.received_from}"


def _acceptance(plan: Plan) -> str:
    text = f"torque within ±{plan.spec.target.tolerance * 100:g} % of the value of each pass"
    if any(one.own for one in plan.passes):
        text += (", and of each fastener's own setting where it has one; these settings are to leave even loads by "
                 "prediction, which no torque proves")
    return text


def _method(plan: Plan) -> str:
    wish = plan.spec.target
    text: str = wish.method
    if wish.method == "torque and angle" and wish.angle is not None:
        text += f": to the torque, then on by {wish.angle}"
        if wish.angle_window is not None:
            text += f" (accepted {wish.angle_window[0]} to {wish.angle_window[1]})"
    if plan.target.load is None:
        return f"{text}; the load {NO_LOAD}"
    rule = "thread and bearing friction" if wish.rule == "friction" else "nut factor"
    return f"{text}; load computed from the {rule}"


def reasoning(plan: Plan, scale: Scale) -> dict[str, Any]:
    """Sentence, window with limits, problems of target and plan, and the chain."""
    target, wish = plan.target, plan.spec.target
    problems = dict.fromkeys([(p.severity, p.text) for p in target.problems])
    problems |= dict.fromkeys([(p.severity, p.text) for p in plan.problems])
    rank = {"stop": 0, "warning": 1, "note": 2}
    return {
        "sentence": safe(_sentence(plan, scale)),
        "window": _window(plan),
        "rows": _band_rows(plan, scale),
        "problems": [[severity, safe(text)] for severity, text in sorted(problems, key=lambda p: rank[p[0]])],
        "chain": [_step(step, scale) for step in target.chain],
        "required": wish.required_preload is not None,
    }


def _sentence(plan: Plan, scale: Scale) -> str:
    target, wish, load = plan.target, plan.spec.target, plan.target.load
    if wish.torque is not None:
        asked = f"The specification states the torque {wish.torque}."
    elif wish.preload is not None:
        asked = f"The specification states the preload {wish.preload}."
    else:
        asked = f"The specification states a utilisation of {(wish.utilisation or 0) * 100:g} % of the yield strength."
    drag = f", {wish.prevailing_torque} of it against the drag of the locking element" if wish.prevailing_torque else ""
    text = f"{asked} Each fastener gets {scale.with_unit(target.torque)}{drag}."
    if load is None:
        return text + (" The thread is not stated, so no load and no utilisation can be computed. Whether this torque "
                       "is right for the joint is not judged; records are judged against the window of each pass.")
    text += (
        f" With the stated friction ({plan.spec.friction.basis}) and the scatter of tool and setting this leaves a "
        f"preload of {_kN(load.low)} to {_kN(load.high)}, nominally {_kN(load.nominal)}."
    )
    if wish.required_preload is None:
        return text + " The specification names no least preload, so whether the load is enough is not judged."
    kept = "keeps it" if load.low >= wish.required_preload.si else "falls below it"
    return f"{text} At least {wish.required_preload} must be kept: the lowest preload {kept}."


def _kN(si: float) -> str:
    return show(si, "kN")


def _window(plan: Plan) -> dict[str, Any] | None:
    """Positions for the drawing in newtons, with the limits that are known; None where no load can be computed."""
    target = plan.target
    if target.load is None:
        return None
    limits = []
    required = plan.spec.target.required_preload
    if required is not None:
        limits.append({"at": required.si, "name": "required", "text": _kN(required.si)})
    symbols = {step.symbol: step for step in target.chain}
    for symbol, name in (("F_Mzul", "utilisation limit"), ("F_p", "proof load")):
        if symbol in symbols:
            limits.append({"at": symbols[symbol].value, "name": name, "text": _kN(symbols[symbol].value)})
    values = [target.load.low, target.load.nominal, target.load.high]
    highest = max(*values, *(float(str(limit["at"])) for limit in limits), 1.0)
    words = ", ".join(f"{limit['name']} {limit['text']}" for limit in limits)
    return {
        "low": values[0], "nominal": values[1], "high": values[2], "limits": limits, "end": highest * 1.08,
        "low_text": _kN(values[0]), "nominal_text": _kN(values[1]), "high_text": _kN(values[2]),
        "alt": f"Preload from {_kN(values[0])} over {_kN(values[1])} to {_kN(values[2])}; {words or 'no limit known'}",
    }


def _band_rows(plan: Plan, scale: Scale) -> list[list[str]]:
    target, wish = plan.target, plan.spec.target
    rows = [[f"torque, {scale.shown}", *_band(target.torque_band, scale.number), ""]]
    if target.load is None:
        rows += [[name, "–", "–", "–", NO_LOAD] for name in ("preload", "tension with torsion over yield strength")]
    else:
        least = f"at least {_kN(wish.required_preload.si)}" if wish.required_preload else "none stated"
        rows.append(["preload, kN", *_band(target.load, lambda v: _kN(v).split()[0]), least])
    if target.utilisation_yield is not None:
        most = f"at most {wish.utilisation_limit * 100:g} %"
        rows.append(["tension with torsion over yield strength", *_band(target.utilisation_yield, _percent), most])
    if target.utilisation_proof is not None:
        rows.append(["preload over proof load", *_band(target.utilisation_proof, _percent), "at most 100 %"])
    elif target.load is not None:
        rows.append(["preload over proof load", "–", "–", "–", "not judged: the standard gives no proof stress"])
    return rows


def _band(band: Band, show_one: Callable[[float], str]) -> list[str]:
    return [show_one(band.low), show_one(band.nominal), show_one(band.high)]


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"


def _step(step: Traced, scale: Scale) -> dict[str, Any]:
    shown_in = scale.unit if step.unit == "N.m" else _SHOWN_IN.get(step.unit, step.unit)
    value = f"{step.value:.4g}" if step.unit == "1" else show(step.value, shown_in)
    formula = "" if step.formula in ("stated", step.name) else step.formula
    status = _STATUS.get(step.status, step.status)
    status_text = f" ({status})" if status and "(memory)" not in step.source else ""
    return {
        "symbol": maths(step.symbol), "name": maths(step.name), "formula": maths(formula), "value": value,
        "source": safe(step.source + status_text, NARROW * 2),
    }
