"""What the pages of curves draw: from what the services found to scenes of `report.curve_svg`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from evenpull.curve.names import AT
from evenpull.curve.names import FEATURES as DEFINED
from evenpull.curve.thinned_view import to_draw
from evenpull.exercise.traces import Trace as Trace_
from evenpull.report.curve_svg import REST, Scene, Trace, scene_svg, small_svg
from evenpull.report.plot_svg import ACCENT, BAD, INK, SOFT
from evenpull.store.services.curves_course import Course
from evenpull.store.services.curves_looking import Line, OneCurve, Overlay, Ring

AXES = ("angle from the first point, deg", "torque, N·m")
FROM_ORIGIN = ("angle from the elastic origin, deg", "torque, N·m")
POINTS = 1_200
LABELLED = 12  # odd curves that are named in the picture


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)


def address(line: Line) -> str:
    return reverse("curve", args=[line.file, line.number])


def one(found: OneCurve, between: tuple[float, float] | None) -> SafeString:
    """The curve with its torque window, the elastic line and the limits of its slope; `between`: angles looked at."""
    curves = found.curves
    start = float(curves.angle[0])
    angle, torque = curves.angle - start, curves.torque
    if between is not None:
        inside = (angle >= between[0]) & (angle <= between[1])
        angle, torque = (angle[inside], torque[inside]) if inside.sum() > 1 else (angle, torque)
    x, y = to_draw(angle, torque, POINTS)
    traces = [*_slopes(found), Trace(tuple(zip(x.tolist(), y.tolist(), strict=True)), INK, 2.4)]
    low, high = found.limit("T_low"), found.limit("T_high")
    bands = [("y", low, high)] if not math.isnan(low) and not math.isnan(high) else []
    marks = [(name, at, height) for name, at, height in found.picture.marks]
    said = "".join(f"; {reason.verdict}" for reason in found.mechanics)
    words = f"Torque over angle of curve {found.run}: {found.answer}{said}"
    return _safe(scene_svg(Scene(traces, AXES, words, bands, marks, between)))


def _slopes(found: OneCurve) -> list[Trace]:
    """The elastic line as found, and as the joint should have it."""
    origin, level, peak = found.feature("origin"), found.feature("T_run"), found.feature("T_peak")
    level = 0.0 if math.isnan(level) else level
    if math.isnan(origin) or math.isnan(peak):
        return []
    made = []
    for name, slope, colour, dash in (
        ("steepest expected", found.limit("k_high"), SOFT, "dotted"),
        ("flattest expected", found.limit("k_low"), SOFT, "dotted"),
        ("elastic line", found.feature("k_el"), ACCENT, "dashed"),
    ):
        if slope > 0:
            made.append(Trace(((origin, level), (origin + (peak - level) / slope, peak)), colour, 2.0, dash, name))
    return made


def overlay(found: Overlay, *, whole: bool) -> SafeString | None:
    """None where there is nothing to draw. `whole` with the run-down, else about the rise."""
    if not found.odd and not found.rest:
        return None
    traces = [Trace(_points(line), REST, 1.0) for line in found.rest]
    for n, line in enumerate(found.odd):
        label = f"{n + 1} {line.verdict}" if n < LABELLED else ""
        traces.append(Trace(_points(line), BAD, 2.0, ("line", "dashed", "dotted")[n % 3], label, address(line),
                            f"curve {line.file}:{line.number}, {line.verdict}"))
    words = f"{len(found.rest)} curves without a finding below, {len(found.odd)} odd ones on top, of {found.n_all}"
    bands = [] if found.window is None else [("y", *found.window)]
    return _safe(scene_svg(Scene(traces, FROM_ORIGIN, words, bands, x_range=_about(found, whole=whole))))


def _about(found: Overlay, *, whole: bool) -> tuple[float, float] | None:
    if whole or not found.turn > 0:
        return None
    return -found.turn, 2 * found.turn


def _points(line: Line) -> tuple[tuple[float, float], ...]:
    return tuple(zip(line.angle.tolist(), line.torque.tolist(), strict=True))


def ring(found: Ring) -> list[tuple[Line, SafeString]]:
    """A small picture for each fastener, all to one scale."""
    if not found.lines:
        return []
    right = sorted(float(line.angle.max()) for line in found.lines if len(line.angle))
    span = right[len(right) // 2] if right and right[len(right) // 2] > 0 else 1.0  # one odd curve sets no scale
    top = 1.15 * max(float(line.torque.max()) for line in found.lines if len(line.torque))
    return [
        (line, _safe(small_svg([p for p in _points(line) if -1.5 * span <= p[0] <= 2.2 * span],
                               (-1.5 * span, 2.2 * span), top or 1.0, odd=bool(line.verdict),
                               words=f"fastener {line.fastener}: {line.verdict or line.answer}", window=found.window)))
        for line in found.lines
    ]  # fmt: skip


def pair(first: OneCurve, second: OneCurve, *, whole: bool) -> SafeString:
    """Two curves from their elastic origins; one without is set by its shut-off. `whole` with the run-down."""
    turns = [c.feature("angle_off") - c.feature("origin") for c in (first, second)]
    turn = max((t for t in turns if t > 0), default=0.0)
    traces = []
    for found, colour, dash, name in ((first, INK, "line", "first"), (second, BAD, "dashed", "second")):
        origin = found.feature("origin")
        zero = found.feature("angle_off") - turn if math.isnan(origin) else origin
        angle = found.curves.angle - float(found.curves.angle[0]) - (0.0 if math.isnan(zero) else zero)
        x, y = to_draw(angle, found.curves.torque, POINTS)
        traces.append(Trace(tuple(zip(x.tolist(), y.tolist(), strict=True)), colour, 2.2, dash, f"{name}: {found.run}"))
    return _safe(scene_svg(Scene(traces, FROM_ORIGIN, f"Curves {first.run} and {second.run} over the angle",
                                 x_range=(-turn, 2 * turn) if turn > 0 and not whole else None)))


def exercise(trace: Trace_) -> tuple[SafeString, SafeString]:
    """A curve of an exercise, whole and its end; no mark gives away what it is."""
    own = trace.picture
    x, y = to_draw(np.array(own.angle), np.array(own.torque), POINTS)
    points = tuple(zip(x.tolist(), y.tolist(), strict=True))
    last, top = max(p[0] for p in points), max(p[1] for p in points)
    high = [p[0] for p in points if p[1] > 0.12 * top]
    begin = max(0.0, min(high) - 0.15 * (last - min(high)) - 5) if high else 0.0
    bands = [("y", *trace.window)]
    whole = Scene([Trace(points, INK, 2.0)], AXES, f"Curve {trace.number}, all of it", bands)
    end = Scene([Trace(points, INK, 2.0)], AXES, f"Curve {trace.number}, its end", bands,
                x_range=(begin, last + 0.05 * (last - begin) + 1))
    return _safe(scene_svg(whole, width=520, height=300)), _safe(scene_svg(end, width=520, height=300))


def course(found: Course) -> SafeString | None:
    """None where no curve shows the feature."""
    if not found.n:
        return None
    x = found.x.tolist()
    traces = []
    if not found.single:
        spread = [*zip(x, found.high.tolist(), strict=True), *zip(x[::-1], found.low.tolist()[::-1], strict=True)]
        traces.append(Trace([*spread, spread[0]], REST, 1.4))
    traces.append(Trace(tuple(zip(x, found.middle.tolist(), strict=True)), INK, 1.2 if found.single else 2.2))
    ends = (min(x), max(x)) if max(x) > min(x) else (min(x) - 1, max(x) + 1)
    for value, name in zip(found.limits, ("least, mechanics", "most, mechanics"), strict=True):
        if value is not None and math.isfinite(value):
            traces.append(Trace(((ends[0], value), (ends[1], value)), SOFT, 1.6, "dashed", name))
    for value, name in zip(found.window or (), ("least, learned", "most, learned"), strict=False):
        traces.append(Trace(((ends[0], value), (ends[1], value)), ACCENT, 1.8, "dotted", name))
    dots = [(at, value, reverse("curve", args=[file, number]), f"curve {file}:{number}, {verdict}")
            for at, value, file, number, verdict in found.odd]
    feature = DEFINED[AT[found.feature]]
    unit = "" if feature.unit == "1" else f", {feature.unit.replace('.', '·')}"
    words = f"{feature.name} of {found.n} curves in their order, {len(found.odd)} odd ones marked"
    names = ("when (UTC)" if found.by_time else "place in the order", f"{feature.name}{unit}")
    return _safe(scene_svg(Scene(traces, names, words, y_from_zero=False, dots=dots,
                                 x_words=_days(ends) if found.by_time else ())))


def _days(ends: tuple[float, float]) -> Sequence[tuple[float, str]]:
    form = "%Y-%m-%d" if ends[1] - ends[0] > 3 * 86_400 else "%m-%d %H:%M"
    return [(at, datetime.fromtimestamp(at, UTC).strftime(form))
            for at in (ends[0] + (ends[1] - ends[0]) * share for share in (0.08, 0.36, 0.64, 0.92))]
