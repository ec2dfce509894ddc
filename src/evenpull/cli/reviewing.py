"""Reviews of tools found out: look, open, show, decide, close; the report and the list as files."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from typing import Annotated, Any

import typer

from evenpull.cli.dossier import author, services
from evenpull.cli.options import BY
from evenpull.instrument.review import Verdict
from evenpull.report import review_words
from evenpull.review import lots
from evenpull.review.considered import CAUTIONS, TO_SAY
from evenpull.review.dispositions import ACTS
from evenpull.review.found import FOUND_KINDS

app = typer.Typer(no_args_is_help=True, help="Review what was tightened with a tool that was found out.")
NUMBER = Annotated[int, typer.Argument(help="Number of the review.")]


def _service(name: str) -> ModuleType:
    from importlib import import_module

    services()
    return import_module(f"evenpull.store.services.{name}")


@app.command()
def found(
    serial: Annotated[str, typer.Argument(help="Wrench, chain, multiplier, adapter, gauge or reference standard.")],
    kind: Annotated[str, typer.Argument(help=f"What was found: {', '.join(FOUND_KINDS)}.")],
    words: Annotated[str, typer.Option(help="In your own words.")],
    at: Annotated[str, typer.Option(help="When it was found, UTC: 2026-09-01 14:30, or a day.")],
    certificate: Annotated[str, typer.Option(help="Certificate with the as-found points.")] = "",
    withdrawn: Annotated[str, typer.Option(help="Certificate that was withdrawn.")] = "",
    event: Annotated[str, typer.Option(help="Known drop, overload or repair, UTC.")] = "",
    set_: Annotated[str, typer.Option("--set", help="Shift check: set or shown, with its unit.")] = "",
    gave: Annotated[str, typer.Option(help="Shift check: the device showed.")] = "",
    stated: Annotated[str, typer.Option(help="Ratio that was stated, of a multiplier or adapter.")] = "",
    true: Annotated[str, typer.Option(help="Ratio that was found.")] = "",
    uncertainty: Annotated[str, typer.Option(help="Uncertainty of what was measured, k = 2.")] = "",
    repeat: Annotated[str, typer.Option(help="Relative uncertainty of repeatability.")] = "",
    operator: Annotated[str, typer.Option(help="Relative uncertainty of the operator.")] = "",
    kept: Annotated[str, typer.Option(help="Share of the load left after settling.")] = "",
    open_it: Annotated[bool, typer.Option("--open", help="Write it: the review is opened.")] = False,
    by: BY = "",
) -> None:
    """What a finding reaches: looked at, or with --open opened as a review."""
    service = _service("reviewing")
    given = service.found_of({
        "serial": serial, "kind": kind, "words": words, "at": at, "certificate": certificate, "withdrawn": withdrawn,
        "event": event, "set": set_, "gave": gave, "stated": stated, "true": true, "uncertainty": uncertainty,
        "repeat": repeat, "operator": operator, "kept": kept,
    })  # fmt: skip
    if not open_it:
        _summary(service.compute(given))
        typer.echo("Nothing was written. Open the review with --open.")
        return
    head = service.open_review(given, author(by))
    _summary(service.review(head.id).now)
    typer.echo(f"Review {head.id} is open: {head.uses:,} tightenings on {head.joints:,} joints.")


def _summary(now: Any) -> None:
    outcome = now.outcome
    typer.echo(f"{outcome.touched.count:,} tightenings rest on it. Against their windows, by the worst case:")
    for verdict in reversed(Verdict):
        typer.echo(f"  {outcome.counts[verdict]:>9,} {verdict.words:<17} load: {outcome.load_counts[verdict]:>9,}")
    for reason, n in outcome.reasons().items():
        typer.echo(f"  cannot be judged, {n:,}: {reason.words}")
    typer.echo("Models: delivered; surely in, doubtful, cannot be judged, surely out")
    for name, said, *counts in review_words.model_rows(outcome):
        typer.echo(f"  {name}: {said}{'; ' if counts[0] else ''}{', '.join(c for c in counts if c)}")
    for one in outcome.suspects:
        if one.direction == "clockwise":
            typer.echo(f"In doubt: {review_words.suspect_words(one)}{'; ' + one.unknown if one.unknown else ''}")
    for lot in lots(outcome):
        typer.echo(f"Re-check: {review_words.lot_words(lot)}")
    typer.echo(f"Caution: {CAUTIONS[0]}")


@app.command("list")
def listed() -> None:
    """Every review, the newest first."""
    for head, closed, decided in _service("reviewing").reviews():
        typer.echo(f"{head.id}: {head.found.serial}, {head.found.kind}; {head.uses:,} tightenings, {decided:,} of "
                   f"{head.joints:,} joints decided; {'closed' if closed else 'open'}")


@app.command()
def show(
    number: NUMBER,
    pdf: Annotated[Path | None, typer.Option(help="Write the report to this file.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write the list of tightenings to this file.")] = None,
    xlsx: Annotated[Path | None, typer.Option(help="The list as a sheet.")] = None,
) -> None:
    """One review as it stands, its joints, and its papers as files."""
    service, lists, papers = (_service(n) for n in ("reviewing", "review_lists", "review_papers"))
    view = service.review(number)
    head = view.head
    typer.echo(f"Review {number}: {head.found.serial}, {head.found.kind}, opened by {head.author}")
    for note in papers.notes(view):
        typer.echo(f"To be known: {note}")
    _summary(view.now)
    for line in lists.page(view, 1, lists.matching(view)).rows:
        typer.echo(f"  {line.joint} (class {line.joint_class or 'not described'}, {line.state}): in {line.counts[0]}, "
                   f"doubtful {line.counts[1]}, not judged {line.counts[2]}, out {line.counts[3]}; "
                   f"{line.decided.words if line.decided else 'no disposition yet'}")
    for path, made in ((pdf, papers.pdf), (csv, lists.csv), (xlsx, lists.xlsx)):
        if path is not None:
            path.write_bytes(made(view))
            typer.echo(f"Written: {path}")
    if view.closed is None:
        left = f"{len(view.undecided)} joints without a disposition"
        typer.echo(f"Open: {left}{'; not said: ' + ', '.join(view.unsaid) if view.unsaid else ''}")


@app.command()
def decide(
    number: NUMBER,
    act: Annotated[str, typer.Argument(help=f"Disposition: {', '.join(ACTS)}.")],
    reason: Annotated[str, typer.Option(help="The reason, the same for all.")],
    by: BY,
    joints: Annotated[list[str] | None, typer.Option("--joint", help="A joint; may be given many times.")] = None,
    worst: Annotated[str, typer.Option(help="Or all joints whose worst verdict is this.")] = "",
) -> None:
    """One disposition on some joints of a review."""
    service, lists = _service("reviewing"), _service("review_lists")
    wanted = list(joints or ())
    if worst:
        view = service.review(number)
        named = view.now.outcome.touched.joints
        wanted += [named[place].joint for place in lists.matching(view, worst=worst)]
    count = service.decide(number, wanted, act, reason, author(by))
    typer.echo(f"Recorded on {count:,} joints.")


@app.command()
def say(
    number: NUMBER,
    what: Annotated[str, typer.Argument(help=f"One of: {', '.join(TO_SAY)}.")],
    text: Annotated[str, typer.Argument(help="In your own words.")],
    by: BY,
) -> None:
    """Write down the cause, the action, tools of the same type, or the notices considered."""
    _service("reviewing").say(number, what, text, author(by))
    typer.echo("Written down.")


@app.command()
def close(
    number: NUMBER,
    statement: Annotated[str, typer.Option(help="What was reviewed and decided, in your own words.")],
    by: BY,
) -> None:
    """Sign that the review is done: every joint has a disposition, and everything is said."""
    closed = _service("reviewing").close(number, statement, author(by))
    typer.echo(f"Review {number} is closed by {closed.by}.")
