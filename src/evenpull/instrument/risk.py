"""Risks before a measurement: how many accepted ones are bad, and how many good ones are refused.

JCGM 106:2012 clause 9: a production (or a crew) with density g0 of true values, a measurement with density h about
the true value. All normal here; one unit throughout. Floats.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from scipy.integrate import quad
from scipy.special import ndtr

from evenpull.instrument.conformity import DecisionRule

REACH = 12.0  # standard deviations beyond which a normal density is nothing (below 1e-32)


@dataclass(frozen=True, slots=True)
class Risks:
    """Global risks: `consumer` R_C accepted and out of limits, `producer` R_P refused and within; `conforming` the
    share within limits at all, `accepted` the share accepted."""

    consumer: float
    producer: float
    conforming: float
    accepted: float


def acceptance_probability(eta: float, u_m: float, lower: float, upper: float) -> float:
    """P(A | eta) = Phi((A_U - eta)/u_m) - Phi((A_L - eta)/u_m), the chance that a true value eta is accepted."""
    above, below = (upper - eta) / u_m, (lower - eta) / u_m
    if below > 0:
        return float(ndtr(-below) - ndtr(-above))
    return float(ndtr(above) - ndtr(below))


def global_risks(
    mean: float, u_0: float, u_m: float, lower: float | None, upper: float | None,
    accept_lower: float | None, accept_upper: float | None,
) -> Risks:
    """R_C and R_P (JCGM 106 9.5): true values normal about `mean` with u_0, measured with u_m.

    `lower` and `upper` are the tolerance limits, `accept_...` the acceptance limits; None where there is none.
    Integrated by adaptive quadrature, absolute error below 1e-9. ValueError for spreads that are not positive.
    """
    if not (u_0 > 0 and u_m > 0 and all(map(math.isfinite, (mean, u_0, u_m)))):
        raise ValueError(f"a global risk needs finite spreads greater than zero: u_0 = {u_0}, u_m = {u_m}")
    low, high = _ends(lower, upper)
    A_low, A_high = _ends(accept_lower, accept_upper)

    def g_0(eta: float) -> float:
        z = (eta - mean) / u_0
        return math.exp(-z * z / 2) / (u_0 * math.sqrt(2 * math.pi))

    def bad(eta: float) -> float:
        return g_0(eta) * acceptance_probability(eta, u_m, A_low, A_high)

    first, last = mean - REACH * u_0, mean + REACH * u_0
    breaks = sorted(
        x for limit in (low, high, A_low, A_high, mean) if math.isfinite(limit)
        for x in (limit - 6 * u_m, limit - u_m, limit, limit + u_m, limit + 6 * u_m, limit - 3 * u_0, limit + 3 * u_0)
        if first < x < last
    )
    edges = [first]
    for x in (*breaks, last):  # breaks that differ by rounding only are one: between them there is nothing to integrate
        if x - edges[-1] > 1e-12 * (last - first):
            edges.append(x)
    consumer = inside_accepted = 0.0
    for left, right in pairwise(edges):
        part = float(quad(bad, left, right, epsabs=1e-12, epsrel=1e-10)[0])
        if low <= (left + right) / 2 <= high:
            inside_accepted += part
        else:
            consumer += part
    conforming = acceptance_probability(mean, u_0, low, high)
    return Risks(consumer, max(conforming - inside_accepted, 0.0), conforming, consumer + inside_accepted)


def rule_risks(
    mean: float, u_0: float, u_m: float, lower: float | None, upper: float | None, rule: DecisionRule, k: float = 2.0,
) -> Risks:
    """The same for a decision rule: the acceptance limits are the limits less its guard band."""
    w = rule.width(lower, upper, u_m, k)
    if lower is not None and upper is not None and lower + w >= upper - w:
        raise ValueError(f"the rule {rule.name!r} leaves no acceptance interval: the guard band is {w:.6g} on each "
                         f"side of a window {upper - lower:.6g} wide")
    return global_risks(mean, u_0, u_m, lower, upper, None if lower is None else lower + w,
                        None if upper is None else upper - w)


def _ends(lower: float | None, upper: float | None) -> tuple[float, float]:
    low, high = -math.inf if lower is None else lower, math.inf if upper is None else upper
    if not low < high:
        raise ValueError(f"the lower limit has to be below the upper one: {lower} to {upper}")
    return low, high
