"""The command `ring`: what each procedure of a ring file leaves in the bolts, as text or data."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from evenpull.cli.errors import RefusalError, read_text
from evenpull.cli.options import JsonFlag
from evenpull.cli.ring_more import angles_text, found_text
from evenpull.cli.ring_scatter import heading, scatter_data, scatter_text, scattered
from evenpull.cli.show import counted, wrap
from evenpull.prediction import Prediction, ProcedureOutcome, RingResult, predict, read_prediction
from evenpull.prediction.guide import ring_template
from evenpull.prediction.notes import INTERACTION_ONLY, NO_LIMIT, SPREAD, notes
from evenpull.prediction.predict import Judged
from evenpull.quantities import show
from evenpull.ring.stepping import SteppingError

WHAT = "Ring file (TOML)."
BOLTS_IN_A_ROW = 10
Chosen = Annotated[
    list[str] | None, typer.Option("--procedure", help="Only this procedure of the file; may be repeated.")
]


def ring(
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help=WHAT, show_default=False)] = None,
    procedure: Chosen = None,
    loads: Annotated[bool, typer.Option("--loads", help="The load of every bolt after every pull.")] = False,
    compare: Annotated[bool, typer.Option("--compare", help="One table of all procedures.")] = False,
    scatter: Annotated[
        bool, typer.Option("--scatter", help="Tightening by torque instead: many assemblies with the file's [scatter].")
    ] = False,
    find: Annotated[
        bool, typer.Option("--find", help="Search the procedure with the fewest pulls for the file's evenness.")
    ] = False,
    angles: Annotated[
        bool, typer.Option("--angles", help="What reading the angle of every pull would bring, by torque with scatter.")
    ] = False,
    inputs: Annotated[bool, typer.Option("--inputs", help="Every input with where it comes from.")] = False,
    new: Annotated[bool, typer.Option("--new", help="Print a ring file to fill in.")] = False,
    as_json: JsonFlag = False,
) -> None:
    """Predict a bolted ring: the load of every bolt after every pull, for each procedure of the file."""
    if new:
        typer.echo(ring_template(), nl=False)
        return
    if file is None:
        raise RefusalError("name a ring file, or print one to fill in: evenpull ring --new")
    result = predicted(read_prediction(read_text(file), str(file)), procedure)
    if find or angles:
        if (find and angles) or scatter or loads or compare or as_json:
            raise RefusalError("--find and --angles print a text of their own; leave out the other flags")
        for text in (heading(result.prediction), (found_text if find else angles_text)(result)):
            for line in text:  # as it comes: the search and the assemblies take a while
                typer.echo(line)
        return
    if scatter:
        if loads or compare:
            raise RefusalError("--scatter has a table of its own; leave out --loads and --compare")
        outcomes = scattered(result)
        if as_json:
            typer.echo(json.dumps(scatter_data(result, outcomes), indent=2, ensure_ascii=False))
            return
        for line in scatter_text(result, outcomes):
            typer.echo(line)
        return
    if as_json:
        typer.echo(json.dumps(result_data(result), indent=2, ensure_ascii=False))
        return
    for line in result_text(result, loads=loads, compare=compare, inputs=inputs):
        typer.echo(line)


def predicted(prediction: Prediction, names: list[str] | None) -> RingResult:
    """The result for these procedures, all when none is named. RefusalError for a name that is none."""
    known = {one.name: one for one in prediction.procedures}
    for name in names or ():
        if name not in known:
            raise RefusalError(f"--procedure: {name!r} is not in the file; there are: {', '.join(map(repr, known))}")
    chosen = tuple(known[name] for name in dict.fromkeys(names)) if names else prediction.procedures
    try:
        return predict(prediction, chosen)
    except SteppingError as error:
        raise RefusalError(f"{prediction.file}: no prediction: {error}") from error


def result_text(result: RingResult, *, loads: bool, compare: bool, inputs: bool) -> Iterator[str]:
    """Heading, each procedure (or one table of all), loads after every pull, inputs, notes."""
    yield from heading(result.prediction)
    yield wrap(f"all figures: {INTERACTION_ONLY}", 2)
    if compare:
        yield ""
        yield from compare_text(result)
    else:
        for outcome in result.outcomes:
            yield ""
            yield from _outcome_text(outcome)
    if loads:
        for outcome in result.outcomes:
            yield ""
            yield from loads_text(outcome)
    if inputs:
        yield ""
        yield "Inputs"
        for row in result.prediction.inputs:
            yield wrap(f"{row.field} = {row.written}  {row.meaning}  [{row.source}]", 2, 6)
    yield ""
    for note in notes():
        yield wrap(note, 0, 2)


def _outcome_text(outcome: ProcedureOutcome) -> Iterator[str]:
    procedure = outcome.procedure
    yield f"{procedure.name}: {outcome.verdict}"
    yield wrap(procedure.words, 2)
    idle = int(outcome.idle.sum())
    left = f"; {counted(idle, 'bolt')} found at its load and left alone" if idle else ""
    yield wrap(f"{counted(len(outcome.loads), 'pull')}, {outcome.walk:.0f} m round the ring{left}", 2, 4)
    loads = f"least {outcome.least:.1%}, mean {outcome.mean:.1%}, most {outcome.most:.1%} of the target"
    yield wrap(f"at the end: {loads}; spread {outcome.spread:.1%}, deviation {outcome.deviation:.1%}", 2, 4)
    for one in outcome.judged:
        yield wrap(judged_words(one, outcome), 2, 4)
    yield "  load of each bolt at the end, kN (% of target):"
    final = enumerate(outcome.final, start=1)
    row = [f"{bolt:3}: {load / 1e3:6.1f} ({load / outcome.target:.1%})" for bolt, load in final]
    for first in range(0, len(row), 4):
        yield "".join(f"{text:<20}" for text in row[first : first + 4]).rstrip()


def judged_words(one: Judged, outcome: ProcedureOutcome) -> str:
    """One demand in words: "accepted: highest bolt load on the way, 142 kN <= 211.5 kN (bolt 3, pull 9)"."""
    at = {"load": outcome.load, "pressure": outcome.pressure, "tilt": outcome.tilt, "rotation": outcome.rotation}
    where = ""
    if one.key in at and at[one.key].pull:
        bolt = f"bolt {at[one.key].bolt}, " if at[one.key].bolt else ""
        where = f" ({bolt}pull {at[one.key].pull})"
    if one.limit is None:
        return f"{one.verdict}: {one.name}, {_in(one.value, one.unit)}{where}; {NO_LIMIT}"
    sense = "<=" if one.most else ">="
    return f"{one.verdict}: {one.name}, {_in(one.value, one.unit)} {sense} {_in(one.limit, one.unit)}{where}"


def _in(value: float, unit: str) -> str:
    if unit == "%":
        return f"{value:.1%}"
    return show(value if abs(value) > 1e-12 else 0.0, unit)


def compare_text(result: RingResult) -> Iterator[str]:
    """All procedures in one table, in the order of the file."""
    yield wrap(f"Procedures beside each other, {INTERACTION_ONLY}", 0, 2)
    yield "      pulls  least   mean   most  spread  deviation  highest    walk"
    yield "             %       %      %     %       %          kN         m"
    for number, one in enumerate(result.outcomes, start=1):
        shares = f"{100 * one.least:6.1f} {100 * one.mean:6.1f} {100 * one.most:6.1f} {100 * one.spread:7.1f}"
        rest = f"{100 * one.deviation:10.1f} {one.load.value / 1e3:8.1f} {one.walk:7.0f}  {one.verdict}"
        yield f"  {number:2}  {len(one.loads):5} {shares} {rest}"
    for number, one in enumerate(result.outcomes, start=1):
        yield wrap(f"{number:2}  {one.procedure.name} ({one.procedure.words})", 2, 6)
    columns = f"least, mean, most: load at the end / target; {SPREAD}; highest: of any bolt in any state"
    yield wrap(f"{columns}; walk: of all tools together along the bolt circle", 2, 4)


def loads_text(outcome: ProcedureOutcome) -> Iterator[str]:
    """The load of every bolt after every pull in % of the target, in blocks of bolts that fit the line."""
    count = outcome.loads.shape[1]
    yield wrap(f"{outcome.procedure.name}: loads after every pull in % of {show(outcome.target, 'kN')}, "
               f"{INTERACTION_ONLY}", 0, 2)  # fmt: skip
    for first in range(0, count, BOLTS_IN_A_ROW):
        block = range(first, min(first + BOLTS_IN_A_ROW, count))
        yield "  pull  bolt      " + "".join(f"{bolt + 1:6}" for bolt in block)
        for number, (pull, row) in enumerate(zip(outcome.procedure.pulls, outcome.loads, strict=True), start=1):
            pulled = "+".join(map(str, pull.bolts))
            pulled = pulled if len(pulled) <= 9 else pulled[:8] + "…"
            yield f"  {number:4}  {pulled:<9} " + "".join(f"{100 * row[bolt] / outcome.target:6.1f}" for bolt in block)


def result_data(result: RingResult) -> dict[str, Any]:
    """The result as data in SI, for --json."""
    prediction = result.prediction
    bolts = prediction.case.bolts
    return {
        "ring": prediction.id,
        "sha256": prediction.digest,
        "kind": INTERACTION_ONLY,
        "notes": list(notes()),
        "bolts": {
            "count": bolts.count, "stiffness_N_per_m": bolts.stiffness, "bending_N_m_per_rad": bolts.bending,
            "target_N": bolts.target, "limit_N": bolts.limit,
        },
        "inputs": [
            {"field": row.field, "meaning": row.meaning, "written": row.written, "source": row.source}
            for row in prediction.inputs
        ],
        "procedures": [
            {
                "name": one.procedure.name,
                "words": one.procedure.words,
                "verdict": one.verdict,
                "pulls": [
                    {"bolts": list(pull.bolts), "shares": list(pull.shares), "left_alone": int(idle)}
                    for pull, idle in zip(one.procedure.pulls, one.idle, strict=True)
                ],
                "loads_N": [[float(load) for load in row] for row in one.loads],
                "least": one.least, "mean": one.mean, "most": one.most, "spread": one.spread,
                "deviation": one.deviation, "walk_m": one.walk,
                "judged": [
                    {"key": j.key, "name": j.name, "value": j.value, "limit": j.limit, "verdict": j.verdict}
                    for j in one.judged
                ],
            }
            for one in result.outcomes
        ],
    }  # fmt: skip
