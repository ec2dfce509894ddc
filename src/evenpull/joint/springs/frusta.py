"""Stiffness of bolt and members the textbook way: Shigley, Mechanical Engineering Design, sections 8-3 to 8-5.

Members as frusta of cones of 30 deg half angle, or by the exponential fit. Not the deformation cones of VDI 2230-1, and
other numbers. Lengths in m, E in Pa, stiffness in N/m; single numbers or arrays that broadcast.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenpull.joint.numeric import Num, exp, holds, ln, require_positive, smaller, tan, where

HALF_ANGLE = math.pi / 6
WASHER_FACE = 1.5  # diameter of the washer face over d


@dataclass(frozen=True, slots=True)
class Fit:
    """Constants of eq. 8-23 for one material; E in Pa."""

    material: str
    poisson: float | None
    E: float | None
    A: float
    B: float
    status: str


# Shigley Table 8-8. Steel, aluminium and grey iron read; copper and the general line from memory, not re-read.
FITS: tuple[Fit, ...] = (
    Fit("steel", 0.291, 207e9, 0.78715, 0.62873, "read"),
    Fit("aluminium", 0.334, 71e9, 0.79670, 0.63816, "read"),
    Fit("copper", 0.326, 119e9, 0.79568, 0.63553, "memory"),
    Fit("grey cast iron", 0.211, 100e9, 0.77871, 0.61616, "read"),
    Fit("general", None, None, 0.78952, 0.62914, "memory"),
)
_OTHER_NAMES = {
    "aluminum": "aluminium", "gray cast iron": "grey cast iron", "cast iron": "grey cast iron",
    "grey iron": "grey cast iron", "gray iron": "grey cast iron", "general expression": "general",
}


def fit(material: str) -> Fit:
    """The constants of one material. ValueError names those that the table has."""
    name = " ".join(material.casefold().split())
    name = _OTHER_NAMES.get(name, name)
    for row in FITS:
        if row.material == name:
            return row
    raise ValueError(
        f"Shigley Table 8-8 has no constants for {material!r}; it has {', '.join(row.material for row in FITS)}"
    )


def frustum_stiffness(d: Num, D: Num, t: Num, E: Num, alpha: Num = HALF_ANGLE) -> Num:
    """k = pi E d tan(a)/ln[(2 t tan(a) + D - d)(D + d)/((2 t tan(a) + D + d)(D - d))] in N/m (Shigley eq. 8-19; with 30
    deg eq. 8-20, which prints 0.5774 and 1.155).

    d bolt diameter, D the smaller diameter of the frustum, t its thickness. ValueError unless D > d > 0, t > 0, E > 0.
    """
    require_positive("", d=d, t=t, E=E)
    if not holds((alpha > 0) & (alpha < math.pi / 2)):
        raise ValueError(f"the half angle of a frustum lies between 0 and pi/2: {alpha} rad")
    if not holds((d < D) & (math.inf > D)):
        raise ValueError(f"the frustum has to be wider than the bolt: D = {D} m, d = {d} m")
    wide = 2 * t * tan(alpha) + D
    return math.pi * E * d * tan(alpha) / ln((wide - d) * (D + d) / ((wide + d) * (D - d)))


def series(*stiffnesses: Num) -> Num:
    """1/k = 1/k_1 + 1/k_2 + ... of springs in series, N/m (Shigley eq. 8-18). ValueError for none, or one <= 0."""
    if not stiffnesses:
        raise ValueError("springs in series: none is given")
    total = 0.0
    for k in stiffnesses:
        require_positive("N/m", k=k)
        total = total + 1 / k
    return 1 / total


def member_stiffness(E: Num, d: Num, l: Num) -> Num:  # noqa: E741
    """k_m = 0.5774 pi E d/(2 ln[5 (0.5774 l + 0.5 d)/(0.5774 l + 2.5 d)]) in N/m: one material, grip l, washer
    face 1.5 d at both ends (Shigley eq. 8-22).
    """
    require_positive("", E=E, d=d, l=l)
    slope = tan(HALF_ANGLE)
    return slope * math.pi * E * d / (2 * ln(5 * (slope * l + 0.5 * d) / (slope * l + 2.5 * d)))


def member_stiffness_fit(E: Num, d: Num, l: Num, A: Num, B: Num) -> Num:  # noqa: E741
    """k_m = E d A exp(B d/l) in N/m (Shigley eq. 8-23), A and B from Table 8-8 (`fit`)."""
    require_positive("", E=E, d=d, l=l, A=A, B=B)
    return E * d * A * exp(B * d / l)


def bolt_stiffness(A_d: Num, A_t: Num, l_d: Num, l_t: Num, E: Num) -> Num:
    """k_b = A_d A_t E/(A_d l_t + A_t l_d) in N/m (Shigley eq. 8-17): shank A_d over l_d, thread A_t over l_t.

    ValueError unless the areas and E are positive and one of the lengths is.
    """
    require_positive("", A_d=A_d, A_t=A_t, E=E, grip=l_d + l_t)
    if not holds((l_d >= 0) & (l_t >= 0)):
        raise ValueError(f"lengths of shank and thread may not be negative: {l_d} m, {l_t} m")
    return A_d * A_t * E / (A_d * l_t + A_t * l_d)


def joint_constant(k_b: Num, k_m: Num) -> Num:
    """C = k_b/(k_b + k_m), the bolt's share of an external load (Shigley eq. 8-24 ff.)."""
    require_positive("N/m", k_b=k_b, k_m=k_m)
    return k_b / (k_b + k_m)


@dataclass(frozen=True, slots=True)
class Frustum:
    """One frustum of the members: smaller diameter D, thickness t in m, E in Pa, stiffness k in N/m."""

    E: float
    D: float
    t: float
    k: float


def member_frusta(
    layers: Sequence[tuple[float, float]], d: float, D_head: float | None = None, D_nut: float | None = None,
    alpha: float = HALF_ANGLE,
) -> tuple[Frustum, ...]:
    """The frusta of members in layers (t in m, E in Pa) from head to nut, split at mid grip (Shigley section 8-5).

    Cones start with D_head and D_nut (None: 1.5 d) at both ends and widen to mid grip; neighbours of one material are
    one frustum. Washers are layers like others. ValueError for no layer, or sizes that are not positive.
    """
    require_positive("m", d=d)
    if not layers:
        raise ValueError("the members have no layer")
    for t, E in layers:
        require_positive("", t=t, E=E)
    half = sum(t for t, _ in layers) / 2
    upper = _half(layers, half, d, D_head, alpha)
    lower = _half(list(reversed(layers)), half, d, D_nut, alpha)
    return (*upper, *reversed(lower))


def _half(
    layers: Sequence[tuple[float, float]], half: float, d: float, D_start: float | None, alpha: float
) -> list[Frustum]:
    merged: list[list[float]] = []
    left = half
    for t, E in layers:
        piece = min(t, left)
        if piece <= half * 1e-12:
            break
        if merged and merged[-1][1] == E:
            merged[-1][0] += piece
        else:
            merged.append([piece, E])
        left -= piece
    found, D = [], WASHER_FACE * d if D_start is None else D_start
    for t, E in merged:
        found.append(Frustum(E, D, t, frustum_stiffness(d, D, t, E, alpha)))
        D += 2 * t * math.tan(alpha)
    return found


def member_stiffness_layers(
    layers: Sequence[tuple[float, float]], d: float, D_head: float | None = None, D_nut: float | None = None,
) -> float:
    """k_m in N/m of members in layers: the frusta in series (Shigley eq. 8-18 and 8-20)."""
    return float(series(*(frustum.k for frustum in member_frusta(layers, d, D_head, D_nut))))


def cap_screw_grip(h: Num, t_2: Num, d: Num) -> Num:
    """Effective grip in m of a screw in a tapped part: h + t_2/2 if t_2 < d, else h + d/2 (Shigley Table 8-7).

    h: everything squeezed above the tapped part, washer included; t_2: thickness of the tapped part.
    """
    require_positive("m", h=h, t_2=t_2, d=d)
    return h + smaller(t_2, d) / 2


def cap_screw_length(h: Num, d: Num) -> Num:
    """Least length in m of a screw in a tapped part, L >= h + 1.5 d (Shigley Table 8-7)."""
    require_positive("m", h=h, d=d)
    return h + 1.5 * d


def bolt_length(grip: Num, nut_height: Num) -> Num:
    """Least length in m of a bolt with nut, L > grip + height of the nut (Shigley Table 8-7, before rounding up)."""
    require_positive("m", grip=grip, nut_height=nut_height)
    return grip + nut_height


def thread_length(d: Num, L: Num, system: Literal["metric", "inch"]) -> Num:
    """Threaded length L_T in m of a standard bolt of length L (Shigley eq. 8-13 and 8-14).

    Metric to M48: 2 d + 6 mm for L <= 125 mm, + 12 mm to 200 mm, + 25 mm above. Inch: 2 d + 1/4 in for L <= 6 in,
    + 1/2 in above. ValueError for larger metric sizes, which the equation leaves out.
    """
    require_positive("m", d=d, L=L)
    tiny = 1 + 1e-9  # 6 in is 6 in, whatever the last bit of 0.1524 says
    if system == "inch":
        return 2 * d + where(6 * 0.0254 * tiny >= L, 0.25 * 0.0254, 0.5 * 0.0254)
    if not holds(d <= 0.048 * tiny):
        raise ValueError(f"the rule for the threaded length ends at d = 48 mm: {d} m")
    return 2 * d + where(0.125 * tiny >= L, 0.006, where(0.200 * tiny >= L, 0.012, 0.025))


def shank_in_grip(L: Num, L_T: Num, grip: Num) -> Num:
    """Unthreaded length within the grip, l_d = L - L_T, in m (Shigley Table 8-7); 0 for a bolt threaded to the head.

    ValueError when the bolt is no longer than the grip, or its shank reaches through it, so that it cannot clamp.
    """
    require_positive("m", L=L, L_T=L_T, grip=grip)
    if not holds(grip < L):
        raise ValueError(f"a bolt of length {L} m does not reach through the grip {grip} m")
    l_d = where(L > L_T, L - L_T, 0.0)
    if not holds(l_d <= grip):
        raise ValueError(f"the shank of {l_d} m is longer than the grip {grip} m: the nut would not clamp")
    return l_d
