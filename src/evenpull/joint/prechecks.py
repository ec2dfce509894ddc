"""Checks of a target before anyone works: is it the right number at all? Nothing is corrected here; a person decides.

A load far from what the usual nut factors give, a joint that is tightened unlike its siblings, two documents that do
not agree, a number that fits only in another unit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpull.joint.numeric import Num
from evenpull.joint.tightening.torque import load_from_nut_factor
from evenpull.joint.traced import Band
from evenpull.quantities import show, unit_slips

FAR = 3.5  # |z| from which a value counts as far out (Iglewicz and Hoaglin 1993, from memory)
FEWEST = 4  # siblings from which a comparison says something (common practice, no source)
ALIKE = 0.02  # share within which two torques count as the same number, rounded differently (common practice)
LEAST_USE, MOST_USE = 0.15, 1.0  # share of the proof load that a preload usually lies between (common practice)


@dataclass(frozen=True, slots=True)
class Concern:
    """Something that does not fit, with its numbers; `way_out` says what to do."""

    code: str
    text: str
    way_out: str


def load_band(torque: float, K: Band, d: float) -> Band:
    """Load in N over a band of nut factors, F = T/(K d): the highest K gives the least load (short form).

    ValueError unless torque, d and K are greater than zero.
    """
    if not (0 < torque < math.inf and 0 < d < math.inf and K.low > 0):
        raise ValueError(f"torque, diameter and nut factors have to be greater than zero: {torque}, {d}, {K.low}")
    return Band(*(float(load_from_nut_factor(torque, k, d)) for k in (K.high, K.nominal, K.low)))


def k_band(torque: float, K: Band, d: float, proof: float, required: float | None, whose: str) -> list[Concern]:
    """Load over the usual nut factors `K` of `whose` against proof load (or yield load) and required load, N."""
    load = load_band(torque, K, d)
    span = f"{show(load.low, 'kN')} to {show(load.high, 'kN')}"
    where = f"with the usual nut factors of {whose}, K {K.low:.2f} to {K.high:.2f}, the load lies from {span}"
    found = []
    if load.high > proof * (1 + 1e-9):
        found.append(Concern(
            "overload in the K band", f"{where}: up to {100 * load.high / proof:.0f} % of the {show(proof, 'kN')} that "
            "the fastener is proved for", "test the nut factor of this lot (ISO 16047), or lower the target",
        ))
    if required is not None and load.low < required * (1 - 1e-9):
        found.append(Concern(
            "too little in the K band", f"{where}: as little as {100 * load.low / required:.0f} % of the required "
            f"{show(required, 'kN')}", "test the nut factor of this lot (ISO 16047), or measure angle or elongation",
        ))
    return found


def torque_ratio(torque: Num, d: Num) -> Num:
    """M/d^3 in Pa: equal for geometrically similar fasteners used alike, of any size. ValueError unless d > 0."""
    if not np.all(np.asarray(d) > 0):
        raise ValueError(f"a diameter has to be greater than zero, not {d}")
    return torque / d**3


def robust_z(values: Sequence[float]) -> Num:
    """z_i = 0.6745 (x_i - median)/MAD of n values, dimensionless (Iglewicz and Hoaglin 1993, from memory).

    Where more than half of the values are equal, MAD is 0 and the mean absolute deviation takes its place,
    z_i = (x_i - median)/(1.253314 MeanAD); all equal gives zeros. ValueError for an empty list or a value not finite.
    """
    x = np.asarray(values, dtype=float)
    if x.size == 0 or not np.all(np.isfinite(x)):
        raise ValueError("at least one value is needed, and all have to be finite")
    off = x - np.median(x)
    spread = float(np.median(np.abs(off)))
    if spread > 0:
        return 0.6745 * off / spread
    mean = float(np.mean(np.abs(off)))
    return off / (1.253314 * mean) if mean > 0 else np.zeros_like(off)


def unlike_siblings(name: str, ratio: float, siblings: Mapping[str, float]) -> list[Concern]:
    """The joint's M/d^3 against those of its siblings (same class and lubricant), by name. Judged from four siblings
    on; it has to be far out by z and differ from the median by more than rounding.
    """
    others = {other: value for other, value in siblings.items() if other != name}
    if len(others) < FEWEST:
        return []
    z = float(robust_z([ratio, *others.values()])[0])
    middle = float(np.median(list(others.values())))
    if abs(z) <= FAR or abs(ratio / middle - 1) <= 5 * ALIKE:
        return []
    more = "more" if ratio > middle else "less"
    return [Concern(
        "unlike its siblings", f"tightened {100 * abs(ratio / middle - 1):.0f} % {more} than its siblings: M/d^3 is "
        f"{show(ratio, 'MPa')}, the median of {len(others)} joints with the same class and lubricant "
        f"({_some(others)}) is {show(middle, 'MPa')} (robust z = {z:.1f}, limit {FAR})",
        "compare the documents of both; a wrong line, size or class is the usual cause",
    )]


def _some(names: Mapping[str, float]) -> str:
    listed = sorted(names)
    return ", ".join(listed[:4]) + (f" and {len(listed) - 4} more" if len(listed) > 4 else "")


def sources_disagree(torques: Mapping[str, float], tolerance: float) -> list[Concern]:
    """Torques (N.m) of one joint by document: any pair farther apart than `tolerance` (share of the smaller)."""
    names = list(torques)
    found = []
    for number, one in enumerate(names):
        for other in names[number + 1:]:
            a, b = torques[one], torques[other]
            if not (a > 0 and b > 0):
                raise ValueError(f"a torque has to be greater than zero: {one} {a}, {other} {b}")
            if abs(a - b) <= max(tolerance, ALIKE) * min(a, b):
                continue
            apart = 100 * (max(a, b) / min(a, b) - 1)
            text = f"{one} says {show(a, 'N.m')}, {other} says {show(b, 'N.m')} ({apart:.0f} % apart)"
            slips = unit_slips(b, a * (1 - ALIKE), a * (1 + ALIKE))
            if slips:
                text += f"; the ratio is that of {slips[0].written_as} to {slips[0].meant}: a unit may be mixed up"
            found.append(Concern("two sources disagree", text,
                                 "the one who approves the joint has to say which counts, in a new revision"))
    return found


def wrong_unit(torque: float, d: float, proof: float, K: Band, written_as: str | None = None) -> list[Concern]:
    """Whether the torque gives no usual load at all, but would in another unit (the load between 15 and 100 % of the
    proof load over the band of nut factors).
    """
    lower, upper = LEAST_USE * proof * K.low * d, MOST_USE * proof * K.high * d
    slips = unit_slips(torque, lower, upper, written_as=written_as)
    if not slips:
        return []
    text = slips[0].text
    if others := [f"{slip.meant} ({show(torque * slip.factor, 'N.m')})" for slip in slips[1:]]:
        text += f"; also possible: {', '.join(others)}"
    return [Concern("unit slip suspected", text, "look at the unit in the source document")]
