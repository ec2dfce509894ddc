"""The chart of a tool's checks: deviations over time with the limits of the chart, the line, and what alarmed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from evenpull.calculation.plots import Area, Curve, Mark, Plot
from evenpull.statistics.control_chart import Chart
from evenpull.statistics.trend import Line
from evenpull.study.words import number, percent


def drift_plot(
    days: Sequence[float], a: Sequence[float], start: datetime, made: Chart | None, baseline: int,
    alarmed: Sequence[int], fitted: Line | None, limit: float | None,
) -> Plot | None:
    """`days` since `start`, `a` shares, `alarmed` places (from 0) of checks that completed an alarm. None for fewer
    than two checks, which are no picture."""
    if len(a) < 2 or days[-1] <= days[0]:
        return None
    points = list(zip(days, a, strict=True))
    odd = set(alarmed)
    plain = tuple(point for place, point in enumerate(points) if place not in odd)
    curves = [Curve("check", plain, "points")] if plain else []
    if odd:
        told = tuple(points[place] for place in sorted(odd))
        curves.append(Curve("check with an alarm", told, "points", accent=True))
    if fitted is not None:
        curves.append(Curve("line", tuple((x, fitted.at(x)) for x in (days[0], days[-1])), "dashed"))
    marks, areas = [], []
    if made is not None:
        areas.append(Area("limits of the chart", "y", made.low, made.high))
        marks.append(Mark("limits judge from here", x=(days[baseline - 1] + days[min(baseline, len(days) - 1)]) / 2,
                          place=0.9))
    if limit is not None:
        marks += [Mark("permissible", y=limit, limit=True), Mark("", y=-limit, limit=True)]
    words = (f"{len(a)} checks over {number(days[-1], 3)} days, deviations from {percent(min(a))} to {percent(max(a))}"
             + ("" if made is None else f"; limits {percent(made.low)} to {percent(made.high)}")
             + (f"; {len(odd)} with an alarm." if odd else "; no alarm."))
    return Plot("drift", "Deviation of the tool", f"days since {start:%Y-%m-%d}", "set or shown above delivered, %",
                1.0, 100.0, tuple(curves), words, areas=tuple(areas), marks=tuple(marks))
