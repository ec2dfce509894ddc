"""What the clamp load has to do, and the assembly preload that follows: VDI 2230-1 R2, R5, R6 and the load share of R3.

Lengths in m, forces in N, torques in N.m, pressures in Pa; single numbers or arrays that broadcast. The equations are
those of VDI 2230-1 (editions 2003 and 2015 agree in them), from memory, not re-read, unless a docstring says else.
"""

from __future__ import annotations

from evenpull.joint.numeric import Num, holds, larger


def F_KQ(F_Q: Num, M_Y: Num, q_F: Num, q_M: Num, r_a: Num, mu_T: Num) -> Num:
    """Clamp load in N that carries a transverse load and a torque by friction (VDI 2230-1 R2/1).

    F_KQ = F_Q / (q_F mu_T) + M_Y / (q_M r_a mu_T). `r_a` is the friction radius (any positive value where M_Y is 0).
    ValueError unless mu_T, q_F, q_M and r_a are greater than 0.
    """
    if not holds((mu_T > 0) & (q_F > 0) & (q_M > 0) & (r_a > 0)):
        raise ValueError(f"mu_T, q_F, q_M and r_a have to be greater than 0: {mu_T}, {q_F}, {q_M}, {r_a}")
    return F_Q / (q_F * mu_T) + M_Y / (q_M * r_a * mu_T)


def F_KP(A_D: Num, p: Num) -> Num:
    """Clamp load in N that keeps an area A_D (m2, per bolt) shut against a pressure p (Pa) (VDI 2230-1 R2/2)."""
    return A_D * p


def F_K_erf(F_KQ: Num, F_KP: Num, F_KA: Num = 0.0) -> Num:
    """Required clamp load F_Kerf >= max(F_KQ, F_KP + F_KA) in N (VDI 2230-1 R2/4).

    `F_KA` is what one-sided opening needs (0 for a concentric joint).
    """
    return larger(F_KQ, F_KP + F_KA)


def F_SA(Phi: Num, F_A: Num) -> Num:
    """Additional bolt load F_SA = Phi F_A in N (VDI 2230-1 R3)."""
    return Phi * F_A


def F_PA(Phi: Num, F_A: Num) -> Num:
    """Load by which the clamped parts are relieved, F_PA = (1 - Phi) F_A in N (VDI 2230-1 R3)."""
    return (1 - Phi) * F_A


def F_M_min(F_Kerf: Num, Phi: Num, F_A_max: Num, F_Z: Num, dF_Vth: Num = 0.0) -> Num:
    """Least assembly preload F_Mmin = F_Kerf + (1 - Phi) F_Amax + F_Z + max(0, dF_Vth) in N (VDI 2230-1 R5/1).

    `dF_Vth` is the change of preload by temperature, a loss positive; a gain is not counted on.
    """
    return F_Kerf + F_PA(Phi, F_A_max) + F_Z + larger(dF_Vth, 0.0)


def F_M_max(alpha_A: Num, F_M_min: Num) -> Num:
    """Greatest assembly preload F_Mmax = alpha_A F_Mmin in N (VDI 2230-1 R6/1). ValueError unless alpha_A >= 1."""
    if not holds(alpha_A >= 1):
        raise ValueError(f"the tightening factor alpha_A is F_Mmax/F_Mmin and not less than 1: {alpha_A}")
    return alpha_A * F_M_min


def F_K_R(F_M: Num, alpha_A: Num, Phi: Num, F_A_max: Num, F_Z: Num, dF_Vth: Num = 0.0) -> Num:
    """Least residual clamp load F_KRmin = F_M/alpha_A - (1 - Phi) F_Amax - F_Z - max(0, dF_Vth) in N (VDI 2230-1
    R12/1). `F_M` is the greatest assembly preload that is reached.
    """
    return F_M / alpha_A - F_PA(Phi, F_A_max) - F_Z - larger(dF_Vth, 0.0)


def S_G(F_KR_min: Num, F_KQ_erf: Num) -> Num:
    """Safety against slipping S_G = F_KRmin / F_KQerf (VDI 2230-1 R12/4). ValueError unless F_KQerf > 0."""
    if not holds(F_KQ_erf > 0):
        raise ValueError("without a transverse load there is no safety against slipping")
    return F_KR_min / F_KQ_erf
