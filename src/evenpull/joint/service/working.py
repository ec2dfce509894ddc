"""Stress of the bolt while it is tightened and while it works: VDI 2230-1 R7 (any section) and R8.

Lengths in m, areas in m2, forces in N, torques in N.m, stresses in Pa; single numbers or arrays that broadcast.
Tightening is judged with the fully plastic torsion modulus pi d_0^3/12, working with the elastic pi d_0^3/16: both are
meant. The equations are those of VDI 2230-1, from memory, not re-read.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, sqrt
from evenpull.joint.target import ThreadSize


def elastic_torsion_modulus(d_0: Num, d_i: Num = 0.0) -> Num:
    """W_P = pi/16 (d_0^4 - d_i^4)/d_0 in m3: the edge at its shear stress (VDI 2230-1 R8)."""
    return math.pi / 16 * (d_0**4 - d_i**4) / d_0


def thread_torque(F_M: Num, thread: ThreadSize, mu_G: Num) -> Num:
    """Thread torque M_G = F_M (d2/2) [P/(pi d2) + 1.155 mu_G] in N.m (VDI 2230-1 R8/3)."""
    return F_M * thread.d2 / 2 * (thread.P / (math.pi * thread.d2) + 1.155 * mu_G)


def permissible_preload(A_0: Num, R_p02: Num, nu: Num, torsion_ratio: Num) -> Num:
    """F_Mzul = A_0 nu R_p02 / sqrt(1 + 3 (tau_M/sigma_M)^2) in N for any section (VDI 2230-1 R7/1)."""
    return A_0 * nu * R_p02 / sqrt(1 + 3 * torsion_ratio**2)


def F_S_max(F_M: Num, F_SA: Num, dF_Vth: Num = 0.0) -> Num:
    """Greatest bolt load in service F_Smax = F_Mzul + F_SAmax - dF_Vth in N (VDI 2230-1 R8/1).

    `dF_Vth` is a loss by temperature (a gain negative). A loss may be counted on only when the working load never acts
    before the temperature does; pass 0 otherwise.
    """
    return F_M + F_SA - dF_Vth


def tension_stress(F_S: Num, A_0: Num) -> Num:
    """sigma_z = F_S / A_0 in Pa (VDI 2230-1 R8/2)."""
    return F_S / A_0


def torsion_stress(M_G: Num, d_0: Num, d_i: Num = 0.0) -> Num:
    """tau = M_G / W_P in Pa, elastic (VDI 2230-1 R8/3)."""
    return M_G / elastic_torsion_modulus(d_0, d_i)


def working_stress(sigma_z: Num, tau: Num, k_tau: Num = 0.5) -> Num:
    """sigma_red,B = sqrt(sigma_z^2 + 3 (k_tau tau)^2) in Pa (VDI 2230-1 R8/4).

    k_tau = 0.5: half of the torsion of tightening is still there in service.
    """
    return sqrt(sigma_z**2 + 3 * (k_tau * tau) ** 2)


def S_F(R_p02: Num, sigma_red_B: Num) -> Num:
    """Safety against exceeding the yield strength in service, S_F = R_p02 / sigma_red,B (VDI 2230-1 R8/5)."""
    return R_p02 / sigma_red_B
