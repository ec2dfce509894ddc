"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

JOINT_OR_FILE = Annotated[str, typer.Argument(metavar="JOINT|FILE", help="Id of a joint of the dossier, or a file.")]
JOINT = Annotated[str, typer.Argument(metavar="JOINT", help="Id of a joint, e.g. KN-CW-014.")]
BY = Annotated[str, typer.Option("--by", envvar="EVENPULL_BY", help="Your name; it is kept with what you do.")]
ToolsFile = Annotated[Path | None, typer.Option("--tools", help="Tool register (TOML), for the settings.")]
MappingName = Annotated[str, typer.Option("--mapping", "-m", help="Name of the mapping that describes the file.")]
JsonFlag = Annotated[bool, typer.Option("--json", help="Print data for another program.")]
