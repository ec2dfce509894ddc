"""Stripping of engaged threads: sheared areas, dilation of the nut, bending of the threads, loads, lengths.

Form of Alexander (1977) as VDI 2230-1 R11 takes it over; inch threads in the form of FED-STD-H28, which
for one length is the same area. All from memory, not re-read. SI; single numbers or arrays that broadcast.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, holds, larger, require_positive, smaller

TAN_30 = math.tan(math.pi / 6)
CHAMFERED = 0.8  # pitches of an engaged length that do not carry: chamfer and run-in (VDI 2230-1 R11)
R_S_2 = (1.0, 2.2)  # range of the polynomial of C_2
R_S_3 = (0.4, 1.0)  # range of the polynomial of C_3

# tau_B/R_m by group of materials: VDI 2230-1 section 5.5.5, table of ratios, from memory, not re-read
SHEAR_SHARE = {
    "steel": 0.60, "austenitic steel, solution annealed": 0.80, "austenitic steel, cold worked": 0.65,
    "grey cast iron": 1.40, "nodular cast iron": 0.90, "aluminium alloy": 0.70, "titanium alloy": 0.60,
}


def shear_strength(R_m: Num, group: str) -> Num:
    """tau_B = r_tau R_m in Pa with the ratio of the group of materials. ValueError for groups without a ratio."""
    if group not in SHEAR_SHARE:
        raise ValueError(f"no ratio of shear strength is known for {group!r}; known: {', '.join(SHEAR_SHARE)}")
    require_positive(R_m=R_m)
    return SHEAR_SHARE[group] * R_m


def bolt_thread_area(m_eff: Num, P: Num, D_1: Num, d_2: Num) -> Num:
    """A_SGB = pi m_eff/P D_1 (P/2 + (d_2 - D_1) tan 30) in m2: the external thread, sheared on the minor diameter of
    the internal one (largest D_1, smallest d_2). VDI 2230-1 R11; FED-STD-H28: A_s with K_n,max and E_s,min.
    """
    return _area(m_eff, P, D_1, d_2 - D_1)


def nut_thread_area(m_eff: Num, P: Num, d: Num, D_2: Num) -> Num:
    """A_SGM = pi m_eff/P d (P/2 + (d - D_2) tan 30) in m2: the internal thread, sheared on the major diameter of the
    external one (smallest d, largest D_2). VDI 2230-1 R11; FED-STD-H28: A_n with D_s,min and E_n,max.
    """
    return _area(m_eff, P, d, d - D_2)


def _area(length: Num, P: Num, diameter: Num, overlap: Num) -> Num:
    require_positive(m_eff=length, P=P, diameter=diameter)
    width = P / 2 + overlap * TAN_30
    if not holds(width > 0):
        raise ValueError("the threads do not overlap: these diameters do not belong to one thread")
    return math.pi * length / P * diameter * width


def C_1(s: Num, d: Num) -> Num:
    """Dilation of the nut C_1 = 3.8 (s/d) - (s/d)^2 - 2.61, 1 from s/d = 1.9 up; s is the width across flats, or the
    outside diameter. Alexander; VDI 2230-1 R11. ValueError below s/d = 1.4, where the formula ends.
    """
    require_positive(s=s, d=d)
    ratio = s / d
    if not holds(ratio >= 1.4):
        raise ValueError(f"the wall of the nut is too thin: s/d = {ratio} is less than 1.4, where the formula ends")
    held = smaller(ratio, 1.9)
    return 3.8 * held - held**2 - 2.61


def strength_ratio(tau_M: Num, A_SGM: Num, tau_B: Num, A_SGB: Num) -> Num:
    """R_S = tau_M A_SGM / (tau_B A_SGB): internal over external thread at the same length. VDI 2230-1 R11."""
    require_positive(tau_M=tau_M, A_SGM=A_SGM, tau_B=tau_B, A_SGB=A_SGB)
    return tau_M * A_SGM / (tau_B * A_SGB)


def C_2(R_S: Num) -> Num:
    """Bending of the external thread: polynomial for 1 < R_S < 2.2, held at its ends (0.897 and 1.187) outside.

    C_2 = 5.594 - 13.682 R_S + 14.107 R_S^2 - 6.057 R_S^3 + 0.9353 R_S^4. Alexander; VDI 2230-1 R11.
    """
    require_positive(R_S=R_S)
    R = smaller(larger(R_S, R_S_2[0]), R_S_2[1])
    return 5.594 - 13.682 * R + 14.107 * R**2 - 6.057 * R**3 + 0.9353 * R**4


def C_3(R_S: Num) -> Num:
    """Bending of the internal thread: polynomial for 0.4 < R_S < 1, held at its ends outside (0.897 from 1 up; that it
    is held below 0.4 is common practice, no source).

    C_3 = 0.728 + 1.769 R_S - 2.896 R_S^2 + 1.296 R_S^3. Alexander; VDI 2230-1 R11.
    """
    require_positive(R_S=R_S)
    R = smaller(larger(R_S, R_S_3[0]), R_S_3[1])
    return 0.728 + 1.769 * R - 2.896 * R**2 + 1.296 * R**3


def stripping_load(A_SG: Num, tau: Num, C_dilation: Num = 1.0, C_bending: Num = 1.0) -> Num:
    """F_mG = A_SG tau C_1 C_2 (external thread) or C_1 C_3 (internal) in N. VDI 2230-1 R11."""
    require_positive(**{"A_SG": A_SG, "tau": tau, "C_1": C_dilation, "C_2 or C_3": C_bending})
    return A_SG * tau * C_dilation * C_bending


def carrying_length(m: Num, P: Num) -> Num:
    """m_eff = m - 0.8 P in m. ValueError when nothing is left. VDI 2230-1 R11."""
    require_positive(m=m)
    left = m - CHAMFERED * P
    if not holds(left > 0):
        raise ValueError(f"of an engaged length of {m} m nothing carries behind chamfer and run-in of 0.8 P")
    return left


def required_length(F: Num, area_per_length: Num, tau: Num, C_dilation: Num, C_bending: Num, P: Num) -> Num:
    """m = F / (A_SG/m_eff tau C_1 C_2or3) + 0.8 P in m: engaged length at which the thread strips at F in N.

    VDI 2230-1 R11, solved for the length; `area_per_length` in m.
    """
    require_positive(F=F)
    return F / stripping_load(area_per_length, tau, C_dilation, C_bending) + CHAMFERED * P


def required_length_H28(A_t: Num, P: Num, K_n_max: Num, E_s_min: Num) -> Num:
    """L_e = 2 A_t / (pi K_n_max (1/2 + 0.57735 n (E_s_min - K_n_max))) in m: bolt and nut of the same material.

    FED-STD-H28 and Machinery's Handbook, n = 1/P. The factor 2: shear strength taken as half the tensile strength.
    """
    return 2 * A_t / bolt_thread_area(1.0, P, K_n_max, E_s_min)


def internal_weakness_H28(A_s: Num, R_m_external: Num, A_n: Num, R_m_internal: Num) -> Num:
    """J = A_s R_m,external / (A_n R_m,internal): above 1 the length L_e has to be J L_e, else the internal thread
    strips first. FED-STD-H28 and Machinery's Handbook.
    """
    return 1 / strength_ratio(R_m_internal, A_n, R_m_external, A_s)


def high_strength_area_H28(E_s_min: Num, P: Num) -> Num:
    """A_t = pi (E_s_min/2 - 0.16238/n)^2 in m2 for bolts above 100 ksi tensile strength, n = 1/P.

    FED-STD-H28 and Machinery's Handbook.
    """
    root = E_s_min / 2 - 0.16238 * P
    require_positive(**{"E_s_min/2 - 0.16238 P": root})
    return math.pi * root**2
