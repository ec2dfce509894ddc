"""Tests, cautions, follow-ups, the signed statement, the evidence and how to verify it."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from evenpull.catalogue.cautions import Caution, caution, cautions_for
from evenpull.plan.model import Plan
from evenpull.report.context import ReportContext
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import NOT_IN_VERSION, counted, moment

ATTACHED = {
    "records.csv": ("text/csv", "every tightening of this joint with all its fields and what the judgement made of it"),
    "records.json": ("application/json", "the same, with the rows that could not be read"),
    "proof.json": ("application/json", "verdict of each cell, flags, dispositions, statistics, decision"),
    "specification.toml": ("application/toml", "the specification as received"),
}


def tests(context: ReportContext) -> dict[str, Any]:
    return {
        "rows": [[safe(t.kind, NARROW), safe(t.result), safe(t.by, NARROW), moment(t.at)] for t in context.tests],
        "none": f"Leak test, run: {NOT_IN_VERSION}.",
    }


def cautions(plan: Plan, context: ReportContext) -> list[dict[str, str]]:
    """Cautions that belong to the record of this joint, those the joint names itself included."""
    kinds = {tool.kind for tool in plan.tools}
    spec = plan.spec
    found: dict[str, Caution] = {
        c.key: c
        for c in cautions_for(spec.kind, kinds, spec.fasteners.strength_class, spec.fasteners.tapped_material, "record")
    }
    for key in spec.cautions:
        found.setdefault(key, caution(key))
    return [
        {"task": safe(c.task), "hazard": safe(c.hazard), "stop": safe(c.stop), "who": safe(c.who_decides)}
        for c in found.values()
    ]


def statement(context: ReportContext) -> dict[str, Any] | None:
    s = context.signature
    if s is None:
        return None
    return {
        "facts": [
            ["Signer", safe(s.signer)], ["Meaning", safe(s.meaning)], ["Statement", safe(s.statement)],
            ["Signed", moment(s.signed_at)],
            *([["Signer known by", safe(s.identity)]] if s.identity else []),
        ],
        "key": safe(s.key_id, 64), "signature": safe(s.signature, 64), "signed": safe(s.signed_sha256, 64),
    }


def evidence(plan: Plan, context: ReportContext, attached: Mapping[str, str]) -> dict[str, Any]:
    log = context.log
    return {
        "files": [
            {"name": safe(f.name), "sha256": safe(f.sha256, 64), "size": f"{f.size:,} bytes".replace(",", " "),
             "received": safe(f"{moment(f.received_at)}, from {f.received_from}; mapping {f.mapping}")}
            for f in context.files
        ],
        "cards": [
            [safe(c.serial, NARROW), moment(c.issued_at), moment(c.valid_until), safe(c.issued_by, NARROW)]
            for c in context.cards
        ],
        "log": {"size": counted(log.size, "entry", "entries"), "root": safe(log.root, 64),
                "checkpoint": safe(log.checkpoint or "none made yet", 64)},
        "versions": [[safe(name), safe(version)] for name, version in sorted(context.versions.items())],
        "attached": [
            {"name": name, "what": ATTACHED[name][1], "size": counted(len(text.encode()), "byte"),
             "sha256": sha256(text.encode()).hexdigest()}
            for name, text in attached.items()
        ],
        "bundle": f"{safe(plan.spec.id)}.bundle.zip",
        "joint": safe(plan.spec.id),
    }
