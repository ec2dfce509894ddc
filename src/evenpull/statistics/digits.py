"""Last digits of measured values, and slips of writing: a decimal sign moved, two digits exchanged."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from evenpull.statistics.chance import chi_square_tail

_NUMBER = re.compile(r"[+-]?([0-9]+)(?:[.,]([0-9]+))?")


def last_digit(text: str) -> int | None:
    """The last digit as written, "12.50" -> 0; None for a text that is no plain number."""
    found = _NUMBER.fullmatch(text.strip())
    return None if found is None else int((found[2] or found[1])[-1])


@dataclass(frozen=True)
class DigitTest:
    """`statistic` is chi-square over the digits that the resolution allows, against equal shares."""

    n: int
    counts: tuple[int, ...]  # of the digits 0 ... 9
    allowed: tuple[int, ...]
    statistic: float
    p: float


_LATTICES = tuple(tuple(range(0, 10, step)) for step in (10, 5, 2, 1))


def digit_test(digits: Sequence[int], step: int = 0) -> DigitTest:
    """Whether last digits are spread evenly over those that can occur (Pearson's chi-square, goodness of fit).

    A tool with a step of 2 or 5 in its last digit shows only some digits. `step` is that of the tool where it is known,
    0 where it is not: then, or where digits were seen that the step does not allow, the digits taken as possible are
    the smallest of {0; 0 and 5; even; all} that hold every one seen. Measured values whose scatter is several steps of
    the last digit end in each digit equally often (from memory: Mosimann, Wiseman and Edelman, "Data fabrication: can
    people generate random digits?", Accountability in Research 4, 1995, not re-read).
    p is exact (`exact_tail`) below an expected count of 10, and chi-square above. ValueError for no digits.
    """
    if not digits:
        raise ValueError("no digits to be tested")
    counts = np.bincount(np.asarray(digits), minlength=10)
    seen = set(digits)
    allowed = tuple(range(0, 10, math.gcd(step, 10))) if step > 0 else ()
    if not seen <= set(allowed):
        allowed = next(lattice for lattice in _LATTICES if seen <= set(lattice))
    n, k = len(digits), len(allowed)
    kept = counts[list(allowed)]
    statistic = float((kept.astype(float) ** 2).sum() * k / n - n)
    if k == 1:
        p = 1.0
    elif n < 10 * k:
        p = exact_tail(n, k, int((kept**2).sum()))
    else:
        p = chi_square_tail(statistic, k - 1)
    return DigitTest(n, tuple(map(int, counts)), allowed, statistic, p)


@lru_cache(maxsize=4096)
def exact_tail(n: int, k: int, squares: int) -> float:
    """P(sum of squared counts >= squares) for n draws into k cells of equal shares: the exact tail of Pearson's
    statistic, which is k/n times that sum less n.

    Cell after cell: the weights 1/(c! k^c) of all counts c are added up by (draws used, sum of squares so far); what
    stays below `squares` is left out of the tail. Source: multinomial distribution. Its cost is of the order k n^2
    squares, so n up to a hundred. ValueError where there is nothing to draw.
    """
    if n < 1 or k < 1:
        raise ValueError(f"{n} draws into {k} cells have no distribution")
    reached = np.zeros((n + 1, squares))  # (draws, sum of squares) -> weight
    if squares > 0:
        reached[0, 0] = 1.0
    counts = [c for c in range(n + 1) if c * c < squares]
    weights = [math.exp(-math.lgamma(c + 1) - c * math.log(k)) for c in counts]
    for _ in range(k):
        following = np.zeros_like(reached)
        for c, weight in zip(counts, weights, strict=True):
            following[c:, c * c :] += weight * reached[: n + 1 - c, : squares - c * c]
        reached = following
    below = float(reached[n].sum()) * math.exp(math.lgamma(n + 1))
    return min(1.0, max(0.0, 1.0 - below))


def decimal_shifts(value: float, lower: float, upper: float) -> tuple[float, ...]:
    """Factors by which the value, its decimal sign moved one or two places, would lie in the window; () when it lies
    there already or never does. All in one unit; the window positive."""
    if lower <= value <= upper or value <= 0 or lower <= 0:
        return ()
    return tuple(factor for factor in (10.0, 0.1, 100.0, 0.01) if lower <= value * factor <= upper)


def transpositions(text: str) -> tuple[str, ...]:
    """The number as written with two neighbouring digits exchanged, each other number once; the decimal sign stays. The
    difference to the original is divisible by 9 in units of the last digit."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        return ()
    body = text.strip()
    made: list[str] = []
    places = [i for i, c in enumerate(body) if c.isdigit()]
    for one, other in pairwise(places):
        if body[one] != body[other]:
            swapped = list(body)
            swapped[one], swapped[other] = swapped[other], swapped[one]
            made.append("".join(swapped))
    return tuple(dict.fromkeys(made))
