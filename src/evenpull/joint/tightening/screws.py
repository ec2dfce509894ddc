"""Power screws (Shigley section 8-2): raising, lowering, self-locking, efficiency. N, m, rad; numbers or arrays.

`lead` is the travel per turn, d_m the mean thread diameter, alpha half the thread angle (0 for square threads, 14.5 deg
for Acme), f_c and d_c friction and mean diameter of the collar. Raising is `joint.T_textbook`.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, cos, holds, require_positive


def torque_to_lower(F: Num, d_m: Num, lead: Num, f: Num, alpha: Num = 0.0, f_c: Num = 0.0, d_c: Num = 0.0) -> Num:
    """T_L = F {d_m/2 (f sec a - tan lam)/(1 + f tan lam sec a) + f_c d_c/2} in N.m (Shigley eq. 8-2, 8-6 and text).

    Negative where the load drives the screw.
    """
    require_positive("", F=F, d_m=d_m, lead=lead)
    if not holds((f >= 0) & (f_c >= 0) & (d_c >= 0)):
        raise ValueError(f"friction and collar are not negative: f = {f}, f_c = {f_c}, d_c = {d_c} m")
    tan_lam, sec_a = lead / (math.pi * d_m), 1 / cos(alpha)
    return F * (d_m / 2 * (f * sec_a - tan_lam) / (1 + f * tan_lam * sec_a) + f_c * d_c / 2)


def collar_torque(F: Num, f_c: Num, d_c: Num) -> Num:
    """T_c = F f_c d_c/2 in N.m (Shigley eq. 8-6)."""
    require_positive("", F=F, f_c=f_c, d_c=d_c)
    return F * f_c * d_c / 2


def efficiency(F: Num, lead: Num, T: Num) -> Num:
    """e = F lead/(2 pi T): work of the load per turn over the work put in (Shigley eq. 8-4)."""
    require_positive("", F=F, lead=lead, T=T)
    return F * lead / (2 * math.pi * T)


def self_locking_friction(lead: Num, d_m: Num, alpha: Num = 0.0) -> Num:
    """Least f with which the thread alone holds the load, f = tan(lam) cos(a) (Shigley eq. 8-3)."""
    require_positive("m", lead=lead, d_m=d_m)
    return lead / (math.pi * d_m) * cos(alpha)


def square_mean_diameter(d: Num, p: Num) -> Num:
    """d_m = d - p/2 in m of a single square or Acme thread of pitch p (Shigley Fig. 8-3)."""
    require_positive("m", d=d, p=p)
    if not holds(p < d):
        raise ValueError(f"pitch {p} m is not smaller than the diameter {d} m")
    return d - p / 2
