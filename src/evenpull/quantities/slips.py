"""Was the number right and the unit wrong? Only a suspicion for a person to follow up; nothing is repaired.

The pairs are the mix-ups met in practice: inch against foot (12), newton metre against pound-force foot (1.356),
against pound-force inch (8.85), against kilogram-force metre (9.807), against newton centimetre (100).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.quantities.showing import show, unit_shown
from evenpull.quantities.units import to_si

_PAIRS = (
    ("N.m", "lbf.ft"), ("lbf.in", "lbf.ft"), ("N.m", "lbf.in"), ("N.m", "kgf.m"), ("N.m", "N.cm"), ("N.cm", "lbf.in"),
    ("kgf.cm", "lbf.in"), ("N.m", "kgf.cm"),
)


@dataclass(frozen=True, slots=True)
class Slip:
    """The value was read in `written_as`; had the number been in `meant`, the true value would be `factor` times it."""

    factor: float
    written_as: str
    meant: str
    text: str


def unit_slips(value_si: float, lower: float, upper: float, *, written_as: str | None = None) -> tuple[Slip, ...]:
    """Mix-ups of torque units that would bring a value (N.m) from outside the window into it; nearest to the middle
    first.

    `written_as` limits them to the unit in which the value was in fact written. Empty when the value lies in the
    window or when no mix-up explains it.
    """
    if not 0 < lower <= upper:
        raise ValueError(f"the window must be positive and rise: {lower} to {upper}")
    if not math.isfinite(value_si) or value_si <= 0 or lower <= value_si <= upper:
        return ()
    middle = math.log(math.sqrt(lower * upper))
    found: list[tuple[float, Slip]] = []
    for one, other in _PAIRS:
        for taken, meant in ((one, other), (other, one)):
            if written_as is not None and taken != written_as:
                continue
            factor = to_si(1.0, meant, "torque") / to_si(1.0, taken, "torque")
            true = value_si * factor
            if lower <= true <= upper:
                text = (
                    f"unit slip suspected: read as {unit_shown(taken)} it is {show(value_si, 'N.m')}; had the same "
                    f"number been in {unit_shown(meant)}, it would be {show(true, 'N.m')} and inside the window "
                    f"{show(lower, 'N.m')} to {show(upper, 'N.m')}"
                )
                found.append((abs(math.log(true) - middle), Slip(factor, taken, meant, text)))
    return tuple(slip for _, slip in sorted(found, key=lambda item: item[0]))
