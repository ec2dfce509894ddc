"""The chain of VDI 2230-1 for many joints at once, or for many trials of one: the formulas of the rule set on arrays.

Every field is a float or an array; arrays broadcast. It covers what a hundred thousand ordinary joints have in common:
one shank, one clamped material, concentric load, constant moduli. `rules.vdi2230` traces any one joint in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from evenpull.joint.numeric import Num, larger
from evenpull.joint.parts.threads import stress_diameter
from evenpull.joint.service import clamping, fatigue_vdi, losses, working
from evenpull.joint.springs import cones, resilience
from evenpull.joint.springs.stiffness import load_factor
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.torque import M_A, D_Km, torsion_ratio


def stack(threads: Sequence[ThreadSize]) -> ThreadSize:
    """Threads as one whose dimensions are arrays, in the same order. ValueError for an empty list."""
    if not threads:
        raise ValueError("at least one thread is needed")
    numbers = {
        field.name: np.array([getattr(thread, field.name) for thread in threads])
        for field in fields(ThreadSize) if field.name not in ("designation", "system")
    }
    return ThreadSize(f"{len(threads)} threads", threads[0].system, **numbers)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyJoints:
    """SI; `head`, `counterpart` substitute lengths over d (0.5 hexagon, 0.4 socket; 0.4 nut, 0.33 tapped hole); `w` 1
    through bolt, 2 tapped hole; `gap` the free growth of the bolt less that of the parts (thermal_gap).
    """

    thread: ThreadSize
    R_p02: Num
    l_K: Num
    d_w: Num
    d_h: Num
    D_A: Num
    E_S: Num
    E_P: Num
    mu_G: Num
    mu_K: Num
    alpha_A: Num
    f_Z: Num
    l_1: Num = 0.0
    head: Num = resilience.HEAD_HEXAGON
    counterpart: Num = resilience.NUT
    E_M: Num | None = None
    w: Num = cones.THROUGH
    F_Kerf: Num = 0.0
    F_A_max: Num = 0.0
    F_A_min: Num = 0.0
    n: Num = 1.0
    gap: Num = 0.0
    nu: Num = 0.9


@dataclass(frozen=True, slots=True)
class ManyResults:
    """As in the rule set; N, m/N, Pa, N.m. `sigma_a` is half the range of the additional stress."""

    delta_S: Num
    delta_P: Num
    Phi: Num
    F_Z: Num
    dF_Vth: Num
    F_M_min: Num
    F_M_max: Num
    F_M_zul: Num
    sigma_red_B: Num
    S_F: Num
    sigma_a: Num
    sigma_A: Num
    p_B: Num
    F_KR_min: Num
    M_A: Num


def chain_of_many(j: ManyJoints) -> ManyResults:
    """R3 to R13 of VDI 2230-1 for all of them (equations of the guideline from memory, see the single modules).

    ValueError when any one is impossible; the message names the quantity.
    """
    t, E_M = j.thread, j.E_S if j.E_M is None else j.E_M
    delta_S = resilience.delta_S_shank_bolt(
        t.d, resilience.root_area(t), j.l_1, j.l_K - j.l_1, j.E_S, E_M, j.head, j.counterpart
    )
    delta_P = cones.delta_P(j.l_K, j.d_w, j.d_h, j.D_A, j.E_P, j.w)
    Phi = load_factor(j.n, delta_P, delta_S)
    F_Z = losses.F_Z(j.f_Z, delta_S, delta_P)
    dF_Vth = losses.dF_Vth_constant(j.gap, delta_S, delta_P)
    F_M_min = clamping.F_M_min(j.F_Kerf, Phi, j.F_A_max, F_Z, dF_Vth)
    F_M_max = clamping.F_M_max(j.alpha_A, F_M_min)
    d_0 = stress_diameter(t)
    A_0 = resilience.ring_area(d_0)
    F_M_zul = working.permissible_preload(A_0, j.R_p02, j.nu, torsion_ratio(t, j.mu_G, d_0))
    F_SA_max = clamping.F_SA(Phi, j.F_A_max)
    F_S = working.F_S_max(F_M_zul, F_SA_max, -larger(-dF_Vth, 0.0))
    tau = working.torsion_stress(working.thread_torque(F_M_zul, t, j.mu_G), d_0)
    sigma = working.working_stress(working.tension_stress(F_S, A_0), tau)
    return ManyResults(
        delta_S, delta_P, Phi, F_Z, dF_Vth, F_M_min, F_M_max, F_M_zul, sigma, working.S_F(j.R_p02, sigma),
        fatigue_vdi.sigma_a(F_SA_max, clamping.F_SA(Phi, j.F_A_min), t.A_s), fatigue_vdi.sigma_A_SV(t.d),
        F_S / resilience.ring_area(j.d_w, j.d_h),
        clamping.F_K_R(F_M_zul, j.alpha_A, Phi, j.F_A_max, F_Z, dF_Vth),
        M_A(F_M_zul, t, j.mu_G, j.mu_K, D_Km(j.d_w, j.d_h)),
    )
