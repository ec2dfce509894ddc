"""The evenness that is asked for, and whether final loads reach it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from evenpull.ring.stepping import Pull

Floats = NDArray[np.float64]
Evaluate = Callable[[Sequence[Pull]], Floats]  # pulls -> final loads (samples, n) N, with scatter
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """Every final load at least `least` times the target, and (max - min) / target at most `spread` (None: not asked),
    both at once with `probability` over assemblies. Without scatter the probability is 1 or 0."""

    least: float
    spread: float | None = None
    probability: float = 1.0

    def __post_init__(self) -> None:
        if not 0 < self.least <= 1:
            raise ValueError(f"goal least = {self.least}: a part of the target, above 0 and at most 1")
        if self.spread is not None and not self.spread > 0:
            raise ValueError(f"goal spread = {self.spread}: it has to be above zero, or left out")
        if not 0 < self.probability <= 1:
            raise ValueError(f"goal probability = {self.probability}: above 0 and at most 1")

    @property
    def middle(self) -> float:
        """Of target: where even loads have most room on both sides, never above the target."""
        return 1.0 if self.spread is None else min(1.0, self.least + self.spread / 2)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where final loads stand. `least`, `spread` and `deviation` (standard deviation over the bolts, of target) are
    means over the samples; `probability` is the share of samples that meet the goal and `interval` what 95 % confidence
    leaves of it (Clopper and Pearson, exact binomial; textbook), both None without scatter. `shortfall` is zero when
    the goal is met, and what is missing of it (of target, or of probability) when not."""

    least: float
    spread: float
    deviation: float
    probability: float | None
    interval: tuple[float, float] | None
    shortfall: float

    @property
    def met(self) -> bool:
        return self.shortfall <= _ROUNDING


def stand(final: Floats, target: float, goal: Goal) -> Standing:
    """`final` (n,) N of one procedure without scatter, or (samples, n) with."""
    rows = np.atleast_2d(final) / target
    least, spread = rows.min(axis=1), rows.max(axis=1) - rows.min(axis=1)
    missing = np.maximum(0.0, goal.least - least)
    if goal.spread is not None:
        missing = np.maximum(missing, spread - goal.spread)
    means = float(least.mean()), float(spread.mean()), float(rows.std(axis=1).mean())
    if final.ndim == 1:
        return Standing(*means, None, None, max(0.0, float(missing[0])))
    count, met = len(rows), int((missing <= _ROUNDING).sum())
    low = 0.0 if met == 0 else float(beta.ppf(0.025, met, count - met + 1))
    high = 1.0 if met == count else float(beta.ppf(0.975, met + 1, count - met))
    return Standing(*means, met / count, (low, high), max(0.0, goal.probability - met / count))
