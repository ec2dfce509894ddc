"""Flags with their dispositions, rows that could not be read, clock doubts, late and paper entries."""

from __future__ import annotations

from collections import Counter
from typing import Any

from evenpull.ledger.clocks import clocks
from evenpull.plan.model import Plan
from evenpull.proof.decided import Decided, decided
from evenpull.proof.model import Disposition, Flag, Proof
from evenpull.proof.texts import at_place
from evenpull.report.context import ReportContext
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import NOT_IN_VERSION, counted, moment, place_of

PRINTED = 150  # flags, unread rows, doubts printed each; the attachments hold all
PRINTED_OF_SERIES = 60  # flags; a series repeats itself
RAW_PRINTED = 160  # characters of a raw row


def ordered_flags(proof: Proof) -> list[Flag]:
    """Open ones first, then those decided on, then notes; within each in the order of the proof."""
    open_keys = {flag.key for flag in proof.open_flags}
    given = decided(proof)
    rank = {flag.key: 0 if flag.key in open_keys else 1 if flag.key in given else 2 for flag in proof.flags}
    return sorted(proof.flags, key=lambda flag: rank[flag.key])


def numbering(proof: Proof) -> dict[str, int]:
    return {flag.key: number for number, flag in enumerate(ordered_flags(proof), start=1)}


def deviations(plan: Plan, proof: Proof, context: ReportContext) -> dict[str, Any]:
    spec = plan.spec
    open_keys = {flag.key for flag in proof.open_flags}
    given = decided(proof)
    ordered = ordered_flags(proof)
    most = PRINTED if spec.series is None else PRINTED_OF_SERIES
    rows = [
        {
            "number": str(number), "code": flag.code, "open": flag.key in open_keys, "blocking": flag.blocking,
            "place": _place(plan, flag), "text": safe(flag.text),
            "decisions": [_decision(d) for d in given.get(flag.key, ())],
        }
        for number, flag in enumerate(ordered[:most], start=1)
    ]
    known = {flag.key for flag in proof.flags}
    orphans = [d for d in proof.dispositions if d.flag_key not in known]
    doubted = [r for r in context.tightenings if r.time_doubt or r.time is None]
    placed = {r.key for cell in proof.cells for r in cell.records}
    elsewhere: Counter[str] = Counter(r.event for r in context.tightenings if r.key not in placed)
    return {
        "summary": _summary(proof, open_keys),
        "rows": rows,
        "short": all(_length(row) < 1500 for row in rows),
        "left_out": len(ordered) - len(rows),
        "orphans": [[safe(d.flag_key), *_decision(d)] for d in orphans],
        "unread": [
            [str(row.row), safe(_file_name(context, row.file_sha256), NARROW), safe(row.reason),
             safe(_cut(row.raw), NARROW)]
            for row in context.unread[:PRINTED]
        ],
        "unread_left_out": max(0, len(context.unread) - PRINTED),
        "unread_count": str(proof.unread),
        "doubts": [
            [safe(place_of(spec, r.unit_id, r.fastener, r.pass_number), NARROW), safe(r.time_text or "none", NARROW),
             safe(r.time_doubt or "no time that can be used")]
            for r in doubted[:PRINTED]
        ],
        "doubts_left_out": max(0, len(doubted) - PRINTED),
        "facts": [[name, safe(text, NARROW * 2)] for name, text in _facts(context, elsewhere)],
    }


def _place(plan: Plan, flag: Flag) -> str:
    """Where; empty when the flag is of the whole joint or its own words begin with the place."""
    one = plan.pass_by_number(flag.pass_number) if flag.pass_number is not None else None
    if not flag.unit_id and flag.fastener is None and one is None:
        return ""
    if flag.text.startswith(at_place(plan.spec, flag.unit_id, flag.fastener, one)):
        return ""
    return safe(place_of(plan.spec, flag.unit_id, flag.fastener, flag.pass_number), NARROW)


def _length(row: dict[str, Any]) -> int:
    return len(row["text"]) + sum(len(part) for decision in row["decisions"] for part in decision)


def _facts(context: ReportContext, elsewhere: Counter[str]) -> list[tuple[str, str]]:
    def share(number: int | None) -> str:
        return NOT_IN_VERSION if number is None else f"{number} of {len(context.tightenings)}"

    cells = ", ".join(f"{event} {number}" for event, number in sorted(elsewhere.items()))
    bases = sorted({r.time_basis for r in context.tightenings if r.time_basis})
    return [
        ("Records on no planned place", cells or "none"),
        ("Late entries", share(context.late_entries)),
        ("Entered from paper", share(context.paper_entries)),
        ("Clock corrections", _clock_words(context, bases)),
        ("Torque values", "converted from the unit of the record; the text as received stands in records.csv"),
    ]


def _clock_words(context: ReportContext, bases: list[str]) -> str:
    told = clocks(context.tightenings, context.around.tools)
    words = [f"{model.words} ({model.id})" for model in told.models] + [event.text for event in told.events]
    read = f"times read in the zone {', '.join(bases)}" if bases else "times read in the zone of their mapping"
    return "; ".join(words) + f"; {read}" if words else f"none: no clock was read beside a trusted one; {read}"


def _summary(proof: Proof, open_keys: set[str]) -> list[list[str]]:
    found: dict[str, list[int]] = {}
    given = decided(proof)
    for flag in proof.flags:
        counts = found.setdefault(flag.code, [0, 0, 0])
        counts[0 if flag.key in open_keys else 1 if flag.key in given else 2] += 1
    return [[code, *(str(n) if n else "–" for n in counts)] for code, counts in found.items()]


def _decision(d: Disposition | Decided) -> list[str]:
    return [safe(d.action), safe(d.by), moment(d.at), safe(d.reason)]


def _file_name(context: ReportContext, sha256: str) -> str:
    return next((file.name for file in context.files if file.sha256 == sha256), f"file {sha256[:12]}")


def _cut(raw: str) -> str:
    return raw if len(raw) <= RAW_PRINTED else f"{raw[:RAW_PRINTED]} … ({counted(len(raw), 'character')})"
