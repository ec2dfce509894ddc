"""Commands for back-ups: make one, test one, restore one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import author, services, unprepared
from evenpull.cli.errors import RefusalError
from evenpull.cli.options import BY

HINT = "Keep it on another machine, in another place. Test it with: evenpull backup --check"


def backup(
    target: Annotated[Path, typer.Argument(metavar="FOLDER|FILE.tar", help="Where to write it, or which to test.")],
    by: BY,
    secrets: Annotated[
        bool, typer.Option("--secrets", help="With signing keys, password hashes and digests of tokens.")
    ] = False,
    check: Annotated[bool, typer.Option("--check", help="Test this back-up by restoring it, and record it.")] = False,
) -> None:
    """Write a back-up of the whole dossier while others work in it, or test one by restoring it. Both are facts."""
    found = services()
    if check:
        if secrets:
            raise RefusalError("--secrets belongs to the making of a back-up, not to its test")
        _check(target, author(by))
        return
    if secrets:
        typer.echo(
            "Warning: with the signing key anybody can sign in the name of this dossier, and password hashes can be "
            "guessed at.\nLock such a back-up away as you lock the key away.", err=True,
        )  # fmt: skip
    row = found.back_up(target, author(by), secrets=secrets)
    typer.echo(f"{row.where}: {row.facts} facts under the root {row.root}, {row.files} files")
    if not secrets:
        typer.echo("The signing key, passwords and tokens are not in it: keep a copy of signing-key.pem apart.")
    typer.echo(f"{HINT} {target}")


def _check(path: Path, who: str) -> None:
    found, why = services().try_backup(path, who)
    if found is None:
        typer.echo(f"NOT WHOLE: {why}")
        raise typer.Exit(1)
    typer.echo(f"{path}: {found.facts} facts and {found.files} files restored into a folder that was thrown away")
    _findings(found)
    if found.other:
        typer.echo("NOT WHOLE")
        raise typer.Exit(1)
    typer.echo("whole; the test is on record")


def _findings(found: Any) -> None:
    typer.echo(f"findings: {found.same} as stored, {len(found.other)} other, {found.left} not to be compared any more")
    for name in found.other[:50]:
        typer.echo(f"  {name}: the finding is not the one that was stored")


def restore(
    source: Annotated[Path, typer.Argument(metavar="FOLDER|FILE.tar", help="The back-up.")],
    by: BY,
    key: Annotated[
        Path | None, typer.Option("--key", help="Your copy of the signing key, where the back-up does not hold it.")
    ] = None,
    test_only: Annotated[bool, typer.Option("--test-only", hidden=True)] = False,
) -> None:
    """Restore a back-up into an empty folder (--home) and database; all of it, verified, or nothing."""
    from_backup = unprepared()
    found = from_backup.restore(source, by, key=key, testing=test_only)
    if test_only:
        typer.echo(from_backup.as_json(found))
        return
    typer.echo(f"{found.facts} facts under the root {found.root} and {found.files} files restored, each verified")
    _findings(found)
    typer.echo("Passwords and tokens are in it only if it was made with --secrets; otherwise give new ones.")
    if found.other:
        raise typer.Exit(1)
