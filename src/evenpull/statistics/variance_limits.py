"""Confidence limits of a variance that is a sum or difference of mean squares, as an analysis of variance gives them.

S_q^2 is a mean square with n_q degrees of freedom, theta = sum of c_q E(S_q^2). Variances carry the unit squared.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from evenpull.statistics.sane import Floats, probabilities


@lru_cache(maxsize=4096)
def _G(n: int, tail: float) -> float:
    return 1 - n / float(stats.chi2.isf(tail, n))


@lru_cache(maxsize=4096)
def _H(n: int, tail: float) -> float:
    return n / float(stats.chi2.ppf(tail, n)) - 1


@lru_cache(maxsize=4096)
def _mixed(n_q: int, n_r: int, tail: float, lower: bool) -> float:
    """G_qr for the lower limit, H_qr for the upper one: makes the limit of S_q^2 - S_r^2 exact where it is zero."""
    if lower:
        F, a, b = float(stats.f.isf(tail, n_q, n_r)), _G(n_q, tail), _H(n_r, tail)
    else:
        F, a, b = float(stats.f.ppf(tail, n_q, n_r)), _H(n_q, tail), _G(n_r, tail)
    return ((F - 1) ** 2 - (a * F) ** 2 - b**2) / F


@lru_cache(maxsize=4096)
def _alike(n_q: int, n_t: int, tail: float) -> float:
    """G*_qt for two mean squares of one sign, before it is shared among the pairs."""
    both = _G(n_q + n_t, tail)
    return (both * (n_q + n_t)) ** 2 / (n_q * n_t) - _G(n_q, tail) ** 2 * n_q / n_t - _G(n_t, tail) ** 2 * n_t / n_q


def combination_limits(
    coefficients: Sequence[float], mean_squares: ArrayLike, degrees: Sequence[int], confidence: float = 0.95,
) -> tuple[Floats, Floats]:
    """Two-sided limits of theta = sum c_q E(S_q^2) by the modified large sample method, as estimated: the lower one may
    be negative. `mean_squares` (q,) or (q, many).

    Exact for one mean square; Graybill and Wang (JASA 75, 1980) for a sum; Ting, Burdick, Graybill, Jeyaratnam and Lu
    (J. Statist. Comput. Simul. 35, 1990) with a difference, as used by Burdick, Borror and Montgomery (J. Quality
    Technology 35, 2003). From memory, not re-read; tests measure how often the limits hold.
    """
    probabilities(confidence=confidence)
    tail = (1 - confidence) / 2
    c = np.asarray(coefficients, float)
    S2 = np.asarray(mean_squares, float)
    if len(c) != len(S2) or len(c) != len(degrees) or not (c != 0).any():
        raise ValueError(f"{len(c)} coefficients, {len(S2)} mean squares, {len(degrees)} degrees: give one of each")
    if min(degrees) < 1 or not np.isfinite(S2).all() or (S2 < 0).any():
        raise ValueError("mean squares are finite, not negative, and have at least one degree of freedom each")
    terms = [abs(c[q]) * S2[q] for q in range(len(c))]
    plus = [q for q, value in enumerate(c) if value > 0]
    minus = [q for q, value in enumerate(c) if value < 0]
    theta = c @ S2
    V_L, V_U = np.zeros_like(theta), np.zeros_like(theta)
    for q in plus:
        V_L = V_L + (_G(degrees[q], tail) * terms[q]) ** 2
        V_U = V_U + (_H(degrees[q], tail) * terms[q]) ** 2
    for r in minus:
        V_L = V_L + (_H(degrees[r], tail) * terms[r]) ** 2
        V_U = V_U + (_G(degrees[r], tail) * terms[r]) ** 2
        for q in plus:
            V_L = V_L + _mixed(degrees[q], degrees[r], tail, True) * terms[q] * terms[r]
            V_U = V_U + _mixed(degrees[q], degrees[r], tail, False) * terms[q] * terms[r]
    if len(plus) and len(minus):
        for q, t in combinations(plus, 2):
            V_L = V_L + _alike(degrees[q], degrees[t], tail) / (len(plus) - 1) * terms[q] * terms[t]
        for r, u in combinations(minus, 2):
            V_U = V_U + _alike(degrees[r], degrees[u], tail) / (len(minus) - 1) * terms[r] * terms[u]
    return theta - np.sqrt(np.maximum(V_L, 0)), theta + np.sqrt(np.maximum(V_U, 0))
