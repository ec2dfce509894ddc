"""Friction of the nuts and error of the tools in many assemblies. SI: N, m, N.m; shares without unit.

K of nut i at pull j is K(F) * lot * nut_i * pull_ij, each factor lognormal with mean 1 and its own coefficient of
variation: the lot's is one for the whole assembly, the nut's stays with it, the pull's is new each time. K falls with
load as K (F/F_ref)^-m; docs/nut-factor.md shows measured runs, from which `of_fit` takes K, F_ref and m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.joint.tightening.friction_test import FallingK

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# torque that starts a standing nut over the torque that keeps it turning: 1.2 to 1.3 follows from loosening torques of
# 23 measured anchor rods (rows IOWA-1.5, median ratio 0.81 where sliding friction alone gives 0.62 to 0.68); own
# evaluation, one kind of part. Common practice gives no number.
STATIC_EXCESS = 0.25


def lognormal_sigma(cv: float) -> float:
    """Standard deviation of ln x of a lognormal x with the coefficient of variation `cv`: sqrt(ln(1 + cv^2))."""
    return math.sqrt(math.log1p(cv**2))


def _share(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 <= value < 1.0:
            raise ValueError(f"{name} is a share from 0 to less than 1, not {value}")


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} is a finite number above 0, not {value}")


@dataclass(frozen=True, slots=True, kw_only=True)
class NutFriction:
    """Nut factor of a lot and its scatter.

    K: mean at the load `F_ref` (N); m: exponent by which K falls with load, 0 for none; cv_lot, cv_nut, cv_pull:
    coefficients of variation; static_excess: by which share a standing nut needs more torque than a turning one, 0 for
    none; reuse: factor on K for each earlier use of the nut (1: none), `uses`: earlier uses. ValueError when out of
    range.
    """

    K: float
    F_ref: float
    m: float = 0.0
    cv_lot: float = 0.0
    cv_nut: float = 0.0
    cv_pull: float = 0.0
    static_excess: float = STATIC_EXCESS
    reuse: float = 1.0
    uses: int = 0

    def __post_init__(self) -> None:
        _above_zero(K=self.K, F_ref=self.F_ref, reuse=self.reuse)
        _share(m=self.m, cv_lot=self.cv_lot, cv_nut=self.cv_nut, cv_pull=self.cv_pull, static_excess=self.static_excess)
        if self.uses < 0:
            raise ValueError(f"a nut has been used 0 times or more, not {self.uses}")

    @classmethod
    def of_fit(cls, fit: FallingK, **scatter: float) -> NutFriction:
        """From a power-law fit of a torque-tension test; `scatter` as the other fields. ValueError for another form or
        for a K that rises with load."""
        if fit.form != "power" or fit.b > 0.0:
            raise ValueError("a nut factor that falls as a power of the load is needed")
        return cls(K=fit.a, F_ref=fit.F_0, m=-fit.b, **scatter)  # type: ignore[arg-type]

    @classmethod
    def split(cls, *, K: float, F_ref: float, cv: float, own: float, **others: float) -> NutFriction:
        """From the coefficient of variation `cv` of a lot's nut factor: the share `own` of the variance of ln K stays
        with each nut, the rest is new in each pull."""
        if not 0.0 <= own <= 1.0:
            raise ValueError(f"own is a share from 0 to 1, not {own}")
        _share(cv=cv)
        nut, pull = (math.sqrt(math.expm1(part * math.log1p(cv**2))) for part in (own, 1 - own))
        return cls(K=K, F_ref=F_ref, cv_nut=nut, cv_pull=pull, **others)  # type: ignore[arg-type]

    def torque(self, F: Floats | float, d: float) -> Floats:
        """Torque (N.m) that a mean nut needs for the load F (N)."""
        return np.asarray(self.K * self.reuse**self.uses * self.F_ref**self.m * F ** (1 - self.m) * d)

    def load(self, torque: Floats, factor: Floats, d: float) -> Floats:
        """Load (N) at which the torque (N.m) brings a nut of K `factor` times the mean to a stop: M = K(F) F d."""
        K = self.K * self.reuse**self.uses * factor
        return np.asarray((torque / (K * d * self.F_ref**self.m)) ** (1 / (1 - self.m)))

    def reached(self, torque: Floats, factor: Floats, d: float, F: Floats) -> Floats:
        """Load (N) after the torque was set on a nut that stands at F; F where it does not break away."""
        needed = (1 + self.static_excess) * self.torque(F, d) * factor
        return np.where(torque > needed, np.maximum(self.load(torque, factor, d), F), F)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """Standard deviations, as shares: of a tool's own constant error (each tool has its own) and of each pull; of an
    angle in rad for each turn. Lognormal; for a few per cent that is the normal distribution."""

    cv_own: float = 0.0
    cv_pull: float = 0.0
    sd_angle: float = 0.0

    def __post_init__(self) -> None:
        _share(cv_own=self.cv_own, cv_pull=self.cv_pull)
        if not 0.0 <= self.sd_angle < math.inf:
            raise ValueError(f"the standard deviation of the angle is 0 or more, not {self.sd_angle}")


@dataclass(frozen=True, slots=True)
class Drawn:
    """What stays through an assembly, drawn for S of them: `nut` (S, n) factor on K, the lot's in it; `tool` (S, tools)
    factor of each tool on what it is set to."""

    nut: Floats
    tool: Floats


def factors(rng: np.random.Generator, cv: float, shape: tuple[int, ...]) -> Floats:
    """Lognormal factors of mean 1."""
    sigma = lognormal_sigma(cv)
    return np.exp(sigma * rng.standard_normal(shape) - sigma**2 / 2)


def draw(
    friction: NutFriction | None, tool: Tool, samples: int, bolts: int, tools: int, rng: np.random.Generator
) -> Drawn:
    """S assemblies of `bolts` nuts and `tools` tools; without friction every nut factor is 1."""
    if friction is None:
        nut = np.ones((samples, bolts))
    else:
        nut = factors(rng, friction.cv_lot, (samples, 1)) * factors(rng, friction.cv_nut, (samples, bolts))
    return Drawn(nut, factors(rng, tool.cv_own, (samples, tools)))
