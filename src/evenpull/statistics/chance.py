"""Tail probabilities that several tests use; scipy computes them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtr, chdtrc, chdtri
from scipy.stats import binom

from evenpull.statistics.rounding import rounded_shares


def chi_square_tail(statistic: float, degrees: int) -> float:
    """P(chi-square with `degrees` degrees of freedom >= statistic)."""
    return float(chdtrc(degrees, statistic))


def variance_too_small(s: float, sigma_least: float, n: int) -> float:
    """P(a sample of n has a standard deviation of at most s) when the true one is sigma_least: the lower tail of
    (n - 1) s^2 / sigma^2, chi-square with n - 1 degrees of freedom. Both in one unit, sigma_least > 0, n >= 2."""
    if n < 2 or sigma_least <= 0:
        raise ValueError("a variance is tested from two values and against a positive standard deviation")
    return float(chdtr(n - 1, (n - 1) * (s / sigma_least) ** 2))


def deviation_at_least(s: float, n: int, risk: float) -> float:
    """Lower confidence bound of a standard deviation, missed with the probability `risk`: s sqrt((n - 1) / chi-square),
    with the upper `risk` point of n - 1 degrees. Unit of s; n >= 2."""
    if n < 2 or not 0 < risk < 1:
        raise ValueError("a bound needs two values and a risk between 0 and 1")
    return s * math.sqrt((n - 1) / float(chdtri(n - 1, risk)))


def most_alike(n: int, most: int, shares: NDArray[np.float64]) -> float:
    """Bound on P(some value stands at least `most` times among n draws): the sum over the shares of the binomial tails
    (Boole's inequality). Capped at 1."""
    return min(1.0, float(binom.sf(most - 1, n, shares).sum()))


def scatter_too_small(values: Sequence[float], sigma_least: float, step: float) -> float:
    """Chance that n >= 2 values scatter so little, when the true standard deviation is at least sigma_least and they
    are rounded to `step`; all in one unit.

    Up to half of sigma_least the step is allowed for by its own variance step^2/12 (Sheppard) and chi-square is used.
    Coarser steps leave few different values: there the chance is that the most frequent one stands so often. Which of
    the two is used was settled by simulation (tests); above half, chi-square promises too much.
    """
    n = len(values)
    if step <= sigma_least / 2:
        s = float(np.std(np.asarray(values, float), ddof=1))
        return variance_too_small(s, math.hypot(sigma_least, step / math.sqrt(12)), n)
    _, counts = np.unique(np.round(np.asarray(values, float) / step).astype(np.int64), return_counts=True)
    return most_alike(n, int(counts.max()), rounded_shares(step, sigma_least))
