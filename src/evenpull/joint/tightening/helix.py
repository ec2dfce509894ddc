"""The exact relation of torque and load on the helix, beside the linear form of VDI 2230-1; nut factor both ways.

Lengths in m; single numbers or arrays that broadcast. Exact: the flank angle is taken in the section normal to the
helix, tan(alpha_n) = tan(30 deg) cos(lambda), and the product of friction and lead is kept (textbook power screw).
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, holds, sqrt
from evenpull.joint.target import ThreadSize

TAN_30 = math.tan(math.pi / 6)


def lead_tangent(thread: ThreadSize) -> Num:
    """tan(lambda) = P/(pi d2) of a single-start thread."""
    return thread.P / (math.pi * thread.d2)


def flank_secant(thread: ThreadSize) -> Num:
    """1/cos(alpha_n) of the flank in the section normal to the helix: sqrt(1 + tan^2(30 deg) cos^2(lambda))."""
    return sqrt(1 + TAN_30**2 / (1 + lead_tangent(thread) ** 2))


def thread_lever_exact(thread: ThreadSize, mu_G: Num) -> Num:
    """Thread torque per load in m, (d2/2)(tan(lambda) + mu')/(1 - tan(lambda) mu'), mu' = mu_G/cos(alpha_n).

    ValueError when the denominator vanishes: such a screw cannot be tightened.
    """
    t, mu = lead_tangent(thread), mu_G * flank_secant(thread)
    if not holds((mu_G >= 0) & (t * mu < 1)):
        raise ValueError(f"mu_G = {mu_G} is no friction at which {thread.designation} can be turned")
    return thread.d2 / 2 * (t + mu) / (1 - t * mu)


def torque_lever_exact(thread: ThreadSize, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """Tightening torque per load in m, exact thread part and (D_Km/2) mu_K."""
    return thread_lever_exact(thread, mu_G) + D_Km / 2 * mu_K


def nut_factor_exact(thread: ThreadSize, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """K = torque per load over d, on the exact helix."""
    return torque_lever_exact(thread, mu_G, mu_K, D_Km) / thread.d


def mu_G_from_nut_factor_exact(thread: ThreadSize, K: Num, mu_K: Num, D_Km: Num) -> Num:
    """mu_G that gives K at a known mu_K, exact helix solved. ValueError when no friction gives it."""
    x = 2 * (K * thread.d - D_Km / 2 * mu_K) / thread.d2  # (t + mu')/(1 - t mu')
    t = lead_tangent(thread)
    if not holds(x >= t):
        raise ValueError(f"no thread friction gives the nut factor {K} on {thread.designation} at mu_K = {mu_K}")
    return (x - t) / (1 + x * t) / flank_secant(thread)


def mu_from_nut_factor_exact(thread: ThreadSize, K: Num, D_Km: Num) -> Num:
    """The one coefficient mu = mu_G = mu_K that gives K, exact helix solved (smaller root of a quadratic).

    ValueError when K is below what the pitch alone takes.
    """
    t, s = lead_tangent(thread), flank_secant(thread)
    r, R, L = thread.d2 / 2, D_Km / 2, K * thread.d
    if not holds(r * t <= L):
        raise ValueError(f"no friction gives the nut factor {K} on {thread.designation}")
    # R t s mu^2 - (r s + R + L t s) mu + (L - r t) = 0; the form below loses no digits when R t s is small
    b = r * s + R + L * t * s
    return 2 * (L - r * t) / (b + sqrt(b**2 - 4 * R * t * s * (L - r * t)))
