"""Commands of an audit: the same questions as the pages, each answered from the index."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import asdict, is_dataclass
from datetime import UTC, date, datetime
from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import services
from evenpull.cli.options import JOINT, JsonFlag
from evenpull.cli.progress import progress
from evenpull.ledger.entry import Entry
from evenpull.ledger.people import blocked
from evenpull.ledger.words import render

NAME = Annotated[str, typer.Argument(help="Name as it stands in the records.")]
BEFORE = Annotated[int | None, typer.Option(help="Go on before this fact, as the last line says.")]
app = typer.Typer(no_args_is_help=True, help="Questions of an audit: joint, tool, person, lot, what changed and when.")


def _audit() -> ModuleType:
    services()
    from evenpull.store.services import audit

    return audit


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, (date, datetime)) else str(value)


def show_json(found: Any) -> None:
    typer.echo(json.dumps(_values(found), indent=2, ensure_ascii=False, default=_plain))


def _values(found: Any) -> Any:
    """Plain values of what a service gave."""
    if is_dataclass(found) and not isinstance(found, type):
        found = asdict(found)
    if isinstance(found, dict):
        return {str(name): _values(one) for name, one in found.items()}
    if isinstance(found, list | tuple):
        return [_values(one) for one in found]
    return None if isinstance(found, float) and not math.isfinite(found) else found  # JSON has no infinity


def _entries(entries: Iterable[Entry]) -> None:
    for e in entries:
        typer.echo(f"entry, fact {e.seq}: {render(e)}")


def _pulls(page: Any) -> None:
    typer.echo(f"{page.total} tightenings, the newest first")
    for r in page.rows:
        counter = "" if r.counter is None else f" {r.counter}"
        stage = "" if r.pass_number is None else f", pass {r.pass_number}"
        typer.echo(
            f"  fact {r.seq}: {r.joint}, fastener {r.fastener}{stage}: {r.torque_text} {r.torque_unit}, {r.tool}"
            f"{counter}, {r.operator or 'nobody named'}, {r.time_text} ({r.file}, row {r.row})"
            f"{' WITHDRAWN' if r.withdrawn else ''}"
        )
    if page.before is not None:
        typer.echo(f"  further back: --before {page.before}")


def _joints(joints: Any) -> None:
    for j in joints:
        lost = f" and {j.withdrawn} withdrawn" if j.withdrawn else ""
        typer.echo(f"  {j.joint}: {j.pulls} pulls{lost}{', ' + j.state if j.state else ''}")


@app.command()
def tool(serial: NAME, before: BEFORE = None, as_json: JsonFlag = False) -> None:
    """One tool: whether it may be used, certificates, counters with gaps, given out and back, joints, tightenings."""
    found = _audit().tool(serial, before)
    from evenpull.store.services import audit_tools

    now = datetime.now(UTC)
    if as_json:
        show_json(found)
        return
    if why := blocked(found.entries, now, now):
        typer.echo(f"NOT TO BE USED: {why}")
    for t in found.certificates:
        typer.echo(f"certificate {t.certificate}: {t.certificate_from} to {t.certificate_until}")
    _entries(found.entries)
    for c in found.counters:
        missing = ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in c.missing) or "none"
        memory = f" of {c.epoch}" if c.epoch else ""
        typer.echo(f"counters{memory}: {c.first} to {c.last}, {c.records} records, missing: {missing}")
    for trip in audit_tools.trips(serial, found.entries):
        back = "still out" if trip.returned_at is None else f"back {trip.returned_at:%Y-%m-%d %H:%M} UTC"
        pulls = "" if trip.pulls is None else f": {trip.pulls} pulls by its counter, {trip.records} records of them"
        typer.echo(f"given to {trip.to} {trip.issued_at:%Y-%m-%d %H:%M} UTC, {back}{pulls}")
    _joints(found.joints)
    _pulls(found.pulls)


@app.command()
def person(name: NAME, before: BEFORE = None, as_json: JsonFlag = False) -> None:
    """One person: qualifications, what was written and decided, joints, tightenings."""
    found = _audit().person(name, before)
    if as_json:
        show_json(found)
        return
    _entries(found.entries)
    from evenpull.store.services import audit_people

    for seq, words in audit_people.refused_to(name):
        typer.echo(f"refused, fact {seq}: {words}")
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
        show_json(found)
        return
    _entries(found.entries)
    if found.lots:
        typer.echo(f"lots received with this heat: {', '.join(found.lots)}")
    for r in found.fasteners:
        where = "all, or not stated which" if r.fastener is None else str(r.fastener)
        typer.echo(f"{r.joint}{' ' + r.unit if r.unit else ''}, fastener {where} (fact {r.seq}, {r.source}"
                   f"{', WITHDRAWN' if r.withdrawn else ''}) {r.state}")


@app.command()
def changes(
    kind: Annotated[str, typer.Option(help="Kind of fact.")] = "",
    author: Annotated[str, typer.Option(help="Who wrote it.")] = "",
    joint: Annotated[str, typer.Option(help="Joint.")] = "",
    before: BEFORE = None,
    as_json: JsonFlag = False,
) -> None:
    """What was written, and when, the newest first."""
    show_changes(_audit().changes(kind=kind, author=author, joint=joint, before=before), as_json)


def show_changes(page: Any, as_json: bool) -> None:
    if as_json:
        show_json(page)
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
    name = _audit().draw(what, seed)
    typer.echo(name or f"There is no {what} to be drawn yet.")
    if name and (words := _audit().drawn_from(what)):
        typer.echo(words)


@app.command()
def recurrence(as_json: JsonFlag = False) -> None:
    """What happened more than once: a fastener loose again, what failed joints share, the same values on two sheets."""
    found = _audit().recurrences()
    if as_json:
        show_json(found)
        return
    for r in found:
        facts = f" (facts {', '.join(map(str, r.seqs))})" if r.seqs else ""
        typer.echo(f"{r.what}: {', '.join(r.places)}{facts}")
    if not found:
        typer.echo("Nothing recurs in what is recorded here.")


@app.command()
def alike(joint: JOINT, as_json: JsonFlag = False) -> None:
    """Joints to look at when this one failed, by what they share with it."""
    found = _audit().siblings(joint)
    if as_json:
        show_json({label: [asdict(one) for one in joints] for label, joints in found.items()})
        return
    for label, joints in found.items():
        typer.echo(f"{label}:")
        _joints(joints)


@app.command()
def rebuild(
    check: Annotated[bool, typer.Option("--check", help="Change nothing; compare with the facts.")] = False,
) -> None:
    """Make index and findings again from the facts, or compare both with them. Exit code 1 when anything differs."""
    services()
    from evenpull.store.services import findings, index_check

    if not check:
        with progress("findings made") as told:
            count = findings.rebuild(told)
        typer.echo(f"{count} findings made again from the facts")
        return
    wrong = index_check.differences()
    with progress("findings compared") as told:
        wrong += [f"joint {name}: the kept finding is not what the facts give" for name in findings.differing(told)]
    for line in wrong[: index_check.SHOWN]:
        typer.echo(line)
    if wrong:
        typer.echo(f"{len(wrong)} things differ. The facts are as they were; say: evenpull audit rebuild")
        raise typer.Exit(1)
    typer.echo("nothing differs: index and findings are what the facts give")
