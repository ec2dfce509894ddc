"""From friction and strength to a target with its load window, before anyone works.

The types of the computation; `compute_target` fills them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from evenpull.joint.traced import Band, Traced

NO_LOAD = "cannot be computed: the thread is not stated"  # said wherever a load or a use of strength would stand


@dataclass(frozen=True, slots=True)
class ThreadSize:
    """Basic dimensions of one thread in metres and square metres."""

    designation: str  # "M16", "M16x1.5", "3/4-10 UNC"
    system: Literal["metric", "inch"]
    d: float
    P: float
    d2: float
    D1: float
    d3: float
    A_s: float
    A_d3: float


@dataclass(frozen=True, slots=True)
class Strength:
    """Minimum strengths in Pa; `S_p` is None where the standard gives no proof stress (it is never invented)."""

    designation: str  # "8.8", "A4-80", "SAE J429 grade 5"
    R_m: float
    R_p02: float
    S_p: float | None
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class FastenerCase:
    """All that the target of one fastener depends on, SI. Exactly one of torque, preload, utilisation is set."""

    thread: ThreadSize
    strength: Strength
    d_w: float  # outside diameter of the bearing face that slips
    d_h: float  # hole (or chamfer) diameter
    mu_G: Band
    mu_K: Band
    K: Band
    rule: Literal["friction", "nut factor"]
    torque: float | None
    preload: float | None
    utilisation: float | None
    tool_scatter: float  # +- share of the torque (tool uncertainty and setting tolerance combined by the caller)
    required_preload: float | None
    utilisation_limit: float
    prevailing_torque: float
    sources: Mapping[str, str] = field(default_factory=dict)  # field name -> where that input comes from


@dataclass(frozen=True, slots=True)
class TorqueCase:
    """A torque at a fastener of which neither thread nor strength is known, SI: no load follows from it."""

    torque: float
    tool_scatter: float  # as in FastenerCase
    prevailing_torque: float
    sources: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TargetProblem:
    code: Literal[
        "overload", "overload possible", "too little load", "too little load possible", "above proof load",
        "no torque satisfies", "no proof stress", "load not computable",
    ]
    severity: Literal["stop", "warning", "note"]
    text: str


@dataclass(frozen=True, slots=True)
class Target:
    """`torque` is what the fastener gets (N.m, drag included); `load` the preload band that friction and tool scatter
    leave; `chain` every number in the order it was computed. `load` and `utilisation_yield` are None where the thread
    is not stated: no load can be computed then.
    """

    torque: float
    torque_band: Band
    load: Band | None
    utilisation_yield: Band | None  # equivalent stress (tension with torsion) over R_p02, at low, nominal, high load
    utilisation_proof: Band | None  # load over proof load; None also when the standard gives no proof stress
    chain: tuple[Traced, ...]
    problems: tuple[TargetProblem, ...]

    def by_symbol(self, symbol: str) -> Traced:
        for step in self.chain:
            if step.symbol == symbol:
                return step
        raise KeyError(symbol)
