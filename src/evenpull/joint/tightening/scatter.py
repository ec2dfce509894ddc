"""Tightening factor and symmetric scatter of the preload. Shares without unit, loads in N; numbers or arrays."""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, holds


def alpha_A_from_scatter(s: Num) -> Num:
    """alpha_A = F_Mmax/F_Mmin = (1 + s)/(1 - s) for a preload of mean +- the share s. ValueError unless 0 <= s < 1."""
    if not holds((s >= 0) & (s < 1)):
        raise ValueError(f"the scatter is a share of the mean, 0 or more and less than 1, not {s}")
    return (1 + s) / (1 - s)


def scatter_from_alpha_A(alpha_A: Num) -> Num:
    """s = (alpha_A - 1)/(alpha_A + 1), the symmetric scatter that it stands for. ValueError unless alpha_A >= 1."""
    _factor(alpha_A)
    return (alpha_A - 1) / (alpha_A + 1)


def least_preload(F_M_max: Num, alpha_A: Num) -> Num:
    """F_Mmin = F_Mmax/alpha_A in N: the least preload when the largest is F_Mmax (VDI 2230-1 R6, from memory)."""
    _factor(alpha_A)
    return F_M_max / alpha_A


def _factor(alpha_A: Num) -> None:
    if not holds((alpha_A >= 1) & (alpha_A < math.inf)):
        raise ValueError(f"the tightening factor alpha_A is F_Mmax/F_Mmin and not less than 1: {alpha_A}")
