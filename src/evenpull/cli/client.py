"""Commands of the clients of the HTTP interface."""

from __future__ import annotations

from types import ModuleType
from typing import Annotated

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.options import BY
from evenpull.store.access import ROLES

app = typer.Typer(no_args_is_help=True, help="Programs that may use the HTTP interface, each with its own token.")
NAME = Annotated[str, typer.Argument(help="Name of the client, e.g. 'gateway hall 3'; it stands with what it writes.")]


def _clients() -> ModuleType:
    services()
    from evenpull.api import clients

    return clients


@app.command()
def add(name: NAME, role: Annotated[str, typer.Option(help=f"One of: {', '.join(ROLES)}.")], by: BY) -> None:
    """Open a client and print its token, once; only its SHA-256 is kept."""
    typer.echo(_clients().add_client(name, role, author(by)))


@app.command("list")
def listed() -> None:
    """All clients."""
    found = _clients().clients()
    for name, role, closed in found:
        typer.echo(f"{name}: {role}, {'closed' if closed else 'open'}")
    if not found:
        typer.echo("No client: the HTTP interface answers nobody.")


@app.command()
def close(name: NAME, by: BY) -> None:
    """Close a client: its token opens nothing any more."""
    _clients().close_client(name, author(by))
    typer.echo(f"{name}: closed")
