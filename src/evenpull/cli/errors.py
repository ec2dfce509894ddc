"""Turn what the lower rooms refuse into one line a person can act on: file:line: field: message, exit code 2."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperGroup

from evenpull.evidence.sign import KeyFileError
from evenpull.intake.record import IntakeError
from evenpull.plan.errors import SpecificationError
from evenpull.plan.toml_text import read_file
from evenpull.quantities import UnitError

REFUSED = 2


class RefusalError(Exception):
    """A command cannot go on; the text says why and what would help."""


MOST_TEXT = 2_000_000  # characters of a TOML file of any kind; each kind has its own lower limit


def read_text(path: Path) -> str:
    """Text of a TOML file. SpecificationError with the line when it is not UTF-8 or far too large; OSError as it is."""
    return read_file(path, most=MOST_TEXT, what="a TOML file")


def refusals() -> tuple[type[BaseException], ...]:
    """Errors a person can act on. Those of the dossier count only once it is in use: `verify` runs without it."""
    pure: tuple[type[BaseException], ...] = (
        RefusalError, SpecificationError, IntakeError, UnitError, KeyFileError, OSError,
    )  # fmt: skip
    dossier = sys.modules.get("evenpull.store.services")
    if dossier is None:
        return pure
    from django.db import DatabaseError

    return (*pure, dossier.Unknown, dossier.Refused, DatabaseError)


def lines_of(error: BaseException) -> list[str]:
    """Lines to print for one of `refusals()`, in the order in which the lower room gave them."""
    if isinstance(error, SpecificationError):
        return [str(fault) for fault in error.faults]
    if isinstance(error, IntakeError):
        where = error.file + (f":{error.line}" if error.line is not None else "")
        return [f"{where}: {error.field}: {error.message}" if error.field else f"{where}: {error.message}"]
    if isinstance(error, OSError):
        named = f"{str(error.filename)[:300]}: " if error.filename is not None else ""
        return [f"{named}{error.strerror or error}"]
    if type(error).__module__.startswith("django.db"):
        from evenpull.store.told import told

        found = told(error)
        assert found is not None
        return [f"{found[1]} Nothing was written.", found[2]]
    return str(error).splitlines()


def complain(lines: list[str]) -> None:
    """Print to standard error, as they are: no colour, no wrapping, so that an editor can jump to file:line."""
    for line in lines:
        # A file name may hold bytes that are no text; they are spelt out.
        typer.echo(line.encode("utf-8", "backslashreplace").decode("utf-8"), err=True)


class JobGroup(TyperGroup):
    """The group of all commands: keeps their order in the help and prints refusals without a traceback."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Commands in the order of the job, not of the alphabet."""
        return list(self.commands)

    def invoke(self, ctx: Any) -> Any:
        """Run the command; an error a person can act on becomes its lines and exit code 2."""
        try:
            return super().invoke(ctx)
        except refusals() as error:
            complain(lines_of(error))
            raise typer.Exit(REFUSED) from error
