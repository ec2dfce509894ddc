"""The command `friction-test`: a torque-tension test of a lot, from its CSV file to the friction to plan with."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from evenpull.calculation.lot_test import LotSheet, Readings, evaluate, read_runs
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.show import wrap
from evenpull.joint.parts.threads import thread
from evenpull.joint.tightening.friction_test import D_b, lot_friction
from evenpull.plan.errors import SpecificationError
from evenpull.quantities import parse, show
from evenpull.statistics.lots import LotFigures

FILE = "CSV file: run, torque (N.m), load (kN) and, where measured, thread torque (N.m); units in the heading."
BEARING = "Diameter of the bearing face that rubs, e.g. \"16.6 mm\"."


def friction_test(
    file: Annotated[Path, typer.Argument(help=FILE)],
    size: Annotated[str, typer.Option("--thread", help="Thread of the lot, e.g. M12.")],
    bearing: Annotated[str, typer.Option("--bearing", help=BEARING)],
    hole: Annotated[str, typer.Option("--hole", help="Hole under the bearing face, e.g. \"13.5 mm\".")],
    svg: Annotated[Path | None, typer.Option("--svg", help="Draw K over the load; replaces no file.")] = None,
) -> None:
    """Evaluate a torque-tension test of a lot (quantities of ISO 16047): scatter, tolerance interval, falling K."""
    try:
        tested = thread(size)
        mean = float(D_b(parse(bearing, "length").si, parse(hole, "length").si))
        runs = read_runs(read_text(file), str(file))
        found = evaluate(runs, tested, mean)
    except SpecificationError:  # its faults name the line already
        raise
    except (NotInCatalogue, ValueError) as error:
        raise RefusalError(f"{file}: {error}") from error
    for line in _text(found, runs, size, mean):
        typer.echo(line)
    if svg is not None:
        _draw(found, svg)


def _text(found: LotSheet, runs: tuple[Readings, ...], size: str, mean: float) -> Iterator[str]:
    lot = found.lot
    yield f"{len(runs)} runs on {size}, mean diameter of the bearing face {show(mean, 'mm')}"
    for one, result in zip(runs, lot.runs, strict=True):
        more = "" if result.mu_th is None or result.mu_b is None else \
            f", mu_th {result.mu_th:.4f}, mu_b {result.mu_b:.4f}"
        yield wrap(f"run {one.name}: {show(one.run.T, 'N.m')} gave {show(one.run.F, 'kN')}: K {result.K:.4f}, "
                   f"mu_tot {result.mu_tot:.4f}{more}", 2, 4)
    yield ""
    for name, figures in (("K", lot.K), ("mu_tot", lot.mu_tot), ("mu_th", lot.mu_th), ("mu_b", lot.mu_b)):
        if figures is not None:
            yield wrap(_figures(name, figures), 0, 2)
    yield ""
    for note in found.notes:
        yield wrap(f"Note: {note}", 0, 2)
    try:
        friction = lot_friction(lot, "as tested", "this test")
    except ValueError as error:
        yield wrap(f"No band to plan with: {error}", 0, 2)
        return
    yield "To plan with, in a joint or calculation file:"
    for name, band in (("mu_G", friction.mu_G), ("mu_K", friction.mu_K)):
        yield f"  {name} = [{band.low:.3f}, {band.nominal:.3f}, {band.high:.3f}]"


def _figures(name: str, f: LotFigures) -> str:
    return (f"{name}: mean {f.mean:.4f}, standard deviation {f.s:.4f} ({100 * f.variation:.1f} %), {f.least:.4f} to "
            f"{f.most:.4f}; {100 * f.content:g} % of the lot lie in {f.interval[0]:.4f} to {f.interval[1]:.4f} with "
            f"{100 * f.confidence:g} % confidence (k = {f.k:.3f})")


def _draw(found: LotSheet, path: Path) -> None:
    from evenpull.report.plot_svg import plot_svg

    if found.falling is None:
        raise RefusalError("no run has three readings at different loads: there is nothing to draw")
    if path.exists():
        raise RefusalError(f"{path}: the file exists already; choose another name, nothing was written")
    path.write_text(plot_svg(found.falling), encoding="utf-8")
    typer.echo(f"{path}: written")
