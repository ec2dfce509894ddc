"""Reference rows on the first estimate of the nominal diameter."""

from __future__ import annotations

import re

from evenpull import joint
from evenpull.catalogue.first_size import load_steps, size_at_step
from tests.reference.given import Given

_METHODS = {
    "simple screwdriver": r"simple screwdriver|retightening", "precision screwdriver": r"precision|elongation",
    "torque wrench": r"torque wrench", "angle": r"angle", "yield": r"yield",
}


def sizing(given: Given) -> float:
    """The size at a load step of the table, or from a load with its kind and the way of tightening."""
    if not given.says("nominal diameter", "diameter", "size") or given.says("hole", "pitch", "minor", "head", "stress"):
        raise given.unknown()
    name = given.need(given.text("class", "property_class", "strength_class"), "the class")
    name = re.sub(r"^(?:property )?class\s*", "", name, flags=re.IGNORECASE)
    step = given.si("force", "load_step", "F_step", "step")
    load = given.si("force", "load", "F", "F_A", "F_Q", "F_Amax", "F_Qmax", "FA", "FQ")
    kind, method = given.text("load_kind", "loading", "kind"), given.text("method", "tightening")
    if step is not None:
        if load is not None or kind is not None or method is not None:
            raise given.error("a load step after the shifts leaves nothing to shift: no load, kind or method beside it")
        near = min(load_steps(), key=lambda one: abs(one - step))
        return given.out(size_at_step(near if abs(near - step) < 1e-6 * near else step, name), "length", "mm")
    load = given.need(load, "the load or the load step")
    found = joint.first_size(load, _kind(given, given.need(kind, "the kind of load")),
                             _method(given, given.need(method, "the way of tightening")), name)
    return given.out(found.d, "length", "mm")


def _kind(given: Given, text: str) -> str:
    words = text.casefold()
    dynamic = re.search(r"dynamic|alternating", words) is not None
    static = re.search(r"static", words) is not None
    where = [name for name, pattern in (("transverse", r"transverse|shear"), ("eccentric", r"(?<!con)\beccentric"),
                                        ("concentric", r"concentric|centric\b")) if re.search(pattern, words)]
    if "eccentric" in where:  # "eccentric" ends in "centric"
        where = [name for name in where if name != "concentric" or "concentric" in words]
    if dynamic == static or len(where) != 1:
        raise given.error(f"kind of load {text!r} is not understood: static or dynamic, and one of concentric, "
                          "eccentric, transverse")
    return f"{'dynamic' if dynamic else 'static'}, {where[0]}"


def _method(given: Given, text: str) -> str:
    named = [name for name, pattern in _METHODS.items() if re.search(pattern, text.casefold())]
    if len(named) != 1:
        raise given.error(f"way of tightening {text!r} is not understood; known: {', '.join(_METHODS)}")
    return named[0]
