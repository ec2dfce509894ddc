"""Numbers of the formulas: one float, or an array of floats. The same function serves both.

A float stays a Python float (nothing of numpy leaks into records); arrays broadcast against each other.
"""

from __future__ import annotations

import math
from typing import Any, TypeAlias

import numpy as np

# A float or an array of floats. `Any`, because the result has the type that the arguments have, mixed as they may be.
Num: TypeAlias = Any


def sqrt(x: Num) -> Num:
    return np.sqrt(x) if isinstance(x, np.ndarray) else math.sqrt(x)


def ln(x: Num) -> Num:
    return np.log(x) if isinstance(x, np.ndarray) else math.log(x)


def exp(x: Num) -> Num:
    return np.exp(x) if isinstance(x, np.ndarray) else math.exp(x)


def tan(x: Num) -> Num:
    return np.tan(x) if isinstance(x, np.ndarray) else math.tan(x)


def sin(x: Num) -> Num:
    return np.sin(x) if isinstance(x, np.ndarray) else math.sin(x)


def cos(x: Num) -> Num:
    return np.cos(x) if isinstance(x, np.ndarray) else math.cos(x)


def larger(a: Num, b: Num) -> Num:
    """The larger of two, element by element."""
    return np.maximum(a, b) if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) else max(a, b)


def smaller(a: Num, b: Num) -> Num:
    """The smaller of two, element by element."""
    return np.minimum(a, b) if isinstance(a, np.ndarray) or isinstance(b, np.ndarray) else min(a, b)


def where(condition: Num, yes: Num, no: Num) -> Num:
    """`yes` where the condition holds, `no` elsewhere; both are computed."""
    return np.where(condition, yes, no) if isinstance(condition, np.ndarray) else (yes if condition else no)


def holds(condition: Num) -> bool:
    """Whether a condition holds for every element."""
    return bool(np.all(condition))


def require_positive(unit: str = "", **values: Num) -> None:
    """ValueError that names the first value which is not a finite number above zero in every element."""
    for name, value in values.items():
        if not holds((value > 0) & (value < math.inf)):
            raise ValueError(f"{name} has to be finite and greater than zero, not {value} {unit}".rstrip())


def asin(x: Num) -> Num:
    return np.arcsin(x) if isinstance(x, np.ndarray) else math.asin(x)


def interpolate(x: Num, xs: tuple[float, ...], ys: tuple[float, ...]) -> Num:
    """Straight between the points, held at the ends; the caller refuses what lies outside."""
    found = np.interp(x, xs, ys)
    return found if isinstance(x, np.ndarray) else float(found)
