"""Turn what the lower rooms refuse into one line a person can act on: file:line: field: message, exit code 2."""

from __future__ import annotations

import sys
from typing import Any

import click
import typer
from typer.core import TyperGroup

from evenpull.intake.record import IntakeError
from evenpull.plan.errors import SpecificationError
from evenpull.quantities import UnitError

REFUSED = 2


class RefusalError(Exception):
    """A command cannot go on; the text says why and what would help."""


def refusals() -> tuple[type[BaseException], ...]:
    """Errors a person can act on. Those of the dossier count only once it is in use: `verify` runs without it."""
    pure: tuple[type[BaseException], ...] = (
        RefusalError, SpecificationError, IntakeError, UnitError, FileNotFoundError, IsADirectoryError, PermissionError,
    )  # fmt: skip
    dossier = sys.modules.get("evenpull.store.services")
    return pure if dossier is None else (*pure, dossier.Unknown, dossier.Refused)


def lines_of(error: BaseException) -> list[str]:
    """Lines to print for one of `refusals()`, in the order in which the lower room gave them."""
    if isinstance(error, SpecificationError):
        return [str(fault) for fault in error.faults]
    if isinstance(error, IntakeError):
        where = error.file + (f":{error.line}" if error.line is not None else "")
        return [f"{where}: {error.field}: {error.message}" if error.field else f"{where}: {error.message}"]
    if isinstance(error, OSError):
        return [f"{error.filename}: {error.strerror}"]
    return str(error).splitlines()


def complain(lines: list[str]) -> None:
    """Print to standard error, as they are: no colour, no wrapping, so that an editor can jump to file:line."""
    for line in lines:
        typer.echo(line, err=True)


class JobGroup(TyperGroup):
    """The group of all commands: keeps their order in the help and prints refusals without a traceback."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Commands in the order of the job, not of the alphabet."""
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; an error a person can act on becomes its lines and exit code 2."""
        try:
            return super().invoke(ctx)
        except refusals() as error:
            complain(lines_of(error))
            raise typer.Exit(REFUSED) from error
