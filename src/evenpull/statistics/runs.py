"""Runs of equal values, and how unlikely they are by chance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence

import numpy as np
from numpy.typing import NDArray


def longest_run(values: Sequence[Hashable]) -> tuple[int, int]:
    """(length, place of its first) of the longest run of equal neighbours; (0, 0) for no values."""
    best = (0, 0)
    start = 0
    for place in range(1, len(values) + 1):
        if place == len(values) or values[place] != values[start]:
            best = max(best, (place - start, start), key=lambda pair: pair[0])
            start = place
    return best


def run_chance(n: int, length: int, shares: NDArray[np.float64]) -> float:
    """Bound on the probability that n independent draws hold a run of at least `length` equal neighbours.

    `shares` (any number of them, dimensionless) are the probabilities of the values that can occur; those left out
    count as never equal. It is the expected number of runs that reach `length`: a run of value i begins at the first
    draw with p_i^length, at each of the n - length later ones with (1 - p_i) p_i^length. By Markov's inequality the
    probability is at most that, and hardly less where it is small. Capped at 1.
    Source: first moment, as in Schilling, "The longest run of heads", College Math. J. 21 (1990), from memory, not
    re-read. ValueError for shares outside 0 ... 1 or length below 2.
    """
    if length < 2 or (shares.size and (shares.min() < 0 or shares.max() > 1)):
        raise ValueError(f"a run of {length} with shares outside 0 ... 1, or of fewer than 2, has no probability here")
    if n < length:
        return 0.0
    return min(1.0, float((shares**length * (1 + (n - length) * (1 - shares))).sum()))


def seen_shares(values: Sequence[Hashable]) -> NDArray[np.float64]:
    """Shares of the values that stand there at least twice; single ones tell nothing on how often they repeat."""
    counts = np.array([count for count in Counter(values).values() if count > 1], float)
    return counts / max(1, len(values))


def repeat_chance(values: Sequence[Hashable]) -> float:
    """Chance that two of the values, drawn without order, are equal: the sum of f_i (f_i - 1) over n (n - 1), an
    unbiased estimate of the sum of p_i^2. 1.0 for fewer than two."""
    n = len(values)
    if n < 2:
        return 1.0
    return sum(f * (f - 1) for f in Counter(values).values()) / (n * (n - 1))
