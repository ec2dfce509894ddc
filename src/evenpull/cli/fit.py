"""Command: which tools are fit for the pulls of a joint on a day."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evenpull.cli.dossier import services
from evenpull.cli.errors import RefusalError
from evenpull.cli.options import JOINT, JsonFlag
from evenpull.cli.show import wrap
from evenpull.instrument.fitness import percent
from evenpull.quantities import show, unit_shown

if TYPE_CHECKING:
    from evenpull.equipment.gate import Judged, Place, Table


def fit(
    joint: JOINT,
    day: Annotated[str, typer.Option(help="First day of use, such as 2026-03-24; today if left out.")] = "",
    until: Annotated[str, typer.Option(help="Last day of use; the first if left out.")] = "",
    tool: Annotated[str, typer.Option(help="Only this tool, with every reason.")] = "",
    as_json: JsonFlag = False,
) -> None:
    """Which tools are fit for every pull, why the others are not, and the order in which to take them.

    Exit code 1 when no allowed tool (or not the one named) is fit.
    """
    services()  # the dossier is there and its database ready
    from evenpull.store.services import fitting

    first = _day("--day", day)
    last = _day("--until", until)
    if last is not None and last < (first or date.today()):
        raise RefusalError(f"--until: {last} is before the first day of use")
    table = fitting.table(joint, first, last)
    found = table.of(tool) if tool else None
    if tool and found is None:
        known = ", ".join(one.serial for one in table.allowed)
        raise RefusalError(f"--tool: {tool!r} is not allowed for {joint}; allowed: {known}")
    if as_json:
        typer.echo(json.dumps(_data(table), indent=2, ensure_ascii=False))
    else:
        for line in _one_text(found, True) if found is not None else _text(table):
            typer.echo(line)
    if not (found.fit if found is not None else table.fit):
        raise typer.Exit(1)


def _day(option: str, text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise RefusalError(f"{option}: {text!r} is no day; write it as 2026-03-24") from error


def _text(table: Table) -> Iterator[str]:
    days = f"on {table.day}" if table.day == table.until else f"from {table.day} to {table.until}"
    yield f"{table.joint}: tools for {len(table.values)} pull values, used {days}"
    yield wrap(f"order of the fit ones: {table.rule}", 2, 4)
    for place in table.fit:
        yield ""
        yield wrap(f"{place.place}. {_named(place.judged)}: fit; {place.reason}", 0, 3)
        yield from _one_text(place.judged, False)
    for judged in table.refused:
        yield ""
        yield f"-  {_named(judged)}: NOT FIT"
        if judged.passes_fit:
            numbers = ", ".join(str(n) for n in judged.passes_fit)
            yield wrap(f"fit in pass {numbers} only: on a card only beside a tool that is fit for the others", 3, 5)
        yield from (wrap(words, 3, 5) for words in judged.refusals)
        yield from _one_text(judged, False)
    if table.not_allowed:
        yield ""
        yield wrap("Would be fit, but the specification does not allow it; only a new revision of it can:", 0, 2)
        yield from (wrap(_other(place), 2, 5) for place in table.not_allowed)


def _named(judged: Judged) -> str:
    return ", ".join(text for text in (f"{judged.serial} {judged.name}".strip(), judged.place) if text)


def _other(place: Place) -> str:
    return f"{place.place}. {_named(place.judged)}; {place.reason}"


def _one_text(judged: Judged, every: bool) -> Iterator[str]:
    if every:
        yield f"{_named(judged)}: {'fit' if judged.fit else 'NOT FIT'}"
        general = judged.fitness.reasons if judged.fitness is not None else ()
        yield from (wrap(f"{'' if r.fit else 'NOT FIT: '}{r.words}", 3, 5) for r in general)
        yield from (wrap(f"NOT FIT: {words}", 3, 5) for words in (*judged.later, judged.broken) if words)
    for pull, one in judged.passes:
        dialled = "no setting" if one.setting is None else f"set {one.setting.digits} {unit_shown(one.setting.unit)}"
        risk = "cannot be judged" if one.risk is None else percent(one.risk)
        hand = "" if one.setting is None or not one.setting.hand_sensitivity else (
            f", hand 10 mm off {100 * one.setting.hand_sensitivity:.2g} %")
        yield wrap(f"{pull.value.name}: {dialled} for {show(pull.value.torque, 'N.m')}{hand}; false acceptance {risk}"
                   f"{'; NOT FIT' if judged.whole or not one.fit else ''}", 3, 5)  # fmt: skip
        if every:
            yield from (wrap(f"{'' if r.fit else 'NOT FIT: '}{r.words}", 5, 7) for r in one.reasons)
    yield from (wrap(f"not judged: {words}", 3, 5) for words in judged.notes)


def _data(table: Table) -> dict[str, Any]:
    """For another program; torques in N.m, probabilities and sensitivities as shares."""
    return {
        "joint": table.joint, "day": str(table.day), "until": str(table.until), "rule": table.rule,
        "fit": [{"place": p.place, "reason": p.reason, **_judged(p.judged)} for p in table.fit],
        "refused": [_judged(one) for one in table.refused],
        "not_allowed": [{"place": p.place, "reason": p.reason, **_judged(p.judged)} for p in table.not_allowed],
    }  # fmt: skip


def _judged(one: Judged) -> dict[str, Any]:
    return {
        "serial": one.serial, "name": one.name, "kept_at": one.place, "fit": one.fit, "refusals": list(one.refusals),
        "not_judged": list(one.notes),
        "pulls": [
            {
                "pass": pull.pass_number, "fasteners": list(pull.fasteners), "torque": pull.value.torque,
                "window": [pull.value.lower, pull.value.upper], "fit": found.fit,
                "setting": None if found.setting is None else found.setting.digits,
                "unit": None if found.setting is None else found.setting.unit,
                "hand_10mm": None if found.setting is None else found.setting.hand_sensitivity,
                "expected": found.expected, "u": found.u, "false_acceptance": found.risk,
            }
            for pull, found in one.passes
        ],
    }  # fmt: skip
