"""Runs of equal values, and how unlikely they are by chance."""

from __future__ import annotations

from collections.abc import Hashable, Sequence


def longest_run(values: Sequence[Hashable]) -> tuple[int, int]:
    """(length, place of its first) of the longest run of equal neighbours; (0, 0) for no values."""
    best = (0, 0)
    start = 0
    for place in range(1, len(values) + 1):
        if place == len(values) or values[place] != values[start]:
            best = max(best, (place - start, start), key=lambda pair: pair[0])
            start = place
    return best


def run_probability(n: int, length: int, p: float) -> float:
    """Probability that n independent trials hold a run of at least `length` neighbours that repeat the one before.

    `p` is the chance that a value equals the one before it; a run of `length` equal values needs length - 1 repeats in
    a row. By the recursion on the first such run (Feller, An Introduction to Probability Theory, vol. 1, XIII.7, from
    memory): u_m = u_(m-1) + (1 - u_(m-k-1)) (1 - p) p^k with k = length - 1 repeats, u_k = p^k.
    ValueError for p outside 0 ... 1 or length below 2.
    """
    if not 0 <= p <= 1 or length < 2:
        raise ValueError(f"a run of {length} with p = {p} has no probability here")
    k, trials = length - 1, n - 1
    if trials < k:
        return 0.0
    u = [0.0] * (trials + 1)
    u[k] = p**k
    for m in range(k + 1, trials + 1):
        u[m] = u[m - 1] + (1 - u[m - k - 1]) * (1 - p) * p**k
    return min(1.0, u[trials])


def repeat_chance(values: Sequence[Hashable]) -> float:
    """Chance that two of the values, drawn without order, are equal: the sum of f_i (f_i - 1) over n (n - 1). An
    estimate of p for `run_probability` that knows the resolution from the values themselves. 1.0 for fewer than two."""
    n = len(values)
    if n < 2:
        return 1.0
    counts: dict[Hashable, int] = {}
    for value in values:
        counts[value] = counts.get(value, 0) + 1
    return sum(f * (f - 1) for f in counts.values()) / (n * (n - 1))
