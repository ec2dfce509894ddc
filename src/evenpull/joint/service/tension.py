"""A bolted joint in tension the textbook way: preload, load, yield and separation (Shigley sections 8-7 to 8-9). N.

Also the turn of the nut, and bolts on a circle under a moment. Single numbers or arrays.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, holds, require_positive, sin, where
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.torque import T_textbook

REUSED, PERMANENT = 0.75, 0.90  # share of the proof load (Shigley eq. 8-31)
COLLAR = 1.25  # mean collar diameter over d (Shigley eq. 8-26)


def preload_share(reused: Num) -> Num:
    """0.75 for connections that are taken apart and reused, 0.90 for permanent ones (Shigley eq. 8-31)."""
    return where(reused, REUSED, PERMANENT)


def recommended_preload(S_p: Num, A_t: Num, reused: Num) -> Num:
    """F_i = 0.75 S_p A_t (reused) or 0.90 S_p A_t (permanent) in N (Shigley eq. 8-31, 8-32)."""
    require_positive("", S_p=S_p, A_t=A_t)
    return preload_share(reused) * S_p * A_t


def bolt_load(F_i: Num, C: Num, P: Num) -> Num:
    """F_b = F_i + C P in N, while the members touch (Shigley eq. 8-24)."""
    return F_i + C * P


def member_load(F_i: Num, C: Num, P: Num) -> Num:
    """F_m = (1 - C) P - F_i in N, negative in compression, while the members touch (Shigley eq. 8-25)."""
    return (1 - C) * P - F_i


def external_load(F_i: Num, C: Num, F_clamp: Num) -> Num:
    """P = (F_i - F_clamp)/(1 - C) in N: the external load that leaves the clamp load F_clamp (eq. 8-25 solved for P).

    ValueError unless 0 <= C < 1 and 0 <= F_clamp <= F_i.
    """
    if not holds((C >= 0) & (C < 1)):
        raise ValueError(f"the joint constant lies between 0 and 1: {C}")
    if not holds((F_clamp >= 0) & (F_clamp <= F_i)):
        raise ValueError(f"the remaining clamp load {F_clamp} N lies between 0 and the preload {F_i} N")
    return (F_i - F_clamp) / (1 - C)


def yielding_factor(S_p: Num, A_t: Num, C: Num, P: Num, F_i: Num) -> Num:
    """n_p = S_p A_t/(C P + F_i): against reaching the proof strength (Shigley eq. 8-28)."""
    require_positive("", S_p=S_p, A_t=A_t, bolt_load=C * P + F_i)
    return S_p * A_t / (C * P + F_i)


def overload_factor(S_p: Num, A_t: Num, C: Num, P: Num, F_i: Num) -> Num:
    """n_L = (S_p A_t - F_i)/(C P): against overloading by the external load (Shigley eq. 8-29)."""
    require_positive("", S_p=S_p, A_t=A_t, C=C, P=P)
    return (S_p * A_t - F_i) / (C * P)


def separation_factor(F_i: Num, C: Num, P: Num) -> Num:
    """n_0 = F_i/(P (1 - C)): against separation of the members (Shigley eq. 8-30). ValueError unless P > 0, C < 1."""
    require_positive("N", P=P)
    if not holds((C >= 0) & (C < 1)):
        raise ValueError(f"the joint constant lies between 0 and 1: {C}")
    return F_i / (P * (1 - C))


def bolts_needed(n_L: Num, C: Num, P_total: Num, S_p: Num, A_t: Num, F_i: Num) -> Num:
    """N = n_L C P_total/(S_p A_t - F_i), before rounding up (Shigley eq. 8-29 with P = P_total/N).

    ValueError when the preload leaves nothing of the proof load.
    """
    require_positive("", n_L=n_L, C=C, P_total=P_total, S_p=S_p, A_t=A_t)
    if not holds(S_p * A_t > F_i):
        raise ValueError(f"the preload {F_i} N leaves nothing of the proof load {S_p * A_t} N")
    return n_L * C * P_total / (S_p * A_t - F_i)


def pressure_load(p: Num, diameter: Num, N: Num) -> Num:
    """P = p (pi/4) D^2/N in N: share of one of N bolts of the pressure p (Pa) within the seal of diameter D (m)."""
    require_positive("", p=p, diameter=diameter, N=N)
    return p * math.pi / 4 * diameter**2 / N


def mean_thread_diameter(thread: ThreadSize) -> float:
    """d_m = (d + d_r)/2 in m, the mean of major and minor diameter (Shigley eq. 8-26); d_r of the table's root area."""
    return (thread.d + math.sqrt(4 * thread.A_d3 / math.pi)) / 2


def torque_coefficient(thread: ThreadSize, f: Num, f_c: Num) -> Num:
    """K = d_m/(2 d) (tan lam + f sec a)/(1 - f tan lam sec a) + 0.625 f_c (Shigley eq. 8-26)."""
    return T_textbook(1.0, mean_thread_diameter(thread), thread.P, f, f_c, COLLAR * thread.d) / thread.d


def nut_turn(F_i: Num, k_b: Num, k_m: Num, P: Num) -> Num:
    """theta = 2 pi F_i (1/k_b + 1/k_m)/P in rad: turn of the nut from snug with the thread pitch P in m (elastic;
    seating, twist and the preload at snug are not in it; 360 N_t F_i (k_b + k_m)/(k_b k_m) degrees, Shigley 8-9).
    """
    require_positive("", k_b=k_b, k_m=k_m, P=P)
    return 2 * math.pi * F_i * (1 / k_b + 1 / k_m) / P


def _require_circle(R: Num, N: Num) -> None:
    require_positive("m", R=R)
    if not holds(N >= 3):
        raise ValueError(f"a circle that takes a moment about any axis has three bolts or more: {N}")


def bolt_on_circle(M: Num, R: Num, N: Num, theta: Num = math.pi / 2) -> Num:
    """F = 2 M sin(theta)/(R N) in N: load of the bolt at the angle theta from the axis of the moment M (N.m), N equal
    bolts on a circle of radius R, rigid flange, turning about its centre; the largest at pi/2 is 2 M/(R N).
    """
    _require_circle(R, N)
    return 2 * M * sin(theta) / (R * N)


def bolt_on_circle_arc(M: Num, R: Num, N: Num) -> Num:
    """F = (2 M/(pi R)) sin(pi/N) in N: largest load when each bolt carries its arc of a continuous line load."""
    _require_circle(R, N)
    return 2 * M / (math.pi * R) * sin(math.pi / N)
