"""The joint release report: PDF/A-3b, tagged, with its data attached."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC
from hashlib import sha256
from pathlib import Path
from typing import Any

import rfc8785

from evenpull.card import typesetting
from evenpull.plan.model import Plan
from evenpull.proof.model import Decision, Proof
from evenpull.report import closing, fitness, means, opening, requirement, results, stated, tables
from evenpull.report.context import ReportContext
from evenpull.report.deviations import deviations, numbering
from evenpull.report.glyphs import safe
from evenpull.report.words import Scale, moment

TEMPLATE = Path(__file__).with_name("report.typ")


def release_report(plan: Plan, proof: Proof, decision: Decision, context: ReportContext) -> bytes:
    """PDF/A-3b and PDF/UA-1 of one joint; the same bytes for the same input.

    Attached: records.csv, records.json, proof.json, specification.toml. Without a signature each page says
    "DRAFT, not signed". Raises ValueError when plan, proof and records are not of one joint; TypesettingError with
    typst's own message.
    """
    _one_joint(plan, proof, context)
    _all_there(proof, context)
    attached = {
        "records.csv": tables.records_csv(context.tightenings, proof),
        "records.json": tables.records_json(context.tightenings, context.unread, proof),
        "proof.json": tables.proof_json(proof, decision),
        "specification.toml": plan.spec.text,
    }
    return typeset(report_content(plan, proof, decision, context, attached), attached, context)


def report_content(
    plan: Plan, proof: Proof, decision: Decision, context: ReportContext, attached: Mapping[str, str]
) -> dict[str, Any]:
    """All that is printed, as data for the template. `id` ends with the digest of the rest: the same id means the
    same content and the same attachments."""
    scale = Scale.of(plan)
    numbers = numbering(proof)
    made = context.generated_at.astimezone(UTC)
    content: dict[str, Any] = {
        "title": f"Joint release report {safe(plan.spec.id)}: {safe(plan.spec.name)}",
        "joint": safe(plan.spec.id),
        "name": safe(plan.spec.name),
        "place": safe(plan.spec.place),
        "draft": context.signature is None,
        "state": opening.state_line(context),
        "made": moment(made),
        "date": {"year": made.year, "month": made.month, "day": made.day,
                 "hour": made.hour, "minute": made.minute, "second": made.second},
        "paper": context.paper,
        "verdict": opening.verdict(plan, proof, decision, context),
        "identity": opening.identity(plan, proof, context),
        "work": opening.work(plan, proof, context),
        "specification": requirement.specification(plan, context),
        "why": requirement.reasoning(plan, scale),
        "matrix": results.matrix(plan, proof, numbers, scale),
        "series": results.series(plan, proof, numbers, scale),
        "reasons": results.reasons(plan, proof),
        "order": results.order(plan, proof, context.tightenings),
        "check": results.check_pass(plan, proof),
        "statistics": results.statistics(plan, proof, scale),
        "tools": means.tools(plan, context),
        "fitness": fitness.fitness(plan, context),
        "people": means.people(proof, context),
        "material": opening.material(plan, context),
        "stated": stated.section(plan, proof, context.around, context.tightenings),
        "deviations": deviations(plan, proof, context),
        "tests": closing.tests(context),
        "cautions": closing.cautions(plan, context),
        "statement": closing.statement(context),
        "evidence": closing.evidence(plan, context, attached),
    }
    digest = sha256(rfc8785.dumps(content)).hexdigest()
    return {**content, "digest": digest, "id": f"{content['joint']} / {digest[:12]}"}


def _one_joint(plan: Plan, proof: Proof, context: ReportContext) -> None:
    if proof.joint != plan.spec.id:
        raise ValueError(f"the proof is of joint {proof.joint}, the plan of {plan.spec.id}")
    strange = sorted({record.joint for record in context.tightenings} - {plan.spec.id})
    if strange:
        raise ValueError(f"records of other joints in the report of {plan.spec.id}: {', '.join(strange)}")


def _all_there(proof: Proof, context: ReportContext) -> None:
    given = {record.key for record in context.tightenings}
    lost = [record.key for cell in proof.cells for record in cell.records if record.key not in given]
    if lost:
        raise ValueError(f"{len(lost)} records of the proof are not among the records of the report: {lost[0]}")


def inputs_of(content: Mapping[str, Any], attached: Mapping[str, str]) -> dict[str, str]:
    """sys.inputs of the template: data as JSON, the attached files as they are."""
    inputs = {f"file:{name}": text for name, text in attached.items()}
    inputs["report"] = json.dumps(content, ensure_ascii=False, sort_keys=True)
    inputs["attached"] = json.dumps(
        [{"name": name, "type": closing.ATTACHED[name][0], "what": closing.ATTACHED[name][1]} for name in attached]
    )
    return inputs


def typeset(content: Mapping[str, Any], attached: Mapping[str, str], context: ReportContext) -> bytes:
    """PDF/A-3b and PDF/UA-1 of the content with its attachments."""
    inputs = inputs_of(content, attached)
    return typesetting.typeset(TEMPLATE, inputs, at=context.generated_at, standards=("a-3b", "ua-1"))
