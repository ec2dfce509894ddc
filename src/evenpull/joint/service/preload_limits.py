"""Limits of preload and margins of a joint in tension after NASA-STD-5020 (equations from memory, not re-read). SI."""

from __future__ import annotations

from evenpull.joint.numeric import Num, holds, require_positive, smaller, sqrt, where


def _require_scatter(Gamma: Num, c: Num) -> None:
    if not holds((Gamma >= 0) & (Gamma < 1)):
        raise ValueError(f"the preload uncertainty Gamma lies between 0 and 1: {Gamma}")
    require_positive("", c=c)


def P_pi_nom(T: Num, K: Num, D: Num) -> Num:
    """P_pi_nom = T/(K D) in N: nominal initial preload of the nominal torque T without running torque
    (NASA-STD-5020, from memory). ValueError unless all are positive.
    """
    require_positive("", T=T, K=K, D=D)
    return T / (K * D)


def P_pi_max(P_pi_nom: Num, c_max: Num, Gamma: Num) -> Num:
    """P_pi_max = c_max (1 + Gamma) P_pi_nom in N: greatest initial preload (NASA-STD-5020, from memory).

    c_max: greatest over nominal value of the controlled parameter (torque); Gamma: preload uncertainty, 0 to 1.
    """
    _require_scatter(Gamma, c_max)
    return c_max * (1 + Gamma) * P_pi_nom


def P_pi_min(P_pi_nom: Num, c_min: Num, Gamma: Num) -> Num:
    """P_pi_min = c_min (1 - Gamma) P_pi_nom in N: least initial preload of a separation-critical joint
    (NASA-STD-5020, from memory).
    """
    _require_scatter(Gamma, c_min)
    return c_min * (1 - Gamma) * P_pi_nom


def P_pi_min_shared(P_pi_nom: Num, c_min: Num, Gamma: Num, n_f: Num) -> Num:
    """P_pi_min = c_min (1 - Gamma/sqrt(n_f)) P_pi_nom in N: least mean preload of n_f fasteners of a joint that is not
    separation-critical (NASA-STD-5020, from memory). ValueError for n_f below 1.
    """
    _require_scatter(Gamma, c_min)
    if not holds(n_f >= 1):
        raise ValueError(f"a joint has one fastener or more: n_f = {n_f}")
    return c_min * (1 - Gamma / sqrt(n_f)) * P_pi_nom


def P_p_max(P_pi_max: Num, dP_t_max: Num) -> Num:
    """P_p_max = P_pi_max + dP_t_max in N: with the greatest thermal increase (NASA-STD-5020, from memory)."""
    if not holds(dP_t_max >= 0):
        raise ValueError(f"the thermal increase is zero or more: {dP_t_max} N")
    return P_pi_max + dP_t_max


def P_p_min(P_pi_min: Num, P_pr: Num, P_pc: Num, dP_t_min: Num) -> Num:
    """P_p_min = P_pi_min - P_pr - P_pc - dP_t_min in N: after short-term relaxation, creep and the thermal loss, all
    positive numbers (NASA-STD-5020, from memory). May come out below zero: then nothing is left.
    """
    if not holds((P_pr >= 0) & (P_pc >= 0) & (dP_t_min >= 0)):
        raise ValueError(f"losses are positive numbers: relaxation {P_pr}, creep {P_pc}, thermal {dP_t_min} N")
    return P_pi_min - P_pr - P_pc - dP_t_min


def short_term_relaxation(P_pi_min: Num, share: Num = 0.05) -> Num:
    """P_pr = share P_pi_min in N; 5 % where it was not tested (NASA-STD-5020, from memory)."""
    if not holds((share >= 0) & (share < 1)):
        raise ValueError(f"the share lost by relaxation lies between 0 and 1: {share}")
    return share * P_pi_min


def rupture_load(P_tu: Num, P_p_max: Num, n_phi: Num) -> Num:
    """P'_tu = (P_tu - P_p_max)/(n phi) in N: external tension that breaks the bolt while the parts still touch
    (NASA-STD-5020, from memory). n_phi: load introduction factor times bolt's share of the stiffness.
    """
    if not holds((n_phi > 0) & (n_phi < 1)):
        raise ValueError(f"n phi lies between 0 and 1: {n_phi}")
    return (P_tu - P_p_max) / n_phi


def separation_load(P_p: Num, n_phi: Num) -> Num:
    """P'_sep = P_p/(1 - n phi) in N: external tension that separates the parts (NASA-STD-5020, from memory)."""
    if not holds((n_phi >= 0) & (n_phi < 1)):
        raise ValueError(f"n phi lies between 0 and 1: {n_phi}")
    return P_p / (1 - n_phi)


def least_allowed_tension(P_tu: Num, P_p_max: Num, n_phi: Num) -> Num:
    """External tension in N that the bolt bears at the ultimate: P_tu where the parts separate first, else P'_tu
    (NASA-STD-5020, from memory).
    """
    together = rupture_load(P_tu, P_p_max, n_phi)
    return where(separation_load(P_p_max, n_phi) < together, P_tu, smaller(together, P_tu))


def margin(allowed: Num, FF: Num, FS: Num, P_tL: Num) -> Num:
    """MS = allowed/(FF FS P_tL) - 1: margin of safety against limit load with fitting factor and factor of safety
    (NASA-STD-5020, from memory). ValueError unless the load and the factors are positive.
    """
    require_positive("", FF=FF, FS=FS, P_tL=P_tL)
    return allowed / (FF * FS * P_tL) - 1
