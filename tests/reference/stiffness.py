"""Reading bolts, clamped parts and stiffnesses from reference rows; shared by the topics of joint examples."""

from __future__ import annotations

import math
import re
from typing import Any

from evenpull import joint
from evenpull.joint.case import Bolt, Counterpart, Friction, JointCase, Layer, Material, Section
from evenpull.joint.springs import frusta as textbook
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
    grip, l_d, l_t = given.si("length", "l", "grip"), given.si("length", "ld", "l_d"), given.si("length", "lt", "l_t")
    A_d = given.si("area", "Ad", "A_d") or math.pi / 4 * d**2
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


_MATERIALS = (("steel", "st"), ("iron", "ci"), ("aluminium", "aluminum", "al"))  # names of one material in keys
_WASHERS = ("w", "washer")
_THICKNESS = re.compile(r"(?:t(w|\d)|t_([a-z]+\d?|\d)|(washer|h))_(?:in|mm|m)")
_ONE_MATERIAL = re.compile(
    r"(?<!\w)(?:both|all|entire|entirely)(?!\w)[\w\s-]*?(?<!\w)(steel|iron|aluminium|aluminum)(?!\w)"
)


def material_names(word: str) -> tuple[str, ...]:
    """The names that keys give the material of this word, the word first."""
    group = next((names for names in _MATERIALS if word in names), ())
    return (word, *(name for name in group if name != word))


def one_material(given: Given) -> str | None:
    """The material of which all members are to be taken, as "both plates steel" says, whatever the row's are."""
    said = _ONE_MATERIAL.search(given.q)
    named = sum(given.says(*names) for names in _MATERIALS)
    return said[1] if said is not None and named == 1 else None


def _part_modulus(given: Given, name: str, inch: bool) -> float | None:
    """E of the part of this name: its own, that of its material, or for a washer that of steel."""
    words = {
        "1": ("1", "steel", "st", "member"), "2": ("2", "ci", "iron", "al", "member"),
        "h": ("h", "1", "steel", "st", "member"),
        "each": ("each", "member", "ci", "iron", "steel", "st"),
    }.get(name, (*material_names(name), "member"))
    if name in _WASHERS:
        words = (*_WASHERS, "steel", "st")
    for word in words:
        if (E := modulus(given, f"E_{word}", *((f"E{word}",) if word.isdigit() else ()))) is not None:
            return E
    return STEEL["inch" if inch else "metric"] if name in _WASHERS else None


def has_parts(given: Given) -> bool:
    """Whether the row names the thickness of a member."""
    return any(_THICKNESS.fullmatch(str(key)) for key in given.inputs)


def _parts(given: Given, inch: bool) -> list[tuple[str, float, float | None]]:
    """Name, thickness and modulus of the members in the row's order, which is that from head to nut."""
    found: list[tuple[str, float, float | None]] = []
    for key in list(given.inputs):
        match = _THICKNESS.fullmatch(str(key))
        if match is None:
            continue
        t = given.si("length", str(key).rpartition("_")[0])
        name = next(word for word in match.groups() if word is not None)
        part = (name, given.need(t, str(key)), _part_modulus(given, name, inch))
        found += [part, part] if name == "each" else [part]
    if len(found) == 3 and found[0][0] in _WASHERS and found[1][0] == "each":
        found.append(found[0])
    return found


def layers(given: Given, d: float, inch: bool) -> list[tuple[float, float]]:
    """The members from head to nut as (t in m, E in Pa): from thicknesses by name, or from the grip alone.

    A washer together with `t_each` lies at both ends; a grip shorter than the parts is that of a screw in a tapped
    part, of which it holds the upper piece. A quantity that says "both plates steel" changes the moduli.
    """
    grip, listed, parts = given.si("length", "l", "grip"), moduli(given), _parts(given, inch)
    whole = one_material(given)
    E_whole = None
    if whole is not None:
        E_whole = modulus(given, *(f"E_{name}" for name in material_names(whole)))
        if E_whole is None and whole == "steel":
            E_whole = STEEL["inch" if inch else "metric"]
        E_whole = given.need(E_whole, f"the modulus of {whole}")
    if not parts:
        others = [f"E_{name}" for names in _MATERIALS for name in names]
        E = E_whole or modulus(given, "E_member", "E_m", "E", *others)
        if E_whole is not None:
            for name in others:
                modulus(given, name)  # what the row's own members are of is known, though not used here
        if E is None and listed is not None and len(listed) == 1:
            E = listed[0]
        return [(given.need(grip, "the grip l"), given.need(E, "the modulus of the members"))]
    if listed is not None:
        named = [part for part in parts if len(listed) == len(parts) or part[0] not in _WASHERS]
        if len(listed) != len(named):
            raise given.error(f"{len(listed)} moduli for {len(parts)} parts")
        rest = iter(listed)
        parts = [(name, t, next(rest) if (name, t, E) in named else E) for name, t, E in parts]
    total = sum(t for _, t, _ in parts)
    if grip is None and len(parts) > 1 and any(name == "h" for name, _, _ in parts):  # h lies on a tapped part t2
        grip = float(joint.cap_screw_grip(total - parts[-1][1], parts[-1][1], d))
    if grip is not None and not agree(total, grip):
        name, t, last = parts[-1]
        above = total - t
        if not above > 0 or not agree(float(joint.cap_screw_grip(above, t, d)), grip):
            raise given.error("the parts do not add up to the grip, nor to that of a screw in the last of them")
        parts[-1] = (name, grip - above, last)
    return [(t, E_whole or given.need(E, "the modulus of a part")) for _, t, E in parts]


def tube(given: Given) -> float | None:
    """k in N/m of a tube between head and nut, where the row names its diameters: E A/l of its section."""
    outside = given.si("length", "tube_OD", "tube_od", "OD", "tube_D")
    inside = given.si("length", "tube_ID", "tube_id", "ID", "tube_d")
    if outside is None and inside is None:
        return None
    D, d_i = given.need(outside, "the outside diameter of the tube"), given.need(inside, "the inside diameter")
    if not d_i < D:
        raise given.error("the tube has no wall")
    E = given.need(modulus(given, "E_tube", "E_member", "E_m", "E"), "the modulus of the tube")
    length = given.need(given.si("length", "l", "grip"), "the grip l")
    A = math.pi / 4 * (D**2 - d_i**2)
    return float(joint.bolt_stiffness(A, A, length, 0.0, E))


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
