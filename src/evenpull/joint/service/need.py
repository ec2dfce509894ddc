"""What clamp load the loads of a case ask for, before any rule set."""

from __future__ import annotations

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.service.clamping import F_KQ


def friction_grip(case: JointCase) -> float | None:
    """F_KQ in N where a transverse load or a torque about the axis is carried by friction, None where there is none or
    the shank carries it (VDI 2230-1 R2, from memory). CaseError for a missing friction or friction radius.
    """
    loads = case.loads
    if not (loads.F_Q or loads.M_Y) or loads.bearing_shear:
        return None
    if loads.mu_T is None or (loads.M_Y and loads.r_a is None):
        raise CaseError("loads.mu_T: a transverse load carried by friction needs the lowest friction between the "
                        "parts, and a torque also r_a; or set loads.bearing_shear where the shank carries it")
    try:
        return float(F_KQ(abs(loads.F_Q), abs(loads.M_Y), loads.q_F, loads.q_M, loads.r_a or 1.0, loads.mu_T))
    except ValueError as error:
        raise CaseError(f"loads: {error}") from error
