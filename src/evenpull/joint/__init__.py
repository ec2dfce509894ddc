"""One fastener and what it clamps: thread, strength, preload, torque and the target with its load window.

    >>> from evenpull import joint
    >>> m16 = joint.thread("M16")
    >>> joint.F_M_zul(m16, joint.strength("8.8", m16), mu_G=0.12) / 1e3   # kN
"""

from evenpull.joint.aviation import aviation_torque, castellated_window, least_drag, middle_of_range, torque_with_drag
from evenpull.joint.case import CaseError
from evenpull.joint.compute import compute_target, torque_target
from evenpull.joint.cones import (
    D_A_Gr,
    D_A_just_wide_enough,
    delta_P,
    delta_P_cone,
    delta_P_cone_sleeve,
    delta_P_sleeve,
    tan_phi,
)
from evenpull.joint.eccentric import eccentric_model
from evenpull.joint.frusta import (
    bolt_stiffness,
    cap_screw_grip,
    cap_screw_length,
    frustum_stiffness,
    joint_constant,
    member_frusta,
    member_stiffness,
    member_stiffness_fit,
    member_stiffness_layers,
    shank_in_grip,
    thread_length,
)
from evenpull.joint.members import textbook_stiffness
from evenpull.joint.stiffness import bolt_resilience, clamped_resilience, load_factor
from evenpull.joint.strengths import (
    nut_proof_load,
    nut_row,
    proof_load,
    strength,
    strength_at,
    ultimate_load,
    yield_load,
)
from evenpull.joint.target import NO_LOAD, FastenerCase, Strength, Target, TargetProblem, ThreadSize, TorqueCase
from evenpull.joint.threads import (
    inch_thread,
    metric_thread,
    necked_diameter,
    nominal_stress_area,
    stress_area,
    stress_diameter,
    thread,
)
from evenpull.joint.torque import (
    F_M,
    M_A,
    D_Km,
    F_M_zul,
    T_textbook,
    equivalent_stress,
    load_from_nut_factor,
    mu_from_nut_factor,
    nut_factor,
    nut_factor_from_test,
    thread_lever,
    torque_from_nut_factor,
    torque_lever,
    torsion_ratio,
    utilisation,
)
from evenpull.joint.traced import Band, Traced

__all__ = [
    "F_M",
    "M_A",
    "NO_LOAD",
    "Band",
    "CaseError",
    "D_A_Gr",
    "D_A_just_wide_enough",
    "D_Km",
    "F_M_zul",
    "FastenerCase",
    "Strength",
    "T_textbook",
    "Target",
    "TargetProblem",
    "ThreadSize",
    "TorqueCase",
    "Traced",
    "aviation_torque",
    "bolt_resilience",
    "bolt_stiffness",
    "cap_screw_grip",
    "cap_screw_length",
    "castellated_window",
    "clamped_resilience",
    "compute_target",
    "delta_P",
    "delta_P_cone",
    "delta_P_cone_sleeve",
    "delta_P_sleeve",
    "eccentric_model",
    "equivalent_stress",
    "frustum_stiffness",
    "inch_thread",
    "joint_constant",
    "least_drag",
    "load_factor",
    "load_from_nut_factor",
    "member_frusta",
    "member_stiffness",
    "member_stiffness_fit",
    "member_stiffness_layers",
    "metric_thread",
    "middle_of_range",
    "mu_from_nut_factor",
    "necked_diameter",
    "nominal_stress_area",
    "nut_factor",
    "nut_factor_from_test",
    "nut_proof_load",
    "nut_row",
    "proof_load",
    "shank_in_grip",
    "strength",
    "strength_at",
    "stress_area",
    "stress_diameter",
    "tan_phi",
    "textbook_stiffness",
    "thread",
    "thread_length",
    "thread_lever",
    "torque_from_nut_factor",
    "torque_lever",
    "torque_target",
    "torque_with_drag",
    "torsion_ratio",
    "ultimate_load",
    "utilisation",
    "yield_load",
]
