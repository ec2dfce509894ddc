"""With what and by whom: tools with their certificate on each day of use, people with what is recorded of them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from datetime import date
from typing import Any

from evenpull.plan.model import Plan, Tool
from evenpull.plan.settings import certificate_problem
from evenpull.proof.judging import days_of_use
from evenpull.proof.model import Proof
from evenpull.proof.moments import moments
from evenpull.report.context import ReportContext
from evenpull.report.glyphs import NARROW, TIGHT, safe
from evenpull.report.words import NOT_IN_VERSION, NOT_RECORDED, counted


def tools(plan: Plan, context: ReportContext) -> dict[str, Any]:
    """One row per tool that pulled, then the allowed ones that did not."""
    known: dict[str, list[Tool]] = defaultdict(list)
    for tool in (*context.register, *plan.tools):
        if tool not in known[tool.serial]:
            known[tool.serial].append(tool)
    at = moments(context.tightenings)
    days: dict[str, set[date]] = defaultdict(set)
    undated: Counter[str] = Counter()
    pulls: Counter[str] = Counter()
    for record in context.tightenings:
        pulls[record.tool] += 1
        found = days_of_use(record, at[record.key])
        if found is None:
            undated[record.tool] += 1
        else:
            days[record.tool].update(found)
    allowed = set(plan.spec.tools_allowed)
    rows = [
        _tool(serial, known[serial], days[serial], pulls[serial], undated[serial], serial in allowed)
        for serial in sorted(pulls)
    ]
    return {
        "rows": rows,
        "unused": safe(", ".join(serial for serial in plan.spec.tools_allowed if serial not in pulls)),
        "shift": safe(context.notes.get("shift checks", NOT_IN_VERSION)),
    }


def _tool(serial: str, entries: list[Tool], days: set[date], pulls: int, undated: int, allowed: bool) -> dict[str, Any]:
    """`entries`: the tool with each of its certificates."""
    row: dict[str, Any] = {
        "serial": safe(serial or "no serial in the record", TIGHT),
        "pulls": str(pulls),
        "allowed": "yes" if allowed else "NO",
        "name": "not in the register", "chain": "", "certificates": [[NOT_RECORDED, ""]], "u": "–",
    }
    row["days"], row["on_day"], row["bad"] = _validity(entries, days, undated)
    if entries:
        latest = max(entries, key=lambda tool: tool.certificate_from)
        row["name"] = safe(f"{latest.name} ({latest.kind})", NARROW)
        row["certificates"] = [
            [safe(t.certificate or "none", NARROW), f"{t.certificate_from} to {t.certificate_until}"]
            for t in sorted(entries, key=lambda tool: tool.certificate_from)
        ]
        row["u"] = f"{latest.uncertainty * 100:.2g} %"
        row["chain"] = safe(_chain(latest), NARROW)
    return row


def _chain(tool: Tool) -> str:
    parts = []
    if tool.adapter or tool.adapter_length is not None:
        text = f"adapter {tool.adapter}".rstrip()
        if tool.adapter_length is not None:
            text += f", {tool.adapter_length}"
        if tool.adapter_angle is not None:
            text += f" at {tool.adapter_angle}"
        parts.append(text)
    if tool.multiplier_ratio != 1.0:
        parts.append(f"multiplier 1 : {tool.multiplier_ratio:g}")
    return "; ".join(parts)


def _validity(entries: list[Tool], days: set[date], undated: int) -> tuple[str, str, bool]:
    """Days of use, whether a certificate covered each, and whether that is something to look at."""
    ordered = sorted(days)
    shown = ", ".join(day.isoformat() for day in ordered[:3]) + (
        f" … {ordered[-1].isoformat()} ({len(ordered)} days)" if len(ordered) > 3 else ""
    )
    if undated:
        shown += (", " if shown else "") + f"{counted(undated, 'record')} without a day"
    if not entries:
        return shown, "not known", True
    outside = [day for day in ordered if all(certificate_problem(tool, day) for tool in entries)]
    if outside:
        return shown, f"NO on {', '.join(day.isoformat() for day in outside[:3])}", True
    if undated:
        return shown, "yes where dated" if ordered else "not known", True
    return shown, "yes", False


def people(proof: Proof, context: ReportContext) -> dict[str, Any]:
    """Operators from the records, deciders from the dispositions, others from the context, the signer."""
    operated = Counter(record.operator for record in context.tightenings)
    known: dict[str, str] = {}
    for person in context.people:
        if person.qualification and person.name not in known:
            known[person.name] = person.qualification
    rows = []
    for name, number in sorted(operated.items()):
        rows.append([safe(name or "no name in the record", NARROW), f"operator, {counted(number, 'record')}",
                     _qualified(known, name)])
    decided = Counter(d.by for d in proof.dispositions)
    rows += [[safe(name, NARROW), f"decided on {counted(number, 'flag')}", _qualified(known, name)]
             for name, number in sorted(decided.items())]
    rows += [[safe(p.name, NARROW), safe(p.part, NARROW), safe(p.qualification or NOT_RECORDED, NARROW)]
             for p in context.people if p.part != "operator"]
    independent = [p.name for p in context.people if p.part.startswith("independent check")]
    notes = ["Independent checker: " + (", ".join(independent) if independent else NOT_IN_VERSION) + "."]
    also = "is named as independent checker and also tightened fasteners of this joint"
    notes += [f"{name} {also}." for name in independent if name in operated]
    notes.append(f"Hours on duty: {context.notes.get('hours on duty', NOT_IN_VERSION)}.")
    if context.signature is not None:
        signer = context.signature.signer
        rows.append([safe(signer, NARROW), "signed the release", _qualified(known, signer)])
        if signer in operated:
            notes.append(f"{signer} signed the release and also tightened fasteners of this joint.")
    return {"rows": rows, "notes": [safe(note) for note in notes]}


def _qualified(known: Mapping[str, str], name: str) -> str:
    return safe(known.get(name, NOT_RECORDED), NARROW)
