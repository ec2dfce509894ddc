"""Commands of what people state: enter, gates (with the state of each fastener), follow-ups."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError
from evenpull.cli.options import JOINT, JsonFlag
from evenpull.ledger.entry import BASES, EntryError
from evenpull.ledger.kinds import KINDS
from evenpull.ledger.words import render
from evenpull.proof import standing_of_follow_ups
from evenpull.proof.plain_json import plain


def kinds_text() -> list[str]:
    """Every kind of entry with its fields, as the help prints it."""
    lines = []
    for kind in KINDS.values():
        lines.append(f"{kind.name} (about a {kind.subject}): {kind.meaning}")
        for field in kind.fields:
            form = ", ".join(field.choices) if field.choices else field.quantity or field.form
            lines.append(f"    {field.name}: {field.label}{'' if field.required else ' (may be left out)'} [{form}]")
    return lines


def enter(
    name: Annotated[str, typer.Argument(help="Joint id, tool serial, person or lot the entry is about.")] = "",
    kind: Annotated[str, typer.Argument(help="Kind of entry; without it all kinds are listed.")] = "",
    values: Annotated[list[str] | None, typer.Argument(metavar="FIELD=VALUE ...", help="Its fields.")] = None,
    by: Annotated[str, typer.Option("--by", envvar="EVENPULL_BY", help="Your name; it is kept with it.")] = "",
    fasteners: Annotated[str, typer.Option(help="Numbers and ranges, e.g. 1-4,7.")] = "",
    unit: Annotated[str, typer.Option(help="Unit of a series.")] = "",
    at: Annotated[str, typer.Option(help="When it happened, e.g. 2026-03-18T13:40Z; now if left out.")] = "",
    unsure: Annotated[float, typer.Option(help="Known to within so many minutes.")] = 0.0,
    basis: Annotated[str, typer.Option(help=f"How you know: {', '.join(BASES)}.")] = "did it",
    reason: Annotated[str, typer.Option(help="Reason, where the kind or a late entry needs one.")] = "",
) -> None:
    """Write an entry: opening, parts, locking, checks, hand-overs, exceptions, corrections, tools, people, lots."""
    if not name or not kind:
        for line in kinds_text():
            typer.echo(line)
        return
    given: dict[str, str] = {}
    for item in values or []:
        field, equals, text = item.partition("=")
        if not equals:
            raise RefusalError(f"{item!r}: write the field, =, and its value, e.g. why='valve exchange'")
        given[field.strip()] = text
    try:
        entry = services().add_entry(
            kind, name, given, author(by), unit=unit, fasteners=fasteners, at=_moment(at) if at else None,
            at_uncertainty=60 * unsure, basis=basis, reason=reason,
        )  # fmt: skip
    except EntryError as error:
        raise RefusalError("\n".join(f"{f}: {what}; allowed: {ok}" for f, what, ok in error.faults)) from error
    typer.echo(f"fact {entry.seq}: {render(entry)}")


def _moment(text: str) -> datetime:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise RefusalError(f"--at: {text!r} is not a moment; write it as 2026-03-18T13:40Z") from None
    if found.tzinfo is None:
        raise RefusalError(f"--at: {text!r} has no offset from UTC; write Z behind it for UTC")
    return found.astimezone(UTC)


def gates(joint: JOINT, as_json: JsonFlag = False) -> None:
    """Gates of a joint, the state of each fastener and what is owed on it."""
    view = services().joint(joint)
    proof = view.proof
    if as_json:
        data: dict[str, Any] = {"gates": [plain(g) for g in proof.gates]}
        data["fasteners"] = [asdict(s) for s in proof.states]
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    for gate in proof.gates:
        typer.echo(f"{gate.name}: {gate.state}: {gate.reason}")
    for state in proof.states:
        unit = f"{state.unit}, " if state.unit else ""
        owed = "; ".join((*state.owed, *state.excepted)) or "nothing owed"
        typer.echo(f"{unit}fastener {state.fastener}: {state.state}: {owed}")
    for entry in view.around.entries:
        typer.echo(f"entry, fact {entry.seq}: {render(entry)}")
    typer.echo(f"keeping: {view.kept(datetime.now(UTC).date()).text}")


def follow_ups(
    joint: Annotated[str | None, typer.Argument(metavar="[JOINT]", help="One joint; all of them if left out.")] = None,
    as_json: JsonFlag = False,
) -> None:
    """What is due when, overdue ones first."""
    found = []
    names = [joint] if joint else [row.id for row in services().joints()]
    for name in names:
        view = services().joint(name)
        found += [(name, one) for one in standing_of_follow_ups(view.plan, view.proof, view.around)]
    worst = {"overdue": 0, "done, not in order": 1, "in its window": 2, "cannot be told": 3}
    found.sort(key=lambda pair: (worst.get(pair[1].state, 4), pair[1].due or datetime.max.replace(tzinfo=UTC), pair[0]))
    if as_json:
        rows = [{"joint": n, "name": f.rule.name, "state": f.state, "due": f.due.isoformat() if f.due else None,
                 "text": f.text} for n, f in found]  # fmt: skip
        typer.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    for name, one in found:
        typer.echo(f"{name}: {one.text}")
    if not found:
        typer.echo("No joint states a follow-up of its own; releases name those that the kind of joint asks for.")
