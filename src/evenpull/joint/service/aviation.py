"""Torques of general aviation: the table by thread and nut, drag of self-locking nuts. N.m.

The table is looked up, never computed: no one nut factor or bolt stress reproduces it.
"""

from __future__ import annotations

from typing import Literal

from evenpull.catalogue.aviation import (
    AviationTorque,
    LeastDrag,
    ThreadKey,
    aviation_torques,
    least_drags,
    smaller_sizes,
)
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.numeric import Num, holds
from evenpull.joint.parts.threads import INCH
from evenpull.joint.target import ThreadSize
from evenpull.joint.traced import Band


def _key(thread: ThreadSize) -> ThreadKey:
    return round(thread.d / INCH, 6), round(INCH / thread.P, 6)


def aviation_torque(thread: ThreadSize, nut: Literal["tension", "shear"]) -> AviationTorque:
    """Recommended and most allowed torque by thread and type of nut (AC 43.13-1B Table 7-1).

    Valid for oil-free cadmium-plated threads; the maker's torque goes first where there is one. Raises NotInCatalogue
    for other types of nut and for threads (all metric ones too) that the table does not hold.
    """
    rows = aviation_torques()
    if nut not in ("tension", "shear"):
        raise NotInCatalogue("type of nut", str(nut), ("tension", "shear"))
    row = rows.get((_key(thread), nut))
    if row is None:
        known = tuple(row.thread for (_, kind), row in rows.items() if kind == nut)
        raise NotInCatalogue("thread of AC 43.13-1B Table 7-1", thread.designation, known, "take the maker's torque")
    return row


def least_drag(thread: ThreadSize, kind: Literal["prevailing", "breakaway"] = "prevailing") -> LeastDrag:
    """Least drag with which a self-locking nut may be used again: prevailing (AC 43.13-1B Table 7-2) or breakaway
    without axial load (US Army TM 1-1500-204-23-6 Table 2-8). NotInCatalogue where the table has no such thread.
    """
    rows = least_drags(kind)
    row = rows.get(_key(thread))
    if row is None:
        known = tuple(row.thread for row in rows.values())
        raise NotInCatalogue(f"thread of the {kind} torque table", thread.designation, known, smaller_sizes(kind))
    return row


def torque_with_drag(torque: Num, drag: Num) -> Num:
    """T = T_r + T_d in N.m: recommended torque and friction drag of the nut (AC 43.13-1B par. 7-40 d).

    ValueError unless the torque is positive and the drag zero or more.
    """
    if not holds((torque > 0) & (drag >= 0)):
        raise ValueError(f"torque {torque} N.m has to be positive and drag {drag} N.m not negative")
    return torque + drag


def middle_of_range(low: Num, high: Num) -> Num:
    """T_mid = (T_low + T_high)/2 in N.m: the middle of a recommended range. ValueError unless 0 < low <= high."""
    if not holds((low > 0) & (low <= high)):
        raise ValueError(f"a range of torque has to rise from above zero: {low} to {high} N.m")
    return (low + high) / 2


def castellated_window(row: AviationTorque, drag: Num = 0.0) -> Band:
    """Torque in which a slot of a castellated nut has to meet the hole: it starts at the low recommended value and ends
    at the high one, both with the drag; where none meets, washers are changed (AC 43.13-1B par. 7-40).

    The most allowed torque of the table is no part of it: it is a limit, not a recommendation.
    """
    start = torque_with_drag(row.low, drag)
    return Band(start, start, torque_with_drag(row.high, drag))
