"""Statistics of a tested lot: scatter, the band that holds most of the lot, runs needed, values that stand apart.

Any unit; all figures take a normal distribution of the values.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import integrate, optimize, stats

_LARGEST_LOT = 100_000


def _probabilities(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < 1:
            raise ValueError(f"{name} lies between 0 and 1, not {value}")


def _count(n: int) -> None:
    if not 2 <= n <= _LARGEST_LOT:
        raise ValueError(f"2 to {_LARGEST_LOT} values are needed, not {n}")


@lru_cache(maxsize=512)
def tolerance_factor_one_sided(n: int, content: float, confidence: float) -> float:
    """k so that mean + k s lies above the share `content` of the lot with this confidence, exact:
    t'(confidence; n - 1, z_content sqrt(n))/sqrt(n), t' the noncentral t distribution (ISO 16269-6, from memory).
    """
    _count(n)
    _probabilities(content=content, confidence=confidence)
    shift = stats.norm.ppf(content) * math.sqrt(n)
    return float(stats.nct.ppf(confidence, n - 1, shift) / math.sqrt(n))


@lru_cache(maxsize=512)
def tolerance_factor(n: int, content: float, confidence: float) -> float:
    """k so that mean +- k s holds the share `content` of the lot with this confidence, exact for a normal lot.

    Solves integral over the mean of P(chi2_(n-1) >= (n-1) r(x)^2/k^2) = confidence, r(x) the half-width that holds the
    content when the mean is off by x (ISO 16269-6 two-sided case, mean and deviation unknown; from memory).
    """
    _count(n)
    _probabilities(content=content, confidence=confidence)
    nu = n - 1
    x = np.linspace(0.0, 8.5 / math.sqrt(n), 257)  # of the mean's own deviation nothing is left out at 8.5
    r2 = stats.ncx2.ppf(content, 1, x**2)
    weight = 2 * math.sqrt(n / (2 * math.pi)) * np.exp(-n * x**2 / 2)

    def covered(k: float) -> float:
        return float(integrate.simpson(weight * stats.chi2.sf(nu * r2 / k**2, nu), x=x))

    guess = tolerance_factor_approximate(n, content, confidence)
    return float(optimize.brentq(lambda k: covered(k) - confidence, guess * 0.7, guess * 1.4, xtol=1e-9))


def tolerance_factor_approximate(n: int, content: float, confidence: float) -> float:
    """Howe's approximation of the two-sided factor, sqrt((n-1)(1 + 1/n) z^2/chi2(1 - confidence; n-1)) (NIST/SEMATECH
    handbook 7.2.6.3, from memory). It starts the exact one and stands beside it in tests.
    """
    _count(n)
    _probabilities(content=content, confidence=confidence)
    z = stats.norm.ppf((1 + content) / 2)
    return float(math.sqrt((n - 1) * (1 + 1 / n) * z**2 / stats.chi2.ppf(1 - confidence, n - 1)))


def runs_needed(variation: float, allowed: float, *, content: float = 0.95, confidence: float = 0.95) -> int:
    """Fewest runs n after which mean +- k s is no wider than +- `allowed` (share of the mean), if the lot's coefficient
    of variation is `variation`. ValueError when no number is enough: the lot itself scatters more.
    """
    if not 0 < variation < math.inf or not 0 < allowed < math.inf:
        raise ValueError(f"variation and allowed band have to be greater than 0: {variation}, {allowed}")
    _probabilities(content=content, confidence=confidence)
    if stats.norm.ppf((1 + content) / 2) * variation >= allowed:
        raise ValueError(
            f"a lot that scatters by {variation:.3g} of its mean never lies within +-{allowed:.3g} at {content:.0%}: "
            "more runs cannot help"
        )
    low, high = 2, 4
    while tolerance_factor(high, content, confidence) * variation > allowed:
        low, high = high, high * 2
        if high > _LARGEST_LOT:
            raise ValueError(f"more than {_LARGEST_LOT} runs would be needed")
    if tolerance_factor(low, content, confidence) * variation <= allowed:
        return low
    while high - low > 1:
        middle = (low + high) // 2
        if tolerance_factor(middle, content, confidence) * variation > allowed:
            low = middle
        else:
            high = middle
    return high


def grubbs_limit(n: int, significance: float = 0.05, *, two_sided: bool = True) -> float:
    """Largest |x - mean|/s that a normal sample of n shows by chance (Grubbs; NIST/SEMATECH handbook 1.3.5.17.1)."""
    if n < 3:
        raise ValueError(f"three values at least, not {n}")
    _probabilities(significance=significance)
    t = float(stats.t.isf(significance / (2 * n if two_sided else n), n - 2))
    return (n - 1) / math.sqrt(n) * math.sqrt(t**2 / (n - 2 + t**2))


@dataclass(frozen=True, slots=True)
class LotFigures:
    """Figures of one quantity over the runs. `band` = mean +- `sigmas` s describes the sample; `interval` = mean +- k s
    holds `content` of the lot with `confidence`. `apart` are the places (from 0) of values that stand apart: they are
    reported and stay in.
    """

    n: int
    mean: float
    s: float
    least: float
    most: float
    sigmas: float
    band: tuple[float, float]
    content: float
    confidence: float
    k: float
    interval: tuple[float, float]
    apart: tuple[int, ...]

    @property
    def variation(self) -> float:
        """Coefficient of variation s/mean."""
        return self.s / self.mean


def lot_figures(
    values: Sequence[float], *, sigmas: float = 3.0, content: float = 0.95, confidence: float = 0.95,
) -> LotFigures:
    """Figures of at least three values. ValueError for fewer, or a value that is not finite."""
    found = np.array([float(value) for value in values])
    if len(found) < 3:
        raise ValueError(f"a lot needs at least 3 runs, not {len(found)}")
    if not np.isfinite(found).all():
        raise ValueError("a value is not finite: leave the run out with its reason")
    if not 0 < sigmas < math.inf:
        raise ValueError(f"the number of standard deviations has to be greater than 0, not {sigmas}")
    mean, s = float(found.mean()), float(found.std(ddof=1))
    k = tolerance_factor(len(found), content, confidence)
    limit = grubbs_limit(len(found))
    farthest = int(np.abs(found - mean).argmax())
    apart = (farthest,) if s > 0 and abs(found[farthest] - mean) > limit * s else ()
    return LotFigures(
        len(found), mean, s, float(found.min()), float(found.max()), sigmas, (mean - sigmas * s, mean + sigmas * s),
        content, confidence, k, (mean - k * s, mean + k * s), apart,
    )
