"""Commands of the tool keeper: the registers, one instrument, what is due, certificates from tables."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.audit import show_json
from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError
from evenpull.cli.options import BY, JsonFlag
from evenpull.ledger.words import render

SERIAL = Annotated[str, typer.Argument(metavar="SERIAL", help="Serial of a tool, a part or an assembly.")]
DAY = Annotated[str, typer.Option("--day", help="Day to look from, as 2026-03-18; left out: today.")]
app = typer.Typer(no_args_is_help=True, help="Tools, their chains and certificates. Files of them: evenpull add")


def _instruments() -> ModuleType:
    services()
    from evenpull.store.services import instruments

    return instruments


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise RefusalError(f"--day: {text[:40]!r} is not a day; write it as 2026-03-18") from None


@app.command("list")
def list_(
    find: Annotated[str, typer.Option(help="Part of serial, name, kind, place, owner or certificate.")] = "",
    which: Annotated[str, typer.Option(help="not to be used, due, assembly, or a kind.")] = "",
    day: DAY = "",
    as_json: JsonFlag = False,
) -> None:
    """Every tool, part and assembly of both registers, with its certificate and whether it may be used."""
    rows = _instruments().listing(find, which, _day(day))
    if as_json:
        show_json(rows)
        return
    for row in rows:
        until = "" if row.status.last is None else f", certificate {row.status.number} until {row.status.last}"
        why = f": {'; '.join(row.status.why)}" if row.status.why else ""
        typer.echo(f"{row.serial}: {row.name}, {row.kind}{', ' + row.scale if row.scale else ''}{until}, "
                   f"{row.status.state}{why}")
    if not rows:
        typer.echo("No tool fits.")


@app.command()
def show(serial: SERIAL, day: DAY = "", as_json: JsonFlag = False) -> None:
    """One instrument: identity, chain, certificates with their points, budget, interval, history."""
    found = _instruments().instrument(serial, _day(day))
    if as_json:
        show_json(found)
        return
    typer.echo(f"{found.serial}: {found.name}")
    for why in found.status.why:
        typer.echo(f"NOT TO BE USED: {why}")
    if (item := found.item) is not None:
        said = (item.kind, item.type_class, f"drive {item.drive}" if item.drive else "", item.maker, item.owner,
                item.place, f"serves class {item.serves}" if item.serves else "")
        typer.echo(", ".join(text for text in said if text))
        for limit in found.item.limits:
            typer.echo(f"limit on use: {_value(limit.lower, item)} to {_value(limit.upper, item)} ({limit.reason})")
    for part, known, state in found.parts:
        typer.echo(f"part {part}: {'not in the register' if known is None else known.name}"
                   f"{'' if state is None else ', ' + state.state}")
    for torque, budget in found.budgets:
        typer.echo(f"at {torque}: U = {100 * 2 * budget.u:.2f} % (k = 2), effective degrees of freedom "
                   f"{budget.degrees:.3g}")
    if found.chain_fault:
        typer.echo(f"no chain: {found.chain_fault}")
    for view in found.certificates:
        _certificate(view)
    if found.rule is not None:
        rule = found.rule
        said = (f"{rule.months} months" if rule.months else "", f"{rule.cycles} cycles" if rule.cycles else "",
                *rule.after)
        counted = "not known" if found.counted is None else found.counted
        typer.echo(f"interval: {', '.join(text for text in said if text)} ({rule.source}); since the calibration "
                   f"{counted} by its counter, {found.recorded} records here")
    for entry in (*found.history, *found.checks):
        typer.echo(f"entry, fact {entry.seq}: {render(entry)}")
    for other, one in found.reaches:
        typer.echo(f"calibrated with it: {other}, certificate {one.number} of {one.certificate.calibrated}")


def _value(si: float, item: Any) -> str:
    from evenpull.quantities import show as shown

    return shown(si, item.unit) if item.unit else f"{si:g}"


def _certificate(view: Any) -> None:
    one, c = view.calibration, view.calibration.certificate
    now = ", in force" if view.in_force else ""
    typer.echo(f"certificate {c.id}: {c.valid_from} to {c.valid_until}{now}; {one.laboratory or 'no laboratory named'}")
    for stage, judged, why in view.judged:
        typer.echo(f"  {stage}: {why or ('accepted' if judged.accepted else 'NOT ACCEPTED') + ', ' + judged.rule}")
        for point in () if judged is None else judged.points:
            typer.echo(f"    {point.words}")
    for stage, form in view.forms:
        typer.echo(f"  {stage}, {form.direction}: form of the errors: {form.form}")


@app.command()
def due(
    day: DAY = "",
    within: Annotated[int, typer.Option(help="Days ahead.")] = 60,
    as_json: JsonFlag = False,
) -> None:
    """What is due for calibration, and what may not be used already. Exit code 1 while anything may not be used."""
    rows = _instruments().due(_day(day), within)
    if as_json:
        show_json(rows)
    else:
        for row in rows:
            when = "never calibrated" if row.day is None else row.day.isoformat()
            typer.echo(f"{when} {row.serial} {row.name}: {row.why}")
        if not rows:
            typer.echo(f"Nothing is due within {within} days.")
    if any(row.over for row in rows):
        raise typer.Exit(1)


@app.command()
def certificate(
    file: Annotated[Path, typer.Argument(help="Table of points (CSV, XLSX).")],
    mapping: Annotated[str, typer.Option("--mapping", "-m", help="Name of the certificate mapping.")],
    by: BY = "",
    given: Annotated[
        list[str] | None, typer.Option("--set", metavar="KEY=VALUE", help="What the mapping leaves open: serial, "
                                       "number, calibrated, valid_until, standards, ...")
    ] = None,
    confirm: Annotated[bool, typer.Option("--confirm", help="Doubtful points were compared and stand so.")] = False,
    why: Annotated[str, typer.Option(help="Why a certificate that stands there is corrected.")] = "",
) -> None:
    """Take a certificate in from a table under a mapping. Without --by it is shown, and nothing is written."""
    found = services()
    from evenpull.store.services import equipment, instruments

    known = found.certificate_mapping(mapping)
    values = dict(_given(one) for one in given or ())
    data = equipment.read_file(file)
    if not by:
        seen = found.preview_certificate_table(file.name, data, known, values)
        for one in seen.reading.calibrations:
            typer.echo(f"{one.serial}:")
            _certificate(instruments.certificate_view(one))
        for text in (*seen.reading.notes, *(f"to be confirmed: {t}" for t in seen.doubts), *seen.problems):
            typer.echo(text)
        typer.echo("Nothing was written. To write it, say who you are: --by NAME")
        return
    rows = found.add_certificate_table(file.name, data, known, values, author(by), confirmed=confirm, why=why)
    for row in rows:
        typer.echo(f"certificate {row.number} of {row.serial} "
                   f"{'written' if row.changed else 'as it was, nothing written'}")
    for line in services().used_before(row.serial for row in rows):
        typer.echo(line)


def _given(text: str) -> tuple[str, str]:
    key, sign, value = text.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise RefusalError(f"--set: {text!r} is not KEY=VALUE, such as valid_until=2027-03-01")
    return key.strip(), value.strip()


@app.command()
def withdraw(
    serial: SERIAL,
    number: Annotated[str, typer.Argument(help="Number of the certificate.")],
    why: Annotated[str, typer.Option(help="Why it no longer counts.")],
    by: BY,
) -> None:
    """Withdraw a certificate: it counts for no day any more, and what was judged by it is judged anew."""
    services().withdraw_certificate(serial, number, why, author(by))
    typer.echo(f"certificate {number} of {serial} withdrawn")
