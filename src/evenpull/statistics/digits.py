"""Last digits of measured values, and slips of writing: a decimal sign moved, two digits exchanged."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
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


def digit_test(digits: Sequence[int]) -> DigitTest:
    """Whether last digits are spread evenly over those that can occur (Pearson's chi-square, goodness of fit).

    A tool with a step of 2 or 5 shows only some digits: the digits taken as possible are the smallest of {all, even,
    0 and 5, 0} that hold every one seen. Measured values whose scatter is several steps of the last digit end in each
    digit equally often (Newcomb/Benford: holds for the last digit, not the first; from memory). The approximation is
    used from an expected count of 5 on; below it p is 1. ValueError for no digits.
    """
    if not digits:
        raise ValueError("no digits to be tested")
    counts = np.bincount(np.asarray(digits), minlength=10)
    seen = set(digits)
    lattices = ((0,), (0, 5), (0, 2, 4, 6, 8), tuple(range(10)))
    allowed = next(lattice for lattice in lattices if seen <= set(lattice))
    n, k = len(digits), len(allowed)
    expected = n / k
    if k == 1 or expected < 5:
        return DigitTest(n, tuple(map(int, counts)), allowed, 0.0, 1.0)
    statistic = float((((counts[list(allowed)] - expected) ** 2) / expected).sum())
    return DigitTest(n, tuple(map(int, counts)), allowed, statistic, chi_square_tail(statistic, k - 1))


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
