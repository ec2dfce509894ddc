"""Commands of studies: a file to start from, its check and judgement, keeping it, its order, cards and readings."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.options import BY, JsonFlag
from evenpull.cli.show import wrap
from evenpull.study import RULES_VERSION, StudyResult, judge, order_of_person, read_study, read_study_file
from evenpull.study.guide import study_template
from evenpull.study.model import KINDS
from evenpull.study.read import readings_beside
from evenpull.study.result import ANSWERS, Table

app = typer.Typer(no_args_is_help=True, help="Studies of tools and persons, drift of a tool, what a sample says.")
FILE = Annotated[Path, typer.Argument(metavar="FILE", help="Study file (TOML).")]
ID = Annotated[str, typer.Argument(metavar="ID", help="Id of a study of the dossier.")]
READINGS = Annotated[
    Path | None, typer.Option("--readings", help="Readings (CSV) beside the file; else those that it names.")
]
REVISION = Annotated[int | None, typer.Option("--revision", help="A revision by its number; else that in force.")]


@app.command()
def new(
    kind: Annotated[str, typer.Argument(help=f"One of: {'; '.join(KINDS)}.")] = KINDS[0],
) -> None:
    """Print a study file to fill in, with every key explained."""
    try:
        typer.echo(study_template(kind), nl=False)
    except ValueError as error:
        raise RefusalError(str(error)) from error


@app.command()
def check(file: FILE, readings: READINGS = None, as_json: JsonFlag = False) -> None:
    """Read a study file and say what it plans, what is missing, or what came out; writes nothing."""
    _show(judge(read_study_file(file, readings)), as_json)


@app.command()
def add(file: FILE, by: BY, readings: READINGS = None) -> None:
    """Write a study, or a new revision of it, with its readings."""
    text = read_text(file)
    row = services().add_study(text, str(file), author(by), readings=readings_beside(file, text, readings))
    typer.echo(_written(row))


def _written(row: Any) -> str:
    said = "written" if row.changed else "as it was, nothing written"
    return f"study {row.id}, revision {row.number}: {said}; {row.outcome.line}"


@app.command("readings")
def take_readings(
    study: ID, csv: Annotated[Path, typer.Argument(metavar="CSV", help="All readings that there are.")], by: BY,
) -> None:
    """Add readings from a file to a study as it is planned: a new revision with this text of readings."""
    text, file, _ = services().kept_texts(study)
    rows = read_text(csv)
    row = services().add_study(text, file, author(by), readings=(rows, csv.name))
    typer.echo(_written(row))


@app.command("list")
def listed(as_json: JsonFlag = False) -> None:
    """The studies of the dossier, and what each counts for today."""
    rows = [(row, services().standing_of(row.claim)) for row in services().studies()]
    if as_json:
        found = [{"id": row.id, "revision": row.number, "kind": row.kind, "state": row.outcome.state,
                  "said": row.outcome.line, "counts": one.state, "words": one.words} for row, one in rows]
        typer.echo(json.dumps(found, indent=2, ensure_ascii=False))
        return
    for row, standing in rows:
        typer.echo(wrap(f"{row.id}  {row.name}: {row.outcome.line} [{standing.state}: {standing.words}]", 0, 2))
    if not rows:
        typer.echo("No study is kept here. A file to start from: evenpull study new")


@app.command()
def show(study: ID, revision: REVISION = None, as_json: JsonFlag = False) -> None:
    """One study as this version judges it, with what it counts for."""
    view = services().study(study, revision)
    _show(view.result, as_json, standing=view.standing.words)
    if not as_json:
        for what, was, now in view.differences:
            typer.echo(wrap(f"Differs from what was kept by {view.row.rules}: {what}: then {was}, now {now}", 0, 2))


@app.command()
def order(
    named: Annotated[str, typer.Argument(metavar="FILE|ID", help="Study file, or id of a study of the dossier.")],
    person: Annotated[str, typer.Option(help="Only the readings of this person.")] = "",
) -> None:
    """The order in which the readings are to be taken, as it was drawn."""
    found = _load(named)
    if person and person not in found.persons:
        raise RefusalError(f"{person!r} is not a person of {found.id}; there are: {', '.join(found.persons) or 'none'}")
    places = {place: number for number, place in enumerate(order_of_person(found, ""), start=1)}
    for place in order_of_person(found, person):
        who, part, repeat = place
        typer.echo("  ".join(filter(None, (f"{places[place]:4d}", who, part, f"no. {repeat}"))))


def _load(named: str) -> Any:
    path = Path(named)
    if path.suffix == ".toml" or path.is_file():
        text = read_text(path)
        return read_study(text, str(path), readings_beside(path, text))
    return services().study(named).result.study


@app.command()
def card(
    study: ID, by: BY,
    paper: Annotated[str, typer.Option(help="a4 or us-letter.")] = "a4",
    person: Annotated[str, typer.Option(help="A card for this person alone.")] = "",
    out: Annotated[Path | None, typer.Option("--out", "-o", help="PDF to write; default SERIAL.pdf.")] = None,
) -> None:
    """Print a numbered card with the drawn order and boxes; typed back on the page by its serial."""
    if out is not None and out.exists():
        raise RefusalError(f"{out}: the file exists already; choose another name, nothing was written")
    row, pdf = services().issue_study_card(study, paper, author(by), person)
    path = out or Path(f"{row.serial}.pdf")
    path.write_bytes(pdf)
    typer.echo(f"{path}: card {row.serial}, {row.lines} readings on {row.pages} pages")


# what a study says ---------------------------------------------------------------------------------------------------


def _show(result: StudyResult, as_json: bool, standing: str = "") -> None:
    if as_json:
        typer.echo(json.dumps(result_data(result) | ({"counts": standing} if standing else {}), indent=2,
                              ensure_ascii=False))
        return
    for line in result_text(result, standing):
        typer.echo(line)


def result_text(result: StudyResult, standing: str = "") -> Iterator[str]:
    """The whole result: what it says, the demands, tables, what it does not say, remarks."""
    study, outcome = result.study, result.outcome
    yield f"{study.id}  {study.name}"
    yield wrap(f"{study.kind}, revision {study.revision}, by {study.basis}, led by {study.led_by}; {result.state}", 2)
    if standing:
        yield wrap(standing, 2, 4)
    if outcome.problem:
        yield wrap(f"Cannot be judged: {outcome.problem}", 0, 2)
    yield ""
    for said in outcome.says:
        yield wrap(said, 2, 4)
    for one in outcome.demands:
        who = f"{one.person}: " if one.person else ""
        yield wrap(f"{who}{one.what}: {one.answer.upper()} ({one.words}; {ANSWERS[one.answer]})", 2, 4)
    for table in outcome.tables:
        yield ""
        yield from table_text(table)
    if outcome.says_not:
        yield ""
        yield "What it does not say"
        for said in outcome.says_not:
            yield wrap(said, 2, 4)
    if outcome.remarks:
        yield ""
        yield "Remarks"
        for said in outcome.remarks:
            yield wrap(said, 2, 4)
    yield ""
    yield f"{RULES_VERSION}; plan {study.digest[:16]}" + (f", readings {study.rows_digest[:16]}" if study.rows else "")


def table_text(table: Table) -> Iterator[str]:
    """A table in columns; one that is wider than the terminal as a list of its rows."""
    yield table.title
    rows = (table.columns, *table.rows)
    widths = [max(len(row[i]) for row in rows) for i in range(len(table.columns))]
    if sum(widths) + 2 * len(widths) <= 78:
        for row in rows:
            cells = (cell.rjust(w) if i in table.numbers else cell.ljust(w)
                     for i, (cell, w) in enumerate(zip(row, widths, strict=True)))
            yield ("  " + "  ".join(cells)).rstrip()
    else:
        for first, *rest in table.rows:
            told = "; ".join(f"{name} {cell}" for name, cell in zip(table.columns[1:], rest, strict=True) if cell)
            yield wrap(f"{first}: {told}", 2, 6)
    if table.note:
        yield wrap(table.note, 2)


def result_data(result: StudyResult) -> dict[str, Any]:
    """The result as data, for --json."""
    outcome = result.outcome
    return {
        "study": result.study.id, "kind": result.study.kind, "state": result.state, "rules": result.rules,
        "plan_sha256": result.study.digest, "readings_sha256": result.study.rows_digest, "problem": outcome.problem,
        "says": list(outcome.says), "says_not": list(outcome.says_not), "remarks": list(outcome.remarks),
        "figures": [asdict(one) for one in outcome.figures], "demands": [asdict(one) for one in outcome.demands],
        "tables": [asdict(one) for one in outcome.tables],
        "missing": [list(place) for place in result.study.missing],
    }  # fmt: skip
