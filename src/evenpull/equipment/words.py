"""An item in words: its scale, what a part of a chain is."""

from __future__ import annotations

import math

from evenpull.equipment.model import Item
from evenpull.instrument.parts import Adapter, Driver, Gauge, Multiplier, Part, Pump
from evenpull.quantities import show

BAR = 1e5  # Pa


def part_facts(part: Part | None) -> list[tuple[str, str]]:
    """What a part of a chain is, beside its scale: (what, value in words)."""
    if isinstance(part, Driver):
        found = [] if part.lever is None else [("Lever", show(part.lever, "mm"))]
        if part.torque_per_pressure is not None:
            found.append(("Torque per pressure", f"{show(part.torque_per_pressure * BAR, 'N.m')} per bar"))
        return found
    if isinstance(part, Pump):
        ripple = [("Ripple", f"± {100 * part.ripple:.3g} %")] if part.ripple else []
        return [("Highest pressure", show(part.strongest, "bar")), *ripple]
    if isinstance(part, Gauge):
        return [("Accuracy", f"{100 * part.W_full_scale:.3g} % of full scale (k = 2)")]
    if isinstance(part, Adapter):
        found = [("Length", show(part.length, "mm")), ("Angle", show(part.angle, "deg"))]
    elif isinstance(part, Multiplier):
        sure = f" (U = {200 * part.w:.3g} %, k = 2)" if part.w else ""
        found = [("Ratio", f"{part.ratio:.6g}{sure}")]
    else:
        return []
    return found if math.isinf(part.strongest) else [*found, ("Bears", show(part.strongest, "N.m"))]


def scale_of(item: Item) -> str:
    """"40 N·m to 200 N·m, steps of 1 N·m"; of what shows nothing, what it is."""
    if item.scale is None:
        return ", ".join(f"{what.lower()} {value}" for what, value in part_facts(item.part))
    step = "" if item.scale.resolution is None else f", steps of {show(item.scale.resolution, item.unit)}"
    return f"{show(item.scale.lower, item.unit)} to {show(item.scale.upper, item.unit)}{step}"
