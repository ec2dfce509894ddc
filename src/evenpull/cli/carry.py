"""Commands for carriers: work into a site without network, and out again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenpull.carrier import CarrierError, Part
from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError
from evenpull.cli.options import BY

app = typer.Typer(no_args_is_help=True, help="Carriers: work into a site without network, and out again.")
NAMES = Annotated[list[str] | None, typer.Option()]
SHEETS = Annotated[list[str] | None, typer.Option(metavar="FILE=MAPPING", help="CSV and the mapping it is read with.")]


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise RefusalError(f"{path}: cannot be read ({error.strerror}); name a file that is there") from error


def _sheet(kind: str, given: str) -> Part:
    name, sign, mapping = given.partition("=")
    if not sign:
        raise RefusalError(f"{given}: say by which mapping it is read: FILE=MAPPING")
    return Part(kind, Path(name).name, _bytes(Path(name)), mapping)


def _curves(given: str) -> Part:
    name, sign, rest = given.partition("=")
    joint, _, mapping = rest.partition("=")
    if not sign or not joint:
        raise RefusalError(f"{given}: say of which joint the curves are: FILE=JOINT or FILE=JOINT=MAPPING")
    return Part("curves", Path(name).name, _bytes(Path(name)), mapping, joint)


@app.command("out")
def out(
    file: Annotated[Path, typer.Argument(help="Carrier to write (.zip).")],
    by: BY,
    subject: Annotated[str, typer.Option(help="What is carried, and where to, in one line.")],
    joint: NAMES = None,
    mapping: NAMES = None,
    card: NAMES = None,
    tools: Annotated[bool, typer.Option("--tools", help="With the tool registers.")] = False,
    equipment: Annotated[
        bool, typer.Option("--equipment", help="With the register of equipment and its certificates.")
    ] = False,
    records: SHEETS = None,
    typed: SHEETS = None,
    scan: Annotated[list[Path] | None, typer.Option(help="Scanned card: PDF, PNG, JPEG.")] = None,
    curves: Annotated[
        list[str] | None, typer.Option(metavar="FILE=JOINT[=MAPPING]", help="Curves of a joint: CSV with its curve "
                                       "mapping, or Parquet of our own layout.")
    ] = None,
    curve_mapping: Annotated[list[Path] | None, typer.Option(help="Curve mapping (TOML).")] = None,
) -> None:
    """Write a carrier: what stands in this dossier, and files of records, typed sheets and scans from outside."""
    found = services()
    parts = [_sheet("records", one) for one in records or ()] + [_sheet("typed sheet", one) for one in typed or ()]
    parts += [_curves(one) for one in curves or ()]
    parts += [Part("curve mapping", path.name, _bytes(path)) for path in curve_mapping or ()]
    parts += [Part("scan", path.name, _bytes(path)) for path in scan or ()]
    if file.exists():
        raise RefusalError(f"{file} is there already; name another file. Nothing was written.")
    try:
        data = found.carry_out(
            subject, author(by), joints=joint or (), mappings=mapping or (), cards=card or (), tools=tools,
            equipment=equipment, files=parts,
        )  # fmt: skip
    except CarrierError as error:
        raise RefusalError(f"{error}. Nothing was written.") from error
    file.write_bytes(data)
    typer.echo(f"{file}: {len(data)} bytes. Tell the receiver on another way the fingerprint that evenpull key shows.")


@app.command("in")
def in_(
    file: Annotated[Path, typer.Argument(help="Carrier to take in.")],
    by: BY,
    key: Annotated[str, typer.Option(help="Fingerprint of the sender's key.")] = "",
    look: Annotated[bool, typer.Option("--look", help="Only say what would be done; write nothing.")] = False,
) -> None:
    """Take a carrier in, wholly or not at all; each part is new, known or refused. Again, it changes nothing."""
    found, data = services(), _bytes(file)
    try:
        row = found.look_into(data, key) if look else found.carry_in(data, author(by), key)
    except CarrierError as error:
        raise RefusalError(f"{file}: {error}. Nothing was written.") from error
    for part in row.parts:
        typer.echo(f"{part.standing:8} {part.kind} {part.name}{f': {part.why}' if part.why else ''}")
    typer.echo(f"{file}: {'taken in' if row.written else 'nothing written'}")
    if any(part.standing == "refused" for part in row.parts):
        raise typer.Exit(1)
