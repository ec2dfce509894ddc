"""Eccentric clamping and loading, one-bolt beam model: VDI 2230-1:2015 sections 5.1.3, 5.3.2, 5.5.1 (from memory).

The clamped parts are a beam that bends with the bolt. Lever arms from the axis of symmetry of the clamped body: s_sym
to the bolt, a to the line of load, u to the edge that opens first; s_sym is negative when bolt and load lie on opposite
sides. The model holds while the interface is closed and no wider than `interface_limit`. SI; numbers or arrays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.numeric import Num, holds, require_positive, where
from evenpull.joint.springs.stiffness import BoltPart, ClampedResilience, Resilience, modulus

SOURCE = "VDI 2230-1:2015 section 5.1.3 (from memory)"


def _finite(**values: Num) -> None:
    for name, value in values.items():
        if not holds((value > -math.inf) & (value < math.inf)):
            raise ValueError(f"{name} has to be finite: {value}")


def delta_P_star(delta_P: Num, s_sym: Num, l_K: Num, E_P: Num, I_Bers: Num) -> Num:
    """Eccentric clamping: delta_P* = delta_P + s_sym^2 l_K/(E_P I_Bers) in m/N (VDI 2230-1 5.1.3.1, from memory)."""
    require_positive("", delta_P=delta_P, l_K=l_K, E_P=E_P, I_Bers=I_Bers)
    _finite(s_sym=s_sym)
    return delta_P + s_sym**2 * l_K / (E_P * I_Bers)


def delta_P_star2(delta_P: Num, a: Num, s_sym: Num, l_K: Num, E_P: Num, I_Bers: Num) -> Num:
    """Eccentric loading: delta_P** = delta_P + a s_sym l_K/(E_P I_Bers) in m/N (VDI 2230-1 5.1.3.2, from memory)."""
    require_positive("", delta_P=delta_P, l_K=l_K, E_P=E_P, I_Bers=I_Bers)
    _finite(a=a, s_sym=s_sym)
    return delta_P + a * s_sym * l_K / (E_P * I_Bers)


def Phi_en(n: Num, delta_S: Num, delta_P_star: Num, delta_P_star2: Num) -> Num:
    """Phi*_en = n delta_P**/(delta_S + delta_P*) (VDI 2230-1 5.3.2, from memory).

    Negative where the load relieves the bolt.
    """
    require_positive("m/N", delta_S=delta_S, delta_P_star=delta_P_star)
    _finite(n=n, delta_P_star2=delta_P_star2)
    if not holds(n >= 0):
        raise ValueError(f"the load introduction factor n must not be negative: {n}")
    return n * delta_P_star2 / (delta_S + delta_P_star)


def opening_ratio(A_D: Num, a: Num, s_sym: Num, u: Num, I_BT: Num) -> Num:
    """Clamp load per axial load at which the edge u begins to open, A_D (a - s_sym) u/(I_BT + s_sym u A_D).

    It is where the pressure of F_K and of its moment is zero at the edge (VDI 2230-1 section 5.3.2, from memory). Not
    above zero: this edge does not open. ValueError when the bolt lies outside the core on the far side
    (I_BT + s_sym u A_D <= 0), so that its own load opens this edge.
    """
    require_positive("", A_D=A_D, u=u, I_BT=I_BT)
    _finite(a=a, s_sym=s_sym)
    below = I_BT + s_sym * u * A_D
    if not holds(below > 0):
        raise ValueError("the bolt's own load opens the edge u: s_sym, u, A_D and I_BT leave no closed interface")
    return A_D * (a - s_sym) * u / below


def F_KA(F_A: Num, A_D: Num, a: Num, s_sym: Num, u: Num, I_BT: Num) -> Num:
    """F_KA = F_A A_D (a u - s_sym u)/(I_BT + s_sym u A_D): least clamp load in N against one-sided opening
    (VDI 2230-1 R2, from memory). Not above zero: the load does not open this edge, nothing is required.
    """
    return F_A * opening_ratio(A_D, a, s_sym, u, I_BT)


def F_Aab(F_V: Num, Phi_en: Num, A_D: Num, a: Num, s_sym: Num, u: Num, I_BT: Num) -> Num:
    """Axial load in N at which the edge u opens under the preload F_V: where F_V - (1 - Phi*_en) F_A = F_KA (VDI 2230-1
    section 5.3.2, from memory); infinite where no load opens this edge. ValueError unless F_V > 0.

    For the edge on the other side turn the signs of a and s_sym and take its own u.
    """
    require_positive("N", F_V=F_V)
    share = opening_ratio(A_D, a, s_sym, u, I_BT) + (1 - Phi_en)
    opens = share > 0
    return where(opens, F_V / where(opens, share, 1.0), math.inf)


def I_cone(d_w: Num, D_A: Num) -> Num:
    """I_V,Bers = 0.147 (D_A - d_w) d_w^3 D_A^3/(D_A^3 - d_w^3) in m4 of a cone from d_w to D_A: l/integral dx/I(x)
    (VDI 2230-1 section 5.1.3.1, from memory; 0.147 is 3 pi/64, which is used).
    """
    require_positive("m", d_w=d_w, D_A=D_A)
    if not holds(d_w < D_A):
        raise ValueError(f"the cone widens: D_A = {D_A} m has to be larger than d_w = {d_w} m")
    return 3 * math.pi / 64 * (D_A - d_w) * d_w**3 * D_A**3 / (D_A**3 - d_w**3)


def interface_limit(d_w: Num, h_min: Num, w: int) -> Num:
    """G in m, the widest interface for which the model holds: d_w + h_min for a through bolt, h_min being the thinner
    part (VDI 2230-1 section 5.1.3, from memory); for a tapped hole G' = 1.5 d_w, the cautious end of the 1.5 to 2 d_w
    that the guideline gives (from memory).
    """
    require_positive("m", d_w=d_w, h_min=h_min)
    return d_w + h_min if w == 1 else 1.5 * d_w


def beta_S(parts: Sequence[BoltPart]) -> float:
    """Bending resilience of a solid round bolt, sum of l_i/(E_i I_i) in 1/(N.m); I = A^2/(4 pi) of a round section."""
    return sum(part.l / (part.E * part.A**2 / (4 * math.pi)) for part in parts)


def sigma_SAb(
    F_A: Num, Phi_en: Num, a: Num, s_sym: Num, l_K: Num, E_P: Num, I_Bers: Num, beta_S: Num, d_S: Num, A_S: Num
) -> Num:
    """Additional stress at the edge of the bolt in Pa under F_A, tension and bending (VDI 2230-1 section 5.5.1, from
    memory): sigma = Phi*_en F_A/A_S + M_b/(pi d_S^3/32), M_b = (a - Phi*_en s_sym) F_A l_K/(E_P I_Bers)/beta_S, the
    moment that the curvature of the parts puts into the bolt.
    """
    require_positive("", l_K=l_K, E_P=E_P, I_Bers=I_Bers, beta_S=beta_S, d_S=d_S, A_S=A_S)
    _finite(F_A=F_A, a=a, s_sym=s_sym)
    M_b = (a - Phi_en * s_sym) * F_A * l_K / (E_P * I_Bers) / beta_S
    return Phi_en * F_A / A_S + 32 * M_b / (math.pi * d_S**3)


@dataclass(frozen=True, slots=True)
class Eccentric:
    """The model of one case. `E_P` is the modulus that all layers together act with in bending; `within` says whether
    the interface is no wider than the limit G, `notes` what speaks against the model.
    """

    delta_P_star: float
    delta_P_star2: float
    Phi_en: float
    opening_ratio: float
    beta_S: float
    E_P: float
    G: float
    within: bool
    notes: tuple[str, ...]


def eccentric_model(case: JointCase, bolt: Resilience, clamped: ClampedResilience) -> Eccentric:
    """The one-bolt beam model of a case that states an eccentricity (VDI 2230-1 section 5.1.3, from memory).

    CaseError when it states none, for values that no contact area has, for a gasket (the parts then do not bend as one
    beam) and for a hollow bolt. An interface wider than G is not refused: `within` is False and a note says so.
    """
    ecc = case.eccentricity
    if ecc is None:
        raise CaseError("eccentricity: s_sym, a, I_Bers, I_BT, A_D and u are needed for eccentric clamping or loading")
    if case.gasket is not None:
        raise CaseError("eccentricity: with a gasket the parts do not bend as one beam; the model does not hold")
    if case.bolt.d_i or any(section.d_i for section in case.bolt.sections):
        raise CaseError("bolt.d_i: the bending of a hollow bolt is not covered")
    for name in ("I_Bers", "I_BT", "A_D", "u"):
        if not 0 < getattr(ecc, name) < math.inf:
            raise CaseError(f"eccentricity.{name}: has to be finite and greater than zero, not {getattr(ecc, name)}")
    for name in ("s_sym", "a"):
        if not -math.inf < getattr(ecc, name) < math.inf:
            raise CaseError(f"eccentricity.{name}: has to be finite, not {getattr(ecc, name)}")
    if ecc.a < 0:
        raise CaseError("eccentricity.a: the side of the load is the positive one; give s_sym the sign")
    if ecc.A_D * ecc.u**2 < ecc.I_BT:
        raise CaseError(f"eccentricity: I_BT = {ecc.I_BT} m4 is more than an area of {ecc.A_D} m2 with its edge at "
                        f"u = {ecc.u} m can have")
    bending = sum(layer.length / modulus(layer.material, f"layers[{i}].material")
                  for i, layer in enumerate(case.layers, start=1))
    l_K = sum(layer.length for layer in case.layers)
    E_P = l_K / bending
    try:
        star = float(delta_P_star(clamped.total, ecc.s_sym, l_K, E_P, ecc.I_Bers))
        star2 = float(delta_P_star2(clamped.total, ecc.a, ecc.s_sym, l_K, E_P, ecc.I_Bers))
        ratio = float(opening_ratio(ecc.A_D, ecc.a, ecc.s_sym, ecc.u, ecc.I_BT))
        Phi = float(Phi_en(case.loads.n, bolt.total, star, star2))
    except ValueError as error:
        raise CaseError(f"eccentricity: {error}") from error
    parts = [layer.length for layer in case.layers if not layer.washer] or [layer.length for layer in case.layers]
    G = float(interface_limit(clamped.d_w, min(parts), clamped.w))
    notes, within = [], 2 * ecc.u <= G * (1 + 1e-9)
    if not within:
        notes.append(f"the interface reaches {ecc.u * 1e3:.4g} mm from its middle, more than half of G = "
                     f"{G * 1e3:.4g} mm: the one-bolt beam model is left, forces and opening are not covered")
    if Phi < 0:
        notes.append("the bolt is relieved by the load (Phi*_en below zero): bolt and load lie on opposite sides")
    return Eccentric(star, star2, Phi, ratio, beta_S(bolt.parts), E_P, G, within, tuple(notes))
