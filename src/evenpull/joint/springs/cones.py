"""Resilience of the clamped parts by deformation cones: VDI 2230-1:2015 section 5.1.2 (from memory of the guideline).

Under the bearing face the load spreads as a cone whose diameter grows by 2 tan(phi) per length. w = 1: two cones that
meet at mid grip (through bolt with nut); w = 2: one cone (tapped hole). Lengths in m, E in Pa, resilience in m/N;
single numbers or arrays that broadcast. `joint.layers` does the same for parts of different material and width.
"""

from __future__ import annotations

import math
from typing import Literal

from evenpull.joint.numeric import Num, holds, larger, ln, require_positive, smaller, where

THROUGH = 1  # w of a through bolt with nut
TAPPED = 2  # w of a tapped hole
Kind = Literal["cone", "cone and sleeve", "sleeve"]


def _require_w(w: Num) -> None:
    if not holds((w == THROUGH) | (w == TAPPED)):
        raise ValueError(f"w has to be 1 (through bolt with nut) or 2 (tapped hole): {w}")


def _require_hole(d_h: Num, **outer: Num) -> None:
    for name, value in outer.items():
        if not holds(d_h < value):
            raise ValueError(f"{name} has to be larger than the hole d_h = {d_h} m: {value} m")


def tan_phi_through(beta_L: Num, y: Num) -> Num:
    """tan(phi) = 0.362 + 0.032 ln(beta_L/2) + 0.153 ln(y) of a through bolt with nut (VDI 2230-1 section 5.1.2.1, from
    memory). beta_L = l_K/d_w, y = D'_A/d_w, both above zero. Outside the range of the fit it may fall to zero.
    """
    return 0.362 + 0.032 * ln(beta_L / 2) + 0.153 * ln(y)


def tan_phi_tapped(beta_L: Num, y: Num) -> Num:
    """tan(phi) = 0.348 + 0.013 ln(beta_L) + 0.193 ln(y) of a bolt in a tapped hole (VDI 2230-1 section 5.1.2.1, from
    memory). beta_L = l_K/d_w, y = D'_A/d_w, both above zero. Outside the range of the fit it may fall to zero.
    """
    return 0.348 + 0.013 * ln(beta_L) + 0.193 * ln(y)


def tan_phi(l_K: Num, d_w: Num, D_A: Num, w: Num) -> Num:
    """Slope of the deformation cone from the clamped length, the bearing face and the width D'_A of the parts (m);
    w 1 or 2, as `tan_phi_through` and `tan_phi_tapped`. ValueError for values that give no cone.
    """
    require_positive("m", l_K=l_K, d_w=d_w, D_A=D_A)
    _require_w(w)
    beta_L, y = l_K / d_w, D_A / d_w
    if holds(w == THROUGH):
        slope = tan_phi_through(beta_L, y)
    elif holds(w == TAPPED):
        slope = tan_phi_tapped(beta_L, y)
    else:
        slope = where(w == THROUGH, tan_phi_through(beta_L, y), tan_phi_tapped(beta_L, y))
    if not holds(slope > 0):
        raise ValueError(f"the fit for the cone angle gives no cone at l_K/d_w = {beta_L} and D_A/d_w = {y}")
    return slope


def D_A_Gr(d_w: Num, l_K: Num, tan_phi: Num, w: Num) -> Num:
    """Limiting diameter D_A,Gr = d_w + w l_K tan(phi) in m: parts at least so wide hold the whole cone (VDI 2230-1
    section 5.1.2.1, from memory). ValueError unless all are positive and w is 1 or 2.
    """
    require_positive("m", d_w=d_w, l_K=l_K, tan_phi=tan_phi)
    _require_w(w)
    return d_w + w * l_K * tan_phi


def D_A_just_wide_enough(l_K: Num, d_w: Num, w: Num) -> Num:
    """The width in m that the cone of its own angle just fills: D_A = D_A,Gr(tan_phi(D_A)).

    Stands for D'_A where parts are said to be wider than the cone without a number (common practice, no source): the
    fit rises with ln(D'_A) without end, so an unlimited width cannot be put in; this one gives the flattest, and so the
    most resilient, full cone. The iteration contracts by 0.4 or better for every l_K/d_w.
    """
    require_positive("m", l_K=l_K, d_w=d_w)
    D_A = d_w + w * l_K * 0.5
    for _ in range(50):
        D_A = D_A_Gr(d_w, l_K, tan_phi(l_K, d_w, D_A, w), w)
    return D_A


def delta_P_cone(d_w: Num, d_h: Num, l_K: Num, E_P: Num, tan_phi: Num, w: Num) -> Num:
    """Parts as wide as the whole cone, D_A >= D_A,Gr (VDI 2230-1 section 5.1.2.1, from memory):

    delta_P = 2 ln[(d_w + d_h)(D_A,Gr - d_h)/((d_w - d_h)(D_A,Gr + d_h))] / (w E_P pi d_h tan(phi)) in m/N.
    """
    require_positive("", E_P=E_P, d_h=d_h)
    _require_hole(d_h, d_w=d_w)
    D = D_A_Gr(d_w, l_K, tan_phi, w)
    return 2 * ln((d_w + d_h) * (D - d_h) / ((d_w - d_h) * (D + d_h))) / (w * E_P * math.pi * d_h * tan_phi)


def delta_P_cone_sleeve(d_w: Num, d_h: Num, D_A: Num, l_K: Num, E_P: Num, tan_phi: Num, w: Num) -> Num:
    """Parts narrower than the cone, d_w <= D_A <= D_A,Gr: cones, and a sleeve between (VDI 2230-1 section 5.1.2.1, from
    memory):

    delta_P = {2/(w d_h tan(phi)) ln[(d_w + d_h)(D_A - d_h)/((d_w - d_h)(D_A + d_h))]
               + 4/(D_A^2 - d_h^2) [l_K - (D_A - d_w)/(w tan(phi))]} / (E_P pi) in m/N.
    ValueError outside the range of D_A.
    """
    require_positive("", E_P=E_P, d_h=d_h)
    _require_hole(d_h, d_w=d_w, D_A=D_A)
    if not holds((d_w <= D_A) & (D_A_Gr(d_w, l_K, tan_phi, w) * (1 + 1e-12) >= D_A)):
        raise ValueError(f"D_A = {D_A} m is not between d_w and D_A,Gr: no cone with sleeve")
    cones = 2 / (w * d_h * tan_phi) * ln((d_w + d_h) * (D_A - d_h) / ((d_w - d_h) * (D_A + d_h)))
    sleeve = 4 / (D_A**2 - d_h**2) * (l_K - (D_A - d_w) / (w * tan_phi))
    return (cones + sleeve) / (E_P * math.pi)


def delta_P_sleeve(D_A: Num, d_h: Num, l_K: Num, E_P: Num) -> Num:
    """Parts no wider than the bearing face, D_A <= d_w: delta_P = 4 l_K/(E_P pi (D_A^2 - d_h^2)) in m/N (VDI 2230-1
    section 5.1.2.1, from memory).
    """
    require_positive("", E_P=E_P, l_K=l_K, d_h=d_h)
    _require_hole(d_h, D_A=D_A)
    return 4 * l_K / (E_P * math.pi * (D_A**2 - d_h**2))


def delta_frustum(D_1: Num, D_2: Num, d_h: Num, E: Num, tan_phi: Num) -> Num:
    """Resilience in m/N of one frustum between the diameters D_1 < D_2, the integral of dx/(E A(x)):

    delta = ln[(D_2 - d_h)(D_1 + d_h)/((D_2 + d_h)(D_1 - d_h))]/(pi E d_h tan(phi)). Its height is
    (D_2 - D_1)/(2 tan(phi)). ValueError unless d_h < D_1 <= D_2.
    """
    require_positive("", E=E, d_h=d_h, tan_phi=tan_phi, D_2=D_2)
    _require_hole(d_h, D_1=D_1)
    if not holds(D_1 <= D_2):
        raise ValueError(f"D_1 is the smaller diameter of a frustum: {D_1} m, {D_2} m")
    return ln((D_2 - d_h) * (D_1 + d_h) / ((D_2 + d_h) * (D_1 - d_h))) / (math.pi * E * d_h * tan_phi)


def delta_P(l_K: Num, d_w: Num, d_h: Num, D_A: Num, E_P: Num, w: Num) -> Num:
    """Resilience in m/N of parts of one material: the case of the three that the diameters make it.

    D_A in m is width and D'_A at once; use `D_A_just_wide_enough` for an unlimited part. Arrays may mix the cases.
    """
    require_positive("m", D_A=D_A)
    _require_hole(d_h, d_w=d_w, D_A=D_A)
    slope = tan_phi(l_K, d_w, D_A, w)
    limit = D_A_Gr(d_w, l_K, slope, w)
    # One formula serves all three: the cone of an unlimited part ends at D_A,Gr, the sleeve begins at its own width.
    width = smaller(larger(D_A, d_w), limit)
    spread = delta_P_cone_sleeve(d_w, d_h, width, l_K, E_P, slope, w)
    return where(d_w >= D_A, delta_P_sleeve(D_A, d_h, l_K, E_P), spread)
