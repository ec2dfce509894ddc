"""The noncentral t distribution, where large noncentralities make scipy's own give no number."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy import optimize, stats
from scipy.special import ndtr

from evenpull.statistics.sane import Floats

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(480)
_TAIL = 1e-16


@lru_cache(maxsize=256)
def _chi(df: int) -> tuple[Floats, Floats]:
    """Values of w = sqrt(chi-square/df) and their weights, which sum to 1."""
    low, high = (math.sqrt(float(edge) / df) for edge in (stats.chi2.ppf(_TAIL, df), stats.chi2.isf(_TAIL, df)))
    w = (low + high) / 2 + (high - low) / 2 * _NODES
    weights = _WEIGHTS * stats.chi2.pdf(df * w**2, df) * 2 * df * w
    return w, weights * ((high - low) / 2)


def noncentral_t_cdf(t: float, df: int, d: float) -> float:
    """P((Z + d)/w <= t), Z standard normal, w^2 chi-square over its df degrees: integral of Phi(t w - d) over w."""
    w, weights = _chi(df)
    return float(weights @ ndtr(t * w - d))


def noncentrality(t: float, df: int, p: float) -> float:
    """The d for which P(T <= t) is p."""
    return _solve(lambda d: p - noncentral_t_cdf(t, df, d), t, df)


def noncentral_t_quantile(p: float, df: int, d: float) -> float:
    """The t that T stays below with p."""
    return _solve(lambda t: noncentral_t_cdf(t, df, d) - p, d, df)


def _solve(rising: Callable[[float], float], start: float, df: int) -> float:
    step = 2 + abs(start) / math.sqrt(2 * df)
    low, high = start - step, start + step
    while rising(low) > 0:
        step *= 2
        low -= step
    while rising(high) < 0:
        step *= 2
        high += step
    return float(optimize.brentq(rising, low, high, xtol=1e-10))
