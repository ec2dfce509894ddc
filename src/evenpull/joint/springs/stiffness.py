"""Stiffness of one joint case: resilience of bolt and clamped parts after VDI 2230-1, and the textbook stiffnesses.

Both are computed at room temperature. They are kept apart: the textbook's frusta are not the guideline's cones.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from evenpull.joint.case import CaseError, Gasket, JointCase, Material
from evenpull.joint.numeric import Num, holds, require_positive
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.springs import cones, resilience
from evenpull.joint.springs.layers import ClampedPart, ConeLayer, gasket_stiffness, layered_parts

SOURCE_S = "VDI 2230-1:2015 section 5.1.1 (from memory)"
SOURCE_P = "VDI 2230-1:2015 section 5.1.2 (from memory)"


class BoltPart(NamedTuple):
    """One piece of the bolt: value = l/(E A) in m/N."""

    name: str
    symbol: str
    value: float
    l: float  # noqa: E741
    A: float
    E: float

    @property
    def formula(self) -> str:
        key = self.symbol.removeprefix("delta_")
        return f"{self.symbol} = l_{key} / (E_{key} A_{key})"

    @property
    def inputs(self) -> Mapping[str, float]:
        key = self.symbol.removeprefix("delta_")
        return {f"l_{key}": self.l, f"E_{key}": self.E, f"A_{key}": self.A}


@dataclass(frozen=True, slots=True)
class Resilience:
    """delta_S in m/N and its pieces, whose values add up to it."""

    total: float
    parts: tuple[BoltPart, ...]

    def of(self, *symbols: str) -> float:
        """Sum of the pieces of these symbols, 0 for those that this bolt does not have."""
        return sum(part.value for part in self.parts if part.symbol in symbols)


@dataclass(frozen=True, slots=True)
class ClampedResilience:
    """delta_P in m/N and its pieces; d_w, D_A are those of the cone angle (`notes` says where they are chosen)."""

    total: float
    tan_phi: float
    D_A_Gr: float
    kind: cones.Kind
    parts: tuple[ClampedPart, ...]
    w: int
    d_w: float
    D_A: float
    l_K: float
    notes: tuple[str, ...] = ()


def load_factor(n: Num, delta_P: Num, delta_S: Num) -> Num:
    """Phi_n = n delta_P/(delta_S + delta_P) (VDI 2230-1 R3, from memory). ValueError unless n >= 0, both delta > 0."""
    require_positive("m/N", delta_P=delta_P, delta_S=delta_S)
    if not holds((n >= 0) & (n < math.inf)):
        raise ValueError(f"the load introduction factor n has to be finite and not negative: {n}")
    return n * delta_P / (delta_S + delta_P)


def modulus(material: Material, field: str) -> float:
    """E of a material in Pa. CaseError when it states none."""
    if material.E is None or not 0 < material.E < math.inf:
        raise CaseError(f"{field}.E: the material {material.name!r} needs a modulus of elasticity above zero, "
                        f"not {material.E}; none is assumed")
    return material.E


def check_case(case: JointCase) -> None:
    """CaseError for sizes of bolt and layers that no joint has; it names the field and what is allowed."""
    refuse_senseless(case, pushed=True)
    for number, layer in enumerate(case.layers, start=1):
        where = f"layers[{number}] ({layer.name})"
        if layer.D_A is not None and not (layer.d_h < layer.D_A < math.inf):
            raise CaseError(f"{where}.D_A: {layer.D_A} m has to be larger than the hole d_h = {layer.d_h} m, "
                            "or not stated")
        if layer.slot_length is not None and not layer.d_h <= layer.slot_length < math.inf:
            raise CaseError(f"{where}.slot_length: {layer.slot_length} m is the overall length of the slot, at least "
                            f"its width d_h = {layer.d_h} m")
    length = case.bolt.length
    if length is not None and not case.l_K < length < math.inf:
        raise CaseError(f"bolt.length: {length} m does not reach through the clamped length of {case.l_K} m")
    engaged = case.counterpart.engagement
    if length is not None and engaged is not None and length < (case.l_K + engaged) * (1 - 1e-9):
        raise CaseError(f"bolt.length: {length} m ends before the clamped length {case.l_K:.6g} m and the engagement "
                        f"{engaged} m; correct one of the three")


def bolt_resilience(case: JointCase) -> Resilience:
    """delta_S of the bolt with its pieces: head, sections, free thread, engaged thread, nut or tapped part (VDI 2230-1
    section 5.1.1, from memory).

    A stud has engaged thread and nut at both ends; against a tapped hole its upper nut is taken as of the bolt's
    material. Nut and tapped part stretch with the modulus of the counterpart. CaseError names the field at fault.
    """
    check_case(case)
    bolt, thread = case.bolt, case.bolt.thread
    E_S = modulus(bolt.material, "bolt.material")
    E_M = modulus(case.counterpart.material, "counterpart.material")
    l_Gew = free_thread(case)
    A_N, A_d3 = resilience.ring_area(thread.d, bolt.d_i), resilience.root_area(thread, bolt.d_i)
    parts = []

    def add(name: str, symbol: str, length: float, E: float, A: float) -> None:
        parts.append(BoltPart(name, symbol, resilience.delta_bar(length, E, A), length, A, E))

    engaged = resilience.engaged_length(thread.d)
    if bolt.head.casefold().startswith("stud"):
        upper = E_M if case.through_bolt else E_S
        add("upper nut", "delta_M2", resilience.nut_length(thread.d), upper, resilience.ring_area(thread.d))
        add("thread engaged in the upper nut", "delta_G2", engaged, E_S, A_d3)
    else:
        add("head", "delta_SK", _head(case), E_S, A_N)
    for number, section in enumerate(bolt.sections, start=1):
        add(f"section {number}", f"delta_{number}", section.length, E_S, resilience.ring_area(section.d, section.d_i))
    if l_Gew > 0:
        add("free thread", "delta_Gew", l_Gew, E_S, A_d3)
    add("engaged thread", "delta_G", engaged, E_S, A_d3)
    if case.through_bolt:
        add("nut", "delta_M", resilience.nut_length(thread.d), E_M, resilience.ring_area(thread.d))
    else:
        add("tapped part", "delta_M", resilience.tapped_length(thread.d), E_M, resilience.ring_area(thread.d))
    return Resilience(sum(part.value for part in parts), tuple(parts))


def _head(case: JointCase) -> float:
    try:
        return float(resilience.head_length(case.bolt.thread.d, case.bolt.head))
    except ValueError as error:
        raise CaseError(f"bolt.head: {error}") from error


def free_thread(case: JointCase) -> float:
    """Loaded thread that is not engaged, l_Gew in m: the grip without the sections. CaseError if they are longer."""
    sections = sum(section.length for section in case.bolt.sections)
    rest = case.l_K - sections
    if rest < -1e-9 * case.l_K:
        raise CaseError(f"bolt.sections: together {sections:.6g} m, longer than the clamped length {case.l_K:.6g} m: "
                        "the nut would run onto the shank before it clamps")
    return rest if rest > 1e-9 * case.l_K else 0.0


def clamped_resilience(case: JointCase) -> ClampedResilience:
    """delta_P of the clamped parts and the gasket with their pieces (VDI 2230-1 section 5.1.2, from memory).

    The cone angle takes the mean of two different bearing faces, and as width D'_A the narrowest part that is no
    washer (both common practice, no source). CaseError names the field at fault.
    """
    check_case(case)
    bolt, d_w_nut, notes = case.bolt, case.counterpart.d_w, []
    w = cones.THROUGH if case.through_bolt else cones.TAPPED
    if not case.through_bolt:
        d_w_nut = None
    elif d_w_nut is None:
        raise CaseError("counterpart.d_w: the bearing face of the nut is needed for the deformation cone")
    _check_faces(case, d_w_nut)
    d_w = bolt.d_w
    if d_w_nut is not None and d_w_nut != d_w:
        d_w = (d_w + d_w_nut) / 2
        notes.append(f"cone angle with the mean of the bearing faces, {d_w * 1e3:.4g} mm (common practice, no source)")
    l_K = sum(layer.length for layer in case.layers)
    layers = _cone_layers(case)
    widths = [layer.D_A for layer in case.layers if layer.D_A is not None and not layer.washer]
    try:
        if widths:
            D_A = min(widths)
            if max(widths) != D_A or len(widths) < len([x for x in case.layers if not x.washer]):
                notes.append(f"cone angle with the narrowest part, {D_A * 1e3:.4g} mm (common practice, no source)")
        else:
            D_A = float(cones.D_A_just_wide_enough(l_K, d_w, w))
            notes.append(f"no width stated: cone angle with the width that the cone just fills, {D_A * 1e3:.4g} mm "
                         "(common practice, no source)")
        slope = float(cones.tan_phi(l_K, d_w, D_A, w))
        found = layered_parts(layers, bolt.d_w, d_w_nut, slope)
    except ValueError as error:
        raise CaseError(f"clamped parts: {error}") from error
    if any(layer.slot_length is not None for layer in case.layers):
        notes.append("slotted holes by their net area (common practice, no source)")
    sleeves = [part.D_1 == part.D_2 for part in found]
    kind: cones.Kind = "sleeve" if all(sleeves) else "cone and sleeve" if any(sleeves) else "cone"
    if case.gasket is not None:
        found = (*found, _gasket_part(case.gasket))
        notes.append("the gasket is a spring in series; the deformation cone is taken through the other parts alone")
    limit = float(cones.D_A_Gr(d_w, l_K, slope, w))
    return ClampedResilience(
        sum(part.value for part in found), slope, limit, kind, found, w, d_w, D_A, l_K, tuple(notes)
    )


def _cone_layers(case: JointCase) -> list[ConeLayer]:
    return [
        ConeLayer(layer.name, layer.length, modulus(layer.material, f"layers[{number}].material"), layer.d_h, layer.D_A,
                  layer.slot_length)
        for number, layer in enumerate(case.layers, start=1)
    ]


def _check_faces(case: JointCase, d_w_nut: float | None) -> None:
    """The bearing faces lie on a ring: hole and chamfer leave something of them."""
    faces = [(case.layers[0], case.bolt.d_w, "bolt.d_w", 1)]
    if d_w_nut is not None:
        faces.append((case.layers[-1], d_w_nut, "counterpart.d_w", len(case.layers)))
    for layer, d_w, field, number in faces:
        hole = max(layer.d_h, layer.chamfer or 0.0)
        if not hole < d_w:
            raise CaseError(f"{field}: a bearing face of {d_w} m has no support on layers[{number}] ({layer.name}), "
                            f"whose hole or chamfer is {hole} m wide")


def gasket_spring(gasket: Gasket) -> float:
    """Stiffness of the gasket in N/m: as stated, or E A/t. CaseError when neither is given, or they disagree."""
    k, E, area, t = gasket.stiffness, gasket.E, gasket.area, gasket.thickness
    computed = None
    if E is not None and area is not None and t is not None:
        try:
            computed = float(gasket_stiffness(E, area, t))
        except ValueError as error:
            raise CaseError(f"gasket: {error}") from error
    if k is None:
        if computed is None:
            raise CaseError("gasket: state its stiffness, or thickness, E and area")
        return computed
    if not 0 < k < math.inf:
        raise CaseError(f"gasket.stiffness: has to be finite and greater than zero, not {k} N/m")
    if computed is not None and abs(computed - k) > 0.01 * k:
        raise CaseError(f"gasket.stiffness: {k:.6g} N/m and E A/t = {computed:.6g} N/m contradict each other; "
                        "state one")
    return k


def _gasket_part(gasket: Gasket) -> ClampedPart:
    k = gasket_spring(gasket)
    return ClampedPart("gasket", "delta_g", 1 / k, gasket.thickness or 0.0, 0.0, 0.0, 0.0, gasket.E or 0.0,
                       "delta_g = 1 / k_g", {"k_g": k})
