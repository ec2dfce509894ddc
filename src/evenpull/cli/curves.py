"""Commands for torque-angle curves: take in, judge, learn windows, judge again, show. Every one calls a service."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.options import BY, JsonFlag

app = typer.Typer(no_args_is_help=True, help="Torque-angle curves: take in, judge, learn windows, judge again, show.")
JOINT_OPTION = Annotated[str, typer.Option("--joint", help="Id of the joint.")]
SEQ = Annotated[int, typer.Argument(metavar="FILE-NO", help="Number of the file of curves, as list shows it.")]
CAUTION = "A curve does not say what the clamp load is, and no verdict allows anybody to go on."


def _service(name: str) -> ModuleType:
    from importlib import import_module

    services()
    return import_module(f"evenpull.store.services.{name}")


def _there(path: Path) -> Path:
    if not path.is_file():
        raise RefusalError(f"{path}: no such file; name a file that is there")
    return path


@app.command("mapping")
def mapping(
    file: Annotated[Path | None, typer.Argument(metavar="[FILE]", help="Curve mapping (TOML) to keep.")] = None,
    by: BY = "",
    keys: Annotated[bool, typer.Option("--keys", help="Print every key of such a file.")] = False,
) -> None:
    """Keep a mapping that says how a kind of curve file is read; without a file, list those that are kept."""
    if keys:
        from evenpull.intake.curve_mapping import curve_mapping_help

        for row in curve_mapping_help():
            example = f"   e.g. {row.example}" if row.example else ""
            typer.echo(f"{row.field}: {row.meaning}{example}")
        return
    kept = _service("curves_kept")
    if file is None:
        for one in kept.mappings():
            typer.echo(f"{one.name}  {one.file}  {one.digest[:16]}")
        return
    row = kept.add_mapping(read_text(file), file.name, author(by))
    typer.echo(f"curve mapping {row.name!r}: {'written' if row.changed else 'as it was, nothing written'}")


@app.command("take")
def take(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV, or Parquet of our own layout.")],
    joint: JOINT_OPTION,
    by: BY,
    mapping: Annotated[str, typer.Option("--mapping", "-m", help="Name of the curve mapping.")] = "",
    thin_torque: Annotated[float | None, typer.Option(help="Thin the kept curves to within so many N.m.")] = None,
    thin_angle: Annotated[float | None, typer.Option(help="... and so many deg.")] = None,
) -> None:
    """Take in a file of curves of one joint, wholly or not at all, and judge it. Again, it changes nothing."""
    taking, judging = _service("curves_taking"), _service("curves_judging")
    if (thin_torque is None) != (thin_angle is None):
        raise RefusalError("thinning needs both tolerances: --thin-torque and --thin-angle. Nothing was written.")
    thin = None if thin_torque is None or thin_angle is None else (thin_torque, thin_angle)
    try:
        done = taking.take(file.name, _there(file), joint, author(by), mapping=mapping, thin=thin)
    except taking.CurveError as error:
        raise RefusalError(f"{error}\nNothing was written.") from error
    _file(done.row)
    if done.already:
        typer.echo("taken in before: nothing was written")
    _found(judging, done.row)


def _file(row: Any) -> None:
    typer.echo(f"{row.seq}  {row.name}  {row.joint}: {row.curves:,} curves, {row.points:,} points, SHA-256 "
               f"{row.sha256[:16]}")
    typer.echo(f"  {row.keyed:,} name tool and counter; of {row.matched:,} the record was here when the file came")
    if row.thinned_by:
        typer.echo(f"  kept thinned: {row.thinned_by}; the raw file is kept whole")
    for name, (curves, times) in row.odd.items():
        typer.echo(f"  odd: {name} on {curves:,} curves, {times:,} in all")
    if row.withdrawn:
        typer.echo(f"  withdrawn by {row.withdrawn}")


def _found(judging: ModuleType, row: Any) -> None:
    path = judging.judged(row)
    for words, n in judging.counts(path).items():
        typer.echo(f"  {n:>9,}  {words}")
    typer.echo(f"  findings: {path}")
    typer.echo(CAUTION)


@app.command("list")
def listed(as_json: JsonFlag = False) -> None:
    """The files of curves, those withdrawn among them."""
    rows = _service("curves_kept").files(withdrawn=True)
    if as_json:
        typer.echo(json.dumps([asdict(row) for row in rows], indent=2, ensure_ascii=False, default=str))
        return
    for row in rows:
        _file(row)


@app.command("withdraw")
def withdraw(
    file: SEQ, by: BY, why: Annotated[str, typer.Option(help="Reason in words.")],
) -> None:
    """Take back a file of curves: wrong joint, wrong mapping. It stays kept and readable, and says nothing more."""
    done = _service("curves_kept").withdraw(file, why, author(by))
    typer.echo(f"{file}: {'withdrawn' if done else 'was withdrawn before, nothing written'}")


@app.command("judge")
def judge(
    joint: Annotated[str | None, typer.Argument(metavar="[JOINT]", help="One joint; all if left out.")] = None,
) -> None:
    """Judge the curves under the rules of this version and the facts as they are; what is judged already stays."""
    kept, judging = _service("curves_kept"), _service("curves_judging")
    rows = kept.files(joint)
    if not rows:
        typer.echo("no curves are here yet")
    for row in rows:
        _file(row)
        _found(judging, row)


@app.command("show")
def show(
    joint: Annotated[str, typer.Argument(metavar="JOINT", help="Id of a joint.")],
    most: Annotated[int, typer.Option(min=0, help="Curves to show in words.")] = 20,
) -> None:
    """What the curves of a joint say: with and without records, findings in words, drift from learned windows."""
    kept, judging, matching = _service("curves_kept"), _service("curves_judging"), _service("curves_matching")
    found = matching.summary(joint)
    typer.echo(f"{found.curves:,} curves: {found.matched:,} with their record, {found.without:,} name a record that is "
               f"not here, {found.keyless:,} name none, {found.elsewhere:,} have it on another joint")
    typer.echo(f"{found.bare:,} records have no curve; {found.again:,} curves came again; on {found.conflicts:,} "
               f"records curves contradict each other; {found.differ:,} curves state another fastener than the record")
    for one in found.twice:
        names = ", ".join(f"file {file} no. {number}" for file, number in one.curves)
        typer.echo(f"  record {one.record}: {names}; which of them is the pull is for a person to find out")
    left = most
    for row in kept.files(joint):
        path = judging.judged(row)
        head = judging.head_of(path)
        typer.echo(f"{row.seq}  {row.name}: judged by {head.rules}")
        for words, without in head.bases:
            typer.echo(f"  by {words}; not applied: {'; '.join(without) or 'nothing left out'}")
        for one in judging.found_in(path):
            if not left:
                typer.echo("  and more; see the findings")
                break
            left -= 1
            typer.echo(f"  no. {one.number} {one.run}, fastener {one.fastener if one.fastener >= 0 else 'not stated'}:")
            for words in one.words:
                typer.echo(f"    {words}")
    drift = _service("curves_learning").drift_of(joint)
    if drift is not None:
        typer.echo(f"windows {drift.row.name!r} (fact {drift.row.seq}), {drift.curves:,} accepted curves since: "
                   f"{drift.words}")
    typer.echo(CAUTION)


@app.command("learn")
def learn(
    name: Annotated[str, typer.Argument(help="Name of the windows.")],
    joint: Annotated[list[str], typer.Option("--joint", help="Joint to learn from; say it again for another.")],
    by: BY,
    why: Annotated[str, typer.Option(help="Reason in words.")],
    number: Annotated[int, typer.Option("--pass", min=1, help="The pass.")] = 1,
) -> None:
    """Learn windows from at least 25 accepted tightenings; they hold for curves that come later."""
    row = _service("curves_learning").learn(name, joint, number, why, author(by))
    typer.echo(f"windows {row.name!r} (fact {row.seq}) for pass {row.pass_number} of {', '.join(row.joints)}, from "
               f"{row.learned.n} accepted tightenings:")
    for one in row.learned.windows:
        typer.echo(f"  {one.name}: {one.low:.4g} to {one.high:.4g}, median {one.median:.4g}, {one.n} curves")


@app.command("rejudge")
def rejudge(
    by: BY,
    csv: Annotated[Path | None, typer.Option(help="Write the changed curves as CSV.")] = None,
    parquet: Annotated[Path | None, typer.Option(help="Write them as Parquet.")] = None,
) -> None:
    """Judge all curves again under this version and report what changed and why; the report is kept."""
    for path in (csv, parquet):
        if path is not None and path.exists():
            raise RefusalError(f"{path} is there already; name another file. Nothing was written.")
    service = _service("curves_rejudging")
    _report(service, service.rejudge(author(by)), csv, parquet)


@app.command("changes")
def changes(
    number: Annotated[int | None, typer.Argument(metavar="[REPORT]", help="Its number; all if left out.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write the changed curves as CSV.")] = None,
    parquet: Annotated[Path | None, typer.Option(help="Write them as Parquet.")] = None,
) -> None:
    """The reports of curves judged again, or one of them."""
    service = _service("curves_rejudging")
    if number is not None:
        _report(service, service.report(number), csv, parquet)
        return
    for row in service.reports():
        typer.echo(f"{row.seq}  {row.at:%Y-%m-%d %H:%M} UTC  {row.author}: {row.curves:,} curves by {row.rules}, "
                   f"{row.changed:,} changed")


def _report(service: ModuleType, row: Any, csv: Path | None, parquet: Path | None) -> None:
    before = ", ".join(row.rules_before) or "nothing earlier"
    typer.echo(f"report {row.seq}: {row.curves:,} curves, {before} -> {row.rules}; {row.changed:,} changed; "
               f"{row.first} files had nothing to be compared with")
    for name, a, b in row.thresholds:
        typer.echo(f"  threshold {name}: {a} -> {b}")
    for basis, was, now, n in row.moves:
        if was != now:
            typer.echo(f"  {n:>9,}  {was} -> {now}  ({basis})")
    for rule, cause, numbers, n in row.causes:
        typer.echo(f"  {n:>9,}  {rule or 'answer'}: {cause}{' ' + numbers if numbers else ''}")
    if csv is not None:
        with csv.open("x", encoding="utf-8") as out:
            out.writelines(service.as_csv(row))
        typer.echo(f"{csv}: written")
    if parquet is not None:
        with parquet.open("xb") as target:
            target.write(service.changes_of(row).read_bytes())
        typer.echo(f"{parquet}: written")
