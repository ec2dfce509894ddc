"""The command `ring-solid`: a ring file stepped with the solid reference too, and how far the fast model is from it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import numpy as np
import typer

from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.ring import Chosen, predicted
from evenpull.cli.show import wrap
from evenpull.prediction import ProcedureOutcome, predict, read_prediction
from evenpull.prediction.notes import PREDICTED
from evenpull.ring.condensed import Condensed
from evenpull.ring.solid.condense import condense_solid
from evenpull.ring.solid.extra import ExtraMissingError
from evenpull.ring.stepping import SteppingError


def ring_solid(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Ring file (TOML).")],
    procedure: Chosen = None,
    size_factor: Annotated[
        float, typer.Option(min=0.3, max=4.0, help="Element size; 1 is the usual one, less is finer and slower.")
    ] = 1.0,
) -> None:
    """Check an unusual ring: the same procedures with three-dimensional finite elements, pull by pull.

    Needs the extra `fe` and takes a minute or more.
    """
    prediction = read_prediction(read_text(file), str(file))
    fast = predicted(prediction, procedure)
    began = time.perf_counter()
    try:
        condensed = condense_solid(prediction.case, size_factor=size_factor)
        solid = predict(prediction, tuple(one.procedure for one in fast.outcomes), condensed)
    except (ExtraMissingError, SteppingError, ValueError) as error:
        raise RefusalError(f"{file}: no solid reference: {error}") from error
    typer.echo(f"{prediction.id}  {prediction.name}")
    typer.echo(f"  solid reference built and stepped in {time.perf_counter() - began:.0f} s")
    typer.echo(wrap(f"approach of the flanges per newton: {_approach(fast.condensed, solid.condensed)}", 2, 4))
    for one, other in zip(fast.outcomes, solid.outcomes, strict=True):
        typer.echo("")
        for line in difference_text(one, other):
            typer.echo(line)
    typer.echo("")
    typer.echo(wrap(f"{PREDICTED} The solid reference is a finer model of the same drawing, no measurement.", 0, 2))


def _approach(fast: Condensed, solid: Condensed) -> str:
    """Axial compliance of a bolt in both models, mean of the harmonics without the rigid ones 0 and 1."""
    if len(fast.compliance) < 3:
        return "three bolts have no harmonic to compare"
    values = [float(one.compliance[2:, 0, 0].real.mean()) for one in (fast, solid)]
    return f"fast model {values[0] * 1e9:.4g} nm, solid {values[1] * 1e9:.4g} nm ({values[0] / values[1] - 1:+.1%})"


def difference_text(fast: ProcedureOutcome, solid: ProcedureOutcome) -> Iterator[str]:
    """The largest difference of any bolt after each pull, in % of the target; then the whole procedure and its end."""
    difference = (fast.loads - solid.loads) / fast.target
    yield f"{fast.procedure.name}: fast model less solid reference, % of the target"
    yield "  pull  bolt       largest  at bolt  fast  solid"
    for number, (pull, row) in enumerate(zip(fast.procedure.pulls, difference, strict=True), start=1):
        worst = int(np.abs(row).argmax())
        pulled = "+".join(map(str, pull.bolts))
        pulled = pulled if len(pulled) <= 9 else pulled[:8] + "…"
        both = [100 * one.loads[number - 1, worst] / one.target for one in (fast, solid)]
        yield f"  {number:4}  {pulled:<9} {100 * row[worst]:8.2f} {worst + 1:8} {both[0]:6.1f} {both[1]:6.1f}"
    whole, end = 100 * np.abs(difference), 100 * np.abs(difference[-1])
    yield wrap(f"largest {whole.max():.2f} %, root mean square {np.sqrt((whole**2).mean()):.2f} %; at the end largest "
               f"{end.max():.2f} %, root mean square {np.sqrt((end**2).mean()):.2f} %", 2, 4)  # fmt: skip
    ends = [f"least load {one.least:.1%}, spread {one.spread:.1%}" for one in (fast, solid)]
    yield wrap(f"at the end: fast model {ends[0]}; solid {ends[1]}", 2, 4)
