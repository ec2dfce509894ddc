"""Reading bolts, clamped parts and stiffnesses from reference rows; shared by the topics of joint examples."""

from __future__ import annotations

import math
from typing import Any

from evenpull import joint
from evenpull.joint import frusta as textbook
from evenpull.joint.case import Bolt, Counterpart, Friction, JointCase, Layer, Material, Section
from evenpull.quantities import to_si
from tests.reference.given import INCH, Given, agree
from tests.reference.sizes import needed_thread

PSI = to_si(1, "psi", "stress")
LBF = to_si(1, "lbf", "force")
MODULUS = {"Mpsi": 1e6 * PSI, "kpsi": 1e3 * PSI, "ksi": 1e3 * PSI, "psi": PSI, "GPa": 1e9, "MPa": 1e6, "Pa": 1.0}
STIFFNESS = {
    "Mlbf_in": 1e6 * LBF / INCH, "kip_in": 1e3 * LBF / INCH, "lbf_in": LBF / INCH, "MN_m": 1e6, "kN_mm": 1e6,
    "GN_m": 1e9, "N_m": 1.0, "N_mm": 1e3,
}
STEEL = {"inch": 30e6 * PSI, "metric": 207e9}  # what the textbook takes for bolts that name no modulus
PRINTED_K = 0.005  # two statements of one stiffness, printed with three figures


def _number(given: Given, key: str, raw: Any) -> float:
    if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not 0 < raw < math.inf:
        raise given.error(f"input {key!r} has to be a number greater than zero, not {raw!r}")
    return float(raw)


def _measured(given: Given, units: dict[str, float], share: float, symbols: tuple[str, ...]) -> float | None:
    found: list[float] = []
    for symbol in symbols:
        for unit, factor in units.items():
            if (raw := given.raw(f"{symbol}_{unit}")) is not None:
                found.append(_number(given, f"{symbol}_{unit}", raw) * factor)
    if any(not agree(value, found[0], share) for value in found):
        raise given.error(f"{symbols[0]} is stated in two ways that do not agree")
    return found[0] if found else None


def modulus(given: Given, *symbols: str) -> float | None:
    """E in Pa from "E_steel_Mpsi", "E_P_MPa" ...; `symbols` without the unit."""
    return _measured(given, MODULUS, 0.002, symbols)


def moduli(given: Given) -> list[float] | None:
    """A list "E_GPa": [207, 100] in Pa, in the order of the parts."""
    for unit, factor in MODULUS.items():
        if isinstance(given.inputs.get(f"E_{unit}"), (list, tuple)):
            return [_number(given, f"E_{unit}", value) * factor for value in given.raw(f"E_{unit}")]
    return None


def stiffness(given: Given, *symbols: str) -> float | None:
    """k in N/m from "kb_Mlbf_in", "km_MN_m" ...; `symbols` without the unit."""
    return _measured(given, STIFFNESS, PRINTED_K, symbols)


def out_stiffness(si: float, inch: bool) -> float:
    """A stiffness as the rows print it: Mlbf/in or MN/m."""
    return si / STIFFNESS["Mlbf_in" if inch else "MN_m"]


# textbook -----------------------------------------------------------------------------------------------------------


def bolt_stiffness(given: Given, d: float, A_t: float, inch: bool) -> float:
    """k_b in N/m (Shigley eq. 8-17) of a row with grip l, and l_d, l_t where there is a shank; without them the bolt is
    threaded over the whole grip. A modulus that the row leaves out is the textbook's for steel.
    """
    grip, l_d, l_t = given.si("length", "l", "grip"), given.si("length", "ld"), given.si("length", "lt")
    A_d = given.si("area", "Ad") or math.pi / 4 * d**2
    if (l_d is None) != (l_t is None):
        if grip is None:
            raise given.error("the grip is missing")
        l_d, l_t = (l_d, grip - l_d) if l_d is not None else (grip - (l_t or 0.0), l_t)
    if l_d is None:
        l_d, l_t = 0.0, given.need(grip, "the grip l")
    elif grip is not None and not agree(l_d + (l_t or 0.0), grip, 0.005):
        raise given.error("shank and thread do not add up to the grip")
    E = modulus(given, "E_bolt", "E_b") or STEEL["inch" if inch else "metric"]
    return float(joint.bolt_stiffness(A_d, A_t, l_d, l_t, E))


_WORDS = {  # a part's name in its thickness -> the names its modulus may have
    "w": ("steel", "st", "washer", "w"), "washer": ("washer", "steel", "st"), "1": ("1", "steel", "st"),
    "steel": ("steel", "st"), "iron": ("iron", "ci"), "ci": ("ci", "iron"), "al": ("al", "aluminum", "aluminium"),
    "aluminum": ("aluminum", "aluminium", "al"), "each": ("member", "ci", "iron", "steel", "st"),
    "2": ("2", "ci", "iron", "al"),
}


def _part(given: Given, name: str) -> tuple[float, float | None] | None:
    """Thickness of a part and its modulus, where the row names one by the part's name."""
    usual = f"t{name}" if name.isdigit() else f"t_{name}"
    symbols = {"washer": ("washer", "t_washer"), "w": ("tw", "t_w")}.get(name, (usual,))
    t = given.si("length", *symbols)
    if t is None:
        return None
    for word in _WORDS[name]:
        if (E := modulus(given, f"E_{word}")) is not None:
            return t, E
    return t, None


def layers(given: Given, d: float, inch: bool) -> list[tuple[float, float]]:
    """The members from head to nut as (t in m, E in Pa): from thicknesses by name, or from the grip alone.

    A washer together with `t_each` lies at both ends; a grip shorter than the parts is that of a screw in a tapped
    part, of which it holds the upper piece.
    """
    grip, listed = given.si("length", "l", "grip"), moduli(given)
    found: list[tuple[float, float | None]] = []
    for name in ("w", "washer", "1", "steel", "al", "aluminum", "2", "iron", "ci", "each"):
        part = _part(given, name)
        if part is None:
            continue
        found += [part, part] if name == "each" else [part]
        if name == "each" and len(found) == 3:
            found.append(found[0])
    if not found:
        E = modulus(given, "E_member", "E_m", "E_ci", "E_iron", "E_al", "E_steel", "E")
        if E is None and listed is not None and len(listed) == 1:
            E = listed[0]
        return [(given.need(grip, "the grip l"), given.need(E, "the modulus of the members"))]
    if listed is not None:
        if len(listed) != len(found):
            raise given.error(f"{len(listed)} moduli for {len(found)} parts")
        found = [(t, E) for (t, _), E in zip(found, listed, strict=True)]
    total = sum(t for t, _ in found)
    if grip is not None and not agree(total, grip):
        t, E = found[-1]
        above = total - t
        if not agree(float(joint.cap_screw_grip(above, t, d)), grip):
            raise given.error("the parts do not add up to the grip, nor to that of a screw in the last of them")
        found[-1] = (grip - above, E)
    return [(t, given.need(E, "the modulus of a part")) for t, E in found]


def frusta(given: Given, d: float, inch: bool) -> tuple[textbook.Frustum, ...]:
    """The frusta of the members, in the row's own list or from its layers (Shigley eq. 8-20)."""
    raw = given.raw("frusta")
    if raw is None:
        D = given.si("length", "D2", "Dw", "D")
        return joint.member_frusta(layers(given, d, inch), d, D, D)
    E_unit, length = (MODULUS["Mpsi"], INCH) if inch else (MODULUS["GPa"], 1e-3)
    found = []
    for row in raw:
        if not isinstance(row, (list, tuple)) or len(row) != 3:
            raise given.error("a frustum is a list of modulus, smaller diameter and thickness")
        E, D, t = (_number(given, "frusta", value) for value in row)
        k = float(joint.frustum_stiffness(d, D * length, t * length, E * E_unit))
        found.append(textbook.Frustum(E * E_unit, D * length, t * length, k))
    return tuple(found)


def members(found: tuple[textbook.Frustum, ...]) -> float:
    """k_m in N/m of frusta in series."""
    return float(textbook.series(*(frustum.k for frustum in found)))


# VDI 2230 -----------------------------------------------------------------------------------------------------------


def vdi_geometry(given: Given) -> JointCase:
    """Bolt, counterpart and clamped part of a row in the form of the VDI 2230 examples; friction as the row states it.

    Everything else of the case is left at its default for the topic to fill in (`dataclasses.replace`).
    """
    size = needed_thread(given, "metric")
    strength = joint.strength(given.need(given.text("cls", "class"), "the class"), size)
    through = given.need(given.flag("through_bolt"), "through_bolt")
    E_S = given.need(modulus(given, "E_S"), "E_S")
    heads = {"hex": "hexagon", "hexagon": "hexagon", "socket": "socket cap", "socket cap": "socket cap"}
    word = given.need(given.text("head"), "the head").casefold()
    if word not in heads:
        raise given.error(f"the head {word!r} is not known; known: {', '.join(heads)}")
    l_K, l_1 = (given.need(given.si("length", "lK", "l_K"), "the clamped length lK"),
                given.measure("length", "unthreaded_in_grip", "l1", positive=False))
    shank = given.need(l_1, "the unthreaded length in the grip (0 when there is none)").si
    if shank < 0:
        raise given.error("the unthreaded length must not be negative")
    d_w = given.need(given.si("length", "dw", "d_w"), "dw")
    bolt_material = Material("bolt", E_S, _alpha(given, "alpha_S"))
    part = Material("clamped part", given.need(modulus(given, "E_P"), "E_P"), _alpha(given, "alpha_P"))
    mu_G, mu_K = (given.need(given.number(name, below=1), name) for name in ("mu_G", "mu_K"))
    return JointCase(
        name=given.text("example") or "reference row",
        bolt=Bolt(thread=size, strength=strength, material=bolt_material, head=heads[word], d_w=d_w,
                  sections=(Section(shank, size.d),) if shank > 0 else ()),
        counterpart=Counterpart(kind="nut" if through else "tapped hole", material=bolt_material,
                                d_w=d_w if through else None),
        layers=(Layer(name="clamped part", length=l_K, material=part,
                      d_h=given.need(given.si("length", "dh", "d_h"), "dh"),
                      D_A=given.need(given.si("length", "DA", "D_A"), "DA")),),
        friction=Friction(mu_G=joint.Band(mu_G, mu_G, mu_G), mu_K=joint.Band(mu_K, mu_K, mu_K)),
    )


def _alpha(given: Given, name: str) -> float | None:
    raw = given.raw(name)
    return None if name not in given.inputs else _number(given, name, raw)
