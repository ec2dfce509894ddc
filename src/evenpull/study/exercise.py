"""An operator exercise judged: what each person delivers against the target, how it scatters, how much lies inside."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpull.calculation.plots import Curve, Mark, Plot
from evenpull.statistics.person_bias import PersonBias, bias_from_reference
from evenpull.statistics.sampling import clopper_pearson
from evenpull.statistics.variance_limits import combination_limits
from evenpull.statistics.variance_tables import Crossed
from evenpull.study.model import Place, Study
from evenpull.study.result import Demand, Figure, Outcome, Table
from evenpull.study.scale import (
    axis_label,
    normality_of,
    normality_remarks,
    order_remarks,
    reading_remarks,
    resolution_remarks,
    run_plot,
    scaled,
)
from evenpull.study.words import between, counted, listed, number, percent, with_unit


@dataclass(frozen=True, slots=True)
class Person:
    """One person: bias against the targets with limits, scatter s with limits, pulls inside of all with limits of the
    share (None without a window)."""

    bias: PersonBias
    s: float
    s_limits: tuple[float, float]
    pulls: int
    inside: int | None
    inside_limits: tuple[float, float] | None


def judge_exercise(study: Study) -> Outcome:
    """The outcome of complete readings. ValueError in words where a person's pulls are all alike."""
    values = scaled(study)
    persons = _persons(study, values)
    shares = {one.bias.operator: one for one in persons}
    figures: list[Figure] = []
    for one in persons:
        name = one.bias.operator
        figures.append(Figure(f"bias: {name}", f"{name}: above target", one.bias.bias, one.bias.low, one.bias.high,
                              study.scale_unit))
        figures.append(Figure(f"s: {name}", f"{name}: scatter s", one.s, *one.s_limits, study.scale_unit))
        if one.inside is not None and one.inside_limits is not None:
            low, high = one.inside_limits
            figures.append(Figure(f"inside: {name}", f"{name}: inside the window", 100 * one.inside / one.pulls,
                                  100 * low, 100 * high, "%"))
    demands = tuple(demand for one in persons for demand in _demands(study, one))
    rest = [value - _middle(study, shares[place[0]], values, place) for place, value in values.items()]
    return Outcome(
        tuple(figures), (_table(study, persons),), demands,
        (_headline(study, persons, demands), *(_of_person(study, one) for one in persons)),
        (f"It holds for these persons ({listed(study.persons)}) with {_with(study)}, on the device and in the posture "
         "of that day; a gallery, a ladder or a glove is another exercise.",
         "It says nothing of what was not seen: permit, identity of the joint, order, lubricant, the record itself.",
         f"It does not say that the device is right: {study.device or 'the device'} needs its own certificate."),
        (*normality_remarks(normality_of(rest), "the readings less the mean of their place"),
         *order_remarks(study, rest), *resolution_remarks(study, min(one.s for one in persons)),
         *reading_remarks(study)),
        (_bias_plot(study, persons), run_plot(study, list(values.values()))),
    )  # fmt: skip


def _with(study: Study) -> str:
    return f"tool{'s' if len(study.tools) > 1 else ''} {listed(study.tools)}" if study.tools else "the tool of that day"


def _reference(study: Study) -> list[float]:
    """What each part asks for on the scale analysed."""
    if study.analysed != "value":
        return [0.0] * len(study.part_names)
    return [float(target) for name in study.part_names if (target := study.target_of(name)) is not None]


def _persons(study: Study, values: dict[Place, float]) -> list[Person]:
    """With several targets the means at each are what is compared, so that a bias that differs from target to target
    widens the limits; with one target each pull counts by itself."""
    reference = _reference(study)
    y = np.array([[[values[person, part, n] for n in range(1, study.replicates + 1)] for person in study.persons]
                  for part in study.part_names])
    if len(study.part_names) == 1:  # (1, persons, pulls) -> each pull a part of its own
        pulls = y[0].T[:, :, None]
        compared = Crossed(tuple(f"pull {n}" for n in range(1, len(pulls) + 1)), study.persons, pulls)
        reference = reference * len(pulls)
    else:
        compared = Crossed(study.part_names, study.persons, y)
    found = bias_from_reference(compared, reference, confidence=study.confidence)
    return [_person(study, bias, y[:, j, :]) for j, bias in enumerate(found)]


def _person(study: Study, bias: PersonBias, y: np.ndarray) -> Person:
    """`y` (parts, replicates) of one person. Scatter within the targets; of one pull at each, over the targets."""
    parts, repeats = y.shape
    df = parts * (repeats - 1) if repeats > 1 else parts - 1
    middle = y.mean(axis=1, keepdims=True) if repeats > 1 else y.mean()
    MS = float(((y - middle) ** 2).sum()) / df
    low, high = combination_limits([1.0], [MS], [df], study.confidence) if MS > 0 else (np.zeros(()), np.zeros(()))
    inside = limits = None
    if study.window.stated:
        inside = sum(study.window.holds(float(value)) for value in y.ravel())
        limits = clopper_pearson(inside, y.size, study.confidence)
    return Person(bias, math.sqrt(MS), (math.sqrt(max(0.0, float(low))), math.sqrt(max(0.0, float(high)))), y.size,
                  inside, limits)


def _middle(study: Study, person: Person, values: dict[Place, float], place: Place) -> float:
    """Mean of the place that a reading belongs to; of one pull at each target, the person's own mean."""
    own = [values[place[0], place[1], n] for n in range(1, study.replicates + 1)]
    if len(own) > 1:
        return sum(own) / len(own)
    everywhere = [values[place[0], part, 1] for part in study.part_names]
    return sum(everywhere) / len(everywhere)


def _headline(study: Study, persons: list[Person], demands: tuple[Demand, ...]) -> str:
    if not demands:
        worst = max(persons, key=lambda one: abs(one.bias.bias))
        return (f"{counted(len(persons), 'person')}; farthest from the target: {worst.bias.operator} by "
                f"{_signed(worst.bias.bias, study)}")
    by_person = {one.bias.operator: {demand.answer for demand in demands if demand.person == one.bias.operator}
                 for one in persons}
    good = [name for name, answers in by_person.items() if answers == {"shown"}]
    bad = [name for name, answers in by_person.items() if "not so" in answers]
    rest = [name for name in by_person if name not in good and name not in bad]
    said = [f"{what}: {listed(names)}" for what, names in (
        ("demands shown", good), ("not met", bad), ("neither shown nor refuted", rest)) if names]
    said[0] = said[0][0].upper() + said[0][1:]
    return "; ".join(said)


def _signed(value: float, study: Study) -> str:
    return ("+" if value > 0 else "") + with_unit(value, study.scale_unit, 3)


def _of_person(study: Study, one: Person) -> str:
    b = one.bias
    way = "above" if b.bias > 0 else "below"
    stands = f"{with_unit(abs(b.bias), study.scale_unit, 3)} {way} the target" if b.seen else (
        f"{_signed(b.bias, study)} from the target, which chance explains")
    inside = ""
    if one.inside is not None and one.inside_limits is not None:
        inside = (f"; {one.inside} of {one.pulls} pulls inside the window, so that "
                  f"{number(100 * one.inside_limits[0], 3)} to {percent(one.inside_limits[1])} of all would be")
    return (f"{b.operator}: {stands} (limits {between(b.low, b.high)}), scatter s = "
            f"{with_unit(one.s, study.scale_unit, 3)} ({between(*one.s_limits)}){inside}.")


def _demands(study: Study, one: Person) -> list[Demand]:
    asked, found = study.demands, []
    unit, b = study.scale_unit, one.bias
    if asked.bias is not None:
        words = f"found {_signed(b.bias, study)}, limits {between(b.low, b.high, unit)}"
        what = f"at most {with_unit(asked.bias, unit)} above or below the target"
        if -asked.bias <= b.low and b.high <= asked.bias:
            found.append(Demand(what, b.operator, "shown", words))
        else:
            beyond = b.low > asked.bias or b.high < -asked.bias
            found.append(Demand(what, b.operator, "not so" if beyond else "not shown", words))
    if asked.inside is not None and one.inside is not None and one.inside_limits is not None:
        low, high = one.inside_limits
        words = f"{one.inside} of {one.pulls} inside; limits of the share {between(100 * low, 100 * high, '%')}"
        what = f"at least {percent(asked.inside)} of all pulls inside the window"
        answer = "shown" if low >= asked.inside else "not so" if high < asked.inside else "not shown"
        found.append(Demand(what, b.operator, answer, words))  # type: ignore[arg-type]
    return found


def _table(study: Study, persons: list[Person]) -> Table:
    unit, window = study.scale_unit, study.window.stated
    rows = []
    for one in persons:
        row = [one.bias.operator, str(one.pulls), number(one.bias.bias, 3), between(one.bias.low, one.bias.high),
               "yes" if one.bias.seen else "no", number(one.s, 3), between(*one.s_limits)]
        if one.inside_limits is not None:
            low, high = one.inside_limits
            row += [f"{one.inside} of {one.pulls}", between(100 * low, 100 * high, "%")]
        rows.append(tuple(row))
    columns = ("person", "pulls", f"above target, {unit}", "limits", "seen", f"scatter s, {unit}", "limits of s",
               *(("inside the window", "limits of the share") if window else ()))
    return Table(
        "Persons", columns, tuple(rows), tuple(range(1, len(columns))),
        f"Limits of what lies above the target hold for all persons together at {percent(study.confidence)}; the "
        "others for each alone. Limits of the share are exact (binomial).",
    )  # fmt: skip


def _bias_plot(study: Study, persons: list[Person]) -> Plot:
    """Each person's mean with its limits as an upright line."""
    curves = [Curve("limits", ((float(j), one.bias.low), (float(j), one.bias.high)), "line", accent=True)
              for j, one in enumerate(persons, start=1)]
    middle = Curve("found", tuple((float(j), one.bias.bias) for j, one in enumerate(persons, start=1)), "points")
    words = "; ".join(f"{one.bias.operator} {number(one.bias.bias, 3)}, {between(one.bias.low, one.bias.high)}"
                      for one in persons)
    names = ", ".join(f"{j} {one.bias.operator}" for j, one in enumerate(persons[:20], start=1))
    marks = [Mark("target", y=0.0)]
    if study.demands.bias is not None:
        marks += [Mark("demand", y=study.demands.bias, limit=True), Mark("", y=-study.demands.bias, limit=True)]
    return Plot("bias", "Each person against the target", "person", axis_label(study) if study.analysed != "value" else
                f"above target, {study.scale_unit}", 1.0, 1.0, (*curves[:1], middle, *_unnamed(curves[1:])),
                f"Above target by person: {words}.", marks=tuple(marks), x_whole=True, note=f"Persons: {names}.")


def _unnamed(curves: list[Curve]) -> list[Curve]:
    """Further lines of the same meaning, which the legend names once."""
    return [Curve("", one.points, one.style, one.accent) for one in curves]
