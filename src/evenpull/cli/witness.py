"""Commands by which the log is held against itself and against what lies elsewhere: receipts, keys, time-stamps."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.errors import RefusalError

BY = Annotated[str, typer.Option("--by", envvar="EVENPULL_BY", help="Your name; it is kept with it.")]
LARGEST = 2_000_000  # bytes of any file that is read here


def checkpoint(
    out: Annotated[Path, typer.Option("--out", "-o", help="File to write.")] = Path("checkpoint.txt"),
) -> None:
    """Write the signed state of the log, one line, to be kept elsewhere: printed, mailed, in another safe."""
    state = services().last_checkpoint()
    out.write_bytes(state.text)
    typer.echo(f"{out}: the state of {state.size} facts of {state.time}, signed by {state.key}")
    typer.echo("Keep it where nobody who can write here can change it. Years later say:")
    typer.echo(f"  evenpull verify --checkpoint {out}          whether this dossier still begins with it")
    typer.echo(f"  evenpull bundle --since {out}               a bundle that proves it to somebody else")


def compared(verdict: str, text: str) -> None:
    """Print a comparison; exit code 1 unless it is accepted."""
    typer.echo(f"{verdict}: {text}")
    if verdict != "accepted":
        raise typer.Exit(1)


def compare_dossier(receipt: Path) -> None:
    """Hold a receipt against the dossier."""
    from evenpull.evidence.compare import CompareError

    try:
        found = services().compare_receipt(read(receipt))
    except CompareError as error:
        raise RefusalError(f"{receipt}: {error}") from error
    compared(found.verdict, found.text)


def compare_bundle(bundle: Path, others: list[Path]) -> None:
    """Hold earlier bundles and receipts against a bundle, without the dossier. Exit code 1 unless all are accepted."""
    from evenpull.evidence.compare import CompareError, compare, read_state

    good = True
    try:
        later = read_state(bundle)
        for other in others:
            found = compare(later, read_state(other))
            typer.echo(f"{other}: {found.verdict}: {found.text}")
            good = good and found.verdict == "accepted"
    except CompareError as error:
        raise RefusalError(str(error)) from error
    if not good:
        raise typer.Exit(1)


def read(path: Path) -> bytes:
    """A small file. RefusalError when it is far too large; OSError as it is."""
    if path.stat().st_size > LARGEST:
        raise RefusalError(f"{path}: has {path.stat().st_size} bytes; at most {LARGEST} are read here")
    return path.read_bytes()


def check_log() -> None:
    """Read the whole log: every fact against its digest, its place and every signed state. Exit code 1 if not."""
    found = services()
    problems = found.check_log()
    size = found.log_status().size
    if problems:
        typer.echo(f"NOT WHOLE: {len(problems)} thing{'s' if len(problems) > 1 else ''} in the log of {size} facts")
        for problem in problems:
            typer.echo(f"  {problem}")
        raise typer.Exit(1)
    typer.echo(f"whole: {size} facts, each as it was digested, in its place, under every signed state")
    typer.echo("Only a checkpoint kept elsewhere shows that the log was not written anew: evenpull checkpoint")


def key(
    renew: Annotated[bool, typer.Option("--renew", help="Let a new key take over.")] = False, by: BY = ""
) -> None:
    """Show the signing keys of the log in their order, or let a new key take over from the one in force."""
    found = services()
    if renew:
        old, new = found.renew_key(author(by))
        typer.echo(f"the key {new} has taken over from {old}; both have signed it, and it is a fact of the log")
        typer.echo(f"The old one is kept as signing-key-{old[:16]}.pem and signs nothing more. Copy signing-key.pem")
        typer.echo("to a safe place now, and give its fingerprint to those who check your bundles.")
        return
    chain = found.keys_of_log()
    typer.echo(f"{chain.first.fingerprint}  from the beginning")
    for handed in chain.successions:
        typer.echo(f"{handed.new.fingerprint}  from fact {handed.size} on, {handed.time}")


def time_stamp(
    request: Annotated[
        Path | None, typer.Option("--request", help="Write a request over the last checkpoint to this file.")
    ] = None,
    keep: Annotated[Path | None, typer.Option("--keep", help="Check and keep the token that came back.")] = None,
    ca: Annotated[
        Path | None, typer.Option("--ca", help="Certificates (PEM) of the authorities you trust; with --keep.")
    ] = None,
    by: BY = "",
) -> None:
    """Time-stamps of an outside authority (RFC 3161): request as a file, token as a file; nothing goes to a network."""
    if (request is None) == (keep is None):
        if request is not None or ca is not None:
            raise RefusalError("say either --request FILE or --keep FILE")
        for row in services().stamps():
            typer.echo(_line(row))
        return
    if request is not None:
        if ca is not None:
            raise RefusalError("--ca belongs to --keep")
        der, state = services().request_stamp(author(by))
        request.write_bytes(der)
        typer.echo(f"{request}: request over the state of {state.size} facts of {state.time}")
        typer.echo("Send it to your authority (application/timestamp-query); keep what comes back with:")
        typer.echo("  evenpull time-stamp --keep FILE --ca AUTHORITY.pem")
        return
    assert keep is not None
    row = services().keep_stamp(read(keep), author(by), None if ca is None else read(ca))
    typer.echo(f"kept: {_line(row)}")


def _line(row: object) -> str:
    from evenpull.store.services import StampRow

    assert isinstance(row, StampRow)
    trust = "certificate leads to the authority given" if row.anchored else "certificate not compared with an authority"
    return f"{row.at:%Y-%m-%d %H:%M:%S} UTC  {row.size} facts  {row.authority}  ({trust})  token {row.token}"
