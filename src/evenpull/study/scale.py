"""The scale on which a study is analysed, and what its readings look like in the order in which they were taken."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.calculation.plots import Curve, Mark, Plot
from evenpull.instrument.deviation import relative_deviation
from evenpull.statistics.normality import Normality, normality
from evenpull.statistics.trend import mann_kendall
from evenpull.statistics.two_samples import compare_samples
from evenpull.study.model import Place, Study
from evenpull.study.words import number, p_shown, place_shown

ODD = 0.05  # p below which a remark is made; a usual mark, and each remark alone is wrong in that share of good studies
MOST_IN_ORDER = 2_000  # readings looked at in their order: pairs of them are compared
ENDS_COMPARED = 10  # the first and last so many pulls, where there are twice as many


class UnjudgedError(ValueError):
    """Readings that cannot be judged; the text says why and what helps."""


def on_scale(study: Study, place: Place, value: float) -> float:
    """A reading on the scale that is analysed. UnjudgedError where a share of a target cannot be taken."""
    if study.analysed == "value":
        return value
    target = study.target_of(place[1])
    assert target is not None  # checked when the file was read
    if study.analysed == "difference from target":
        return value - target
    try:
        return 100 * float(relative_deviation(value, target))
    except ValueError:
        raise UnjudgedError(f"{place_shown(study, place)}: {number(value)} {study.unit} is no share of a target; leave "
                            'it out with its reason, or analyse "difference from target"') from None


def scaled(study: Study) -> dict[Place, float]:
    """Every reading that counts, on the scale analysed, in the order in which they were taken."""
    return {place: on_scale(study, place, one.value) for place, one in study.counted.items() if one.value is not None}


def normality_of(values: Sequence[float]) -> Normality | None:
    """None for values that are too few or all alike, of which nothing can be said."""
    try:
        return normality(values)
    except ValueError:
        return None


def normality_remarks(looks: Normality | None, what: str) -> list[str]:
    """What the look of the values means for the limits, whichever way it is."""
    if looks is None:
        return [f"Whether {what} are normal cannot be said: too few, or all alike. The limits take them as normal."]
    said = f"{looks.test}, {p_shown(looks.p)}, {looks.n} values"
    if looks.p >= ODD:
        return [f"{what[0].upper()}{what[1:]} do not look other than normal ({said}); few values hide much."]
    why = (f" {number(100 * looks.alike, 3)} % of them are alike, which a coarse display explains."
           if looks.alike > 0.5 else " Look at values that stand apart, and at two mixed lots or ways of pulling.")
    return [f"{what[0].upper()}{what[1:]} do not look normal ({said}): the limits hold less well than they say.{why}"]


def order_remarks(study: Study, rest: Sequence[float]) -> list[str]:
    """Whether readings (less what belongs to their place) rose or fell while they were taken, or the last ones differ
    from the first: fatigue, warming up, a tool that runs in."""
    found = []
    if 4 <= len(rest) <= MOST_IN_ORDER and len(set(rest)) > 1:
        trend = mann_kendall(rest)
        if trend.p < ODD:
            way = "rise" if trend.S > 0 else "fall"
            found.append(f"The readings {way} in the order in which they were taken (Mann and Kendall, "
                         f"{p_shown(trend.p)}): something changed with time, and is taken for scatter here.")
    if 2 * ENDS_COMPARED <= len(rest) <= MOST_IN_ORDER:
        try:
            ends = compare_samples(rest[:ENDS_COMPARED], rest[-ENDS_COMPARED:])
        except ValueError:
            return found
        if ends.least < ODD:
            found.append(
                f"The last {ENDS_COMPARED} readings differ from the first {ENDS_COMPARED} ({p_shown(ends.least)}): "
                f"middle moved by {number(ends.shift, 3)} {study.scale_unit}, scatter times {number(ends.ratio, 3)}. "
                "Tiredness, warming up and a worn tool look so."
            )
    return found


def reading_remarks(study: Study) -> list[str]:
    """What was written beside readings: left out, or not to be read."""
    found = []
    for one in study.readings:
        if one.left_out:
            value = "no value" if one.value is None else f"{one.text} {study.unit}"
            found.append(f"Left out: {place_shown(study, one.place)}, {value}: {one.left_out}.")
        elif one.remark:
            found.append(f"{place_shown(study, one.place)}: {one.remark}.")
    aimed = any(study.target_of(part) is not None for part in study.part_names)
    if study.persons and aimed and not study.hidden:
        found.append("Whoever pulled could see the display; what is seen is aimed at, and scatters less.")
    return found


def resolution_remarks(study: Study, s: float) -> list[str]:
    """A display that is coarse beside the scatter hides part of it."""
    if study.resolution is None or study.analysed == "share of target" or s <= 0 or study.resolution <= s:
        return []
    return [f"The step of the display, {number(study.resolution)} {study.unit}, is coarser than the scatter found: "
            "read with a finer one."]


def run_plot(study: Study, values: Sequence[float], *, limits: bool = True) -> Plot:
    """The readings in the order in which they were taken, with the limits of the window."""
    points = tuple((float(i), v) for i, v in enumerate(values, start=1))
    marks = []
    if limits and study.window.lower is not None:
        marks.append(Mark("lower limit", y=study.window.lower, limit=True))
    if limits and study.window.upper is not None:
        marks.append(Mark("upper limit", y=study.window.upper, limit=True))
    label = axis_label(study)
    words = (f"{len(values)} readings in the order in which they were taken, from {number(min(values))} to "
             f"{number(max(values))} {study.scale_unit}.")
    return Plot("run", "Readings in their order", "reading", label, 1.0, 1.0, (Curve("reading", points, "points"),),
                words, marks=tuple(marks), y_from_zero=False, x_whole=True)


def axis_label(study: Study) -> str:
    name = {"value": study.quantity if study.quantity != "other" else "value",
            "difference from target": "above target", "share of target": "above target"}[study.analysed]
    return f"{name}, {study.scale_unit}"
