"""Alternating stress and fatigue strength of a bolt thread: VDI 2230-1 R9.

Lengths in m, forces in N, stresses in Pa; single numbers or arrays that broadcast. The equations are those of
VDI 2230-1 (2003, 2015), from memory, not re-read. They hold for high-strength bolts (class 8.8 to 12.9) with the
thread rolled, of about M6 to M40, uncoated, in a nut or a tapped hole of usual depth.
"""

from __future__ import annotations

from evenpull.joint.numeric import Num, holds, where

N_D = 2.0e6  # cycles at the bend to the endurance limit
N_MIN = 1.0e4  # fewer cycles are not judged by this method


def sigma_a(F_SA_o: Num, F_SA_u: Num, A_S: Num) -> Num:
    """Alternating stress sigma_a = (F_SAo - F_SAu) / (2 A_S) in Pa, concentric (VDI 2230-1 R9/1).

    F_SAo and F_SAu are the upper and the lower additional bolt load; ValueError when they are exchanged.
    """
    if not holds(F_SA_o >= F_SA_u):
        raise ValueError(f"the upper bolt load is below the lower one: {F_SA_o} N, {F_SA_u} N")
    return (F_SA_o - F_SA_u) / (2 * A_S)


def mean_load(F_SA_o: Num, F_SA_u: Num, F_M: Num) -> Num:
    """F_Sm = (F_SAo + F_SAu)/2 + F_Mzul in N (VDI 2230-1 R9)."""
    return (F_SA_o + F_SA_u) / 2 + F_M


def sigma_A_SV(d: Num) -> Num:
    """Endurance limit sigma_ASV = 0.85 (150/d + 45) in Pa, d (m) in mm: thread rolled before heat treatment
    (VDI 2230-1 R9/3). ValueError unless d > 0.
    """
    if not holds(d > 0):
        raise ValueError(f"no bolt has the diameter {d} m")
    return 0.85 * (0.150 / d + 45) * 1e6


def sigma_A_SG(sigma_ASV: Num, F_Sm: Num, F_02_min: Num) -> Num:
    """Endurance limit sigma_ASG = (2 - F_Sm/F_02min) sigma_ASV in Pa: thread rolled after heat treatment
    (VDI 2230-1 R9/4). ValueError unless 0.3 <= F_Sm/F_02min < 1, where it holds.
    """
    ratio = F_Sm / F_02_min
    if not holds((ratio >= 0.3) & (ratio < 1)):
        raise ValueError(f"rolled after heat treatment: mean load over yield load has to be 0.3 to 1, not {ratio}")
    return (2 - ratio) * sigma_ASV


def at_cycles(sigma_A: Num, N_Z: Num, exponent: Num) -> Num:
    """Fatigue strength for N_Z < 2e6 cycles: sigma_AZ = sigma_A (N_D/N_Z)^exponent in Pa; the endurance limit from
    2e6 cycles on. `exponent` is 1/3 for threads rolled before, 1/6 after heat treatment (VDI 2230-1 R9/5, R9/6).

    ValueError below 1e4 cycles, where it does not hold.
    """
    if not holds(N_Z >= N_MIN):
        raise ValueError(f"fewer than {N_MIN:.0f} cycles are not judged by this method: {N_Z}")
    return where(N_Z < N_D, sigma_A * (N_D / N_Z) ** exponent, sigma_A)


def S_D(sigma_A: Num, sigma_a: Num) -> Num:
    """Safety against fatigue S_D = sigma_A / sigma_a (VDI 2230-1 R9/7). ValueError unless sigma_a > 0."""
    if not holds(sigma_a > 0):
        raise ValueError("without an alternating load there is no safety against fatigue")
    return sigma_A / sigma_a
