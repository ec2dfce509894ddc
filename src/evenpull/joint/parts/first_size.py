"""First estimate of the nominal size from the load alone: VDI 2230-1 Table A7. A start to compute from, no proof."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.catalogue.first_size import (
    first_size_methods,
    first_size_source,
    load_kinds,
    load_steps,
    size_at_step,
    size_classes,
    smallest_size,
)
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.traced import Traced


@dataclass(frozen=True, slots=True)
class FirstSize:
    """`d` in m. The load step before and after the shifts in N; `steps` every number in its order."""

    d: float
    load_step: float
    shifted_step: float
    steps: tuple[Traced, ...]
    note: str

    @property
    def designation(self) -> str:
        """The coarse thread of this diameter."""
        return f"M{self.d * 1e3:g}"


def next_step(load: float) -> float:
    """The lowest load step (N) that is not below the load (N). ValueError unless 0 < load <= the last step."""
    steps = load_steps()
    if not 0 < load < math.inf:
        raise ValueError(f"load has to be finite and greater than zero, not {load} N")
    found = next((step for step in steps if load <= step * (1 + 1e-9)), None)
    if found is None:
        raise ValueError(f"load {load:g} N is above the last load step of {steps[-1]:g} N: share it among more bolts, "
                         "or size the bolt by its permissible assembly preload")
    return found


def first_size(load: float, load_kind: str, method: str, strength_class: str) -> FirstSize:
    """Nominal diameter for a first estimate (VDI 2230-1 Table A7).

    The next higher load step, shifted up for the kind of load ("static, concentric", "dynamic, concentric", "static,
    eccentric", "dynamic, eccentric", "static, transverse", "dynamic, transverse") and for the tightening ("yield",
    "angle", "torque wrench", "precision screwdriver", "simple screwdriver"); class "8.8", "10.9" or "12.9". `load`
    in N per bolt: axial working load, or transverse load.

    NotInCatalogue for other words; ValueError for loads beyond the table, with the way out.
    """
    kinds, methods = load_kinds(), first_size_methods()
    source, status = first_size_source()
    for what, asked, known in (("kind of load", load_kind, kinds), ("way of tightening", method, methods)):
        if asked not in known:
            raise NotInCatalogue(what, asked, tuple(known), source)
    if strength_class not in size_classes():
        raise NotInCatalogue("class of the first estimate", strength_class, size_classes(), source)
    steps, step = load_steps(), next_step(load)
    up = kinds[load_kind] + methods[method]
    place = steps.index(step) + up
    if place >= len(steps):
        raise ValueError(f"load {load:g} N, {load_kind}, tightened by {method}: {up} steps above {step:g} N the table "
                         f"has ended at {steps[-1]:g} N; share the load among more bolts, or tighten more exactly")
    shifted = steps[place]
    d, note = _size(shifted, strength_class)
    found = (
        Traced("F", "load of the bolt", load, "N", "stated", "stated for this joint", "stated"),
        Traced("F_step", "next higher load step", step, "N", "load steps of the table", source, status),
        Traced("n_load", f"steps up, {load_kind} load", kinds[load_kind], "1", load_kind, source, status),
        Traced("n_method", f"steps up, {method}", methods[method], "1", method, source, status),
        Traced("n_up", "steps up", up, "1", "n_up = n_load + n_method", source, "computed",
               {"n_load": kinds[load_kind], "n_method": methods[method]}),
        Traced("F_shifted", "load step after the shifts", shifted, "N", "load steps of the table", source, status),
        Traced("d", "nominal diameter, first estimate", d, "m", f"class {strength_class}", source, status),
    )
    return FirstSize(d, step, shifted, found, note)


def _size(step: float, strength_class: str) -> tuple[float, str]:
    try:
        return size_at_step(step, strength_class), ""
    except NotInCatalogue as error:
        smaller = [one for one in load_steps() if one < step]
        named = [one for one in smaller if _named(one, strength_class)]
        if named:
            raise ValueError(f"the table names no size of class {strength_class} at {step:g} N: take a higher class, "
                             "or share the load among more bolts") from error
        return smallest_size(), f"the table names no size at {step:g} N; its smallest one carries more"


def _named(step: float, strength_class: str) -> bool:
    try:
        size_at_step(step, strength_class)
    except NotInCatalogue:
        return False
    return True
