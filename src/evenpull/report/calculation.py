"""The calculation sheet as PDF/A-3b: every formula with its numbers, plots, comparison; the file attached."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from itertools import combinations
from pathlib import Path
from typing import Any, Literal

import rfc8785

from evenpull.calculation import scatter
from evenpull.calculation.cautions import caution_words
from evenpull.calculation.compare import Comparison, Pair, compare
from evenpull.calculation.plots import LeftOut, Plot, plots
from evenpull.calculation.sheet import CheckLine, Line, RulePart, Sheet
from evenpull.card import typesetting
from evenpull.report.context import PaperName
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.plot_svg import plot_svg
from evenpull.report.symbols import maths
from evenpull.report.words import counted, moment

TEMPLATE = Path(__file__).with_name("calculation.typ")
HOW = (
    "All numbers of a line are newton, millimetre and megapascal (N/mm²), angles in radian, so that what stands under "
    "a formula can be typed into a pocket calculator as it is. Numbers are rounded to five figures; the last one may "
    "differ by that. A line marked SI has a constant with a unit of its own and is in newton, metre and pascal. Two "
    "things side by side are multiplied. Values marked from memory were recalled from their document and not read "
    "again: read them there before you rest on them."
)


@dataclass(frozen=True, slots=True)
class Drawn:
    """All of a sheet that is shown besides its lines."""

    plots: tuple[Plot, ...]
    left_out: tuple[LeftOut, ...]
    scatter: tuple[Plot, ...]
    comparisons: tuple[Comparison, ...]


def draw(sheet: Sheet) -> Drawn:
    """Plots and comparisons of a sheet: each pair of its rule sets that can be applied."""
    able = [part for part in sheet.parts if part.result is not None]
    made, left_out = plots(sheet.calculation.case, [part.result for part in able if part.result is not None])
    pairs = tuple(compare(a, b) for a, b in combinations(able, 2))
    return Drawn(made, left_out, tuple(scatter.scatter_plots(sheet.scatter)), pairs)


def calculation_pdf(sheet: Sheet, *, made_at: datetime, version: str, paper: PaperName = "a4") -> bytes:
    """PDF/A-3b and PDF/UA-1 of a sheet; the same bytes for the same input. `made_at` is aware. TypesettingError with
    typst's own message.
    """
    content = sheet_content(sheet, made_at=made_at, version=version, paper=paper)
    inputs = {"sheet": json.dumps(content, ensure_ascii=False, sort_keys=True), "source": sheet.calculation.text}
    return typesetting.typeset(TEMPLATE, inputs, at=made_at, standards=("a-3b", "ua-1"))


def sheet_content(sheet: Sheet, *, made_at: datetime, version: str, paper: PaperName = "a4") -> dict[str, Any]:
    """All that is printed, as data for the template. ValueError for a time without zone."""
    if made_at.utcoffset() is None:
        raise ValueError(f"made_at {made_at.isoformat()} has no time zone")
    c, drawn, made = sheet.calculation, draw(sheet), made_at.astimezone(UTC)
    content: dict[str, Any] = {
        "title": f"Calculation sheet {safe(c.id)}: {safe(c.name)}",
        "calculation": safe(c.id), "revision": safe(f"revision {c.revision}"), "name": safe(c.name),
        "joint": safe(c.joint), "notes": safe(c.notes), "paper": paper, "made": moment(made),
        "date": {"year": made.year, "month": made.month, "day": made.day,
                 "hour": made.hour, "minute": made.minute, "second": made.second},
        "facts": [[name, safe(text, NARROW * 2)] for name, text in (
            ("Joint", c.joint or "none of the dossier"), ("Basis", c.basis), ("File", c.file),
            ("Rule sets", "; ".join(part.rule_set.title for part in sheet.parts)), ("Made with", f"evenpull {version}"),
        )],
        "sha256": c.digest,
        "parts": [_part(part) for part in sheet.parts],
        "plots": [_plot(p) for p in drawn.plots],
        "left_out": [{"title": safe(p.title), "why": safe(p.why)} for p in drawn.left_out],
        "spread": _spread(sheet, drawn), "advice": _advice(sheet),
        "comparisons": [_comparison(one) for one in drawn.comparisons],
        "inputs": [[safe(row.field, NARROW), safe(row.meaning), safe(row.written, NARROW), safe(row.source, NARROW)]
                   for row in c.inputs],
        "how": HOW, "cautions": [safe(text) for text in caution_words(c.case)],
    }
    digest = sha256(rfc8785.dumps(content)).hexdigest()
    return {**content, "id": f"{content['calculation']} / {digest[:12]}"}


def _plot(plot: Plot) -> dict[str, str]:
    return {"title": safe(plot.title), "svg": plot_svg(plot), "words": safe(plot.words), "note": safe(plot.note)}


def _spread(sheet: Sheet, drawn: Drawn) -> dict[str, Any]:
    found = sheet.scatter
    if found.spread is None:
        return {"problem": safe(found.problem), "facts": [], "columns": [], "rows": [], "notes": [], "inputs": [],
                "plots": []}
    return {
        "problem": safe(found.problem),
        "facts": [[name, safe(text)] for name, text in scatter.facts(found)],
        "columns": list(scatter.COLUMNS), "rows": [list(row) for row in scatter.rows(found.spread)],
        "notes": [safe(note) for note in scatter.notes(found.spread)],
        "inputs": [[maths(symbol), safe(name), shape, safe(span), safe(why, NARROW * 2)]
                   for symbol, name, shape, span, why in scatter.inputs(found.spread)],
        "plots": [_plot(p) for p in drawn.scatter],
    }


def _advice(sheet: Sheet) -> dict[str, Any] | None:
    advice = sheet.scatter.advice
    if advice is None:
        return None
    return {
        "sentences": [safe(text) for text in scatter.sentences(advice)], "columns": list(scatter.WAY_COLUMNS),
        "rows": [[safe(text, NARROW * 2) for text in row] for row in scatter.ways(advice)],
        "notes": [safe(f"Not tried: {text}") for text in advice.not_tried],
    }


def _part(part: RulePart) -> dict[str, Any]:
    facts = dict(part.facts)
    good, all_lines = part.checked
    return {
        "title": safe(part.rule_set.title), "edition": safe(part.rule_set.edition),
        "scope": safe(part.rule_set.scope), "memory": safe(part.rule_set.memory), "problem": safe(part.problem),
        "verdict": part.verdict, "preload": facts.get("Preload at assembly", "none given"),
        "torque": facts.get("Torque", "none given"),
        "checks": [{
            "symbol": maths(c.symbol), "name": safe(c.name), "text": safe(c.text), "verdict": c.verdict,
            "value": with_unit(c.value, c.unit), "demand": f"{c.sense} {with_unit(c.limit, c.unit)}",
            "source": safe(c.source, NARROW * 2),
        } for c in part.checks],
        "notes": [safe(note) for note in (part.result.notes if part.result else ())],
        "unused": safe(", ".join(part.result.unused if part.result else ())),
        "sections": [{"title": safe(s.title), "note": safe(s.note), "lines": [_line(line) for line in s.lines]}
                     for s in part.sections],
        "checked": f"{good} of {counted(all_lines, 'line')} with a formula were computed again from the formula and "
                   "its numbers as they stand here.",
    }


def with_unit(value: str, unit: str) -> str:
    """"138 kN"; a dash and a pure number stay alone."""
    return value if value == "–" or not unit else f"{value} {unit}"


def remark(line: Line) -> str:
    """What must be said of a line besides its numbers."""
    said = []
    if line.system == "SI":
        said.append("numbers of this line in SI")
    if line.checked is False:
        said.append("not computed again: look at the source")
    return "; ".join(said)


def _line(line: Line) -> dict[str, Any]:
    source = line.source + (f" ({line.status})" if line.status and "(memory)" not in line.source
                            and "from memory" not in line.source else "")
    return {
        "symbol": maths(line.symbol), "name": maths(line.name), "formula": maths(line.formula),
        "numbers": maths(f"= {line.numbers}") if line.numbers else [], "value": with_unit(line.value, line.unit),
        "aside": safe(line.aside), "source": safe(source, NARROW * 2), "remark": remark(line),
    }


def _comparison(one: Comparison) -> dict[str, Any]:
    first, second = safe(one.first.rule_set.title), safe(one.second.rule_set.title)
    return {
        "title": f"{first} beside {second}", "first": first, "second": second, "summary": summary(one),
        "outcome": [[safe(p.quantity) + (f": {p.reason}" if p.reason else ""), _value(p, "first"), _value(p, "second"),
                     p.unit, ratio(p)] for p in one.outcome],
        "rows": [{
            "name": safe(p.quantity), "unit": p.unit, "ratio": ratio(p), "differs": p.kind == "differs",
            "reason": maths(p.reason or WORDS[p.kind]), "first": _side(p, "first"), "second": _side(p, "second"),
        } for p in one.both],
        "demands": [[safe(title), [[c.verdict, maths(demand_words(c))] for c in checks]]
                    for title, checks in demands(one)],
        "lone": [maths(text) for text in lone_notes(one)],
        "notes": [safe(text) for text in input_notes(one)],
    }


WORDS: Mapping[str, str] = {
    "same": "the same", "close": "equal but for rounding", "differs": "", "only first": "only in the first",
    "only second": "only in the second",
}


def summary(one: Comparison) -> str:
    """One sentence on how far the two agree."""
    apart = [pair for pair in one.both if pair.kind == "differs"]
    text = counted(len(one.both), "quantity stands in both", "quantities stand in both")
    if not apart:
        return text + "; none of them differs by more than rounding."
    return text + f"; {counted(len(apart), 'of them differs', 'of them differ')} by more than rounding."


def demands(one: Comparison) -> list[tuple[str, list[CheckLine]]]:
    """The demands of the two, by the title of their rule set."""
    return [(part.rule_set.title, list(checks))
            for part, checks in zip((one.first, one.second), one.demands, strict=True)]


def demand_words(check: CheckLine) -> str:
    """"S_F = 1.135 ≥ 1, yielding in service"."""
    limit = "" if check.limit == "–" else f" {check.sense} {with_unit(check.limit, check.unit)}"
    return f"{check.symbol} = {with_unit(check.value, check.unit)}{limit}, {check.name}"


def lone_notes(one: Comparison) -> list[str]:
    """Quantities of the list of common ones that only one of the two has; symbols to be set as such."""
    said = []
    kinds: tuple[Literal["only first", "only second"], ...] = ("only first", "only second")
    for part, kind in zip((one.first, one.second), kinds, strict=True):
        lone = [f"{pair.quantity} {side.symbol} = {with_unit(side.shown, pair.unit)}" for pair in one.lone(kind)
                if (side := pair.first or pair.second) is not None]
        if lone:
            said.append(f"Only in {part.rule_set.title}: {'; '.join(lone)}.")
    return said


def input_notes(one: Comparison) -> list[str]:
    """Inputs of the case, by their names in the file, that only one of the two uses."""
    return [
        f"Inputs that only {part.rule_set.title} uses: {', '.join(names)}."
        for part, names in zip((one.first, one.second), one.only, strict=True) if names
    ]


def ratio(pair: Pair) -> str:
    """Second over first with three decimals."""
    if pair.kind == "same":
        return "1"
    return "" if pair.ratio is None else f"{pair.ratio:.3f}"


def _value(pair: Pair, which: str) -> str:
    side = getattr(pair, which)
    return "–" if side is None else str(side.shown)


def _side(pair: Pair, which: str) -> dict[str, Any]:
    side = getattr(pair, which)
    return {"symbol": maths(side.symbol) if side else [], "value": side.shown if side else "–"}
