"""Commands of the judgement: status, matrix, flags, records, dispose, release, report."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, get_args

import typer

from evenpull.cli import findings
from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError
from evenpull.cli.options import BY, JOINT, JsonFlag
from evenpull.proof.model import Action, Flag, Proof

ACTIONS: tuple[str, ...] = get_args(Action)


def status(as_json: JsonFlag = False) -> None:
    """All joints with their state and the first reason."""
    rows = services().joints()
    if as_json:
        typer.echo(json.dumps([findings.summary_data(row) for row in rows], indent=2, ensure_ascii=False))
        return
    if not rows:
        typer.echo("No joint yet. Write one with: evenpull new --out joint.toml")
    for line in findings.status_text(rows):
        typer.echo(line)


def matrix(joint: JOINT, as_json: JsonFlag = False) -> None:
    """Records of a joint as fastener x pass, with what is missing or wrong and what it means."""
    view = services().joint(joint)
    if as_json:
        data = findings.matrix_data(view.plan, view.proof, view.decision, view.standing)
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    for row in view.files:
        if row.withdrawn is None and (damage := services().raw_damage(row.sha256)):
            typer.echo(f"STOP: the file {row.name} is not on the disk as it was received: {damage}")
    for one in view.around.withdrawn:
        typer.echo(f"WITHDRAWN: the reading of {one.file}, by {one.by} on {one.at:%Y-%m-%d %H:%M} UTC: {one.why}")
        for text in one.releases:
            typer.echo(f"  {text} rested on it")
        for d in one.decisions:
            typer.echo(f"  the decision {d.action!r} by {d.by} rested on it: {d.reason}")
    for line in findings.joint_text(view.plan, view.proof, view.decision, view.standing):
        typer.echo(line)


def records(joint: JOINT) -> None:
    """Every record of a joint as it was received, and the rows that could not be read."""
    view = services().joint(joint)
    for line in findings.records_text(view.tightenings, view.unread):
        typer.echo(line)


def find_flag(proof: Proof, wanted: str) -> Flag:
    """The flag whose key is `wanted` or is the only one that contains it. Raises RefusalError naming the candidates."""
    exact = [flag for flag in proof.flags if flag.key == wanted]
    near = exact or [flag for flag in proof.flags if wanted in flag.key]
    if len(near) == 1:
        return near[0]
    if near:
        head, keys = f"{wanted!r} fits {len(near)} flags; say more of the key:", near
    else:
        head, keys = f"no flag of {proof.joint} fits {wanted!r}; its flags:", list(proof.flags)
    raise RefusalError("\n".join([head, *(flag.key for flag in keys)]))


def dispose(
    joint: JOINT,
    action: Annotated[str, typer.Option(help=f"One of: {', '.join(ACTIONS)}.")],
    reason: Annotated[str, typer.Option(help="Why; it stands in the release report.")],
    by: BY,
    flags: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="FLAG ...",
            help="Key of the flag (see: evenpull matrix), or a part that fits one only. Several of one kind are "
            "decided on together.",
        ),
    ] = None,
    all_open: Annotated[str, typer.Option(metavar="KIND", help="All open flags of this kind, e.g. missing.")] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask before deciding on several.")] = False,
) -> None:
    """Decide on one flag, or on several of one kind, with name and reason. Each decision is kept for good."""
    if action not in ACTIONS:
        raise RefusalError(f"--action: {action!r} is none of: {', '.join(ACTIONS)}")
    proof, who = services().joint(joint).proof, author(by)
    if bool(flags) == bool(all_open):
        raise RefusalError("name the flags, or one kind with --all-open; see: evenpull matrix")
    chosen = [find_flag(proof, flag) for flag in flags or ()] or [f for f in proof.open_flags if f.code == all_open]
    if not chosen:
        kinds = sorted({flag.code for flag in proof.open_flags})
        raise RefusalError(f"no open flag of {joint} is of the kind {all_open!r}; open: {', '.join(kinds) or 'none'}")
    for flag in chosen:
        typer.echo(f"{joint}: {action}, by {who}: {flag.text}")
    if len(chosen) > 1 and not yes:
        typer.confirm(f"Record {action!r} on these {len(chosen)} flags?", abort=True)
    services().dispose_of(joint, [flag.key for flag in chosen], action, reason, who)
    typer.echo(f"{joint} is now: {services().joint(joint).standing}")


def release(
    joint: JOINT,
    statement: Annotated[str, typer.Option(help="What you state with your signature.")],
    by: BY,
    as_state: Annotated[
        str | None, typer.Option("--as", help="The state you mean to sign; refused if it is another by now.")
    ] = None,
) -> None:
    """Sign the release of a joint; refused while anything stands against it."""
    view = services().joint(joint)
    if as_state is not None and as_state != view.decision.state:
        raise RefusalError(f"--as: you mean {as_state!r}, but {joint} is {view.decision.state!r}. Nothing was written.")
    row = services().sign_release(joint, author(by), statement, seen=view.proof_digest)
    typer.echo(f"{joint}: {row.state}, signed by {row.author}")
    for text in services().joint(joint).decision.follow_ups:
        typer.echo(f"  to follow up: {text}")


def report(
    joint: JOINT,
    out: Annotated[Path | None, typer.Option("--out", "-o", help="PDF to write; default JOINT.pdf.")] = None,
    draft: Annotated[bool, typer.Option("--draft", help="As the records stand now, even if one is signed.")] = False,
) -> None:
    """Write the release report (PDF/A-3 with the records attached): the latest signed one, else a draft."""
    path = out or Path(f"{joint}.pdf")
    view = services().joint(joint)
    signed = view.releases[-1:] if not draft else ()
    path.write_bytes(services().release_pdf(joint, signed[0].id if signed else None))
    what = f"signed {signed[0].signed_at:%Y-%m-%d %H:%M} UTC" if signed else "draft, not signed"
    typer.echo(f"{path}: {what}")
    if signed and not view.covers(signed[0]):
        typer.echo(f"  This signature no longer covers the joint, now {view.standing!r}; see --draft.", err=True)
        raise typer.Exit(1)
