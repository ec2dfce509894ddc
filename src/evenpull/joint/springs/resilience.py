"""Resilience of the bolt, piece by piece: VDI 2230-1:2015 section 5.1.1 (from memory of the guideline).

Each piece is a bar: delta_i = l_i/(E A_i). Head, engaged thread and nut count with substitute lengths of their own.
Lengths in m, areas in m2, E in Pa, resilience in m/N; single numbers or arrays that broadcast.
"""

from __future__ import annotations

import math

from evenpull.joint.numeric import Num, holds, require_positive
from evenpull.joint.target import ThreadSize

HEAD_HEXAGON = 0.5  # substitute length of the head over d
HEAD_SOCKET = 0.4
ENGAGED_THREAD = 0.5
NUT = 0.4
TAPPED_HOLE = 0.33


def delta_bar(l: Num, E: Num, A: Num) -> Num:  # noqa: E741
    """Resilience of a straight bar, delta = l/(E A), in m/N. ValueError unless l >= 0 and E, A > 0, all finite."""
    require_positive("", E=E, A=A)
    if not holds((l >= 0) & (l < math.inf)):
        raise ValueError(f"a length has to be finite and not negative: {l} m")
    return l / (E * A)


def ring_area(d: Num, d_i: Num = 0.0) -> Num:
    """A = pi/4 (d^2 - d_i^2) in m2 of a bar with a bore. ValueError unless 0 <= d_i < d."""
    require_positive("m", d=d)
    if not holds((d_i >= 0) & (d_i < d)):
        raise ValueError(f"the bore has to be smaller than the bar: {d_i} m in {d} m")
    return math.pi / 4 * (d**2 - d_i**2)


def root_area(thread: ThreadSize, d_i: Num = 0.0) -> Num:
    """A_d3 = pi/4 (d_3^2 - d_i^2) in m2, the section of a loaded thread; metric d_3, or the root of the UNR profile.

    Not `ThreadSize.A_d3`, which for inch threads is the smaller root area that flange assembly is based on.
    """
    return ring_area(thread.d3, d_i)


def head_length(d: Num, head: str) -> Num:
    """Substitute length of the head in m: 0.4 d for socket cap screws, 0.5 d for hexagon heads, with or without flange
    (VDI 2230-1 section 5.1.1.1, from memory). ValueError for other heads, of which the guideline says nothing.
    """
    require_positive("m", d=d)
    return _head_factor(head) * d


def _head_factor(head: str) -> float:
    words = head.casefold()
    if not any(other in words for other in ("countersunk", "button", "set screw", "nut")):
        if "socket" in words:
            return HEAD_SOCKET
        if "hex" in words:
            return HEAD_HEXAGON
    raise ValueError(
        f"the resilience of a head {head!r} is not given by the guideline; known: hexagon, flanged hexagon, "
        "socket cap, stud (which has a nut instead)"
    )


def engaged_length(d: Num) -> Num:
    """Substitute length of the engaged thread, 0.5 d on A_d3, in m (VDI 2230-1 section 5.1.1.1, from memory)."""
    require_positive("m", d=d)
    return ENGAGED_THREAD * d


def nut_length(d: Num) -> Num:
    """Substitute length of the nut, 0.4 d on A_N, in m (VDI 2230-1 section 5.1.1.1, from memory)."""
    require_positive("m", d=d)
    return NUT * d


def tapped_length(d: Num) -> Num:
    """Substitute length of the tapped part, 0.33 d on A_N, in m (VDI 2230-1 section 5.1.1.1, from memory)."""
    require_positive("m", d=d)
    return TAPPED_HOLE * d


def delta_S_shank_bolt(
    d: Num, A_d3: Num, l_1: Num, l_Gew: Num, E_S: Num, E_M: Num, head: Num, counterpart: Num
) -> Num:
    """Resilience in m/N of the usual bolt: one shank of diameter d, free thread, engaged thread (VDI 2230-1 section
    5.1.1, from memory). `head` and `counterpart` are the substitute lengths over d (0.5, 0.4; 0.4, 0.33).

    For many different bolts at once; `stiffness.bolt_resilience` lists the pieces of any one bolt.
    """
    A_N = ring_area(d)
    return (
        delta_bar(head * d, E_S, A_N) + delta_bar(l_1, E_S, A_N) + delta_bar(l_Gew, E_S, A_d3)
        + delta_bar(engaged_length(d), E_S, A_d3) + delta_bar(counterpart * d, E_M, A_N)
    )
