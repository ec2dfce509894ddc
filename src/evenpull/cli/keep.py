"""Commands of the years after: bundle and verify; and the faces: serve and demo."""

from __future__ import annotations

import os
import socket
from pathlib import Path
from typing import Annotated

import typer

from evenpull.cli import witness
from evenpull.cli.dossier import services, use_home
from evenpull.cli.errors import RefusalError
from evenpull.store.loopback import is_loopback

ADDRESS, PORT = "127.0.0.1", 8716
DEMO_HOME = Path("kestrel-narrows")
PORT_OPTION = Annotated[int, typer.Option(min=1, max=65535, help="Port of the pages.")]


def bundle(
    joint: Annotated[str | None, typer.Argument(metavar="[JOINT]", help="One joint; all joints if left out.")] = None,
    out: Annotated[Path | None, typer.Option("--out", "-o", help="File to write.")] = None,
    since: Annotated[
        list[Path] | None, typer.Option("--since", help="Checkpoint from which it must prove the growth.")
    ] = None,
) -> None:
    """Write a bundle with facts, raw files and proofs, to be verified years later without the dossier."""
    receipts = [witness.read(path) for path in since or ()]
    path = services().export_bundle(joint, out or Path(f"{joint or 'all-joints'}.bundle.zip"), receipts)
    typer.echo(f"{path}: written. Verify it anywhere with: evenpull verify {path}")


def verify(
    bundle: Annotated[Path | None, typer.Argument(metavar="[BUNDLE]", help="Bundle file.")] = None,
    key: Annotated[str | None, typer.Option(help="Fingerprint of the key that must have sealed it.")] = None,
    earlier: Annotated[
        list[Path] | None, typer.Option("--earlier", help="Earlier bundle that it must have grown from.")
    ] = None,
    checkpoint: Annotated[
        list[Path] | None, typer.Option("--checkpoint", help="Checkpoint that it (or this dossier) must still hold.")
    ] = None,
) -> None:
    """Verify a bundle with no database: every byte that was changed is named. Exit code 1 if anything was.

    With --earlier or --checkpoint also: whether the log only appended since. Without BUNDLE, --checkpoint is held
    against the dossier itself.
    """
    from evenpull.evidence import verify as verify_bundle

    others = [*(earlier or ()), *(checkpoint or ())]
    if bundle is None:
        if key is not None or earlier or len(others) != 1:
            raise RefusalError("name the bundle to verify; without one, --checkpoint FILE is held against the dossier")
        witness.compare_dossier(others[0])
        return
    try:
        found = verify_bundle(bundle, key)
    except ValueError as error:
        raise RefusalError(f"--key: {error}") from error
    for line in found.lines:
        typer.echo(line)
    if not found.ok:
        raise typer.Exit(1)
    if others:
        witness.compare_bundle(bundle, others)


def _free(host: str, port: int) -> bool:
    """Whether nothing listens on that port yet."""
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        return probe.connect_ex((host, port)) != 0


def run_pages(host: str, port: int) -> None:
    """Serve the pages of the dossier until stopped with Ctrl+C. Raises RefusalError when the port is taken."""
    from django.db import connections
    from granian.constants import Interfaces
    from granian.server import Server

    services()
    os.environ["EVENPULL_KEEP_FRESH"] = "1"  # the pages judge again beside their answers
    connections.close_all()  # the server's worker is another process and must not inherit this one's connection
    if not _free(host, port):
        raise RefusalError(f"--port: {port} on {host} is taken by another program; choose another, e.g. {port + 1}")
    typer.echo(f"Pages: http://{f'[{host}]' if ':' in host else host}:{port}/   stop with Ctrl+C")
    Server(
        "evenpull.web.wsgi:application", address=host, port=port, interface=Interfaces.WSGI, log_enabled=False
    ).serve()


def serve(
    port: PORT_OPTION = PORT,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = ADDRESS,
) -> None:
    """Serve the pages, on this machine only unless the dossier has accounts."""
    if not is_loopback(host) and "EVENPULL_HOSTS" not in os.environ:
        if host in ("0.0.0.0", "::"):
            raise RefusalError(
                f"--host: {host} listens on every address; say by which names the pages may be asked for, e.g. "
                "EVENPULL_HOSTS=pages.example.org, or name one address as --host."
            )
        os.environ["EVENPULL_HOSTS"] = host  # read by the settings when the dossier is opened
    if not is_loopback(host):
        services()
        from evenpull.store.services import accounts

        if not accounts.in_use():
            raise RefusalError(
                f"--host: {host} can be reached from other machines, and this dossier has no accounts: anybody who "
                "reaches the pages could sign under any name.\nKeep to 127.0.0.1, or open accounts first: evenpull "
                "account add LOGIN --name NAME --role administrator --by NAME"
            )
    run_pages(host, port)


def demo(
    home: Annotated[Path, typer.Option(help="Folder of the demo; an earlier one is gone on with.")] = DEMO_HOME,
    serve: Annotated[bool, typer.Option("--serve/--no-serve", help="End with the running pages, or without.")] = True,
    port: PORT_OPTION = PORT,
) -> None:
    """Run the whole job on the invented power station Kestrel Narrows, then serve the pages."""
    use_home(home)
    services()
    from evenpull.demo.run import run

    run()
    if serve:
        typer.echo("")
        run_pages(ADDRESS, port)
    else:
        typer.echo("")
        typer.echo("To see it on pages:")
        typer.echo(f"  evenpull --home {home} serve --port {port}")
        typer.echo(f"  then open http://{ADDRESS}:{port}/")
