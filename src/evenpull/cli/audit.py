"""Commands of an audit: the same questions as the pages, each answered from the index."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime
from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import services
from evenpull.cli.options import JOINT, JsonFlag
from evenpull.cli.progress import progress
from evenpull.ledger.check import render

NAME = Annotated[str, typer.Argument(help="Name as it stands in the records.")]
BEFORE = Annotated[int | None, typer.Option(help="Go on before this fact, as the last line says.")]
app = typer.Typer(no_args_is_help=True, help="Questions of an audit: joint, tool, person, lot, what changed and when.")


def _audit() -> ModuleType:
    services()
    from evenpull.store.services import audit

    return audit


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, (date, datetime)) else str(value)


def _json(found: Any) -> None:
    typer.echo(json.dumps(asdict(found), indent=2, ensure_ascii=False, default=_plain))


def _pulls(page: Any) -> None:
    typer.echo(f"{page.total} tightenings, the newest first")
    for r in page.rows:
        counter = "" if r.counter is None else f" {r.counter}"
        stage = "" if r.pass_number is None else f", pass {r.pass_number}"
        typer.echo(
            f"  fact {r.seq}: {r.joint}, fastener {r.fastener}{stage}: {r.torque_text} {r.torque_unit}, {r.tool}"
            f"{counter}, {r.operator or 'nobody named'}, {r.time_text} ({r.file}, row {r.row})"
        )
    if page.before is not None:
        typer.echo(f"  further back: --before {page.before}")


def _joints(joints: Any) -> None:
    for j in joints:
        typer.echo(f"  {j.joint}: {j.pulls} pulls{', ' + j.state if j.state else ''}")


@app.command()
def tool(serial: NAME, before: BEFORE = None, as_json: JsonFlag = False) -> None:
    """One tool: certificates, entries, counters with gaps, joints, tightenings."""
    found = _audit().tool(serial, before)
    if as_json:
        _json(found)
        return
    for t in found.certificates:
        typer.echo(f"certificate {t.certificate}: {t.certificate_from} to {t.certificate_until}")
    for e in found.entries:
        typer.echo(f"entry, fact {e.seq}: {render(e)}")
    for c in found.counters:
        missing = ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in c.missing) or "none"
        memory = f" of {c.epoch}" if c.epoch else ""
        typer.echo(f"counters{memory}: {c.first} to {c.last}, {c.records} records, missing: {missing}")
    _joints(found.joints)
    _pulls(found.pulls)


@app.command()
def person(name: NAME, before: BEFORE = None, as_json: JsonFlag = False) -> None:
    """One person: qualifications, what was written and decided, joints, tightenings."""
    found = _audit().person(name, before)
    if as_json:
        _json(found)
        return
    for e in found.entries:
        typer.echo(f"entry, fact {e.seq}: {render(e)}")
    for kind, n in found.wrote.items():
        typer.echo(f"wrote {n} x {kind}")
    for r in found.named:
        typer.echo(f"named in fact {r.seq}, {r.joint}: {r.what}")
    _joints(found.joints)
    _pulls(found.pulls)


@app.command()
def lot(name: NAME, as_json: JsonFlag = False) -> None:
    """Recall: every fastener that a fact connects with a lot or heat."""
    found = _audit().lot(name)
    if as_json:
        _json(found)
        return
    for e in found.entries:
        typer.echo(f"entry, fact {e.seq}: {render(e)}")
    for r in found.fasteners:
        where = "all, or not stated which" if r.fastener is None else str(r.fastener)
        typer.echo(f"{r.joint}{' ' + r.unit if r.unit else ''}, fastener {where} (fact {r.seq}, {r.source}) {r.state}")


@app.command()
def changes(
    kind: Annotated[str, typer.Option(help="Kind of fact.")] = "",
    author: Annotated[str, typer.Option(help="Who wrote it.")] = "",
    joint: Annotated[str, typer.Option(help="Joint.")] = "",
    before: BEFORE = None,
    as_json: JsonFlag = False,
) -> None:
    """What was written, and when, the newest first."""
    _changes(_audit().changes(kind=kind, author=author, joint=joint, before=before), as_json)


LISTS = {
    "late": ("late", ""), "exceptions": ("entry", "exception"), "methods": ("entry", "method change"),
    "hand-overs": ("entry", "hand-over"), "corrections": ("entry", "correction"), "blocked": ("kind", "refusal"),
    "accepted": ("decision", "accept as is"), "reviews": ("decision", "engineering review"),
}  # fmt: skip


@app.command("list")
def listed(
    which: Annotated[str, typer.Argument(help=f"One of: {', '.join(LISTS)}.")],
    before: BEFORE = None,
    as_json: JsonFlag = False,
) -> None:
    """Late entries, exceptions, changes of method, hand-overs, corrections, what was blocked, decisions."""
    if which not in LISTS:
        raise typer.BadParameter(f"{which!r} is none of: {', '.join(LISTS)}")
    _changes(_audit().listed(*LISTS[which], before), as_json)


def _changes(page: Any, as_json: bool) -> None:
    if as_json:
        _json(page)
        return
    for r in page.rows:
        when = f"{r.written_at:%Y-%m-%d %H:%M:%S} UTC"
        typer.echo(f"fact {r.seq}, {when}, {r.author}: {r.kind} {r.joint} {r.what}".rstrip())
    if page.before is not None:
        typer.echo(f"further back: --before {page.before}")
    if not page.rows:
        typer.echo("Nothing of this kind has been written.")


@app.command()
def draw(
    what: Annotated[str, typer.Argument(help="joint, tool, person or lot.")],
    seed: Annotated[int | None, typer.Option(help="The same number draws the same one again.")] = None,
) -> None:
    """Draw one at random."""
    typer.echo(_audit().draw(what, seed) or f"There is no {what} to be drawn yet.")


@app.command()
def recurrence() -> None:
    """What happened more than once: the same fastener loose, the same values on two sheets."""
    found = _audit().recurrences()
    for r in found:
        facts = f" (facts {', '.join(map(str, r.seqs))})" if r.seqs else ""
        typer.echo(f"{r.what}: {', '.join(r.places)}{facts}")
    if not found:
        typer.echo("Nothing recurs in what is recorded here.")


@app.command()
def alike(joint: JOINT) -> None:
    """Joints to look at when this one failed, by what they share with it."""
    for label, joints in _audit().siblings(joint).items():
        typer.echo(f"{label}:")
        _joints(joints)


@app.command()
def rebuild(
    check: Annotated[bool, typer.Option("--check", help="Change nothing; compare with the facts.")] = False,
) -> None:
    """Make index and findings again from the facts, or compare them. Exit code 1 when a kept finding differs."""
    services()
    from evenpull.store.services import findings

    if check:
        with progress("findings compared") as told:
            wrong = findings.differing(told)
        for name in wrong:
            typer.echo(f"{name}: the kept finding is not what the facts give")
        typer.echo(f"{len(wrong)} findings differ")
        if wrong:
            raise typer.Exit(1)
        return
    with progress("findings made") as told:
        count = findings.rebuild(told)
    typer.echo(f"{count} findings made again from the facts")
