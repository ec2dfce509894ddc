"""What re-checking a sample would say: how many to draw, and the chance to find one that is bad. A proposal.

The numbers are those of `evenpull.statistics.sampling`: a lot of N fasteners drawn at random, none bad among n.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpull.instrument.deviation import Truths
from evenpull.instrument.review import Verdict
from evenpull.review.codes import CLASSES
from evenpull.review.outcome import Outcome
from evenpull.statistics.sampling import detection, zero_failures, zero_failures_of_lot

CONFIDENCE = 0.95
SHARES = (0.10, 0.05, 0.01)  # shares bad that the sample is to exclude
# class -> the share that is proposed; None: all of them. Common practice, no source; the rules of the place decide.
PROPOSED: dict[str, float | None] = {"A": None, "B": 0.01, "C": 0.05, "": None}


@dataclass(frozen=True, slots=True)
class SamplePlan:
    """To show with 95 % that fewer than `bad` of `lot` (a share `share`) are bad: draw `n`, none of them bad.
    `endless` what a lot without end would need; `detection` the chance that the n show one where `bad` are bad."""

    share: float
    lot: int
    bad: int
    n: int
    endless: int
    detection: float

    @property
    def percent(self) -> str:
        return f"{100 * self.share:g}"

    @property
    def chance(self) -> str:
        return f"{100 * self.detection:.2f}"


@dataclass(frozen=True, slots=True)
class Lot:
    """The fasteners of one class that are not surely in, or whose load is not surely enough. `surely_out` of them need
    no sample: each is to be dealt with. `plans` for the rest; `proposed` the one that is proposed, None for all."""

    joint_class: str
    fasteners: int
    surely_out: int
    plans: tuple[SamplePlan, ...]
    proposed: SamplePlan | None

    @property
    def open(self) -> int:
        return self.fasteners - self.surely_out


def lots(outcome: Outcome) -> tuple[Lot, ...]:
    """One lot for each class that has fasteners to be looked at; a fastener counts once, by its last tightening here
    and the worst that any of its tightenings was."""
    t = outcome.touched
    if not t.count:
        return ()
    units, numbers = int(t.unit.max()) + 1, int(t.fastener.max()) + 1
    _, which = np.unique((t.joint * units + t.unit) * numbers + t.fastener, return_inverse=True)
    worst = np.zeros(int(which.max()) + 1, np.int8)
    np.maximum.at(worst, which, outcome.decision)
    np.maximum.at(worst, which, np.where(_load_bad(outcome), outcome.load, 0).astype(np.int8))
    classes = np.zeros(worst.shape, np.int64)
    classes[which] = t.joint_class()
    found = []
    for code, name in enumerate(CLASSES):
        own = worst[classes == code]
        fasteners = int((own != Verdict.SURELY_IN).sum())
        if fasteners:
            found.append(_lot(name, fasteners, int((own == Verdict.SURELY_OUT).sum())))
    return tuple(found)


def _load_bad(outcome: Outcome) -> Truths:
    """A load that is doubtful or surely too little; one that cannot be judged adds nothing: often none is required."""
    bad: Truths = (outcome.load == Verdict.SURELY_OUT) | (outcome.load == Verdict.DOUBTFUL)
    return bad


def _lot(name: str, fasteners: int, surely_out: int) -> Lot:
    N = fasteners - surely_out
    if not N:
        return Lot(name, fasteners, surely_out, (), None)
    plans = tuple(plan(N, share) for share in SHARES)
    wanted = PROPOSED[name]
    return Lot(name, fasteners, surely_out, plans,
               None if wanted is None else next(one for one in plans if one.share == wanted))


def plan(N: int, share: float) -> SamplePlan:
    """The sample of a lot of N that excludes a share bad; at least one piece is the least that can be excluded."""
    bad = max(1, math.ceil(share * N - 1e-9))
    n = zero_failures_of_lot(N, bad, CONFIDENCE)
    return SamplePlan(share, N, bad, n, zero_failures(share, CONFIDENCE), detection(N, bad, n))
