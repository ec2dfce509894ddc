"""Commands of the accounts: whoever may write in the folder of the dossier is its owner and needs no password here."""

from __future__ import annotations

from types import ModuleType
from typing import Annotated

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.options import BY
from evenpull.store.access import ROLES

app = typer.Typer(no_args_is_help=True, help="Accounts for the pages: open, close, give roles, passwords.")
LOGIN = Annotated[str, typer.Argument(help="Login of the account.")]
ROLE = Annotated[str, typer.Option(help=f"One of: {', '.join(ROLES)}.")]


def _accounts() -> ModuleType:
    services()
    from evenpull.store.services import accounts

    return accounts


def _new_password() -> str:
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True))


@app.command()
def add(
    login: LOGIN,
    name: Annotated[str, typer.Option(help="Full name of the person; it stands with all that is written.")],
    role: ROLE,
    by: BY,
) -> None:
    """Open an account; the password is asked for. The first one has to be an administrator."""
    row = _accounts().add_account(login, name, role, _new_password(), author(by))
    typer.echo(f"{row.login}: opened for {row.full_name}, {row.role}")


@app.command("list")
def listed() -> None:
    """All accounts."""
    rows = _accounts().accounts()
    for row in rows:
        state = "closed" if row.closed else "locked out" if row.locked else "open"
        typer.echo(f"{row.login}: {row.full_name}, {row.role}, {state}")
    if not rows:
        typer.echo("No account: the pages serve one person on this machine, without a password.")


@app.command()
def role(login: LOGIN, role: ROLE, by: BY) -> None:
    """Give another role."""
    _accounts().set_role(login, role, author(by))
    typer.echo(f"{login}: {role}")


@app.command()
def close(login: LOGIN, by: BY) -> None:
    """Close an account and end its sessions."""
    _accounts().close_account(login, author(by))
    typer.echo(f"{login}: closed")


@app.command()
def reopen(login: LOGIN, by: BY) -> None:
    """Open a closed account again."""
    _accounts().reopen_account(login, author(by))
    typer.echo(f"{login}: open again")


@app.command()
def unlock(login: LOGIN, by: BY) -> None:
    """Forget the wrong passwords of an account."""
    _accounts().unlock(login, author(by))
    typer.echo(f"{login}: unlocked")


@app.command()
def password(login: LOGIN, by: BY) -> None:
    """Give a new password; sessions of the account end."""
    _accounts().set_password(login, _new_password(), author(by))
    typer.echo(f"{login}: password changed")
