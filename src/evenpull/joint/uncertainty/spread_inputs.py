"""The inputs of the load of one joint as distributions: which, how wide, and why so (JCGM 101:2008 clause 6.4).

Nothing here computes a load; `joint.spread_model` does. SI throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from scipy.special import ndtr, ndtri

from evenpull.joint.case import CaseError
from evenpull.joint.numeric import Num
from evenpull.joint.traced import Band

Shape = Literal["normal", "rectangular", "triangular"]
SHAPES: tuple[Shape, ...] = get_args(Shape)
CUT = 4.0  # a normal input is cut at so many standard uncertainties, so that no friction comes out negative
_BELOW = float(ndtr(-CUT))


@dataclass(frozen=True, slots=True)
class Input:
    """One input quantity. `low` and `high` are the limits of a rectangular or triangular distribution; of a normal one
    they enclose 95.45 % (k = 2). `nominal` is the peak of the triangle; the other shapes are centred between the
    limits.
    """

    symbol: str
    name: str
    unit: str
    shape: Shape
    low: float
    nominal: float
    high: float
    why: str  # where limits and shape come from

    def __post_init__(self) -> None:
        if self.shape not in SHAPES:
            raise CaseError(f"{self.symbol}: a distribution is {', '.join(SHAPES)}, not {self.shape!r}")
        if not all(math.isfinite(value) for value in (self.low, self.nominal, self.high)):
            raise CaseError(f"{self.symbol}: limits have to be finite, not {self.low} to {self.high}")
        if not self.low <= self.nominal <= self.high:
            raise CaseError(f"{self.symbol}: the limits must rise: {self.low}, {self.nominal}, {self.high}")

    @property
    def mean(self) -> float:
        if self.shape == "triangular":
            return (self.low + self.nominal + self.high) / 3
        return (self.low + self.high) / 2

    @property
    def u(self) -> float:
        """Standard uncertainty (GUM 4.3.7, 4.3.9, 4.3.4; unsymmetrical triangle by its second moment)."""
        a, c, b = self.low, self.nominal, self.high
        if self.shape == "triangular":
            return math.sqrt((a * a + b * b + c * c - a * b - a * c - b * c) / 18) if b > a else 0.0
        return (b - a) / (math.sqrt(12) if self.shape == "rectangular" else 4)

    @property
    def varies(self) -> bool:
        return self.high > self.low

    @property
    def smallest(self) -> float:
        return self.mean - CUT * self.u if self.shape == "normal" else self.low

    def at(self, p: Num) -> Num:
        """The value that the probability p leaves below it: the inverse distribution function (JCGM 101 annex C)."""
        a, c, b = self.low, self.nominal, self.high
        if not self.varies:
            return c + 0.0 * p
        if self.shape == "rectangular":
            return a + p * (b - a)
        if self.shape == "normal":
            return self.mean + self.u * ndtri(_BELOW + p * (1 - 2 * _BELOW))
        rising = (c - a) / (b - a)
        return np.where(p < rising, a + np.sqrt(p * (b - a) * (c - a)), b - np.sqrt((1 - p) * (b - a) * (b - c)))


def of_band(symbol: str, name: str, unit: str, shape: Shape, band: Band, why: str) -> Input:
    return Input(symbol, name, unit, shape, band.low, band.nominal, band.high, why)


def around(symbol: str, name: str, unit: str, shape: Shape, value: float, half: float, why: str) -> Input:
    """An input of +- `half` around its value; CaseError for a negative width."""
    if not (half >= 0 and math.isfinite(half)):
        raise CaseError(f"{symbol}: a scatter is finite and not negative, not {half}")
    return Input(symbol, name, unit, shape, value - half, value, value + half, why)


def must_be_positive(found: Input, field: str) -> Input:
    """The input again. CaseError when its distribution reaches to zero or below."""
    if not found.smallest > 0:
        raise CaseError(
            f"{field}: {found.symbol} as a {found.shape} distribution reaches down to {found.smallest:.4g}; it has to "
            "stay above zero: narrow the band, or take it as triangular or rectangular"
        )
    return found


COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """What the case does not say and the propagation has to take: shapes of the distributions, and widths of inputs
    that are stated as one number. Every width is common practice without source unless its comment says else; state
    better ones. Inputs are taken as independent, but for friction where `friction_together` is set.
    """

    friction: Shape = "triangular"  # a band of friction: its nominal value is the likeliest
    friction_together: bool = False  # friction in thread and under head rise and fall as one (same lubricant)
    drag: Shape = "triangular"
    tool: Shape = "rectangular"  # limits of a tool without more knowledge (GUM 4.3.7)
    angle: Shape = "rectangular"
    bearing: float = 1 / 8  # +- share of the ring's width (d_w - d_h) by which D_Km may be off
    stiffness: float = 0.08  # +- share of each resilience
    embedding: float = 0.4  # +- share of f_Z
    relaxation: float = 1 / 3  # +- share of each loss stated as a share of the load
    temperature: float = 5.0  # +- K, of bolt and of parts, where they differ from assembly
    transfer: float = 1 / 4  # +- share of the loss when a tensioner hands its load to the nut
    yield_high: float = 1.2  # real yield strength over the lowest, at most; at least 1

    def __post_init__(self) -> None:
        for name in ("friction", "drag", "tool", "angle"):
            if getattr(self, name) not in SHAPES:
                raise CaseError(f"assumptions.{name}: {', '.join(SHAPES)}, not {getattr(self, name)!r}")
        for name, most in (("bearing", 0.5), ("stiffness", 1.0), ("embedding", 1.0), ("relaxation", 1.0),
                           ("transfer", 1.0)):
            if not 0 <= getattr(self, name) <= most - (name == "stiffness") * 1e-9:
                raise CaseError(f"assumptions.{name}: 0 to {most}, not {getattr(self, name)}")
        if not 0 <= self.temperature < math.inf:
            raise CaseError(f"assumptions.temperature: finite and not negative, not {self.temperature} K")
        if not 1 <= self.yield_high < math.inf:
            raise CaseError(f"assumptions.yield_high: 1 or more, not {self.yield_high}")


def pitch_diameter_tolerance(d: float, P: float, system: str) -> float:
    """Tolerance T_d2 of the pitch diameter in m: metric grade 6, 90 P^0.4 d^0.1 um with P and d in mm (ISO 965-1, from
    memory); inch class 2A, 0.0015 D^(1/3) + 0.0015 sqrt(D) + 0.015 P^(2/3) in inch with one diameter engaged (ASME
    B1.1, from memory).
    """
    if system == "metric":
        return float(90e-6 * (P * 1e3) ** 0.4 * (d * 1e3) ** 0.1)
    D, p = d / 0.0254, P / 0.0254
    return float(0.0254 * (0.0015 * D ** (1 / 3) + 0.0015 * math.sqrt(D) + 0.015 * p ** (2 / 3)))
