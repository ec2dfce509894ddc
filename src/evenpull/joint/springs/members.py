"""Textbook stiffness of one joint case: Shigley sections 8-4 and 8-5, never mixed with the guideline's cones."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.springs import frusta
from evenpull.joint.springs.stiffness import check_case, free_thread, gasket_spring, modulus


@dataclass(frozen=True, slots=True)
class TextbookStiffness:
    """Bolt: shank A_d over l_d and thread A_t over l_t of the grip; members: frusta from head to nut, and the gasket's
    spring k_g where there is one. SI.
    """

    grip: float
    A_d: float
    A_t: float
    l_d: float
    l_t: float
    E: float
    k_b: float
    frusta: tuple[frusta.Frustum, ...]
    k_g: float | None
    k_m: float
    C: float
    notes: tuple[str, ...]


def textbook_stiffness(case: JointCase, *, bearing_faces: bool = False) -> TextbookStiffness:
    """k_b, k_m and C = k_b/(k_b + k_m) of a case (Shigley eq. 8-17, 8-18, 8-20, Table 8-7).

    The cones start with 1.5 d as in the textbook, or with `bearing_faces` at the diameters d_w of the case. A screw in
    a tapped part has the effective grip of Table 8-7, its thickness t_2 being the engagement where that is shorter than
    d. CaseError names the field at fault.
    """
    check_case(case)
    d, A_t, notes = case.bolt.thread.d, case.bolt.thread.A_s, []
    E = modulus(case.bolt.material, "bolt.material")
    layers = [(layer.length, modulus(layer.material, f"layers[{number}].material"))
              for number, layer in enumerate(case.layers, start=1)]
    grip = case.l_K
    if not case.through_bolt:
        t_2 = case.counterpart.engagement
        if t_2 is not None and not 0 < t_2 < math.inf:
            raise CaseError(f"counterpart.engagement: has to be finite and greater than zero, not {t_2} m")
        grip = float(frusta.cap_screw_grip(case.l_K, d if t_2 is None else t_2, d))
        layers.append((grip - case.l_K, modulus(case.counterpart.material, "counterpart.material")))
    free_thread(case)  # refuses a shank longer than the clamped length
    l_d = min(sum(section.length for section in case.bolt.sections), grip)
    A_d = math.pi / 4 * d**2
    if case.bolt.d_i:
        raise CaseError("bolt.d_i: the textbook's stiffness knows solid threads only")
    if l_d > 0:
        areas = [math.pi / 4 * (section.d**2 - section.d_i**2) for section in case.bolt.sections]
        A_d = l_d / sum(s.length / area for s, area in zip(case.bolt.sections, areas, strict=True))
        if len(set(areas)) > 1:
            notes.append("A_d is the area that stretches like the sections one after the other")
    k_b = float(frusta.bolt_stiffness(A_d, A_t, l_d, grip - l_d, E))
    D_head = case.bolt.d_w if bearing_faces else None
    D_nut = case.counterpart.d_w if bearing_faces and case.through_bolt else None
    if bearing_faces and case.through_bolt and D_nut is None:
        raise CaseError("counterpart.d_w: the bearing face of the nut is needed")
    try:
        found = frusta.member_frusta(layers, d, D_head, D_nut)
    except ValueError as error:
        raise CaseError(f"members: {error}") from error
    springs, k_g = [frustum.k for frustum in found], None
    if case.gasket is not None:
        k_g = gasket_spring(case.gasket)
        springs.append(k_g)
        notes.append("the gasket is a spring in series; the frusta are taken through the other members alone")
    k_m = float(frusta.series(*springs))
    return TextbookStiffness(
        grip, A_d, A_t, l_d, grip - l_d, E, k_b, found, k_g, k_m, float(frusta.joint_constant(k_b, k_m)), tuple(notes)
    )
