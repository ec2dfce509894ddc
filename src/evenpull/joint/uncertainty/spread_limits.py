"""Between which loads a fastener has to lie: what the joint needs, and what section and bearing faces stand."""

from __future__ import annotations

import math

from evenpull.joint.case import JointCase, Layer
from evenpull.joint.numeric import Num, larger, sqrt, where
from evenpull.joint.parts.bearing import bearing_area, slotted_area
from evenpull.joint.parts.threads import stress_diameter
from evenpull.joint.service.clamping import F_KP, F_K_erf
from evenpull.joint.service.need import friction_grip
from evenpull.joint.springs.resilience import ring_area


def load_at_working_stress(sigma: Num, F_SA: Num, A_0: Num, tau_per_load: Num, k_tau: Num = 0.5) -> Num:
    """Load F at assembly in N at which sigma_red,B = sqrt(((F + F_SA)/A_0)^2 + 3 (k_tau tau)^2) of VDI 2230-1 R8 is
    `sigma`, with tau = F tau_per_load: the quadratic equation solved. Minus infinity where F_SA alone is too much.
    """
    a = 1 / A_0**2 + 3 * (k_tau * tau_per_load) ** 2
    b, c = F_SA / A_0**2, (F_SA / A_0) ** 2 - sigma**2
    F = (-b + sqrt(larger(b**2 - a * c, 0.0))) / a
    return where(c <= 0, F, -math.inf)


def required_clamp(case: JointCase) -> float:
    """Clamp load in N that the joint needs, stated or from its loads (VDI 2230-1 R2). CaseError for what is missing."""
    loads = case.loads
    if loads.F_Kerf is not None:
        return loads.F_Kerf
    grip = friction_grip(case) or 0.0
    return float(F_K_erf(grip, F_KP(loads.sealing_area, loads.sealing_pressure)))


def smallest_sections(case: JointCase) -> list[tuple[float, float]]:
    """Stress section of the thread and every neck thinner than it: (diameter, bore) in m."""
    bolt = case.bolt
    thread = (float(stress_diameter(bolt.thread)), bolt.d_i)
    area = ring_area(*thread)
    return [thread, *((s.d, s.d_i) for s in bolt.sections if ring_area(s.d, s.d_i) < area)]


def bearing_faces(case: JointCase) -> list[tuple[str, float, float]]:
    """Faces whose material states a limiting pressure: name, p_G in Pa, area in m2 (VDI 2230-1 R10).

    A chamfered slot is left out: its area is not known. ValueError for a face that its hole lets through.
    """
    faces: list[tuple[str, float | None, Layer]] = [("head", case.bolt.d_w, case.layers[0])]
    if case.through_bolt:
        faces.append(("nut", case.counterpart.d_w, case.layers[-1]))
    return [
        (name, layer.material.p_G, _area(d_w, layer))
        for name, d_w, layer in faces
        if d_w is not None and layer.material.p_G is not None and not chamfered_slot(layer)
    ]


def chamfered_slot(layer: Layer) -> bool:
    return layer.slot_length is not None and layer.chamfer is not None


def _area(d_w: float, layer: Layer) -> float:
    if layer.slot_length is not None:
        return float(slotted_area(d_w, layer.d_h, layer.slot_length))
    return float(bearing_area(d_w, layer.d_h, layer.chamfer or 0.0))
