"""The report of a review as PDF/A-3b: what was found, what it reaches, what was decided; the whole list attached."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import rfc8785

from evenpull.card import typesetting
from evenpull.equipment import Holdings
from evenpull.instrument.review import FULL, Verdict
from evenpull.report.context import PaperName
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.review_table import SHORT, review_csv
from evenpull.report.review_words import as_found_rows, form_lines, found_rows, lot_words, model_rows, suspect_rows
from evenpull.report.words import moment
from evenpull.review import CLASSES, NOT_ASKED, JointState, Outcome, lots
from evenpull.review.codes import OTHER_WORDS
from evenpull.review.considered import CAUTIONS, NOTICES, TO_SAY

TEMPLATE = Path(__file__).with_name("tool_review.typ")
MOST_JOINTS, MOST_ROWS = 400, 300  # printed; the attached file holds all
HOW = (
    "Deviation a = (indicated - true)/true, so true = indicated/(1 + a); a tool that reads 9 % high delivered 1/1.09 = "
    "91.7 % of what it showed. Between two points of a certificate the deviation is taken in a straight line; below "
    "the lowest and above the highest point nothing is said: cannot be judged. Uncertainty u² = u_cal² + u_resolution² "
    "+ u_repeat² + u_operator²; the true range is ± 2 u. Surely in: the whole range lies in the window of that pass; "
    "surely out: none of it; doubtful: part of it. Load F = (M - drag) × share left/(K d) with the range of the nut "
    "factor K of the joint's own file.",
    "The decision rests on the worst case, the full deviation over the whole period; a step at a known event can only "
    "make it worse. Linear drift by date and by cycles stands beside it as information and lowers no verdict.",
    "The torque on record is that at the fastener; where adapter or multiplier stood between, it is divided by their "
    "ratio to find what the tool showed. Times are those of the records as the source said them; one that is not known "
    "counts as within the period. Readings that were withdrawn do not count.",
)


@dataclass(frozen=True, kw_only=True)
class ReviewPaper:
    """What is printed beside the outcome. `joints` rows of (joint, class, state, in, doubtful, cannot, out, loads,
    disposition); `said` what -> (text, who and when); `closed` statement and who, None while it is open."""

    number: int
    outcome: Outcome
    held: Holdings
    opened: str
    identity: str
    joints: Sequence[tuple[str, ...]]
    decided: Mapping[str, str]
    said: Mapping[str, tuple[str, str]]
    closed: tuple[str, str] | None
    aside: Mapping[str, int]
    notes: Sequence[str]
    log: str
    digest: str


def review_pdf(paper: ReviewPaper, *, made_at: datetime, version: str, form: PaperName = "a4") -> bytes:
    """PDF/A-3b and PDF/UA-1, the same bytes for the same input. TypesettingError with typst's own message."""
    listed = review_csv(paper.outcome, paper.decided).decode()
    inputs = {
        "review": json.dumps(content(paper, made_at=made_at, version=version, form=form, listed=listed),
                             ensure_ascii=False, sort_keys=True),
        "list": listed,
    }  # fmt: skip
    return typesetting.typeset(TEMPLATE, inputs, at=made_at, standards=("a-3b", "ua-1"))


def content(
    paper: ReviewPaper, *, made_at: datetime, version: str, form: PaperName, listed: str,
) -> dict[str, Any]:
    """All that is printed, as data for the template."""
    outcome, made = paper.outcome, made_at.astimezone(UTC)
    counts, loads = outcome.counts, outcome.load_counts
    t = outcome.touched
    said = [[what, asked, *(safe(x) for x in paper.said.get(what, ("not said yet", "")))]
            for what, asked in TO_SAY.items()]
    body: dict[str, Any] = {
        "title": f"Review {paper.number} of {safe(outcome.found.serial)}: {outcome.found.kind}",
        "name": f"Review {paper.number}: {safe(outcome.found.serial)}, {outcome.found.kind}",
        "number": str(paper.number), "serial": safe(outcome.found.serial), "paper": form, "made": moment(made),
        "date": {"year": made.year, "month": made.month, "day": made.day,
                 "hour": made.hour, "minute": made.minute, "second": made.second},
        "open": paper.closed is None,
        "uses": f"{t.count:,}", "joint_count": f"{len(paper.joints):,}",
        "verdicts": [[verdict.words, f"{counts[verdict]:,}"] for verdict in reversed(Verdict)],
        "loads": [[_load_words(verdict), f"{loads[verdict]:,}"] for verdict in reversed(Verdict)],
        "by_class": _groups([f"class {one}" if one else "not described" for one in CLASSES], outcome.by_class()),
        "by_state": _groups([one.words for one in JointState], outcome.by_state()),
        "found": _safe_rows(found_rows(outcome.found, paper.held)),
        "points": _safe_rows(as_found_rows(outcome.found, paper.held)),
        "forms": [[f.direction, f.form, f.words] for f in form_lines(outcome.found, paper.held)],
        "suspects": _safe_rows(suspect_rows(outcome)), "models": _safe_rows(model_rows(outcome)),
        "reasons": [[reason.words, f"{n:,}"] for reason, n in outcome.reasons().items()],
        "other": [[words, f"{int((t.other & one != 0).sum()):,}"] for one, words in OTHER_WORDS.items()],
        "joints": _safe_rows(paper.joints[:MOST_JOINTS]), "joints_left": max(0, len(paper.joints) - MOST_JOINTS),
        **_rows(outcome),
        "lots": [{"words": lot_words(lot), "plans": [
            [f"{100 * p.share:g} %", f"{p.bad:,}", f"{p.n:,}", f"{p.endless:,}", f"{100 * p.detection:.2f} %"]
            for p in lot.plans]} for lot in lots(outcome)],
        "cautions": list(CAUTIONS), "notices": [list(one) for one in NOTICES], "said": said,
        "aside": [[safe(name), f"{n:,}"] for name, n in paper.aside.items()], "notes": [safe(n) for n in paper.notes],
        "how": list(HOW),
        "approvals": _safe_rows([
            ("Opened by", paper.opened), ("How known", paper.identity),
            ("Dispositions", f"{len(paper.decided):,} of {len(paper.joints):,} joints"),
            ("Closed by", "not closed" if paper.closed is None else paper.closed[1]),
            ("Statement", "none yet" if paper.closed is None else paper.closed[0]),
            ("Stands on", paper.log), ("Made with", f"evenpull {version}"),
        ]),
        "digest": paper.digest, "list_sha256": sha256(listed.encode()).hexdigest(),
    }  # fmt: skip
    mark = sha256(rfc8785.dumps(body)).hexdigest()
    return {**body, "id": f"review {paper.number} / {mark[:12]}"}


def _load_words(verdict: Verdict) -> str:
    return {"surely in": "surely enough", "surely out": "surely too little"}.get(verdict.words, verdict.words)


def _safe_rows(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    return [[safe(cell, NARROW * 2) for cell in row] for row in rows]


def _groups(names: Sequence[str], counts: np.ndarray[Any, Any]) -> list[list[str]]:
    return [[name, *(f"{int(n):,}" for n in row)] for name, row in zip(names, counts, strict=True) if row.sum()]


def _rows(outcome: Outcome) -> dict[str, Any]:
    """The tightenings that are not surely in, the worst first, with every model."""
    bad = np.flatnonzero(outcome.decision != Verdict.SURELY_IN)
    order = bad[np.lexsort((outcome.touched.fastener[bad], outcome.touched.joint[bad], -outcome.decision[bad]))]
    t, shown = outcome.touched, order[:MOST_ROWS]
    rows, loads = [], outcome.loads(shown).get(FULL)
    for at, i in enumerate(shown):
        place = t.joints[int(t.joint[i])].joint + (f" {t.units[int(t.unit[i])]}" if t.units[int(t.unit[i])] else "")
        rows.append([
            safe(f"{place} / {t.fastener[i]}", NARROW), str(int(t.pass_number[i]) or ""), _number(t.torque[i]),
            f"{_number(outcome.lower[i])} to {_number(outcome.upper[i])}",
            *(_range(one.low[i], one.high[i]) for one in outcome.models),
            "" if outcome.load[i] == NOT_ASKED or loads is None else
            f"{_range(loads.low[at] / 1e3, loads.high[at] / 1e3)} / "
            f"{_number(t.joints[int(t.joint[i])].required / 1e3)}",
            Verdict(int(outcome.decision[i])).words,
        ])  # fmt: skip
    return {"rows": rows, "rows_left": int(order.size - shown.size),
            "row_models": [SHORT[m.name] for m in outcome.models]}


def _number(value: float) -> str:
    return "–" if np.isnan(value) else f"{value:.4g}"


def _range(low: float, high: float) -> str:
    return "–" if np.isnan(low) else f"{low:.4g} to {high:.4g}"
