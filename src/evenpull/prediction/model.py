"""A prediction as it was asked for: the ring, its limits, the procedures, and every input with its source."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from evenpull.calculation.model import InputRow
from evenpull.prediction.procedures import RingProcedure
from evenpull.ring.case import RingCase


@dataclass(frozen=True, slots=True, kw_only=True)
class RingLimits:
    """None: not stated, so not judged. Pressures in Pa, angles in rad; the bolt's limit stands in the case."""

    least_pressure: float | None = None
    largest_pressure: float | None = None
    tilt: float | None = None
    rotation: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScatterInput:
    """Scatter of friction and tools, and creep, as the ring file states them (schema of [scatter]): shares as numbers,
    times in s, `creep` m/Pa, `rig` Pa/m. None: not stated, so it does not act."""

    K_nut: float
    static_excess: float
    K_lot: float = 0.0
    K_pull: float = 0.0
    K_exponent: float = 0.0
    reuse: float = 1.0
    uses: int = 0
    tool_own: float = 0.0
    tool_pull: float = 0.0
    creep: float | None = None
    residual: float | None = None
    rig: float | None = None
    creep_time: float = 60.0
    between_pulls: float | None = None
    between_passes: float | None = None
    wait: float | None = None
    probability: float = 0.9
    assemblies: int = 1000
    seed: int = 1
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Evenness:
    """What is wanted at the end: least load of any bolt and largest spread, both as share of the target."""

    least: float
    spread: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """`text` is the file as it was received, `file` its name."""

    id: str
    name: str
    revision: str
    joint: str  # id of a joint of the dossier, "" when there is none
    basis: str
    notes: str
    case: RingCase
    limits: RingLimits
    procedures: tuple[RingProcedure, ...]
    evenness: Evenness | None
    scatter: ScatterInput | None
    K: float | None  # nut factor, torque = K F d
    inputs: tuple[InputRow, ...]
    text: str
    file: str

    @property
    def digest(self) -> str:
        """SHA-256 of the text as hexadecimal."""
        return sha256(self.text.encode()).hexdigest()

    @property
    def torque(self) -> float | None:
        """N.m that belongs to the target load by the nut factor; None where no K is stated."""
        bolts = self.case.bolts
        return None if self.K is None else self.K * bolts.target * bolts.d
