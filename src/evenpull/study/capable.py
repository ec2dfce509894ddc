"""Capability of a tool or process judged: indices with their limits, shares outside, a tolerance interval."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.statistics.capability import Capability, Index, capability, process_capability, values_needed
from evenpull.statistics.describe import describe
from evenpull.statistics.tolerance import OrderedInterval, ordered_interval, ordered_least, tolerance_factor
from evenpull.study.model import Study
from evenpull.study.result import Demand, Figure, Outcome, Table
from evenpull.study.scale import (
    ODD,
    normality_remarks,
    order_remarks,
    reading_remarks,
    resolution_remarks,
    run_plot,
    scaled,
)
from evenpull.study.words import between, number, p_shown, percent, seldom, told, with_unit

UNSTABLE = "but the process is not stable, and its limits are too narrow: nothing is shown by them"
ODD_SHAPE = ("but the values do not look normal, and the limits do not hold: look at the tolerance interval without a "
             "distribution")
RESIDUAL = "Torque by which a tightened fastener just moves on is another quantity: never mix it into a capability."


def judge_capability(study: Study) -> Outcome:
    """The outcome of complete readings. ValueError in words where nothing scatters or limits and scatter do not belong
    together."""
    return _machine(study) if study.kind == "machine capability" else _process(study)


def _machine(study: Study) -> Outcome:
    values = list(scaled(study).values())
    found = capability(values, study.window.lower, study.window.upper, kind="machine", confidence=study.confidence)
    rest = [value - found.mean for value in values]
    interval, interval_figures = _tolerance(study, found, values)
    return Outcome(
        (*_figures(study, found, ""), *interval_figures), (_indices(study, (found,)), _values(study, (found,))),
        _demands(study, found, ""), (_headline(study, found), _outside(study, found), *interval),
        ("It holds for this one run: one tool, one person, one joint or device, one day. Over persons, days and lots a "
         "tool does worse; that is what a study of the process tells.", RESIDUAL),
        (*_notes(found), *normality_remarks(found.normality, "the readings"), *order_remarks(study, rest),
         *resolution_remarks(study, found.s), *reading_remarks(study)),
        (run_plot(study, values),),
    )  # fmt: skip


def _process(study: Study) -> Outcome:
    values = scaled(study)
    groups = [[v for place, v in values.items() if place[1] == part.name] for part in study.parts]
    found = process_capability(groups, study.window.lower, study.window.upper, confidence=study.confidence)
    within, overall = found.within, found.overall
    interval, interval_figures = _tolerance(study, overall, list(values.values()))
    stable = found.p >= ODD
    judged = within if stable else overall
    steady = (f"The means of the groups do not differ beyond chance ({p_shown(found.p)})." if stable else
              f"The means of the groups differ ({p_shown(found.p)}): the process is not stable. Judge by Pp and Ppk, "
              "and find what moves the mean.")
    means = Table(
        "Groups in the order of time", ("group", "values", f"mean, {study.scale_unit}", f"s, {study.scale_unit}"),
        tuple((part.name, str(one.n), number(one.mean, 5), number(one.deviation or 0.0, 3))
              for part, one in zip(study.parts, map(describe, groups), strict=True)), (1, 2, 3),
    )  # fmt: skip
    return Outcome(
        (*_figures(study, within, ""), *_figures(study, overall, "overall "), *interval_figures),
        (_indices(study, (within, overall)), _values(study, (within, overall)), means),
        _demands(study, judged, "" if stable else UNSTABLE),
        (_headline(study, judged), steady, _outside(study, overall), *interval),
        ("It holds for the time, persons, tools and lots that the groups were taken from, and only as long as the "
         "process stays as it was.", RESIDUAL),
        (*_notes(within), *normality_remarks(within.normality, "the readings less the mean of their group"),
         *resolution_remarks(study, within.s), *reading_remarks(study)),
        (run_plot(study, list(values.values())),),
    )  # fmt: skip


def _figures(study: Study, found: Capability, prefix: str) -> list[Figure]:
    figures = []
    for index in (found.spread, found.centred):
        if index is not None:
            figures.append(Figure(index.name, index.name, index.value, index.low, index.high, "",
                                  f"at least {number(index.least, 3)}"))
    return [*figures, Figure(f"{prefix}outside", "share outside the window", 100 * found.outside, None,
                             100 * found.outside_most, "%")]


def _headline(study: Study, found: Capability) -> str:
    parts = [f"{one.name} {number(one.value, 3)}, at least {number(one.least, 3)}"
             for one in (found.centred, found.spread) if one is not None]
    return f"{'; '.join(parts)} at {percent(study.confidence)} confidence, from {found.n} values"


def _outside(study: Study, found: Capability) -> str:
    """The share outside that mean and scatter promise; with its upper limit, which is what few values leave open."""
    return (f"Outside the window would lie {seldom(found.outside)} of all pulls by mean and scatter, at most "
            f"{seldom(found.outside_most)} at {percent(study.confidence)} confidence, if they are normal.")


def _notes(found: Capability) -> list[str]:
    """Remarks of the analysis but for the one on normality, which is made for every study alike."""
    return [f"{note[0].upper()}{note[1:]}." for note in found.notes if "do not look normal" not in note]


def _indices(study: Study, found: Sequence[Capability]) -> Table:
    def row(index: Index) -> tuple[str, ...]:
        return index.name, number(index.value, 4), number(index.least, 4), between(index.low, index.high, digits=4)

    rows = [row(index) for one in found for index in (one.spread, one.centred) if index is not None]
    return Table(
        "Indices", ("index", "found", "at least", "two-sided limits"), tuple(rows), (1, 2, 3),
        f"At {percent(study.confidence)} confidence. Judge by the lower limit: with few values a good index comes out "
        "by luck.",
    )  # fmt: skip


def _values(study: Study, found: Sequence[Capability]) -> Table:
    unit = study.scale_unit
    names = ("all values",) if len(found) == 1 else ("within groups", "all values")
    rows = [(name, str(one.n), with_unit(one.mean, unit, 5), with_unit(one.s, unit), str(one.df))
            for name, one in zip(names, found, strict=True)]
    window = between(study.window.lower, study.window.upper, unit, 5)
    return Table("Values", ("which", "n", "mean", "s", "degrees of freedom of s"), tuple(rows), (1, 2, 3, 4),
                 f"Window: {window}.")


def _tolerance(study: Study, found: Capability, values: Sequence[float]) -> tuple[list[str], list[Figure]]:
    """The band that holds most of all pulls: by the normal factor, and without a distribution where they look other
    than normal."""
    unit, content, confidence = study.scale_unit, study.content, study.confidence
    whole = describe(values)
    n, mean, s = whole.n, whole.mean, whole.deviation or 0.0
    if found.normality.p >= ODD:
        half = tolerance_factor(n, content, confidence) * s
        text = (f"Between {number(mean - half, 5)} and {with_unit(mean + half, unit, 5)} lie {percent(content)} of all "
                f"pulls with {percent(confidence)} confidence, if they are normal.")
        return [text], [Figure("tolerance", "tolerance interval", mean, mean - half, mean + half, unit)]
    try:
        made: OrderedInterval = ordered_interval(values, content=content, confidence=confidence)
    except ValueError:
        need = ordered_least(content, confidence)
        return [f"Without a normal distribution {n} values hold no tolerance interval of {percent(content)}; {need} "
                "would."], []
    low, high = made.low or 0.0, made.high or 0.0
    text = (f"Between {number(low, 5)} and {with_unit(high, unit, 5)} lie {percent(content)} of all pulls with "
            f"{percent(made.reached)} confidence, whatever their distribution.")
    return [text], [Figure("tolerance", "tolerance interval without a distribution", mean, made.low, made.high, unit)]


def _demands(study: Study, found: Capability, unshown: str) -> tuple[Demand, ...]:
    """`unshown`: why the limits do not hold, whatever they are, so that nothing can be shown by them."""
    asked = study.demands.index
    if asked is None:
        return ()
    if not unshown and found.normality.p < ODD:
        unshown = ODD_SHAPE
    index = found.centred
    what = f"{index.name} of at least {number(asked)}"
    figure = Figure(index.name, index.name, index.value, index.low, index.high, "")
    words = f"found {told(figure)}, at least {number(index.least, 3)} at {percent(study.confidence)} confidence"
    if index.least >= asked:
        return (Demand(what, "", "not shown", f"{words}; {unshown}") if unshown else
                Demand(what, "", "shown", words),)
    if index.high < asked:
        return (Demand(what, "", "not so", words),)
    try:
        more = f"; with such an index {values_needed(asked, index.value, study.confidence)} values would show it"
    except ValueError:
        more = "; an index found no higher than the demand never shows it, however many values there are"
    return (Demand(what, "", "not shown", words + more),)
