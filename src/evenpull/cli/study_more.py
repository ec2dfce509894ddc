"""Commands beside a study: how many readings it takes, what a sample says, whether a tool drifts."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import services
from evenpull.cli.errors import RefusalError
from evenpull.cli.show import wrap
from evenpull.cli.study import app as app
from evenpull.cli.study import table_text
from evenpull.statistics.repeatability_plan import Aim, Expected
from evenpull.study import planning, sampled
from evenpull.study.drift import Calibration
from evenpull.study.result import Table

CONFIDENCE = Annotated[float, typer.Option(help="Confidence of the limits.")]


def _say(lines: Iterable[str]) -> None:
    for line in lines:
        typer.echo(line)


def _tables(make: Callable[[], tuple[list[Table], list[str]]]) -> None:
    """Words, then tables; numbers that make no sense are refused in the words of the statistics."""
    try:
        tables, words = make()
    except ValueError as error:
        raise RefusalError(str(error)) from error
    for said in words:
        typer.echo(wrap(said, 0, 2))
    for table in tables:
        typer.echo("")
        _say(table_text(table))
    typer.echo("")
    typer.echo(wrap(planning.GUESSED, 0, 2))


plan = typer.Typer(no_args_is_help=True, help="How many persons, parts, repeats or pulls, and how wide the limits.")
app.add_typer(plan, name="plan")


@plan.command("repeatability")
def plan_repeatability(
    repeat: Annotated[float, typer.Option(help="Standard deviation of one person on one part, expected.")],
    operator: Annotated[float, typer.Option(help="Between persons.")] = 0.0,
    interaction: Annotated[float, typer.Option(help="Persons differing from part to part.")] = 0.0,
    part: Annotated[float, typer.Option(help="Between parts.")] = 0.0,
    parts: Annotated[int, typer.Option(help="How many parts or targets there are.")] = 5,
    persons: Annotated[int, typer.Option(help="How many persons there are.")] = 3,
    repeats: Annotated[int, typer.Option(help="How often each reads each.")] = 3,
    wanted: Annotated[float | None, typer.Option(help="Upper limit wanted, over the scatter itself, e.g. 1.4.")] = None,
    aim: Annotated[str, typer.Option(help=f"Which scatter: {', '.join(planning.AIMS)}.")] = "measurement",
    confidence: CONFIDENCE = 0.95,
) -> None:
    """Repeatability and reproducibility: how wide the limits will be, and the fewest readings for wanted ones."""
    if aim not in planning.AIMS:
        raise RefusalError(f"{aim!r} is no scatter of a study; there are: {', '.join(planning.AIMS)}")
    chosen: Aim = next(one for one in planning.AIMS if one == aim)

    def make() -> tuple[list[Table], list[str]]:
        expected = Expected(part, operator, interaction, repeat)
        words = []
        if wanted is not None:
            words = [planning.fewest(expected, parts, wanted, aim=chosen, confidence=confidence),
                     planning.persons_for(wanted, confidence)]
        return [planning.widths(expected, parts, persons, repeats, confidence),
                planning.alternatives(expected, parts, aim=chosen, confidence=confidence)], words

    _tables(make)


@plan.command("capability")
def plan_capability(
    demanded: Annotated[float, typer.Option(help="Cmk or Cpk to be shown.")],
    expected: Annotated[float | None, typer.Option(help="Cmk or Cpk expected.")] = None,
    content: Annotated[float, typer.Option(help="Share of all pulls in a tolerance interval.")] = 0.95,
    confidence: CONFIDENCE = 0.95,
) -> None:
    """How many values show a demanded index, and what has to come out of how many."""
    _tables(lambda: ([planning.capability_table(demanded, confidence)], [
        *planning.capability_words(demanded, expected, confidence), planning.tolerance_words(content, confidence)]))


@plan.command("exercise")
def plan_exercise(
    scatter: Annotated[float, typer.Option(help="Scatter s of a person's pulls, expected.")],
    persons: Annotated[int, typer.Option(help="How many persons are judged together.")] = 1,
    wanted: Annotated[float | None, typer.Option(help="Limits wanted, so much to either side of the bias.")] = None,
    confidence: CONFIDENCE = 0.95,
) -> None:
    """How many pulls of each person show what the person delivers, and how wide the limits will be."""
    _tables(lambda: ([planning.exercise_table(scatter, persons, "", confidence)], [] if wanted is None else
                     planning.exercise_words(scatter, wanted, persons, "", confidence)))


@app.command()
def sample(
    lot: Annotated[int | None, typer.Option(help="How many there are; left out: without end.")] = None,
    checked: Annotated[int | None, typer.Option(help="How many were checked.")] = None,
    found: Annotated[int, typer.Option(help="How many of them were bad.")] = 0,
    share: Annotated[float | None, typer.Option(help="Share bad that must be shown not to be there, in %.")] = None,
    confidence: CONFIDENCE = 0.95,
) -> None:
    """What a check of some says of all, and how many to check so that it says what is wanted."""
    if checked is None and share is None:
        raise RefusalError("say how many were checked (--checked), or which share bad must be shown not to be there "
                           "(--share)")
    try:
        words: list[str] = []
        if checked is not None and lot is not None:
            words.append(sampled.sampled(lot, checked, found, confidence).words)
        elif checked is not None:
            words.append(sampled.endless(checked, found, confidence))
        if share is not None:
            words += sampled.sizes(share / 100, confidence, lot, found if checked is None else 0)
    except ValueError as error:
        raise RefusalError(str(error)) from error
    for said in (*words, f"{sampled.DRAWN} {sampled.CHOSEN}"):
        typer.echo(wrap(said, 0, 2))


@app.command()
def drift(
    serial: Annotated[str, typer.Argument(help="Serial of the tool.")],
    since: Annotated[str, typer.Option(help="Only checks from this day on, as 2026-03-18.")] = "",
    baseline: Annotated[int | None, typer.Option(help="How many of the first checks make the limits.")] = None,
    limit: Annotated[float | None, typer.Option(help="Permissible deviation, in %; else of the register.")] = None,
    uncertainty: Annotated[
        float | None, typer.Option(help="Expanded uncertainty of a calibration, in %; else of the last certificate.")
    ] = None,
    certificate: Annotated[
        list[str] | None,
        typer.Option(metavar="DAY=FOUND[/LEFT]", help="Deviation of a certificate in %, as 2025-02-10=0.4/0.1."),
    ] = None,
) -> None:
    """Whether a tool drifts: chart with honest limits, trend and step of its shift checks; advice on its interval."""
    view = services().drift_of(
        serial, since=_day(since) if since else None, baseline=baseline, limit=None if limit is None else limit / 100,
        k_u=None if uncertainty is None else uncertainty / 100,
        calibrations=[calibration_of(text) for text in certificate or ()],
    )  # fmt: skip
    _say(drift_text(view))


def drift_text(view: Any) -> Iterable[str]:
    """What the checks of a tool say, series by series, and the advice."""
    found = view.drift
    yield f"{found.tool}: {view.checks} shift checks; {found.finding}"
    for one in found.series:
        yield ""
        yield f"Set to {one.set:.4g} N.m, {len(one.checks)} checks: {one.finding}"
        for said in (*one.says, *one.problems):
            yield wrap(said, 2, 4)
    yield ""
    if found.advice is None:
        yield wrap(f"No advice on the interval: {found.no_advice}.", 0, 2)
    for said in (*view.basis, *found.advice_words, *(f"Not used: {one}." for one in view.unusable), *found.says_not):
        yield wrap(said, 0, 2)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise RefusalError(f"{text[:40]!r} is not a day; write it as 2026-03-18") from error


def calibration_of(text: str) -> Calibration:
    """"2025-02-10=0.4/0.1": found 0.4 % and left 0.1 %; without the second figure it was left as found."""
    day, sign, figures = text.partition("=")
    found, _, left = figures.partition("/")
    try:
        if not sign:
            raise ValueError
        return Calibration(_day(day.strip()), float(found) / 100, float(left) / 100 if left else None)
    except ValueError as error:
        raise RefusalError(f"--certificate: {text[:60]!r} is not DAY=FOUND or DAY=FOUND/LEFT, as 2025-02-10=0.4/0.1 "
                           "(in %)") from error
