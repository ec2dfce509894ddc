"""The command line: the job in order, from a joint file to a verified bundle. Thin: every command calls a service."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenpull import __version__
from evenpull.cli import (
    account,
    ask,
    audit_answers,
    backup,
    calculate,
    carry,
    client,
    curves,
    enter,
    fit,
    friction,
    judge,
    keep,
    paper,
    reviewing,
    ring,
    ring_solid,
    study_more,
    tools,
    witness,
    work,
)
from evenpull.cli.dossier import use_home
from evenpull.cli.errors import JobGroup

app = typer.Typer(
    name="evenpull",
    cls=JobGroup,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="From a bolted joint to a signed release. The commands stand in the order of the job.",
    epilog="Errors are printed as file:line: field: message, with exit code 2. Try it out: evenpull demo",
)

ASK, WORK = "1  What is asked", "2  The work and its records"
JUDGE, KEEP = "3  Judgement and release", "4  Keeping, pages, demo"

for panel, name, command in (
    (ASK, "new", ask.new),
    (ASK, "check", ask.check),
    (ASK, "target", ask.target),
    (ASK, "plan", ask.plan),
    (ASK, "calculate", calculate.calculate),
    (ASK, "friction-test", friction.friction_test),
    (ASK, "ring", ring.ring),
    (ASK, "ring-solid", ring_solid.ring_solid),
    (ASK, "add", work.add),
    (WORK, "fit", fit.fit),
    (WORK, "card", work.card),
    (WORK, "pack", work.pack),
    (WORK, "suggest", work.suggest),
    (WORK, "mapping", work.mapping),
    (WORK, "preview", work.preview),
    (WORK, "import", work.import_),
    (WORK, "withdraw", work.withdraw),
    (WORK, "type-in", work.type_in),
    (WORK, "enter", enter.enter),
    (JUDGE, "status", judge.status),
    (JUDGE, "matrix", judge.matrix),
    (JUDGE, "records", judge.records),
    (JUDGE, "gates", enter.gates),
    (JUDGE, "follow-ups", enter.follow_ups),
    (JUDGE, "dispose", judge.dispose),
    (JUDGE, "release", judge.release),
    (JUDGE, "report", judge.report),
    (KEEP, "bundle", keep.bundle),
    (KEEP, "verify", keep.verify),
    (KEEP, "checkpoint", witness.checkpoint),
    (KEEP, "check-log", witness.check_log),
    (KEEP, "key", witness.key),
    (KEEP, "time-stamp", witness.time_stamp),
    (KEEP, "backup", backup.backup),
    (KEEP, "restore", backup.restore),
    (KEEP, "serve", keep.serve),
    (KEEP, "demo", keep.demo),
):
    app.command(name, rich_help_panel=panel)(command)
app.add_typer(carry.app, name="carry", rich_help_panel=KEEP)
app.add_typer(tools.app, name="tools", rich_help_panel=KEEP)
app.add_typer(curves.app, name="curves", rich_help_panel=JUDGE)
app.add_typer(study_more.app, name="study", rich_help_panel=JUDGE)
app.add_typer(client.app, name="client", rich_help_panel=KEEP)
app.add_typer(account.app, name="account", rich_help_panel=KEEP)
app.add_typer(reviewing.app, name="review", rich_help_panel=JUDGE)
app.add_typer(paper.app, name="paper", rich_help_panel=KEEP)
app.add_typer(audit_answers.app, name="audit", rich_help_panel=KEEP)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"evenpull {__version__}")
        raise typer.Exit


@app.callback()
def common(
    home: Annotated[
        Path | None, typer.Option(help="Folder of the dossier (also EVENPULL_HOME).", show_default=False)
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Options before the command."""
    if home is not None:
        use_home(home)


def main() -> None:
    """Entry point of the command `evenpull`."""
    app()


if __name__ == "__main__":
    main()
