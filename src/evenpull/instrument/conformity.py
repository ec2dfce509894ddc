"""Conformity of one result with limits: probability, decision rules with guard bands, measurement capability.

JCGM 106:2012, ILAC-G8:09/2019, ISO 14253-1:2017 (clauses from memory). y, u and the limits in one unit; a limit
that does not exist is None (or infinite).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri, stdtr

from evenpull.joint.numeric import Num

FEW_DEGREES = 100.0  # below it t replaces the normal distribution; at 100 both differ by less than 0.002
ISO_14253_PROBABILITY = 0.95
Limit = Num | None
Conformity = Literal["conforms", "conforms conditionally", "fails conditionally", "fails"]


def conformance_probability(y: Num, u: Num, lower: Limit, upper: Limit, degrees: float = math.inf) -> Num:
    """p_c = Phi((T_U - y)/u) - Phi((T_L - y)/u), the probability that the true value lies within the limits.

    Normal, or t with `degrees` of freedom where they are few (JCGM 106 7.2, 7.4; A.4 and GUM G.3 for t). y, u and the
    limits floats or arrays. ValueError for u not positive, limits that do not rise, or none at all.
    """
    low, high = _limits(lower, upper)
    if not np.all(np.asarray(u) > 0):
        raise ValueError("the standard uncertainty has to be greater than zero")
    above, below = (np.asarray(high) - y) / u, (np.asarray(low) - y) / u
    # from the nearer tail: far from a limit 1 - p would lose all its figures
    flip = below > 0
    p = np.where(flip, _cdf(-below, degrees) - _cdf(-above, degrees), _cdf(above, degrees) - _cdf(below, degrees))
    return _plain(p)


def outside_probability(y: Num, u: Num, lower: Limit, upper: Limit, degrees: float = math.inf) -> Num:
    """1 - p_c, computed from the tails so that small risks keep their figures: the specific risk of accepting y."""
    low, high = _limits(lower, upper)
    if not np.all(np.asarray(u) > 0):
        raise ValueError("the standard uncertainty has to be greater than zero")
    above, below = (np.asarray(high) - y) / u, (np.asarray(low) - y) / u
    return _plain(_cdf(-above, degrees) + _cdf(below, degrees))


def _cdf(z: Num, degrees: float) -> Num:
    return ndtr(z) if degrees >= FEW_DEGREES else stdtr(degrees, z)


def _plain(p: Num) -> Num:
    return float(p) if np.ndim(p) == 0 else p


def _limits(lower: Limit, upper: Limit) -> tuple[Num, Num]:
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if np.any(np.isnan(low)) or np.any(np.isnan(high)):
        raise ValueError("a limit is not a number; leave out one that does not exist")
    if not np.all(np.asarray(low) < np.asarray(high)):
        raise ValueError(f"the lower limit has to be below the upper one: {lower} to {upper}")
    if np.any(np.isinf(low) & np.isinf(high)):
        raise ValueError("at least one limit is needed")
    return low, high


def capability_index(lower: float, upper: float, u: float) -> float:
    """Measurement capability index C_m = (T_U - T_L)/(4 u) (JCGM 106 7.6.3), the window over 2 U with U = 2 u."""
    if not lower < upper or not u > 0:
        raise ValueError(f"a capability index needs rising limits and a positive uncertainty: {lower}, {upper}, {u}")
    return (upper - lower) / (4 * u)


def guard_band(lower: Limit, upper: Limit, u: float, probability: float = ISO_14253_PROBABILITY) -> float:
    """w such that a result on the acceptance limit T -+ w conforms with `probability` (normal).

    One limit, or u small against the window: w = 1.645 u at 95 % (ISO 14253-1). With two near limits both tails
    count, and w is a little larger. ValueError when not even the middle of the window reaches the probability.
    """
    low, high = _limits(lower, upper)
    if not 0.5 <= probability < 1:
        raise ValueError(f"a guard band is for probabilities from 0.5 to below 1: {probability}")
    if math.isinf(low) or math.isinf(high):
        return float(ndtri(probability)) * u
    middle = (low + high) / 2
    if conformance_probability(middle, u, low, high) < probability:
        raise ValueError(f"with a standard uncertainty of {u:.6g} no result between {low:.6g} and {high:.6g} conforms "
                         f"with {100 * probability:.4g} %: the measurement is too coarse for this window")
    if conformance_probability(low, u, low, high) >= probability:
        return 0.0
    return float(brentq(lambda w: conformance_probability(low + w, u, low, high) - probability, 0.0, middle - low))


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """`guard` w = guard U with U = k u (simple acceptance 0); or `probability`: w from `guard_band`.

    `non_binary`: results between limit and guard band are neither plain pass nor plain fail (ILAC-G8).
    """

    name: str
    statement: str
    guard: float = 0.0
    probability: float | None = None
    non_binary: bool = False

    def width(self, lower: Limit, upper: Limit, u: float, k: float = 2.0) -> float:
        """Guard band w in the unit of u."""
        return self.guard * k * u if self.probability is None else guard_band(lower, upper, u, self.probability)


SIMPLE = DecisionRule(
    "simple acceptance", "A result within the limits is accepted, with no guard band (JCGM 106 8.2). On a limit the "
    "risk of a false acceptance is up to 50 %.",
)
GUARDED = DecisionRule(
    "guard band of U", "A result is accepted within the limits less the expanded uncertainty U, k = 2 (JCGM 106 8.3.2; "
    "ILAC-G8:09/2019). On an acceptance limit the risk of a false acceptance is below 2.5 %.", guard=1.0,
)
PROVEN = DecisionRule(
    "conformity proven at 95 %", "A result is accepted where it conforms with at least 95 % (the default of "
    "ISO 14253-1:2017 for whoever proves conformity): a guard band of 1.65 u where u is small against the window.",
    probability=ISO_14253_PROBABILITY,
)
NON_BINARY = DecisionRule(
    "non-binary, guard band of U", "Within the limits less U a result conforms, between there and the limit it "
    "conforms conditionally, beyond the limit up to U it fails conditionally, further out it fails "
    "(ILAC-G8:09/2019).", guard=1.0, non_binary=True,
)
RULES = (SIMPLE, GUARDED, PROVEN, NON_BINARY)


def with_guard(r: float) -> DecisionRule:
    """Guard band w = r U with U = 2 u and an agreed r (JCGM 106 8.3.2). Below 0 it would accept outside the limits."""
    if not 0 <= r < math.inf:
        raise ValueError(f"the guard band factor has to be zero or more: {r}")
    return DecisionRule(f"guard band of {r:g} U", f"A result is accepted within the limits less {r:g} times the "
                        "expanded uncertainty U, k = 2 (JCGM 106 8.3.2).", guard=r)


@dataclass(frozen=True, slots=True)
class Decision:
    """`probability` of conformity, `risk` of the decision being wrong, `w` the guard band that was used."""

    verdict: Conformity
    accepted: bool
    probability: float
    risk: float
    w: float
    rule: str


def decide(
    y: float, u: float, lower: float | None, upper: float | None, rule: DecisionRule, k: float = 2.0,
    degrees: float = math.inf,
) -> Decision:
    """One result by a stated rule. A result on an acceptance limit is accepted."""
    low, high = _limits(lower, upper)
    w = rule.width(lower, upper, u, k)
    p = float(conformance_probability(y, u, lower, upper, degrees))
    wrong = float(outside_probability(y, u, lower, upper, degrees))
    verdict: Conformity
    if low + w <= y <= high - w:
        verdict = "conforms"
    elif rule.non_binary and low <= y <= high:
        verdict = "conforms conditionally"
    elif rule.non_binary and low - w <= y <= high + w:
        verdict = "fails conditionally"
    else:
        verdict = "fails"
    accepted = verdict in ("conforms", "conforms conditionally")
    return Decision(verdict, accepted, p, wrong if accepted else p, w, rule.name)
