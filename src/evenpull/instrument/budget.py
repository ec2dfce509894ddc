"""Uncertainty budgets: contributions as rows, their combination, degrees of freedom, coverage factor.

JCGM 100:2008 (GUM). A budget is in one unit throughout, or in shares of the value (then the letters are w and W).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from scipy.stats import t as student

P_TWO_SIGMA = 0.9545  # the coverage that a normal distribution has within k = 2
GUM = "JCGM 100:2008"

# distribution -> divisor that makes a standard uncertainty of the estimate (GUM 4.3.3 to 4.3.9, F.2.3.3)
DIVISORS = {
    "standard": 1.0,  # the estimate is a standard deviation, of single values or already of the mean
    "normal, k = 2": 2.0,
    "rectangular, half-width": math.sqrt(3),
    "rectangular, full width": 2 * math.sqrt(3),
    "triangular, half-width": math.sqrt(6),
    "U-shaped, half-width": math.sqrt(2),
}


@dataclass(frozen=True, slots=True)
class Contribution:
    """One row: `estimate` as it was found, `divisor` of its distribution, `sensitivity` c towards the result,
    `degrees` of freedom (inf when it is not from readings)."""

    symbol: str
    name: str
    estimate: float
    distribution: str
    divisor: float
    sensitivity: float
    degrees: float
    source: str

    @property
    def u(self) -> float:
        """Standard uncertainty of the input, estimate over divisor."""
        return self.estimate / self.divisor

    @property
    def part(self) -> float:
        """What it contributes to the result, |c| u."""
        return abs(self.sensitivity) * self.u


def contribution(
    symbol: str, name: str, estimate: float, distribution: str, source: str, *,
    sensitivity: float = 1.0, degrees: float = math.inf, divisor: float | None = None,
) -> Contribution:
    """A row of the budget. `distribution` is a key of DIVISORS, or any words together with a `divisor` of their own
    (an expanded uncertainty with k = 2.13; the mean of n readings with sqrt(n)).

    ValueError for an estimate that is negative or not finite, an unknown distribution without a divisor, a divisor
    that is not positive, degrees of freedom below 1.
    """
    if not 0 <= estimate < math.inf:
        raise ValueError(f"{symbol}: an uncertainty is finite and not negative: {estimate}")
    if not math.isfinite(sensitivity):
        raise ValueError(f"{symbol}: the sensitivity has to be finite: {sensitivity}")
    if divisor is None:
        if distribution not in DIVISORS:
            raise ValueError(f"{symbol}: no divisor is known for {distribution!r}; one of {', '.join(DIVISORS)}, or "
                             "state a divisor")
        divisor = DIVISORS[distribution]
    if not 0 < divisor < math.inf:
        raise ValueError(f"{symbol}: the divisor has to be greater than zero: {divisor}")
    if not degrees >= 1:
        raise ValueError(f"{symbol}: at least one degree of freedom is needed: {degrees}")
    return Contribution(symbol, name, estimate, distribution, divisor, sensitivity, degrees, source)


def combined(parts: Iterable[float]) -> float:
    """Combined standard uncertainty, root of the sum of squares of uncorrelated parts (GUM eq. 10)."""
    return math.hypot(*parts)


def effective_degrees(parts: Sequence[float], degrees: Sequence[float]) -> float:
    """Welch-Satterthwaite: nu_eff = u_c^4 / sum(u_i^4/nu_i) (GUM eq. G.2b). inf when no part with finite degrees
    contributes. Parts and degrees of freedom in one order, in one unit or all relative."""
    if len(parts) != len(degrees):
        raise ValueError(f"{len(parts)} parts and {len(degrees)} degrees of freedom")
    largest = max(parts, default=0.0)
    if largest == 0:
        return math.inf
    # scaled by the largest, so that small relative parts do not vanish in the fourth power
    below = sum((u / largest) ** 4 / nu for u, nu in zip(parts, degrees, strict=True))
    return math.inf if below == 0 else combined(parts) ** 4 / largest**4 / below


@lru_cache(maxsize=4096)
def coverage_factor(degrees: float, p: float = P_TWO_SIGMA) -> float:
    """k for the coverage probability p: the t factor of the next lower whole degrees of freedom (GUM G.3.2, G.4.1).

    2.00 for infinite degrees and p = 95.45 %. ValueError below one degree and for p outside 0 to 1.
    """
    if not 0 < p < 1:
        raise ValueError(f"the coverage probability lies between 0 and 1: {p}")
    if not degrees >= 1 - 1e-9:
        raise ValueError(f"at least one degree of freedom is needed: {degrees}")
    whole = degrees if math.isinf(degrees) else math.floor(degrees + 1e-9)
    return float(student.ppf((1 + p) / 2, whole))


@dataclass(frozen=True, slots=True)
class Budget:
    """`u` combined, `degrees` effective, `k` for coverage `p`, `U` = k u; rows as a page prints them."""

    rows: tuple[Contribution, ...]
    u: float
    degrees: float
    p: float
    k: float
    U: float

    def share(self, row: Contribution) -> float:
        """Part of the variance that a row makes; 0 when nothing contributes."""
        return 0.0 if self.u == 0 else (row.part / self.u) ** 2


def budget(rows: Iterable[Contribution], p: float = P_TWO_SIGMA, k: float | None = None) -> Budget:
    """Combine rows of one unit. With `k` that factor is taken as stated (ISO 6789-2 states 2), and a reader can
    compare it with the coverage factor that `degrees` ask for; without, it follows from them.

    ValueError for no rows, and for a symbol that stands twice: the same contribution would count double.
    """
    found = tuple(rows)
    if not found:
        raise ValueError("a budget needs at least one contribution")
    symbols = [row.symbol for row in found]
    for symbol in symbols:
        if symbols.count(symbol) > 1:
            raise ValueError(f"{symbol} stands twice in the budget: a contribution counts once")
    parts = [row.part for row in found]
    u = combined(parts)
    degrees = effective_degrees(parts, [row.degrees for row in found])
    factor = coverage_factor(degrees, p) if k is None else k
    if not factor > 0:
        raise ValueError(f"the coverage factor has to be greater than zero: {factor}")
    return Budget(found, u, degrees, p, factor, factor * u)
