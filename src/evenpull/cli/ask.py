"""Commands of the desk, before anyone works: new, check, target, plan. They need no dossier when given a file."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from evenpull.cli import show
from evenpull.cli.errors import REFUSED, RefusalError, read_text
from evenpull.cli.options import JOINT_OR_FILE, JsonFlag, ToolsFile
from evenpull.plan import make_plan, template
from evenpull.plan.make import torque_without_drag
from evenpull.plan.model import JOINT_KINDS, Plan, Problem
from evenpull.plan.prechecks import alike, compare, ratio
from evenpull.plan.read import read_specification
from evenpull.plan.tools import read_tools

KEEPER = ("equipment", "certificates", "certificate-mapping")  # files of the tool keeper


def load_plan(joint_or_file: str, tools: Path | None, on: date | None = None) -> Plan:
    """Plan of a joint file, or of a joint of the dossier when the text is no file. Raises RefusalError and the readers'
    errors."""
    path = Path(joint_or_file)
    if path.suffix == ".toml" or path.is_file():
        spec = read_specification(read_text(path), str(path))
        listed = () if tools is None else read_tools(read_text(tools), str(tools))
        made = make_plan(spec, listed, on or date.today())
        return made if tools is not None else without_register(made)
    if tools is not None:
        raise RefusalError("--tools goes with a joint file; a joint of the dossier takes the tools of the dossier")
    from evenpull.cli.dossier import services

    known: Plan = services().joint(joint_or_file).plan
    return replace(known, problems=(*known.problems, *services().comparisons(joint_or_file)))


def without_register(made: Plan) -> Plan:
    """The same plan, saying that no register was given instead of that no tool is in it."""
    note = Problem("no register given", "note", "No tool register was given (--tools FILE): there are no settings, and "
                   "the load window holds the tolerance without the uncertainty of a tool.")  # fmt: skip
    kept = tuple(problem for problem in made.problems if problem.code != "no tool in register")
    return replace(made, problems=(*kept, note))


def new(
    kind: Annotated[
        str, typer.Argument(help=f"A joint: {', '.join(JOINT_KINDS)}; or of the tool keeper: {', '.join(KEEPER)}.")
    ] = "gasketed flange",
    out: Annotated[Path | None, typer.Option("--out", "-o", help="Write to this file; refuses to replace one.")] = None,
) -> None:
    """Write a joint file, or one of the tool keeper, to fill in, every field explained."""
    if kind not in (*JOINT_KINDS, *KEEPER):
        raise RefusalError(f"{kind!r} is not a kind of joint; one of: {', '.join(JOINT_KINDS)}; or of the tool keeper: "
                           f"{', '.join(KEEPER)}")
    if kind in KEEPER:
        from evenpull.equipment.guide import keeper_template  # loads scipy, which no joint file needs

        text = keeper_template(kind)
    else:
        text = template(kind)
    if out is None:
        typer.echo(text, nl=False)
        return
    if out.exists():
        raise RefusalError(f"{out}: the file exists already; choose another name, nothing was written")
    out.write_text(text, encoding="utf-8")
    typer.echo(f"{out}: written. Fill it in, then: evenpull {'add' if kind in KEEPER else 'check'} {out}")


def check(
    files: Annotated[list[Path], typer.Argument(help="Joint files (TOML).")],
    tools: ToolsFile = None,
) -> None:
    """Check joint files: every error with file, line and field, or the target in one line; several files are also
    compared with each other."""
    from evenpull.cli.errors import complain, lines_of, refusals

    refused, plans = False, []
    for path in files:
        try:
            plans.append(load_plan(str(path), tools))
        except refusals() as error:
            complain(lines_of(error))
            refused = True
    torques = {plan.spec.id: torque_without_drag(plan.spec) for plan in plans}
    for plan in plans:
        spec, own = plan.spec, alike(plan.spec)
        others = [other.spec for other in plans if other is not plan]
        siblings = {other.id: ratio(other, torques[other.id]) for other in others if own and alike(other) == own}
        model = next((other for other in others if other.id.upper() == spec.copied_from.upper()), None)
        found = compare(spec, torques[spec.id], siblings, None if model is None else (model, torques[model.id]))
        plan = replace(plan, problems=(*plan.problems, *found))
        typer.echo(show.target_line(plan))
        for line in show.problem_lines(plan):
            typer.echo(show.wrap(line, 2, 4))
    if refused:
        raise typer.Exit(REFUSED)


def target(
    joint_or_file: JOINT_OR_FILE,
    tools: ToolsFile = None,
    as_json: JsonFlag = False,
) -> None:
    """Target of a joint with its load window and every number's formula and source."""
    plan = load_plan(joint_or_file, tools)
    if as_json:
        typer.echo(json.dumps(show.target_data(plan), indent=2, ensure_ascii=False))
        return
    for line in show.target_text(plan):
        typer.echo(line)


def plan(
    joint_or_file: JOINT_OR_FILE,
    tools: ToolsFile = None,
    pulls: Annotated[bool, typer.Option("--pulls", help="List every pull, one a line.")] = False,
) -> None:
    """Passes, order of the pulls and the setting of each tool in its own unit."""
    for line in show.plan_text(load_plan(joint_or_file, tools), pulls=pulls):
        typer.echo(line)
