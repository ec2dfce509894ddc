"""Torque tables of general aviation, N.m in what is returned; threads as the tables write them ("#10-32", "1/4-28")."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from evenpull.catalogue.tables import table
from evenpull.catalogue.threads import size_in_inch
from evenpull.quantities import to_si

ThreadKey = tuple[float, float]  # diameter in inch, threads per inch


@dataclass(frozen=True, slots=True)
class AviationTorque:
    """One row for one type of nut: recommended `low` to `high`, and `most` allowed; `estimated` by the document."""

    thread: str
    nut: Literal["tension", "shear"]
    low: float
    high: float
    most: float
    estimated: bool
    condition: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class LeastDrag:
    """Least prevailing or breakaway torque of a self-locking nut that is used again."""

    thread: str
    torque: float
    source: str
    status: str


def thread_key(thread: str) -> ThreadKey:
    """(diameter in inch, threads per inch) of "1-1/8-12" or "#10-32"."""
    size, _, n = thread.rpartition("-")
    return size_in_inch(size), float(n)


@lru_cache(maxsize=1)
def aviation_torques() -> dict[tuple[ThreadKey, str], AviationTorque]:
    """AC 43.13-1B Table 7-1 by thread and type of nut."""
    data = table("aviation")["table_7_1"]
    found = {}
    for thread, *numbers, status in data["rows"]:
        si = [to_si(number, data["unit"], "torque") for number in numbers]
        for nut, (low, high, most) in (("tension", (si[0], si[1], si[4])), ("shear", (si[2], si[3], si[5]))):
            estimated = nut == "shear" and thread in data["estimated"]
            found[thread_key(thread), nut] = AviationTorque(
                thread, "shear" if nut == "shear" else "tension", low, high, most, estimated, data["condition"],
                data["source"], status,
            )
    return found


@lru_cache(maxsize=2)
def least_drags(kind: Literal["prevailing", "breakaway"]) -> dict[ThreadKey, LeastDrag]:
    """Least torques of reused self-locking nuts: "prevailing" (AC 43.13-1B Table 7-2) or "breakaway" (TM table)."""
    data = table("aviation")[kind]
    return {
        thread_key(thread): LeastDrag(thread, to_si(torque, data["unit"], "torque"), data["source"], status)
        for thread, torque, status in data["rows"]
    }


def smaller_sizes(kind: Literal["prevailing", "breakaway"]) -> str:
    """What the document says about sizes below its table."""
    return str(table("aviation")[kind]["smaller"])
