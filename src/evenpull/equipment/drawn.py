"""Deviations of a certificate as a plot: over the values, as found and as left, each direction, with the limits."""

from __future__ import annotations

from evenpull.calculation.plots import Curve, Mark, Plot, Style
from evenpull.equipment.model import Calibration
from evenpull.instrument.certificate import DIRECTIONS, STAGES
from evenpull.quantities import from_si, unit_shown

_STYLES: dict[tuple[str, str], Style] = {
    ("as found", "clockwise"): "dashed", ("as found", "either"): "dashed", ("as found", "anticlockwise"): "dotted",
    ("as left", "clockwise"): "line", ("as left", "either"): "line", ("as left", "anticlockwise"): "thin",
}


def deviation_plot(one: Calibration) -> Plot | None:
    """None where no stage and direction has two points: a line needs two."""
    curves, told = [], []
    for stage in STAGES:
        for direction in DIRECTIONS:
            points = one.certificate.of(stage, direction)
            if len(points) < 2:
                continue
            name = stage if direction == "either" else f"{stage}, {direction}"
            values = tuple((from_si(p.indicated, one.unit), p.a) for p in points)
            curves.append(Curve(name, values, _STYLES[stage, direction], accent=stage == "as found"))
            told.append(f"{name}: " + ", ".join(f"{100 * a:+.2f} % at {x:.6g}" for x, a in values))
    if not curves:
        return None
    marks = () if one.permissible is None else (
        Mark(f"+{100 * one.permissible:g} %", y=one.permissible, limit=True),
        Mark(f"−{100 * one.permissible:g} %", y=-one.permissible, limit=True),
    )
    unit = unit_shown(one.unit)
    words = f"Deviation of {one.serial} by certificate {one.number} over the value in {unit}. {'; '.join(told)}."
    return Plot("deviation", "Deviation over the value", f"shown or set, {unit}", "deviation, %", 1.0, 100.0,
                tuple(curves), words=words, marks=marks)
