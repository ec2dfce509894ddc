"""What a preload loses between the tool and service: formulas, single numbers or arrays that broadcast.

Forces in N, lengths in m, resiliences in m/N, stresses in Pa, times in any one unit. The case as a whole, step by
step, is `joint.residual`. A loss is positive.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, exp, holds, ln, require_positive


def _shares(**shares: Num) -> None:
    for name, share in shares.items():
        if not holds((share >= 0) & (share < 1)):
            raise ValueError(f"{name} is a share of the load, 0 or more and less than 1, not {share}")


def _not_negative(**values: Num) -> None:
    for name, value in values.items():
        if not holds((value >= 0) & (value < math.inf)):
            raise ValueError(f"{name} has to be finite and 0 or more, not {value}")


def embedding_depth(thread: Num, face: Num, inner: Num, threads: Num, faces: Num, interfaces: Num) -> Num:
    """f_Z = n_G f_G + n_K f_K + n_I f_I in m: engaged threads, bearing faces of head and nut, inner interfaces, each
    counted with its guide value (VDI 2230-1 Table 5, from memory).
    """
    _not_negative(thread=thread, face=face, inner=inner, threads=threads, faces=faces, interfaces=interfaces)
    return threads * thread + faces * face + interfaces * inner


def F_Z(f_Z: Num, delta_S: Num, delta_P: Num) -> Num:
    """Preload lost by embedding, F_Z = f_Z/(delta_S + delta_P) in N (VDI 2230-1 R4, from memory)."""
    _not_negative(f_Z=f_Z)
    require_positive(delta_S=delta_S, delta_P=delta_P)
    return f_Z / (delta_S + delta_P)


def thermal_gap(l_K: Num, alpha_S: Num, dT_S: Num, alpha_P: Num, dT_P: Num) -> Num:
    """By how much the bolt grows more than the parts, l_K (alpha_S dT_S - alpha_P dT_P) in m (VDI 2230-1 R4).

    Positive when the joint loses load. With several parts use the sum of their own l alpha dT instead.
    """
    return l_K * (alpha_S * dT_S - alpha_P * dT_P)


def dF_Vth_constant(gap: Num, delta_S: Num, delta_P: Num) -> Num:
    """Preload lost by temperature at unchanged moduli, dF_Vth = gap/(delta_S + delta_P) in N (VDI 2230-1 R4, from
    memory). Negative: the preload grows.
    """
    require_positive(delta_S=delta_S, delta_P=delta_P)
    return gap / (delta_S + delta_P)


def delta_at_temperature(delta_S: Num, delta_P: Num, E_S_ratio: Num, E_P_ratio: Num) -> Num:
    """delta_T = delta_S/r_S + delta_P/r_P in m/N, r = E at temperature over E at room temperature (VDI 2230-1 R4)."""
    require_positive(delta_S=delta_S, delta_P=delta_P, E_S_ratio=E_S_ratio, E_P_ratio=E_P_ratio)
    return delta_S / E_S_ratio + delta_P / E_P_ratio


def dF_Vth(F_V: Num, gap: Num, delta_S: Num, delta_P: Num, E_S_ratio: Num = 1.0, E_P_ratio: Num = 1.0) -> Num:
    """Preload lost by temperature, moduli changing as well, in N; negative: a gain (VDI 2230-1 R4, from memory).

    dF_Vth = F_V [1 - (delta_S + delta_P)/delta_T] + gap/delta_T, delta_T = delta_S/r_S + delta_P/r_P; F_V the preload
    at room temperature. With r_S = r_P = 1 it is the constant form.
    """
    delta_T = delta_at_temperature(delta_S, delta_P, E_S_ratio, E_P_ratio)
    return F_V * (1 - (delta_S + delta_P) / delta_T) + gap / delta_T


def lost_share_log(c: Num, t: Num, t_0: Num = 1.0) -> Num:
    """Share lost after the time t, c log10(1 + t/t_0): each decade of time costs the share c (common form for short
    relaxation; c and t_0 from a test). ValueError when the law is stretched until nothing is left.
    """
    _not_negative(c=c, t=t)
    require_positive(t_0=t_0)
    share = c * ln(1 + t / t_0) / math.log(10)
    _shares(**{"the share that the logarithmic law takes": share})
    return share


def lost_share_power(c: Num, m: Num, t: Num, t_0: Num = 1.0) -> Num:
    """Share lost after the time t, c (t/t_0)^m, with 0 < m < 1 (primary creep; c, m, t_0 from a test)."""
    _not_negative(c=c, t=t)
    require_positive(t_0=t_0)
    if not holds((m > 0) & (m < 1)):
        raise ValueError(f"the exponent m of the power law lies between 0 and 1, not {m}")
    share = c * (t / t_0) ** m
    _shares(**{"the share that the power law takes": share})
    return share


def stress_after_creep(sigma_0: Num, B: Num, n: Num, E: Num, t: Num, q: Num = 1.0) -> Num:
    """Stress left in Pa when creep at the rate B sigma^n turns elastic strain into lasting one at fixed total length.

    sigma = [sigma_0^(1-n) + (n - 1) B E t/q]^(1/(1-n)) for n > 1, sigma_0 exp(-B E t/q) for n = 1. q >= 1 is the
    elastic follow-up: resilience of the whole joint over that of the part that creeps (Norton's law integrated for
    relaxation; textbook). B in 1/(Pa^n time).
    """
    require_positive(sigma_0=sigma_0, E=E)
    _not_negative(B=B, t=t)
    if not holds((n >= 1) & (q >= 1)):
        raise ValueError(f"n and q are 1 or more: n = {n}, q = {q}")
    rate = B * E * t / q
    if holds(n == 1):
        return sigma_0 * exp(-rate)
    if not holds(n > 1):
        raise ValueError("n = 1 and n > 1 cannot stand in one array")
    # written with the ratio to sigma_0, so that large exponents neither overflow nor vanish
    return sigma_0 * (1 + (n - 1) * rate * sigma_0 ** (n - 1)) ** (1 / (1 - n))


def after_share(F: Num, share: Num) -> Num:
    """F (1 - share) in N: what a loss that is a share of the load leaves (relaxation, elastic interaction)."""
    _shares(**{"the loss": share})
    return F * (1 - share)


def transfer_factor(loss: Num) -> Num:
    """Applied over residual load of a bolt tensioner, 1/(1 - loss), from the share lost when the nut takes over."""
    _shares(**{"the loss of transfer": loss})
    return 1 / (1 - loss)


def transfer_factor_guide(d: Num, l_K: Num) -> Num:
    """Guide value of applied over residual load, 1.01 + d/l_K (common practice, no source): short bolts lose more.

    For planning only; a test on the joint replaces it.
    """
    require_positive(d=d, l_K=l_K)
    return 1.01 + d / l_K


def tensioner_residual(applied: Num, factor: Num) -> Num:
    """Load in N that stays in the bolt after the tensioner lets go: applied/factor. `factor` is 1 or more."""
    if not holds(factor >= 1):
        raise ValueError(f"applied over residual load is 1 or more, not {factor}")
    return applied / factor


def tensioner_load(residual: Num, factor: Num) -> Num:
    """Load in N to pull with so that `residual` stays: residual x factor. The bolt carries it before the nut is run
    down: check it against the yield load without torsion.
    """
    if not holds(factor >= 1):
        raise ValueError(f"applied over residual load is 1 or more, not {factor}")
    return residual * factor


def clamping_torque(wrench: Num, prevailing: Num) -> Num:
    """What of the torque at the nut makes load: wrench torque less prevailing torque, in N.m (ISO 2320, from memory).

    ValueError when the drag alone takes all of it.
    """
    _not_negative(**{"prevailing torque": prevailing})
    if not holds(wrench > prevailing):
        raise ValueError(f"the prevailing torque of {prevailing} N.m takes all of the {wrench} N.m: no load is made")
    return wrench - prevailing


def after_losses(
    F_M: Num, *, transfer: Num = 1.0, interaction: Num = 0.0, F_Z: Num = 0.0, relaxation: Num = 0.0,
    gasket: Num = 0.0, gap: Num = 0.0, delta_S: Num = 1.0, delta_P: Num = 1.0, E_S_ratio: Num = 1.0,
    E_P_ratio: Num = 1.0,
) -> Num:
    """Load in N that is left of the load F_M put in, all losses in the order of `joint.residual`; may be negative where
    nothing is left (the bolt is loose). Vectorised form for many joints or trials.
    """
    F = after_share(tensioner_residual(F_M, transfer), interaction) - F_Z
    F = after_share(after_share(F, relaxation), gasket)
    return F - dF_Vth(F, gap, delta_S, delta_P, E_S_ratio, E_P_ratio)
