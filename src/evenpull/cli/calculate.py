"""The command `calculate`: a calculation file (or one of the dossier) as text, data or PDF."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from evenpull import __version__
from evenpull.calculation import (
    Calculation,
    Comparison,
    RulePart,
    Sheet,
    compare,
    make_sheet,
    read_calculation,
    scatter,
)
from evenpull.calculation.cautions import caution_words
from evenpull.calculation.guide import calculation_template
from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.options import JsonFlag
from evenpull.cli.show import wrap
from evenpull.joint.rules import RULES
from evenpull.joint.traced import Band

WHAT = "Calculation file (TOML), or id of a calculation of the dossier."


def calculate(
    calculation_or_file: Annotated[str | None, typer.Argument(metavar="FILE|ID", help=WHAT)] = None,
    rule: Annotated[list[str] | None, typer.Option("--rule", help="Rule set instead of those of the file.")] = None,
    beside: Annotated[
        tuple[str, str] | None, typer.Option("--compare", metavar="A B", help="Two rule sets beside each other.")
    ] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", help="Write the sheet as PDF; replaces no file.")] = None,
    new: Annotated[bool, typer.Option("--new", help="Print a calculation file to fill in.")] = False,
    as_json: JsonFlag = False,
) -> None:
    """Calculate a joint under published rule sets: every formula with its numbers, unit and source."""
    if new:
        typer.echo(calculation_template(), nl=False)
        return
    if calculation_or_file is None:
        raise RefusalError("name a calculation file, or print one to fill in: evenpull calculate --new")
    found = _load(calculation_or_file)
    wanted = tuple(dict.fromkeys([*(rule or ()), *(beside or ())])) or found.rules
    if beside is not None and beside[0] == beside[1]:
        raise RefusalError(f"--compare: {beside[0]} twice; name two rule sets: {', '.join(RULES)}")
    unknown = [key for key in wanted if key not in RULES]
    if unknown:
        raise RefusalError(f"{unknown[0]!r} is not a rule set; there are: {', '.join(RULES)}")
    sheet = make_sheet(replace(found, rules=wanted))
    if pdf is not None:
        _write_pdf(sheet, pdf)
    if as_json:
        typer.echo(json.dumps(sheet_data(sheet), indent=2, ensure_ascii=False))
    elif beside is not None:
        first, second = (next(p for p in sheet.parts if p.rule_set.key == key) for key in beside)
        try:
            made = compare(first, second)
        except ValueError as error:
            raise RefusalError(str(error)) from error
        _say(comparison_text(made))
    elif pdf is None:
        _say(sheet_text(sheet))


def _say(lines: Iterator[str]) -> None:
    for line in lines:
        typer.echo(line)


def _load(named: str) -> Calculation:
    path = Path(named)
    if path.suffix == ".toml" or path.is_file():
        return read_calculation(read_text(path), str(path))
    from evenpull.cli.dossier import services

    found: Calculation = services().calculation(named).sheet.calculation
    return found


def _write_pdf(sheet: Sheet, path: Path) -> None:
    from evenpull.card.typesetting import TypesettingError
    from evenpull.report.calculation import calculation_pdf

    if path.exists():
        raise RefusalError(f"{path}: the file exists already; choose another name, nothing was written")
    try:
        data = calculation_pdf(sheet, made_at=datetime.now(UTC).replace(microsecond=0), version=__version__)
    except TypesettingError as error:
        raise RefusalError(f"no PDF: {error}") from error
    path.write_bytes(data)
    typer.echo(f"{path}: written")


def sheet_text(sheet: Sheet) -> Iterator[str]:
    """The whole sheet: one rule set after the other with outcome, demands and steps; spread and advice at the end."""
    yield f"{sheet.calculation.id}  {sheet.calculation.name}"
    yield wrap(f"basis: {sheet.calculation.basis}", 2)
    for part in sheet.parts:
        yield ""
        yield from _part(part)
    yield ""
    yield from _spread(sheet)
    yield ""
    for text in caution_words(sheet.calculation.case):
        yield wrap(f"Caution. {text}", 0, 2)
    yield wrap("This sheet computes and compares; it releases nothing. Who may decide on this joint decides, under the "
               "rules of the place.", 0)


def _spread(sheet: Sheet) -> Iterator[str]:
    found = sheet.scatter
    yield "Spread of the load"
    if found.problem:
        yield wrap(f"not computed as asked: {found.problem}", 2, 4)
    for name, words in scatter.facts(found):
        yield wrap(f"{name}: {words}", 2, 4)
    if found.spread is not None:
        for load, way, value, u, low, high in scatter.rows(found.spread):
            yield wrap(f"{load}, {way}: {value}, u = {u}, 95 % from {low} to {high}", 2, 4)
        for note in scatter.notes(found.spread):
            yield wrap(note, 2, 4)
        for c in found.spread.contributions[: scatter.MOST_BARS]:
            yield wrap(f"{c.share:4.0%}  {c.symbol}  {c.name}", 4, 10)
    if found.advice is not None:
        yield ""
        yield "What would be between both limits most surely"
        for sentence in scatter.sentences(found.advice):
            yield wrap(sentence, 2, 4)
        for rank, way, setting, window, probability, _ in scatter.ways(found.advice):
            yield wrap(f"{rank}. {way}: {setting} (window {window}), {probability}", 2, 5)
        yield wrap("Ranked by probability. A number is no permission: the specification of the joint says what may be "
                   "done.", 2)


def _part(part: RulePart) -> Iterator[str]:
    yield f"{part.rule_set.title}: {part.verdict}"
    yield wrap(part.rule_set.edition, 2)
    if part.problem:
        yield wrap(f"cannot be applied: {part.problem}", 2, 4)
        return
    for name, words in part.facts:
        yield wrap(f"{name}: {words}", 2, 4)
    for check in part.checks:
        figures = f"{check.symbol} = {check.value} {check.sense} {check.limit} {check.unit}".rstrip()
        why = f" ({check.text})" if check.text else ""
        yield wrap(f"{check.verdict}: {check.name}, {figures}{why}  [{check.source}]", 2, 4)
    for section in part.sections:
        yield ""
        yield f"  {section.title}"
        if section.note:
            yield wrap(section.note, 4)
        for line in section.lines:
            aside = f" ({line.aside})" if line.aside else ""
            yield wrap(f"{line.symbol} = {line.value} {line.unit}".rstrip() + f"{aside}  {line.name}", 4, 8)
            numbers = f" = {line.numbers}" if line.numbers else ""
            status = f"; {line.status}" if line.status else ""
            system = "; numbers in SI" if line.system == "SI" else ""
            yield wrap(f"{line.formula}{numbers}  [{line.source}{status}{system}]", 8)
    for note in part.result.notes if part.result else ():
        yield wrap(note, 2)
    if part.result is not None and part.result.unused:
        yield wrap(f"stated and not used by this rule set: {', '.join(part.result.unused)}", 2, 4)
    good, formulas = part.checked
    yield f"  {good} of {formulas} lines computed again from their formula and printed numbers"


def comparison_text(made: Comparison) -> Iterator[str]:
    """Two rule sets beside each other: what comes out, same quantities, where and why they differ."""
    from evenpull.report.calculation import demand_words, demands, input_notes, lone_notes, ratio, summary

    a, b = made.first.rule_set.title, made.second.rule_set.title
    yield f"{a} beside {b}"
    yield wrap(summary(made), 2)
    for pair in (*made.outcome, *made.both):
        sides = []
        for side in (pair.first, pair.second):
            sides.append("–" if side is None else f"{side.symbol} {side.shown}".strip())
        times = f"  x {ratio(pair)}" if ratio(pair) else ""
        yield wrap(f"{pair.quantity}: {sides[0]} | {sides[1]} {pair.unit}{times}", 2, 4)
        if pair.kind == "differs" and pair.reason:
            yield wrap(pair.reason, 6)
    for title, checks in demands(made):
        yield f"  Demands of {title}:"
        for check in checks:
            yield wrap(f"{check.verdict}: {demand_words(check)}", 4, 6)
    for note in (*lone_notes(made), *input_notes(made)):
        yield wrap(note, 2, 4)


def sheet_data(sheet: Sheet) -> dict[str, Any]:
    """The sheet as data in SI, for --json."""

    def band(found: Band | None) -> dict[str, float] | None:
        return None if found is None else {"low": found.low, "nominal": found.nominal, "high": found.high}

    return {
        "calculation": sheet.calculation.id,
        "sha256": sheet.calculation.digest,
        "rules": [
            {
                "key": part.rule_set.key, "edition": part.rule_set.edition, "verdict": part.verdict,
                "problem": part.problem,
                "preload_N": band(part.result.preload if part.result else None),
                "torque_N_m": band(part.result.torque if part.result else None),
                "checks": [
                    {"symbol": c.symbol, "name": c.name, "value": c.value, "sense": c.sense, "limit": c.limit,
                     "unit": c.unit, "holds": c.holds, "text": c.text, "source": c.source}
                    for c in (part.result.checks if part.result else ())
                ],
                "steps": [
                    {"symbol": s.symbol, "name": s.name, "value": s.value, "unit": s.unit, "formula": s.formula,
                     "source": s.source, "status": s.status, "inputs": dict(s.inputs)}
                    for s in (part.result.steps if part.result else ())
                ],
            }
            for part in sheet.parts
        ],
    }  # fmt: skip
