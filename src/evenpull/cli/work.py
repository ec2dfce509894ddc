"""Commands of the work: add, card, mapping, preview, import, withdraw."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Literal

import typer

from evenpull.cli import show
from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.options import BY, JOINT, MappingName
from evenpull.cli.paper import cards, cost_lines
from evenpull.intake import read_file, read_mapping
from evenpull.study.read import readings_beside


def _form(path: Path, text: str) -> str:
    """What a TOML file says it is."""
    try:
        form = tomllib.loads(text).get("form")
    except RecursionError as error:
        raise RefusalError(f"{path}: the text is nested too deeply") from error
    except ValueError as error:  # no TOML, or a number of more digits than can be converted
        raise RefusalError(f"{path}: this is no TOML: {str(error)[:200]}") from error
    kinds = ("joint", "tools", "equipment", "certificates", "certificate mapping", "mapping", "calculation", "study")
    known = tuple(f"evenpull {kind} 1" for kind in kinds)
    if form not in known:
        raise RefusalError(f"{path}:1: form: {form!r} is none of: {', '.join(known)}")
    return str(form)


def add(
    files: Annotated[
        list[Path], typer.Argument(help="Files (TOML) of joints, tools, equipment, certificates, mappings, "
                                   "calculations, studies.")
    ],
    by: BY,
    confirm: Annotated[bool, typer.Option("--confirm", help="Doubtful points of certificates stand so.")] = False,
    why: Annotated[str, typer.Option(help="Why a certificate that stands there is corrected.")] = "",
) -> None:
    """Put joints, tools, equipment, certificates, mappings, calculations and studies into the dossier; the line
    `form = ...` says which is which."""
    texts = [(path, read_text(path)) for path in files]
    forms = [_form(path, text) for path, text in texts]
    who = author(by)
    for (path, text), form in zip(texts, forms, strict=True):
        if form == "evenpull joint 1":
            row = services().add_joint(text, str(path), who)
            typer.echo(f"{path}: joint {row.id} {'written' if row.changed else 'as it was, nothing written'}")
        elif form == "evenpull tools 1":
            typer.echo(f"{path}: {services().add_tools(text, str(path), who)} tools")
        elif form == "evenpull equipment 1":
            done = services().add_equipment(text, str(path), who)
            said = "written" if done.changed else "as it was, nothing written"
            typer.echo(f"{path}: {done.items} items and {done.assemblies} assemblies {said}")
        elif form == "evenpull certificates 1":
            rows = services().add_certificates(text, str(path), who, confirmed=confirm, why=why)
            for one in rows:
                said = "written" if one.changed else "as it was, nothing written"
                typer.echo(f"{path}: certificate {one.number} of {one.serial} {said}")
            for line in services().used_before(one.serial for one in rows):
                typer.echo(line)
        elif form == "evenpull certificate mapping 1":
            row = services().add_certificate_mapping(text, str(path), who)
            said = "written" if row.changed else "as it was, nothing written"
            typer.echo(f"{path}: certificate mapping {row.name!r} {said}")
        elif form == "evenpull calculation 1":
            kept = services().add_calculation(text, str(path), who)
            said = "written" if kept.changed else "as it was, nothing written"
            typer.echo(f"{path}: calculation {kept.id} {said}")
        elif form == "evenpull study 1":
            made = services().add_study(text, str(path), who, readings=readings_beside(path, text))
            said = "written" if made.changed else "as it was, nothing written"
            typer.echo(f"{path}: study {made.id} {said}")
        else:
            entry = services().add_mapping(text, str(path), who)
            said = "written" if entry.changed else "as it was, nothing written"
            typer.echo(f"{path}: mapping {entry.name!r} {said}")


def card(
    joint: JOINT,
    by: BY,
    paper: Annotated[str, typer.Option(help="a4 or us-letter.")] = "a4",
    out: Annotated[Path | None, typer.Option("--out", "-o", help="PDF to write; default SERIAL.pdf.")] = None,
    tool: Annotated[list[str] | None, typer.Option("--tool", help="Only these tools; all allowed if left out.")] = None,
    hours: Annotated[int, typer.Option(help="Hours until the card runs out.")] = 48,
    version: Annotated[str, typer.Option(help="plain, large (gloves, red light) or clean room.")] = "plain",
) -> None:
    """Issue a job card as PDF and enter it in the list of issued cards."""
    if paper not in ("a4", "us-letter"):
        raise RefusalError(f"--paper: {paper!r} is none of: a4, us-letter")
    size: Literal["a4", "us-letter"] = "a4" if paper == "a4" else "us-letter"
    row, pdf = services().issue_card(
        joint, size, author(by), tools=tuple(tool) if tool else None, hours_valid=hours, version=version
    )
    path = out or Path(f"{row.serial}.pdf")
    path.write_bytes(pdf)
    typer.echo(f"card {row.serial} for {joint}: {path}, valid for {hours} hours")


def pack(
    joints: Annotated[list[str], typer.Argument(help="The joints in walking order.")],
    by: BY,
    crew: Annotated[str, typer.Option(help="Who goes.")],
    shift: Annotated[str, typer.Option(help="When: day and shift.")],
    paper: Annotated[str, typer.Option(help="a4 or us-letter.")] = "a4",
    version: Annotated[str, typer.Option(help="plain, large (gloves, red light) or clean room.")] = "plain",
    spares: Annotated[int, typer.Option(help="Spare cards of each joint.")] = 0,
    hours: Annotated[int, typer.Option(help="Hours until the cards run out.")] = 48,
    out: Annotated[Path | None, typer.Option("--out", "-o", help="PDF to write; default SERIAL.pdf.")] = None,
) -> None:
    """Issue a work pack: cards of many joints with the walk, tools, cautions and hand-over, as one PDF to print."""
    row, pdf = services().issue_pack(
        joints, crew, shift, author(by), paper=paper, version=version, spares=spares, hours_valid=hours
    )
    path = out or Path(f"{row.serial}.pdf")
    path.write_bytes(pdf)
    typer.echo(f"work pack {row.serial} for {row.crew}: {path}, {row.pages} pages")
    for stop, (joint, serial) in enumerate(row.cards, start=1):
        typer.echo(f"  stop {stop}: {joint}, card {serial}")
    for joint, serial in row.spares:
        typer.echo(f"  spare: {joint}, card {serial}")
    if (cost := cards().cost_of_cards(serial for _, serial in row.cards)) is not None:
        for line in cost_lines(cost):
            typer.echo(f"  {line}")


def mapping(
    file: Annotated[Path, typer.Argument(help="Mapping file (TOML).")],
    against: Annotated[Path | None, typer.Option(help="An export to read with it; nothing is kept.")] = None,
) -> None:
    """Check a mapping file, and try it on an export without a dossier."""
    found = read_mapping(read_text(file), str(file))
    typer.echo(f"{file}: mapping {found.name!r} is complete")
    if against is not None:
        for line in show.reading_text(read_file(against, found)):
            typer.echo(line)


def suggest(
    file: Annotated[Path, typer.Argument(help="Export of a tool, list of a contractor (CSV, XLSX).")],
    answer: Annotated[
        list[str] | None, typer.Option("--answer", "-a", metavar="KEY=ANSWER", help="Answer to an open question.")
    ] = None,
    name: Annotated[str, typer.Option("--name", help="Name of the mapping.")] = "",
    out: Annotated[Path | None, typer.Option("--out", "-o", help="Mapping file to write; default: printed.")] = None,
) -> None:
    """Suggest a mapping for a file from its own heading and cells; what they do not settle is asked.

    Exit code 1 while a question is open: nothing is written then.
    """
    answers = dict(_answer(one) for one in answer or ())
    found = services().suggest_mapping(file.name, file, answers, name)
    if found.not_taken:
        raise RefusalError(f"--answer: {'; '.join(found.not_taken)}. Nothing was written.")
    for line in show.suggestion_text(found):
        typer.echo(line, err=True)
    if found.questions:
        again = " ".join(f"--answer {question.key}=..." for question in found.questions)
        typer.echo(f"Answer with: evenpull suggest {file} {again}", err=True)
        raise typer.Exit(1)
    if out is None:
        typer.echo(found.text, nl=False)
        return
    try:
        with out.open("x", encoding="utf-8") as new:
            new.write(found.text)
    except FileExistsError as error:
        raise RefusalError(f"--out: {out} is there already; name another file. Nothing was written.") from error
    typer.echo(f"{out}: written. Look at it, then: evenpull add {out}, and evenpull preview {file}", err=True)


def _answer(text: str) -> tuple[str, str]:
    key, sign, value = text.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise RefusalError(f"--answer: {text!r} is not KEY=ANSWER, such as time.zone=Europe/London")
    return key.strip(), value.strip()


def preview(
    files: Annotated[list[Path], typer.Argument(help="Exports of tools (CSV, XLSX).")],
    mapping: MappingName,
) -> None:
    """Show what an import would do. Writes nothing."""
    for path in files:
        for line in show.preview_text(services().preview_file(path.name, path, mapping)):
            typer.echo(line)


def type_in(
    file: Annotated[Path, typer.Argument(help="CSV file; its heading names the fields of typed records.")],
    by: BY,
) -> None:
    """Take in records that a person typed, from cards or from memory; every fault is said at once."""
    import csv

    with file.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    who = author(by)
    from evenpull.store.services.keying import key_in

    typer.echo(show.imported_line(file.name, key_in(rows, who)))


def import_(
    files: Annotated[list[Path], typer.Argument(help="Exports of tools (CSV, XLSX).")],
    mapping: MappingName,
    by: BY,
) -> None:
    """Take records in. The same file again changes nothing."""
    who = author(by)
    for path in files:
        done = services().commit_file(path.name, path, mapping, who)
        typer.echo(show.imported_line(path.name, done))


def withdraw(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Name of the file as it was received, or its SHA-256.")],
    by: BY,
    why: Annotated[str, typer.Option(help="What the reading got wrong. Left out: only show what would be taken.")] = "",
) -> None:
    """Withdraw the reading of a file: none of its records counts any more, and it may be taken in again."""
    sha256 = services().file_named(file)
    plan = services().plan_withdrawal(sha256)
    typer.echo(f"{plan.name}, read with {plan.mapping!r}: {plan.records} records and {plan.unread} unread rows")
    for joint, (records, unread) in plan.joints.items():
        typer.echo(f"  {joint or 'no joint named'}: {records} records, {unread} unread rows")
    if not why:
        typer.echo("Nothing was written. To withdraw it, say --why.")
        return
    done = services().withdraw_reading(sha256, why, author(by), reading=plan.reading).withdrawn
    typer.echo(f"withdrawn by {done.by}, fact {done.seq}: they no longer count; the file may be taken in again")
    if done.taken:
        typer.echo(f"{done.taken} of them are taken from other files, which had left them out as repeats")
