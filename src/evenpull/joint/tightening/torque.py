"""Preload and torque of one fastener: VDI 2230-1 (R7, R13), the nut factor, and the textbook friction form.

All lengths in m, forces in N, torques in N.m, stresses in Pa; single numbers or arrays that broadcast.
The linear form of VDI 2230-1 with its rounded
coefficients 0.16 = 1/(2 pi), 0.58 = 1/(2 cos 30 deg) and 1.155 = 1/cos 30 deg is used; the exact helix formula differs
from it by a few tenths of a per cent. The rule sets are kept apart: no function mixes them.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, cos, holds, sqrt
from evenpull.joint.parts.threads import stress_diameter
from evenpull.joint.target import Strength, ThreadSize


def D_Km(d_w: Num, d_h: Num) -> Num:
    """Mean friction diameter under head or nut, D_Km = (d_w + d_h)/2 (VDI 2230-1 R13).

    ValueError unless 0 < d_h < d_w.
    """
    if not holds((d_h > 0) & (d_h < d_w)):
        raise ValueError(f"the bearing face must be larger than the hole: d_w = {d_w} m, d_h = {d_h} m")
    return (d_w + d_h) / 2


def thread_lever(thread: ThreadSize, mu_G: Num) -> Num:
    """Thread torque per load, 0.16 P + 0.58 d2 mu_G, in m (VDI 2230-1 R13, first two terms)."""
    return 0.16 * thread.P + 0.58 * thread.d2 * mu_G


def torque_lever(thread: ThreadSize, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """Tightening torque per load, 0.16 P + 0.58 d2 mu_G + (D_Km/2) mu_K, in m (VDI 2230-1 R13)."""
    return thread_lever(thread, mu_G) + D_Km / 2 * mu_K


def M_A(F_M: Num, thread: ThreadSize, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """Tightening torque M_A = F_M [0.16 P + 0.58 d2 mu_G + (D_Km/2) mu_K] in N.m (VDI 2230-1 R13)."""
    return F_M * torque_lever(thread, mu_G, mu_K, D_Km)


def F_M(M_A: Num, thread: ThreadSize, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """Preload in N that a torque gives: R13 of VDI 2230-1 solved for the load."""
    return M_A / torque_lever(thread, mu_G, mu_K, D_Km)


def plastic_torsion_modulus(d_0: Num, d_i: Num = 0.0) -> Num:
    """W_P,pl = pi/12 (d_0^3 - d_i^3) in m3: the whole section at the yield shear stress (VDI 2230-1 R7)."""
    return math.pi / 12 * (d_0**3 - d_i**3)


def torsion_ratio(thread: ThreadSize, mu_G: Num, d_0: Num | None = None, d_i: Num = 0.0) -> Num:
    """tau/sigma = (d2/2)[P/(pi d2) + 1.155 mu_G] A_0/W_P,pl of a section while tightening (VDI 2230-1 R7).

    d_0 (m) is the stress diameter where not given, d_i (m) the bore. W_P,pl = pi (d_0^3 - d_i^3)/12 is the fully
    plastic torsion modulus; for a solid section this is (3/2)(d2/d0)[...], where the elastic modulus would give 2.
    """
    d = stress_diameter(thread) if d_0 is None else d_0
    area = math.pi / 4 * (d**2 - d_i**2)
    return thread.d2 / 2 * (thread.P / (math.pi * thread.d2) + 1.155 * mu_G) * area / plastic_torsion_modulus(d, d_i)


def equivalent_stress(F_M: Num, thread: ThreadSize, mu_G: Num) -> Num:
    """sigma_red = (F_M/A_s) sqrt(1 + 3 (tau/sigma)^2) in Pa: tension with torsion while tightening (VDI 2230-1 R7)."""
    return F_M / thread.A_s * sqrt(1 + 3 * torsion_ratio(thread, mu_G) ** 2)


def utilisation(F_M: Num, thread: ThreadSize, strength: Strength, mu_G: Num) -> Num:
    """nu = sigma_red / R_p02, share of the yield strength used while tightening (VDI 2230-1 R7)."""
    return equivalent_stress(F_M, thread, mu_G) / strength.R_p02


def F_M_zul(thread: ThreadSize, strength: Strength, mu_G: Num, nu: Num = 0.9) -> Num:
    """Permissible preload of a shank bolt, F_Mzul = A_s nu R_p02 / sqrt(1 + 3 (tau/sigma)^2), in N (VDI 2230-1 R7)."""
    return thread.A_s * nu * strength.R_p02 / sqrt(1 + 3 * torsion_ratio(thread, mu_G) ** 2)


def nut_factor(thread: ThreadSize, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """K = [0.16 P + 0.58 d2 mu_G + (D_Km/2) mu_K] / d: the nut factor that the friction implies (VDI 2230-1 R13)."""
    return torque_lever(thread, mu_G, mu_K, D_Km) / thread.d


def nut_factor_from_test(torque: Num, load: Num, d: Num) -> Num:
    """K = T/(F d) from a torque (N.m) and the load (N) it gave (ISO 16047 torque coefficient)."""
    return torque / (load * d)


def torque_from_nut_factor(load: Num, K: Num, d: Num) -> Num:
    """T = K d F in N.m (short form)."""
    return K * d * load


def load_from_nut_factor(torque: Num, K: Num, d: Num) -> Num:
    """F = T/(K d) in N (short form)."""
    return torque / (K * d)


def mu_from_nut_factor(thread: ThreadSize, K: Num, D_Km: Num) -> Num:
    """The one coefficient mu = mu_G = mu_K that gives the nut factor K (VDI 2230-1 R13 solved for mu).

    ValueError when K is below the thread pitch part alone, which no friction can give.
    """
    mu = (K * thread.d - 0.16 * thread.P) / (0.58 * thread.d2 + D_Km / 2)
    if not holds(mu >= 0):
        raise ValueError(f"no friction gives the nut factor {K} on {thread.designation}")
    return mu


def T_textbook(
    F: Num, d_m: Num, P: Num, f: Num, f_c: Num, d_c: Num, alpha: Num = math.pi / 6
) -> Num:
    """T = F {d_m/2 (tan lam + f sec a)/(1 - f tan lam sec a) + f_c d_c/2} in N.m (Shigley eq. 8-5 and 8-26).

    d_m mean thread diameter, d_c mean collar diameter (1.25 d in eq. 8-26), lam the lead angle, alpha half the thread
    angle in rad (30 deg; 14.5 deg for Acme; 0 for square). ValueError when the thread locks itself (denominator <= 0).
    """
    tan_lam, sec_a = P / (math.pi * d_m), 1 / cos(alpha)
    below = 1 - f * tan_lam * sec_a
    if not holds(below > 0):
        raise ValueError(f"friction {f} is too large for this thread: the screw cannot be raised")
    return F * (d_m / 2 * (tan_lam + f * sec_a) / below + f_c * d_c / 2)
