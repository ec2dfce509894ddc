"""The tightenings that rest on what was found out, as arrays of one length, and the joints they stand in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.instrument.deviation import Floats, Truths

Ints = NDArray[np.int64]
Small = NDArray[np.int8]
UNKNOWN_LOAD = (np.nan, np.nan, np.nan, np.nan, 0.0)


@dataclass(slots=True)  # not frozen: a hundred thousand are made at once, and frozen ones take four times as long
class JointBasis:
    """What a joint asks, as far as a review needs it: `windows` (pass, fastener or 0 for all, lower, upper) in N.m;
    `d` m, `K_low` to `K_high`, `required` least load N, `drag` N.m, all NaN where not stated; `angle` window in rad.
    `joint_class` "" for a joint that nobody has described."""

    joint: str
    joint_class: str
    windows: tuple[tuple[int, int, float, float], ...] = ()
    d: float = np.nan
    K_low: float = np.nan
    K_high: float = np.nan
    required: float = np.nan
    drag: float = 0.0
    angle: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Touched:
    """`joint`, `unit`, `tool` number places in `joints`, `units`, `tools`; `suspect` those in the suspects, in their
    order. `pass_number` and `fastener` 0 where not known. `ratio` torque at the fastener per value on the scale of what
    was found out (N.m per N.m, or per Pa), NaN where not known. `standing`: no later tightening of this fastener is
    known. `state` and `other` codes. `seq` the place of the record in the log."""

    joints: Sequence[JointBasis]
    units: Sequence[str]
    tools: Sequence[str]
    seq: Ints
    joint: Ints
    unit: Ints
    fastener: Ints
    pass_number: Ints
    tool: Ints
    suspect: Ints
    time: Floats
    cycle: Floats
    torque: Floats
    ratio: Floats
    standing: Truths
    state: Small
    other: Small

    @property
    def count(self) -> int:
        return int(self.seq.size)

    def joint_class(self) -> Ints:
        """Class of the joint of each tightening, as a place in CLASSES."""
        from evenpull.review.codes import CLASSES

        of = np.array([CLASSES.index(one.joint_class) for one in self.joints] or [0], np.int64)
        return of[self.joint]


def windows(touched: Touched) -> tuple[Floats, Floats]:
    """Lower and upper limit of each tightening, N.m; NaN where its joint or pass is not known."""
    most = max((w[0] for one in touched.joints for w in one.windows), default=0)
    table = np.full((2, max(1, len(touched.joints)), most + 1), np.nan)
    own = []
    for place, one in enumerate(touched.joints):
        for number, fastener, lower, upper in one.windows:
            if fastener:
                own.append((place, number, fastener, lower, upper))
            else:
                table[0, place, number], table[1, place, number] = lower, upper
    table[:, :, 0] = np.nan
    at = np.where((touched.pass_number >= 1) & (touched.pass_number <= most), touched.pass_number, 0)
    lower, upper = table[0][touched.joint, at], table[1][touched.joint, at]
    if own:
        _own_windows(touched, own, lower, upper)
    return lower, upper


def _own_windows(
    touched: Touched, own: Sequence[tuple[int, int, int, float, float]], lower: Floats, upper: Floats,
) -> None:
    """Put the windows of fasteners that have settings of their own into the arrays."""
    by = {(place, number, fastener): (low, high) for place, number, fastener, low, high in own}
    concerned = np.isin(touched.joint, np.unique([one[0] for one in own]))
    for i in np.flatnonzero(concerned):
        key = int(touched.joint[i]), int(touched.pass_number[i]), int(touched.fastener[i])
        if key in by:
            lower[i], upper[i] = by[key]


def standing_of(joint: Ints, unit: Ints, fastener: Ints, time: Floats, seq: Ints) -> Truths:
    """Which of these is the last of its fastener: by time, then by place in the log. A time that is not known counts as
    after all others: nothing shows that it is not the last."""
    found = np.zeros(seq.shape, bool)
    if not seq.size:
        return found
    units, numbers = int(unit.max()) + 1, int(fastener.max()) + 1
    key = (joint * units + unit) * numbers + fastener
    if np.all(key[1:] >= key[:-1]) and np.all((time[1:] >= time[:-1]) | (key[1:] > key[:-1])):
        order = np.arange(seq.size)  # as it stands already
    else:
        order = np.lexsort((seq, np.where(np.isnan(time), np.inf, time), key))
    last = np.ones(seq.size, bool)
    last[:-1] = key[order][1:] != key[order][:-1]
    found[order[last]] = True
    return found
