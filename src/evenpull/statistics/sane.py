"""Input that no statistic can take, refused once: what is wrong, the limit, the way out."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_LARGEST = 1e100  # its square, times a million values, is still a number


def probabilities(**values: float) -> None:
    """ValueError unless every value lies between 0 and 1, both excluded."""
    for name, value in values.items():
        if not 0 < value < 1:
            raise ValueError(f"{name} lies between 0 and 1, not {value}")


def above_zero(**values: float) -> None:
    """ValueError unless every value is finite and greater than 0."""
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise ValueError(f"{name} has to be greater than 0 and finite, not {value}")


def whole(least: int, most: int | None = None, /, **values: int) -> None:
    """ValueError unless every value is a whole number from `least` to `most`."""
    for name, value in values.items():
        if not math.isfinite(value) or value != int(value) or value < least or (most is not None and value > most):
            upto = "at least" if most is None else f"{least} to"
            raise ValueError(f"{name} has to be a whole number, {upto} {least if most is None else most}, not {value}")


def readings(values: Iterable[float], least: int, what: str = "values") -> Floats:
    """The values as an array. ValueError for fewer than `least`, and for one that is not finite (its place from 1)."""
    found = np.array([float(value) for value in values])
    if len(found) < least:
        raise ValueError(f"at least {least} {what} are needed, not {len(found)}")
    odd = np.flatnonzero(~np.isfinite(found))
    if odd.size:
        raise ValueError(f"{what}: number {odd[0] + 1} is not finite ({found[odd[0]]}): leave it out with its reason")
    if np.abs(found).max(initial=0.0) > _LARGEST:
        raise ValueError(f"{what}: {np.abs(found).max():.3g} is too large to compute with: check "
                         "it, or take another unit")
    return found


def scatter(values: Floats, what: str = "values") -> float:
    """Standard deviation with n - 1. ValueError where it is zero: nothing scatters, so nothing can be said of it."""
    s = float(values.std(ddof=1))
    if values.min() == values.max() or s <= 1e-14 * float(np.abs(values).max()) or s < 1 / _LARGEST:
        raise ValueError(f"all {len(values)} {what} are {values[0]:g}: their scatter is hidden by the "
                         "resolution of the display or they were copied; read with a finer resolution")
    return s
