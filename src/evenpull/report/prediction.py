"""The prediction of a bolted ring as PDF/A-3b: drawing, what each procedure leaves, steps for a crew, limits of the
model; the ring file attached."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import rfc8785

from evenpull.card import typesetting
from evenpull.prediction import ProcedureOutcome, RingResult
from evenpull.prediction.found import FoundProcedure
from evenpull.prediction.notes import FLOOR, INTERACTION_ONLY, SPREAD, TORQUE, TORQUE_CONTROL, notes
from evenpull.prediction.scatter import TorqueOutcome
from evenpull.report import ring_rows
from evenpull.report.context import PaperName
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.interval_svg import interval_svg, interval_words
from evenpull.report.ring_svg import Numbering, drawing_words, ring_svg, scale_of
from evenpull.report.words import moment

TEMPLATE = Path(__file__).with_name("prediction.typ")


@dataclass(frozen=True, slots=True, eq=False)
class Paper:
    """All that goes into the paper. `torque`: intervals of procedures, none when the file states no scatter."""

    result: RingResult
    numbering: Numbering
    found: tuple[FoundProcedure, ...] = ()
    torque: tuple[TorqueOutcome, ...] = ()
    paper: PaperName = "a4"


def prediction_pdf(content: Paper, *, made_at: datetime, version: str) -> bytes:
    """PDF/A-3b and PDF/UA-1; the same bytes for the same input. `made_at` is aware. TypesettingError with typst's own
    message.
    """
    data = prediction_content(content, made_at=made_at, version=version)
    source = content.result.prediction.text
    inputs = {"sheet": json.dumps(data, ensure_ascii=False, sort_keys=True), "source": source}
    return typesetting.typeset(TEMPLATE, inputs, at=made_at, standards=("a-3b", "ua-1"))


def prediction_content(content: Paper, *, made_at: datetime, version: str) -> dict[str, Any]:
    """All that is printed, as data for the template. ValueError for a time without zone."""
    if made_at.utcoffset() is None:
        raise ValueError(f"made_at {made_at.isoformat()} has no time zone")
    p, made = content.result.prediction, made_at.astimezone(UTC)
    every = (*content.result.outcomes, *(one.outcome for one in content.found))
    words = {one.outcome.procedure.name: one.words for one in content.found}
    data: dict[str, Any] = {
        "title": f"Predicted ring {safe(p.id)}: {safe(p.name)}",
        "ring": safe(p.id), "revision": safe(f"revision {p.revision}"), "name": safe(p.name), "joint": safe(p.joint),
        "remarks": safe(p.notes), "paper": content.paper, "made": moment(made), "sha256": p.digest,
        "date": {"year": made.year, "month": made.month, "day": made.day,
                 "hour": made.hour, "minute": made.minute, "second": made.second},
        "facts": [[name, safe(text, NARROW * 2)] for name, text in
                  (*ring_rows.facts(p, content.numbering.words), ("Made with", f"evenpull {version}"))],
        "interaction": INTERACTION_ONLY, "columns": list(ring_rows.COLUMNS),
        "rows": [[safe(one.procedure.name, NARROW * 2), safe(one.procedure.words), *ring_rows.row_of(one)]
                 for one in every],
        "columns_said": f"least, spread, deviation: at the end, share of the target; {SPREAD}; {ring_rows.WALK}; "
                        "gasket stress: least at the end (mean over the width) to highest of any place on the way",
        "drawing_words": safe(drawing_words(p.case, content.numbering)),
        "procedures": [_procedure(content, one, scale_of(every), words.get(one.procedure.name, ())) for one in every],
        "torque": _torque(content),
        "inputs": [[safe(row.field, NARROW), safe(row.meaning), safe(row.written, NARROW), safe(row.source, NARROW)]
                   for row in p.inputs],
        "notes": [safe(text) for text in notes()], "cautions": [safe(text) for text in ring_rows.cautions(p)],
    }
    digest = sha256(rfc8785.dumps(data)).hexdigest()
    return {**data, "id": f"{data['ring']} / {digest[:12]}"}


def _procedure(content: Paper, one: ProcedureOutcome, top: float, words: tuple[str, ...]) -> dict[str, Any]:
    p = content.result.prediction
    worst = one.load.pull
    shown = [("at the end", len(one.loads))]
    if 0 < worst < len(one.loads):
        shown.append(("with the highest bolt load on the way", worst))
    return {
        "name": safe(one.procedure.name), "words": safe(one.procedure.words), "verdict": one.verdict,
        "found": [safe(text) for text in words],
        "drawings": [{
            "title": title, "svg": ring_svg(p.case, one, pull, content.numbering, top),
            "words": safe(f"{one.procedure.name}, {title}: load of each bolt round the ring, {INTERACTION_ONLY}"),
        } for title, pull in shown],
        "demands": [[safe(d.name), d.value, d.limit, d.where, d.verdict] for d in ring_rows.demands(one)],
        "passes": [{"name": safe(c.name), "setting": c.setting, "pulls": list(c.pulls)}
                   for c in ring_rows.crew_passes(p, one.procedure)],
        "loads": [[str(bolt), f"{load / 1e3:.1f}", f"{100 * load / one.target:.1f}"]
                  for bolt, load in enumerate(one.final, start=1)],
    }


def _torque(content: Paper) -> dict[str, Any] | None:
    if not content.torque:
        return None
    p = content.result.prediction
    scatter, wanted = p.scatter, p.evenness
    assert scatter is not None  # else there is no TorqueOutcome
    levels = " / ".join(f"{100 * quantile.q:g}" for quantile in content.torque[0].intervals.quantiles)
    return {
        "heading": safe(f"{TORQUE_CONTROL}; {scatter.assemblies} assemblies"), "basis": safe(scatter.basis),
        "columns": list(ring_rows.TORQUE_COLUMNS), "note": TORQUE, "floor": FLOOR,
        "levels": f"least, spread, deviation: {levels} % quantile over the assemblies; evenness reached: share of the "
                  "assemblies, in brackets its 95 % confidence interval",
        "rows": [[safe(one.procedure.name, NARROW * 2), *ring_rows.torque_row(one)] for one in content.torque],
        "drawings": [{
            "title": safe(one.procedure.name), "svg": interval_svg(one, wanted),
            "words": safe(f"{one.procedure.name}: interval of each bolt's load at the end, {TORQUE_CONTROL}"),
        } for one in content.torque],
        "words": interval_words(content.torque[0], wanted),
    }
