"""Preloaded bolts of steel structures: pretension, torque, turn and slip as formulas. SI; numbers or arrays."""

from __future__ import annotations

from evenpull.joint.numeric import Num, holds
from evenpull.joint.target import ThreadSize


def structural_pretension(F_u: Num, A: Num, share: Num = 0.7) -> Num:
    """share F_u A in N: T_b of AISC 360 J3.1 before its rounding, F_p,C of EN 1993-1-8 3.6.1 (with f_ub), F_p,C* of the
    German national annex (with f_yb). Pa and m2.
    """
    return share * F_u * A


def turn_size(thread: ThreadSize) -> str:
    """The size as the US tables name it: "3/4" for 3/4-10 UNC, "M24" for M24. ValueError for a thread they do not mean.

    The tables hold for the coarse threads UNC and ISO coarse.
    """
    name = thread.designation
    if thread.system == "metric":
        if "x" in name:
            raise ValueError(f"structural bolts have the coarse thread; {name} is a fine one")
        return name
    size, _, series = name.rpartition(" ")
    if series != "UNC":
        raise ValueError(f"structural bolts have UNC threads; {name} is none")
    return size.rpartition("-")[0]


def reference_torque(k: Num, d: Num, F_pC: Num) -> Num:
    """M_r = k d F_p,C in N.m: torque reference value (EN 1090-2 8.5.2)."""
    return k * d * F_pC


def torque_steps(M_r: Num) -> tuple[Num, Num]:
    """(0.75 M_r, 1.10 M_r): first and second step of the torque method (EN 1090-2 8.5.3)."""
    return 0.75 * M_r, 1.10 * M_r


def load_share_kept(V_k: Num) -> Num:
    """1.10 (1 - 1.65 V_k): share of F_p,C that 95 % of the bolts of a lot exceed at the mean second-step torque.

    The factor 1.10 of EN 1090-2 8.5.3 is about 1/(1 - 1.65 V_k) with V_k = 0.06 (from memory). ValueError unless
    0 <= V_k < 0.6.
    """
    if not holds((V_k >= 0) & (V_k < 0.6)):
        raise ValueError(f"a coefficient of variation of k lies from 0 to below 0.6, not {V_k}")
    return 1.10 * (1 - 1.65 * V_k)


def slip_resistance_eu(F_pC: Num, mu: Num, n: Num, k_s: Num, gamma_M3: Num, F_t: Num = 0.0) -> Num:
    """F_s,Rd = k_s n mu (F_p,C - 0.8 F_t)/gamma_M3 in N for one bolt (EN 1993-1-8 3.9.1 and 3.9.2, eq. 3.6, 3.8).

    n slip planes, F_t the tension on the bolt (N, design value). ValueError when the tension takes all the clamp load.
    """
    left = F_pC - 0.8 * F_t
    if not holds(left > 0):
        raise ValueError(f"the tension {F_t} N leaves no clamp load of {F_pC} N")
    return k_s * n * mu * left / gamma_M3


def slip_resistance_us(T_b: Num, mu: Num, n: Num, phi: Num, T_u: Num = 0.0, D_u: Num = 1.13, h_f: Num = 1.0) -> Num:
    """phi R_n = phi mu D_u h_f T_b n k_sc, k_sc = 1 - T_u/(D_u T_b), in N for one bolt (AISC 360 J3-4, J3-5a).

    n slip planes, T_u the tension on the bolt (N, factored), h_f filler factor. ValueError when k_sc is not above 0.
    """
    k_sc = 1 - T_u / (D_u * T_b)
    if not holds(k_sc > 0):
        raise ValueError(f"the tension {T_u} N leaves no clamp load of {T_b} N")
    return phi * mu * D_u * h_f * T_b * n * k_sc
