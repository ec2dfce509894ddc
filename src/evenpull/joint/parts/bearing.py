"""Bearing faces of heads and nuts: areas with hole, chamfer or slot, pressure, washers, conical seats.

Lengths in m, forces in N, pressures in Pa; single numbers or arrays that broadcast.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, asin, holds, larger, require_positive, sin, smaller, sqrt, where
from evenpull.joint.springs.resilience import ring_area

SPREAD = 1.6  # a washer of thickness h_S widens the face by 1.6 h_S (VDI 2230-1 R10, from memory, not re-read)


def bearing_area(d_w: Num, d_h: Num, d_a: Num = 0.0) -> Num:
    """A_p = pi/4 (d_w^2 - D_i^2) in m2, D_i the larger of hole d_h and chamfer or countersink d_a at the face.

    VDI 2230-1 R10. ValueError unless 0 < D_i < d_w: a head that falls through its hole has no face.
    """
    require_positive(d_h=d_h)
    return ring_area(d_w, larger(d_h, d_a))


def slotted_area(d_w: Num, b: Num, l_slot: Num) -> Num:
    """A_p = pi/4 d_w^2 less the part of the slot that lies under the face, in m2; the bolt stands in the middle.

    Slot of width b with round ends and overall length l_slot. In the middle of a long slot the face loses most, so
    that the bolt at an end is covered. Plane geometry; a round hole is the case l_slot = b. ValueError unless
    b < d_w and l_slot >= b.
    """
    require_positive(d_w=d_w, b=b, l_slot=l_slot)
    if not holds(b < d_w):
        raise ValueError(f"the slot, {b} m wide, lets the face of {d_w} m through")
    if not holds(l_slot >= b):
        raise ValueError(f"a slot is at least as long as wide: {l_slot} m, {b} m")
    R, r = d_w / 2, b / 2
    c = (l_slot - b) / 2  # centre of the round end
    leaves = sqrt(R**2 - r**2)  # where the parallel sides of a long slot leave the face
    straight = smaller(c, leaves)
    # beyond the straight part: the round end, cut off by the rim of the face where it reaches that far
    far = c + r <= R
    cut = smaller(larger((R**2 - r**2 + c**2) / (2 * larger(c, 1e-12 * R)), straight), R)
    end = where(far, c + r, where(c >= leaves, straight, cut))
    round_end = _half_segment(r, _clip(end - c, r)) - _half_segment(r, _clip(straight - c, r))
    rim = where(far, 0.0 * R, _half_segment(R, R) - _half_segment(R, end))
    slot = 4 * (r * straight + round_end + rim)
    return math.pi * R**2 - slot


def _half_segment(a: Num, u: Num) -> Num:
    """Integral of sqrt(a^2 - u^2) from 0 to u, |u| <= a."""
    return (u * sqrt(larger(a**2 - u**2, 0.0)) + a**2 * asin(u / a)) / 2


def _clip(u: Num, a: Num) -> Num:
    return smaller(larger(u, -a), a)


def washer_spread(d_w: Num, h_S: Num, d_washer: Num) -> Num:
    """d_Wa = d_w + 1.6 h_S in m, at most the washer's outside diameter: the face under a washer of thickness h_S.

    VDI 2230-1 R10 (from memory, not re-read); it holds for hard washers that stay flat. ValueError for a washer
    smaller than the face.
    """
    require_positive(d_w=d_w, h_S=h_S, d_washer=d_washer)
    if not holds(d_washer >= d_w):
        raise ValueError(f"the washer of {d_washer} m is smaller than the face of {d_w} m")
    return smaller(d_w + SPREAD * h_S, d_washer)


def surface_pressure(F: Num, A_p: Num) -> Num:
    """p = F / A_p in Pa (VDI 2230-1 R10). ValueError unless F >= 0 and A_p > 0, both finite."""
    require_positive(A_p=A_p)
    if not holds((F >= 0) & (math.inf > F)):
        raise ValueError(f"F has to be finite and not negative, not {F}")
    return F / A_p


def S_P(p_G: Num, p: Num) -> Num:
    """Safety of the face S_P = p_G / p_max (VDI 2230-1 R10/4). ValueError unless both are greater than zero."""
    require_positive(p_G=p_G, p=p)
    return p_G / p


def load_at_limit(p_G: Num, A_p: Num) -> Num:
    """Largest load of a face F = p_G A_p in N."""
    require_positive(p_G=p_G, A_p=A_p)
    return p_G * A_p


def D_Km_conical(d_outer: Num, d_inner: Num, cone_angle: Num) -> Num:
    """Friction diameter of a conical seat D_Km = (d_outer + d_inner) / (2 sin(cone_angle/2)) in m.

    Countersunk heads: d_outer and d_inner bound the cone that carries, cone_angle in rad is its included angle (90 deg:
    1.41 times the flat face). The wedge lets the normal force grow by 1/sin(cone_angle/2); flat is 180 deg. Statics of
    the cone, common practice, no source. ValueError unless d_inner < d_outer and 0 < cone_angle <= pi.
    """
    require_positive(d_inner=d_inner, cone_angle=cone_angle)
    if not holds((d_inner < d_outer) & (d_outer < math.inf)):
        raise ValueError(f"the seat has to be wider outside than inside: {d_outer} m, {d_inner} m")
    if not holds(cone_angle <= math.pi):
        raise ValueError(f"the included angle of a cone is at most pi, not {cone_angle} rad")
    return (d_outer + d_inner) / (2 * sin(cone_angle / 2))
