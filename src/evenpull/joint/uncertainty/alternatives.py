"""What could be changed at a joint so that its load falls between the limits more surely: each a case of its own.

Friction states, tools and tightening factors come from the catalogue; sizes and classes from the standard tables. What
the tables do not hold is not tried, and said so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from evenpull import catalogue
from evenpull.catalogue.friction import Lubricant
from evenpull.catalogue.heads import bearing_diameter, clearance_hole
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.catalogue.threads import inch_threads, metric_pitches, size_in_inch
from evenpull.joint.case import CaseError, Friction, JointCase, Layer, Method
from evenpull.joint.parts.strengths import nut_row, strength_at
from evenpull.joint.parts.threads import INCH, thread
from evenpull.joint.tightening.scatter import scatter_from_alpha_A
from evenpull.joint.tightening.torque import D_Km, F_M_zul, torque_from_nut_factor, torque_lever
from evenpull.joint.traced import Band
from evenpull.joint.uncertainty.spread_inputs import COMMON
from evenpull.joint.uncertainty.spread_limits import required_clamp

ANGLE_SCATTER = math.radians(5)  # +- by hand with a dial, common practice, no source
YIELD_SCATTER = 0.02  # +- share of the load at which the tool stops, common practice, no source
SNUG_SHARE = 0.25  # of the required load, common practice, no source
LARGER_SIZES = 2
_METRIC_CLASSES = ("4.6", "5.6", "8.8", "10.9", "12.9")
_STAINLESS_CLASSES = ("50", "70", "80", "100")
_SAE_GRADES = ("2", "5", "8")


@dataclass(frozen=True, slots=True)
class Change:
    """One change: `case` is the joint with it, `apply` makes the same change to another case."""

    kind: str
    text: str
    why: str
    case: JointCase
    apply: Callable[[JointCase], JointCase]


def changes_of(case: JointCase) -> tuple[list[Change], list[str]]:
    """All changes that can be computed, and what was not tried and why."""
    found: list[Change] = []
    not_tried: list[str] = []

    def offer(kind: str, text: str, why: str, apply: Callable[[JointCase], JointCase]) -> None:
        try:
            found.append(Change(kind, text, why, apply(case), apply))
        except (CaseError, NotInCatalogue) as error:
            not_tried.append(f"{text}: {error}")

    if case.tightening.method not in ("stretch", "tension"):
        for lubricant in _other_lubricants(case):
            offer("friction", f"friction state {lubricant.name}", f"{lubricant.source} ({lubricant.status})",
                  _with_lubricant(lubricant))
        s = scatter_from_alpha_A(sum(catalogue.tightening_factor("torque wrench, friction tested")) / 2)
        if _wider(case, s):
            offer("tested lot", f"friction of the lot tested, +- {s:.0%} of its mean",
                  "middle of the tightening factors of VDI 2230-1 Table A8 for tested friction (from memory)",
                  lambda other: with_tested_lot(other, s))
    if case.tightening.method in ("torque", "torque and angle"):
        for kind in ("setting", "hydraulic"):
            tool = catalogue.tool_scatter(kind)
            if tool.share < case.tightening.tool_scatter:
                offer("tool", f"{kind} tool of +- {tool.share:.0%}", f"{tool.source} ({tool.status})",
                      _with_tool(tool.share))
    for method, text, why, change in _methods():
        if method != case.tightening.method:
            offer("method", text, why, change)
    for designation in _larger_sizes(case):
        offer("size", f"larger bolt {designation}",
              "dimensions of the standard tables; nuts, holes and heads grow with it", _with_size(designation))
    for designation in _higher_classes(case):
        offer("class", f"strength class {designation} with the nut that belongs to it",
              "strengths of the standard tables", _with_class(designation))
    return found, not_tried


def stainless(case: JointCase) -> bool:
    """Whether the bolt is of stainless steel, by its class or its material."""
    return bool(re.match(r"A[1-5]?-\d", case.bolt.strength.designation)) or "stainless" in case.bolt.material.name


def _other_lubricants(case: JointCase) -> list[Lubricant]:
    now = (case.friction.mu_G, case.friction.mu_K)
    return [
        lubricant for lubricant in catalogue.lubricants()
        if ("stainless" in lubricant.name) == stainless(case) and lubricant.name != case.friction.lubricant
        and now != (Band(*lubricant.mu_G), Band(*lubricant.mu_K))
    ]


def _with_lubricant(lubricant: Lubricant) -> Callable[[JointCase], JointCase]:
    friction = Friction(mu_G=Band(*lubricant.mu_G), mu_K=Band(*lubricant.mu_K), lubricant=lubricant.name,
                        source=lubricant.source, status=lubricant.status)
    return lambda case: replace(case, friction=friction)


def _narrowed(band: Band, s: float) -> Band:
    return Band(max(band.low, band.nominal * (1 - s)), band.nominal, min(band.high, band.nominal * (1 + s)))


def _wider(case: JointCase, s: float) -> bool:
    bands = (case.friction.mu_G, case.friction.mu_K) if case.friction.K is None else (case.friction.K,)
    return any(_narrowed(band, s) != band for band in bands)


def with_tested_lot(case: JointCase, s: float) -> JointCase:
    """The case with friction known to +- s of its nominal values. What a test finds may lie elsewhere in the band: the
    setting has to be computed anew then.
    """
    old = case.friction
    return replace(case, friction=replace(
        old, mu_G=_narrowed(old.mu_G, s), mu_K=_narrowed(old.mu_K, s), K=None if old.K is None else _narrowed(old.K, s),
        source=f"{old.source}, narrowed as by a test of the lot",
    ))


def _with_tool(share: float) -> Callable[[JointCase], JointCase]:
    return lambda case: replace(case, tightening=replace(case.tightening, tool_scatter=share))


def _to_method(case: JointCase, method: Method, **changes: float | None) -> JointCase:
    tightening = replace(case.tightening, method=method, torque=None, preload=None, alpha_A=None)
    return replace(case, tightening=replace(tightening, **changes))  # type: ignore[arg-type]


def _methods() -> list[tuple[Method, str, str, Callable[[JointCase], JointCase]]]:
    ultrasonic = scatter_from_alpha_A(sum(catalogue.tightening_factor("ultrasonic elongation control")) / 2)
    hydraulic = catalogue.tool_scatter("hydraulic")
    setting = catalogue.tool_scatter("setting")
    return [
        ("torque", "torque", f"{setting.source} ({setting.status})",
         lambda case: _to_method(case, "torque", tool_scatter=setting.share)),
        ("torque and angle", "snug torque and angle", f"angle +- {math.degrees(ANGLE_SCATTER):.0f} deg where not "
         f"stated, snug at {SNUG_SHARE:.0%} of the required load, {COMMON}", _to_angle),
        ("yield", "tightening to yield", f"stop +- {YIELD_SCATTER:.0%}, {COMMON}; limit is the tensile strength, and "
         "the bolt must be fit for it", lambda case: _to_method(case, "yield", tool_scatter=YIELD_SCATTER)),
        ("stretch", f"measured elongation, +- {ultrasonic:.1%}", "middle of the tightening factors of VDI 2230-1 Table "
         "A8 for elongation control (from memory)", lambda case: _to_method(case, "stretch", tool_scatter=ultrasonic)),
        ("tension", "hydraulic tensioner", f"pull +- {hydraulic.share:.0%}: {hydraulic.source}; loss at the transfer "
         "as stated or by the guide value", lambda case: _to_method(case, "tension", tool_scatter=hydraulic.share)),
    ]


def _to_angle(case: JointCase) -> JointCase:
    old = case.tightening
    scatter = old.angle_scatter or ANGLE_SCATTER
    snug = old.snug_torque
    if snug is None:
        need = max(required_clamp(case), case.limits.required_preload or 0.0, case.loads.F_A_max)
        load = min(SNUG_SHARE * need, SNUG_SHARE * float(F_M_zul(case.bolt.thread, case.bolt.strength,
                                                                 case.friction.mu_G.nominal)))
        if case.friction.K is not None:
            snug = float(torque_from_nut_factor(load, case.friction.K.nominal, case.bolt.thread.d))
        else:
            layer = case.layers[0]
            try:
                mean = D_Km(case.bolt.d_w, max(layer.d_h, layer.chamfer or 0.0))
            except ValueError as error:
                raise CaseError(f"bolt.d_w: {error}") from error
            snug = float(load * torque_lever(case.bolt.thread, case.friction.mu_G.nominal, case.friction.mu_K.nominal,
                                             mean))
    tool = min(old.tool_scatter or 1.0, catalogue.tool_scatter("setting").share)
    return _to_method(case, "torque and angle", snug_torque=snug, angle_scatter=scatter,
                      tool_scatter=old.tool_scatter if old.method == "torque" else tool)


def _larger_sizes(case: JointCase) -> list[str]:
    now = case.bolt.thread
    if now.system == "metric":
        larger = [d for d, pitches in metric_pitches().items() if d * 1e-3 > now.d * (1 + 1e-9)
                  and _exists(f"M{d:g}")]
        return [f"M{d:g}" for d in larger[:LARGER_SIZES]]
    series = now.designation.rsplit(" ", 1)[-1]
    sizes = sorted(
        (size_in_inch(size), f"{size}-{n:g}") for (size, n), kinds in inch_threads().items()
        if series in kinds or (series == "UN" and "8UN" in kinds)
    )
    return [name for D, name in sizes if now.d * (1 + 1e-9) < D * INCH][:LARGER_SIZES]


def _exists(designation: str) -> bool:
    try:
        thread(designation)
    except NotInCatalogue:
        return False
    return True


def _with_size(designation: str) -> Callable[[JointCase], JointCase]:
    return lambda case: with_size(case, designation)


def with_size(case: JointCase, designation: str) -> JointCase:
    """The joint with a larger bolt of the same class: bearing faces and medium holes of the tables (in proportion where
    the table has no such head), shanks, engagement and chamfers in proportion, same parts. NotInCatalogue for what the
    tables do not hold.
    """
    bolt, size = case.bolt, thread(designation)
    ratio = size.d / bolt.thread.d
    strength = strength_at(bolt.strength.designation, size.d)
    d_h = clearance_hole("medium", size.d, size.system).value
    face = _face(bolt.head, size.d, size.system, bolt.d_w * ratio)
    counterpart = case.counterpart
    if counterpart.d_w is not None:
        counterpart = replace(counterpart, d_w=_face("hexagon", size.d, size.system, counterpart.d_w * ratio))
    if counterpart.engagement is not None:
        counterpart = replace(counterpart, engagement=counterpart.engagement * ratio)
    for number, layer in enumerate(case.layers, start=1):
        if layer.D_A is not None and d_h >= layer.D_A:
            raise CaseError(f"layers[{number}].D_A: {layer.D_A} m leaves no ring around a hole of {d_h} m")
    sections = tuple(replace(s, d=s.d * ratio) for s in bolt.sections)
    tightening = replace(case.tightening, torque=None, preload=None)
    if tightening.snug_torque is not None:
        tightening = replace(tightening, snug_torque=tightening.snug_torque * ratio)  # same snug load, longer lever
    return replace(
        case, bolt=replace(bolt, thread=size, strength=strength, d_w=face, sections=sections, length=None),
        counterpart=counterpart, layers=tuple(_hole(layer, d_h, ratio) for layer in case.layers), tightening=tightening,
    )


def _face(head: str, d: float, system: str, otherwise: float) -> float:
    try:
        return bearing_diameter(head, d, system).value
    except NotInCatalogue:
        return otherwise


def _hole(layer: Layer, d_h: float, ratio: float) -> Layer:
    slot, chamfer = layer.slot_length, layer.chamfer
    return replace(layer, d_h=d_h, slot_length=None if slot is None else max(slot * ratio, d_h),
                   chamfer=None if chamfer is None else chamfer * ratio)


def _higher_classes(case: JointCase) -> list[str]:
    name = case.bolt.strength.designation.strip()
    if name in _METRIC_CLASSES:
        return list(_METRIC_CLASSES[_METRIC_CLASSES.index(name) + 1:])[:2]
    if match := re.fullmatch(r"(A[1-5]?)-(50|70|80|100)", name):
        return [f"{match[1]}-{n}" for n in _STAINLESS_CLASSES[_STAINLESS_CLASSES.index(match[2]) + 1:]][:2]
    if match := re.search(r"grade (\d)$", name):
        grades = _SAE_GRADES[_SAE_GRADES.index(match[1]) + 1:] if match[1] in _SAE_GRADES else ()
        return [f"SAE J429 grade {grade}" for grade in grades]
    return []


def _with_class(designation: str) -> Callable[[JointCase], JointCase]:
    return lambda case: with_class(case, designation)


def with_class(case: JointCase, designation: str) -> JointCase:
    """The joint with a bolt of this class. A proof stress of the nut, where stated, becomes that of the nut class of
    the same number (ISO 898-2), never less than stated. NotInCatalogue for what the tables do not hold.
    """
    size = case.bolt.thread
    strength = strength_at(designation, size.d)
    counterpart = case.counterpart
    if counterpart.nut_proof_stress is not None and size.system == "metric":
        nut = designation.split(".")[0] if "." in designation else designation
        counterpart = replace(counterpart, nut_proof_stress=max(nut_row(size, nut).S_p, counterpart.nut_proof_stress))
    return replace(case, bolt=replace(case.bolt, strength=strength), counterpart=counterpart)
