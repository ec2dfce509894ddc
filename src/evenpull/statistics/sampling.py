"""What a check of some pieces says about the rest: chance to find a bad one, how many to check, share that may be bad.

N pieces in the lot, b of them bad, n checked, c found bad. Pieces are drawn at random; a choice by convenience has none
of these figures. `hit` is the chance that the check finds a bad piece bad (1: it never misses).
"""

from __future__ import annotations

import math

import numpy as np
from scipy import stats

from evenpull.statistics.sane import probabilities, whole

LARGEST = 100_000_000


def _lot(N: int, **parts: int) -> None:
    whole(1, LARGEST, N=N)
    for name, value in parts.items():
        whole(0, LARGEST, **{name: value})
        if value > N:
            raise ValueError(f"{name} = {value} of a lot of {N}: no more than there are")


def detection(N: int, b: int, n: int, hit: float = 1.0) -> float:
    """Chance that a check of n out of N finds at least one of b bad ones: 1 - C(N - b, n)/C(N, n), hypergeometric.

    With a check that misses, sum over k of h(k; N, b, n) (1 - (1 - hit)^k), h the hypergeometric chance of k bad ones
    in the sample. ValueError for numbers that do not fit into the lot.
    """
    _lot(N, b=b, n=n)
    if not 0 < hit <= 1:
        raise ValueError(f"the chance that a check finds a bad one lies above 0 and up to 1, not {hit}")
    if hit < 1:
        k = np.arange(max(0, n + b - N), min(n, b) + 1)
        return min(1.0, float(stats.hypergeom.pmf(k, N, b, n) @ -np.expm1(k * math.log1p(-hit))))
    if n + b > N:
        return 1.0
    few, many = min(b, n), max(b, n)
    if few * many > 800 * N:  # (1 - many/N)^few, which bounds the chance to miss them all, is below the least number
        return 1.0
    return float(-np.expm1(np.log1p(-many / (N - np.arange(few))).sum()))


def zero_failures(share: float, confidence: float = 0.95) -> int:
    """Fewest n of an endless lot so that none bad among n shows, with this confidence, that less than `share` is bad:
    n >= ln(1 - confidence)/ln(1 - share) (binomial)."""
    probabilities(share=share, confidence=confidence)
    n = math.ceil(math.log1p(-confidence) / math.log1p(-share) - 1e-12)
    return max(n, 1)


def zero_failures_of_lot(N: int, b: int, confidence: float = 0.95, hit: float = 1.0) -> int:
    """Fewest n of a lot of N so that none bad among n shows, with this confidence, that fewer than b are bad: the
    least n whose `detection` reaches it. ValueError where a check that misses does not reach it even on all N."""
    probabilities(confidence=confidence)
    whole(1, LARGEST, b=b)
    best = detection(N, b, N, hit)
    if best < confidence:
        raise ValueError(f"a check that finds a bad one with {hit:.3g} finds one of {b} with {best:.3g} even on all "
                         f"{N}: take a surer check, check twice, or ask for less than {confidence:.3g}")
    low, high = 0, N  # low does not reach it, high does
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if detection(N, b, middle, hit) >= confidence else (middle, high)
    return high


def clopper_pearson(c: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided interval of a share after c of n, from the beta distribution (C. J. Clopper, E. S. Pearson,
    Biometrika 26, 1934; from memory). At least `confidence`; for an endless lot."""
    _counted(c, n, confidence)
    tail = (1 - confidence) / 2
    low = 0.0 if c == 0 else float(stats.beta.ppf(tail, c, n - c + 1))
    return low, 1.0 if c == n else float(stats.beta.isf(tail, c + 1, n - c))


def bad_share_limit(c: int, n: int, confidence: float = 0.95) -> float:
    """Upper confidence limit of the share bad after c bad of n, one-sided, endless lot (Clopper-Pearson)."""
    _counted(c, n, confidence)
    return 1.0 if c == n else float(stats.beta.ppf(confidence, c + 1, n - c))


def bad_limit_of_lot(N: int, n: int, c: int, confidence: float = 0.95) -> int:
    """Upper confidence limit of the number bad among all N after c bad of n: the largest b whose chance to show no more
    than c stays above 1 - confidence (hypergeometric, one-sided). The c found are counted in it."""
    _lot(N, n=n)
    _counted(c, n, confidence)
    low, high = c, N - n + c + 1  # low can be so; high cannot: more than c of its bad ones would have been drawn
    least = 1 - confidence + 1e-12  # a chance that is 1 - confidence itself is not above it, however it was rounded
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if stats.hypergeom.cdf(c, N, middle, n) > least else (low, middle)
    return low


def sample_needed(share: float, c: int = 0, confidence: float = 0.95, N: int | None = None) -> int:
    """Fewest n after which c bad ones still show that the share bad is below `share` with this confidence: endless lot
    (Clopper-Pearson), or a lot of N (hypergeometric, below share N pieces). ValueError where all N are not enough."""
    probabilities(share=share, confidence=confidence)
    whole(0, LARGEST, c=c)
    if N is not None:
        whole(1, LARGEST, N=N)
        b = math.ceil(share * N - 1e-9)  # this many bad ones must be shown not to be there
        if c >= b:
            raise ValueError(f"{c} bad ones found are not fewer than {share:.4g} of {N}: it is shown not to be so")

    def shown(n: int) -> bool:
        if N is None:
            return bad_share_limit(c, n, confidence) <= share
        return float(stats.hypergeom.cdf(c, N, b, n)) <= 1 - confidence

    low, high = c, c + 1  # low shows nothing: all of it was bad
    while not shown(high if N is None else min(high, N)):
        low, high = high, high * 2
        if high > LARGEST:
            raise ValueError(f"more than {LARGEST} would have to be checked: allow a share above {share}")
    high = high if N is None else min(high, N)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shown(middle) else (middle, high)
    return high


def _counted(c: int, n: int, confidence: float) -> None:
    whole(1, LARGEST, n=n)
    whole(0, LARGEST, c=c)
    probabilities(confidence=confidence)
    if c > n:
        raise ValueError(f"{c} of {n}: no more can be bad than were checked")
