"""Tail probabilities that several tests use; scipy computes them."""

from __future__ import annotations

from scipy.stats import chi2


def chi_square_tail(statistic: float, degrees: int) -> float:
    """P(chi-square with `degrees` degrees of freedom >= statistic)."""
    return float(chi2.sf(statistic, degrees))


def variance_too_small(s: float, sigma_least: float, n: int) -> float:
    """P(a sample of n has a standard deviation of at most s) when the true one is sigma_least: the lower tail of
    (n - 1) s^2 / sigma^2, chi-square with n - 1 degrees of freedom. Both in one unit, sigma_least > 0, n >= 2."""
    if n < 2 or sigma_least <= 0:
        raise ValueError("a variance is tested from two values and against a positive standard deviation")
    return float(chi2.cdf((n - 1) * (s / sigma_least) ** 2, n - 1))
