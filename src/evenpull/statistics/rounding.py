"""Measured values as a display rounds them: which step they stand on, and how often they are alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

FINEST = 1 / 150  # of sigma; a finer step is taken as this one, which only makes values alike more often


@lru_cache(maxsize=512)
def rounded_shares(step: float, sigma: float) -> NDArray[np.float64]:
    """Shares of the values of a normal variable (standard deviation `sigma`) rounded to a multiple of `step`.

    The mean lies on a multiple: then the greatest share is as great as it can be. Steps finer than `FINEST` sigma are
    taken as that. So a bound made from these shares is hardly ever below that for another mean. Same unit for both;
    step > 0. sigma = 0: one value has the share 1.
    Source: integral of the normal density over each cell.
    """
    if step <= 0 or sigma < 0:
        raise ValueError(f"step {step!r} has to be positive and the standard deviation {sigma!r} not negative")
    if sigma == 0:
        return np.ones(1)
    step = max(step, FINEST * sigma)
    reach = math.ceil(6 * sigma / step)
    edges = (np.arange(-reach, reach + 2) - 0.5) * (step / sigma)
    shares: NDArray[np.float64] = np.diff(ndtr(edges))
    shares.setflags(write=False)
    return shares


def alike_chance(step: float, sigma: float) -> float:
    """Chance that two such values are equal: the sum of the squared shares. For a step small against sigma it is
    step / (2 sqrt(pi) sigma), the density of the difference at zero times the step."""
    if 0 < step < sigma / 100:
        return step / (2 * math.sqrt(math.pi) * sigma)
    return min(1.0, float((rounded_shares(step, sigma) ** 2).sum()))


def lattice_step(values: Sequence[int]) -> int:
    """Greatest step on which whole numbers can stand: the greatest common divisor of their differences; 0 when they are
    all the same, so that nothing is known."""
    if not len(values):
        return 0
    first = values[0]
    return math.gcd(*(value - first for value in values))
