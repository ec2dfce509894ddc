"""Reference rows on surface pressure: limits of materials, bearing areas, pressures."""

from __future__ import annotations

import math
import re

from evenpull import joint
from evenpull.joint.parts import bearing
from tests.reference.given import Given

_EDITION = re.compile(r"(?<!\d)(1986|2003|2015)(?!\d)")


def surface_pressure(given: Given) -> float:
    """The limiting surface pressure of a material, or pressure, bearing area, safety from what the row gives."""
    if given.says("shear", "hardness", "modulus", "thread", "flank", "contact stress", "gasket"):
        raise given.unknown()
    if given.says("limiting", "permissible", "allowable", "limit") or re.search(r"\bp_?G\b", given.quantity):
        if given.says("load", "force", "preload"):
            return given.out(bearing.load_at_limit(_limit(given), _area(given)), "force", "N")
        if given.says("safety", "factor", "ratio"):
            return float(bearing.S_P(_limit(given), _pressure(given)))
        if given.says("area", "diameter"):
            raise given.unknown()
        return given.out(_limit(given), "stress", "MPa")
    if given.says("safety"):
        return float(bearing.S_P(_limit(given), _pressure(given)))
    if given.says("area"):
        return given.out(_area(given), "area", "mm2")
    if given.says("pressure"):
        return given.out(_pressure(given), "stress", "MPa")
    raise given.unknown()


def _limit(given: Given) -> float:
    stated = given.si("stress", "p_G", "pG")
    name = given.text("material", "part")
    if name is None:
        return given.need(stated, "the material or p_G")
    R_m = given.si("stress", "Rm_min", "R_m", "Rm", "R_m_min")
    edition = given.text("edition")
    said = _EDITION.search(edition or given.quantity)
    if edition is not None and said is None:
        raise given.error(f"the edition {edition!r} is not understood")
    found = float(joint.p_G(name, R_m=R_m, edition=None if said is None else said[1]))
    if stated is not None and not math.isclose(stated, found, rel_tol=1e-3):
        raise given.error("the limiting pressure stated is not that of the material")
    return found


def _area(given: Given) -> float:
    stated = given.si("area", "A_p", "Ap", "A")
    d_w = given.si("length", "d_w", "dw")
    if d_w is None:
        return given.need(stated, "the bearing diameter dw or the area")
    hole = given.need(given.si("length", "d_h", "dh"), "the hole dh")
    chamfer, slot = given.si("length", "d_a", "da", "chamfer"), given.si("length", "l_slot", "slot_length", "slot")
    thick, outside = given.si("length", "h_S", "hS"), given.si("length", "d_washer", "d_Wa")
    if (thick is None) != (outside is None):
        raise given.error("a washer needs its thickness h_S and its outside diameter d_washer")
    if thick is not None:
        d_w = float(bearing.washer_spread(d_w, thick, outside))
    if slot is not None and chamfer is not None:
        raise given.error("a slot with a chamfer is not covered")
    area = bearing.bearing_area(d_w, hole, chamfer or 0.0) if slot is None else bearing.slotted_area(d_w, hole, slot)
    if stated is not None and not math.isclose(stated, area, rel_tol=1e-3):
        raise given.error("the bearing area is not that of the diameters")
    return float(area)


def _pressure(given: Given) -> float:
    force = given.si("force", "F", "F_M", "FM", "F_Mzul", "FMzul", "F_Smax", "F_S_max", "FSmax")
    if force is None:
        return given.need(given.si("stress", "p", "p_max", "pmax"), "the load or the pressure")
    return float(bearing.surface_pressure(force, _area(given)))


