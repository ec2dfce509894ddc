"""Repeatability and reproducibility judged: components with limits, persons, the window, and what none of it says."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from evenpull.calculation.plots import Curve, Plot, Style
from evenpull.statistics.person_bias import PersonBias, bias_among
from evenpull.statistics.repeatability import (
    NAMES,
    Component,
    Repeatability,
    contribution_limits,
    distinct_categories_limits,
    one_way_components,
    precision_to_tolerance,
    repeatability,
)
from evenpull.statistics.variance_tables import Crossed, F_test, OneWay, TwoWay, crossed, one_way, two_way
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
from evenpull.study.words import between, counted, listed, number, p_shown, percent, told, with_unit

NEGATIVE = "the estimate of the variance is negative and counts as zero"
MOST_DRAWN = 6  # persons drawn in one plot


def judge_crossed(study: Study) -> Outcome:
    """The outcome of complete readings. ValueError in words where nothing scatters."""
    return _of_parts(study) if study.parts else _of_groups(study)


def _of_parts(study: Study) -> Outcome:
    values = scaled(study)
    ordered = sorted(values, key=lambda place: place[2])
    read = _arranged(study, crossed((part, person, values[person, part, n]) for person, part, n in ordered))
    table = two_way(read)
    found = repeatability(table, model=study.model, confidence=study.confidence)
    rest = _rest(study, values, read)
    persons = _bias(study, read)
    figures = [_figure(found.components[name], study) for name in NAMES]
    figures += [Figure(f"bias: {one.operator}", f"{one.operator} from the mean of all", one.bias, one.low, one.high,
                       study.scale_unit) for one in persons]
    window = _of_window(study, found)
    tables = (_components(study, found), _anova(table, found), _cells(study, read), _persons(study, persons))
    says = [_headline(study, found, window)]
    says += [f"One person on one {study.part_word}, reading after reading (repeatability): s = "
             f"{told(_figure(found.components['repeatability'], study))}.",
             f"Between persons, alike everywhere or from {study.part_word} to {study.part_word} (reproducibility): s = "
             f"{told(_figure(found.components['reproducibility'], study))}."]
    says += _person_words(study, persons)
    says += _category_words(study, found)
    return Outcome(
        (*figures, *([window] if window else [])), tuple(t for t in tables if t.rows), _demands(study, window),
        tuple(says), _says_not(study),
        (*(_note(note, study) for note in found.notes),
         *normality_remarks(normality_of(rest), "the readings less the mean of their place"),
         *order_remarks(study, rest), *resolution_remarks(study, found.components["repeatability"].s),
         *reading_remarks(study)),
        (_means_plot(study, read), run_plot(study, [values[place] for place in values], limits=False)),
    )  # fmt: skip


def _figure(component: Component, study: Study) -> Figure:
    """A component as a standard deviation."""
    note = "" if component.estimate >= 0 or component.variance > 0 else NEGATIVE
    return Figure(component.name, component.name, component.s, math.sqrt(component.low), math.sqrt(component.high),
                  study.scale_unit, note)


def _note(note: str, study: Study) -> str:
    """A remark of the analysis, its first letter large, and in the words of this study."""
    text = note.replace("from part to part", f"from {study.part_word} to {study.part_word}")
    return f"{text[0].upper()}{text[1:]}."


def _arranged(study: Study, read: Crossed) -> Crossed:
    """Parts and persons in the order of the file."""
    at_part = [read.parts.index(name) for name in study.part_names]
    at_person = [read.operators.index(name) for name in study.persons]
    return Crossed(study.part_names, study.persons, read.y[at_part][:, at_person])


def _rest(study: Study, values: dict[Place, float], read: Crossed) -> list[float]:
    """Readings less the mean of their cell, in the order in which they were taken."""
    mean = read.y.mean(axis=2)
    return [value - float(mean[study.part_names.index(part), study.persons.index(person)])
            for (person, part, _), value in values.items()]


def _bias(study: Study, read: Crossed) -> tuple[PersonBias, ...]:
    """() where the persons differ from each other alike on every part, which the remarks then say."""
    try:
        return bias_among(read, model=study.model, confidence=study.confidence)
    except ValueError:
        return ()


def _of_window(study: Study, found: Repeatability) -> Figure | None:
    """6 s of measuring over the window, in %; None without both limits."""
    if study.window.width is None:
        return None
    at, low, high = found.to_tolerance(study.window.width)
    return Figure("precision", "6 s of measuring over the window", 100 * at, 100 * low, 100 * high, "%")


def _demands(study: Study, window: Figure | None) -> tuple[Demand, ...]:
    asked = study.demands.precision
    if asked is None or window is None or window.low is None or window.high is None:
        return ()
    what = f"6 s of measuring at most {number(asked)} % of the window"
    words = f"found {told(window)} at {percent(study.confidence)} confidence"
    if window.high <= asked:
        return (Demand(what, "", "shown", words),)
    return (Demand(what, "", "not so" if window.low > asked else "not shown", words),)


def _headline(study: Study, found: Repeatability, window: Figure | None) -> str:
    measuring = _figure(found.components["measurement"], study)
    beside = f", 6 s is {told(window)} of the window" if window else ""
    return f"Measuring scatters with s = {told(measuring)}{beside}"


def _person_words(study: Study, persons: Sequence[PersonBias]) -> list[str]:
    seen = [one for one in persons if one.seen]
    if not persons:
        return ["Whether a person stands off from the others cannot be said by these readings."]
    if not seen:
        return ["No person stands off from the others beyond the limits."]
    return [f"{one.operator} reads or delivers {with_unit(abs(one.bias), study.scale_unit, 3)} "
            f"{'more' if one.bias > 0 else 'less'} than the mean of all (limits {between(one.low, one.high)}): who of "
            "them is right this study does not say." for one in seen]


def _category_words(study: Study, found: Repeatability) -> list[str]:
    """How well parts are told apart; of targets that were set apart on purpose it says nothing."""
    n = found.distinct_categories
    if study.part_word != "part" or n is None:
        return []
    low, high = distinct_categories_limits(found)
    return [f"Parts are told apart into {n} groups (between {number(low, 3)} and {number(high, 3)}, not cut to whole "
            "numbers): sqrt(2) s of parts over s of measuring."]


def _says_not(study: Study) -> tuple[str, ...]:
    found = [
        f"It holds for these persons ({listed(study.persons)}) and, as far as they were chosen at random, for others "
        "like them; with few persons the limits are wide for that reason.",
        "It does not say that the values are right: all may be off alike. That is what a certificate or a reference "
        "tells.",
        "It says nothing of the load in a fastener, nor of residual torque, which is another quantity.",
    ]
    if study.part_word == "target":
        found.append(f"It says nothing of targets beyond {listed(part.name for part in study.parts)}.")
    return tuple(found)


def _component_columns(study: Study) -> tuple[str, ...]:
    unit = study.scale_unit
    return ("what", f"variance as it came out, ({unit})²", "its limits", f"s, {unit}", "limits of s",
            "share of the total variance")


def _components(study: Study, found: Repeatability) -> Table:
    shares = contribution_limits(found)
    rows = []
    for name in NAMES:
        c = found.components[name]
        if name == "interaction" and found.model == "without interaction":
            rows.append((name, "in the error", "–", "–", "–", "–"))
            continue
        as_it_is = abs(c.variance - c.estimate) <= 1e-12 * c.variance  # a sum counts with its parts, as they count
        estimate = number(c.estimate) + ("" if as_it_is else f" (counts as {number(c.variance, 3)})")
        low, high = shares[name]
        share = f"{percent(c.contribution)} ({between(100 * low, 100 * high)})"
        rows.append((name, estimate, between(c.low, c.high), number(c.s), between(math.sqrt(c.low), math.sqrt(c.high)),
                     share))
    return Table(
        "Components of the scatter", _component_columns(study), tuple(rows), (1, 2, 3, 4, 5),
        f"Limits at {percent(study.confidence)} confidence, two-sided; of variances modified large sample limits, of "
        "shares generalised limits. A negative variance says that the study is too small to see it, or that the model "
        "does not fit; it is shown as it came out.",
    )  # fmt: skip


def _anova(table: TwoWay, found: Repeatability) -> Table:
    below = table.interaction if found.model == "with interaction" else table.pooled
    rows = []
    for line, against in ((table.part, below), (table.operator, below), (table.interaction, table.error)):
        F, p = F_test(line, against) if against.MS > 0 else (math.inf, 0.0)
        rows.append((line.name, str(line.df), number(line.SS, 6), number(line.MS, 5),
                     "–" if math.isinf(F) else number(F), "–" if math.isinf(F) else p_shown(p)))
    rows.append(("error", str(table.error.df), number(table.error.SS, 6), number(table.error.MS, 5), "", ""))
    return Table("Analysis of variance", ("source", "df", "sum of squares", "mean square", "F", "p"), tuple(rows),
                 (1, 2, 3, 4, 5), f"Part and operator against the {below.name}, as the model {found.model} asks.")


def _cells(study: Study, read: Crossed) -> Table:
    means = read.y.mean(axis=2)
    digits = 5 if study.analysed == "value" else 3
    rows = [(name, *(number(float(v), digits) for v in row), number(float(row.mean()), digits))
            for name, row in zip(study.part_names, means, strict=True)]
    rows.append(("mean", *(number(float(v), digits) for v in means.mean(axis=0)), number(float(means.mean()), digits)))
    return Table(f"Means, {study.scale_unit}", (study.part_word, *study.persons, "mean"), tuple(rows),
                 tuple(range(1, len(study.persons) + 2)), f"Each the mean of {counted(study.replicates, 'reading')}.")


def _persons(study: Study, persons: Sequence[PersonBias]) -> Table:
    unit = study.scale_unit
    return Table(
        "Persons beside each other", ("person", f"from the mean of all, {unit}", "limits", "seen"),
        tuple((one.operator, number(one.bias, 3), between(one.low, one.high), "yes" if one.seen else "no")
              for one in persons), (1, 2),
        f"Limits hold for all persons together at {percent(study.confidence)}.",
    )  # fmt: skip


def _means_plot(study: Study, read: Crossed) -> Plot:
    """The mean of each person on each part: lines that run side by side differ alike everywhere."""
    styles: tuple[Style, ...] = ("line", "dashed", "dotted")
    means = read.y.mean(axis=2)
    curves = tuple(
        Curve(person, tuple((float(i + 1), float(means[i, j])) for i in range(len(study.part_names))), styles[j % 3],
              accent=j % 2 == 1)
        for j, person in enumerate(study.persons[:MOST_DRAWN])
    )
    more = "" if len(study.persons) <= MOST_DRAWN else f" The first {MOST_DRAWN} of {len(study.persons)} are drawn."
    words = "; ".join(f"{person}: {', '.join(number(float(v), 5) for v in means[:30, j])}"
                      for j, person in enumerate(study.persons[:MOST_DRAWN]))
    return Plot("means", f"Each person on each {study.part_word}", f"{study.part_word}, in the order of the file",
                axis_label(study), 1.0, 1.0, curves, f"Means by {study.part_word}. {words}.",
                y_from_zero=False, x_whole=True, note="Lines side by side: persons differ alike on every "
                f"{study.part_word}. Lines that cross: not so.{more}")


# each person on fasteners of one lot ---------------------------------------------------------------------------------

def _of_groups(study: Study) -> Outcome:
    """Pulls that cannot be repeated on one fastener: each person on fasteners of one lot, whose own scatter counts as
    that within a person."""
    values = scaled(study)
    groups = [[v for place, v in values.items() if place[0] == person] for person in study.persons]
    table = one_way(groups)
    found = one_way_components(table, study.confidence)
    names = {"within": "One person, pull after pull, with the scatter of the fasteners in it",
             "between": "Between persons"}
    figures = [Figure(name, name, c.s, math.sqrt(c.low), math.sqrt(c.high), study.scale_unit,
                      "" if c.estimate >= 0 else NEGATIVE)
               for name, c in found.items()]
    window = None
    if study.window.width is not None:
        at, low, high = (100 * share for share in precision_to_tolerance(found["total"], study.window.width))
        window = Figure("precision", "6 s of all of it over the window", at, low, high, "%")
    mean = dict(zip(study.persons, (float(np.mean(group)) for group in groups), strict=True))
    rest = [value - mean[place[0]] for place, value in values.items()]
    told_total = told(next(one for one in figures if one.key == "total"))
    beside = f", 6 s is {told(window)} of the window" if window else ""
    negative = [f"{name}: the estimate of the variance is negative ({number(c.estimate)}) and counts as zero; its "
                "limits say how large it may be." for name, c in found.items() if c.estimate < 0]
    return Outcome(
        (*figures, *([window] if window else [])),
        (_group_components(study, found), _group_anova(table), _group_means(study, groups)),
        _demands(study, window),
        (f"All pulls scatter with s = {told_total}{beside}",
         *(f"{names[one.key]}: s = {told(one)}." for one in figures if one.key != "total"),
         *_group_words(table)),
        (*_says_not(study)[1:], "It cannot tell a person's own scatter from that of the fasteners; that takes parts "
         "which bear to be pulled again, or a check device."),
        (*negative, *normality_remarks(normality_of(rest), "the readings less the mean of their person"),
         *order_remarks(study, rest), *resolution_remarks(study, found["within"].s), *reading_remarks(study)),
        (run_plot(study, list(values.values())),),
    )  # fmt: skip


def _group_words(table: OneWay) -> list[str]:
    F, p = F_test(table.between, table.within)
    far = "differ more than chance explains" if p < 0.05 else "differ no more than chance explains"
    return [f"The persons {far} (F = {number(F)}, {p_shown(p)})."]


def _group_components(study: Study, found: dict[str, Component]) -> Table:
    rows = tuple(
        (name, number(c.estimate) + (" (counts as 0)" if c.estimate < 0 else ""), between(c.low, c.high), number(c.s),
         between(math.sqrt(c.low), math.sqrt(c.high)), percent(c.contribution)) for name, c in found.items()
    )
    return Table("Components of the scatter", _component_columns(study), rows, (1, 2, 3, 4, 5),
                 f"Limits at {percent(study.confidence)} confidence, two-sided.")


def _group_anova(table: OneWay) -> Table:
    F, p = F_test(table.between, table.within)
    return Table(
        "Analysis of variance", ("source", "df", "sum of squares", "mean square", "F", "p"),
        (("between persons", str(table.between.df), number(table.between.SS, 6), number(table.between.MS, 5), number(F),
          p_shown(p)),
         ("within persons", str(table.within.df), number(table.within.SS, 6), number(table.within.MS, 5), "", "")),
        (1, 2, 3, 4, 5),
    )  # fmt: skip


def _group_means(study: Study, groups: Sequence[Sequence[float]]) -> Table:
    rows = tuple((person, str(len(group)), number(float(np.mean(group)), 5), number(float(np.std(group, ddof=1)), 3))
                 for person, group in zip(study.persons, groups, strict=True))
    return Table("Persons", ("person", "pulls", f"mean, {study.scale_unit}", f"s, {study.scale_unit}"), rows, (1, 2, 3))
