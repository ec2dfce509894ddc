"""What friction, tools and creep make of a predicted procedure: many assemblies tightened by torque, as intervals.

Kept apart from the interaction results in every way: another type, another table, another heading.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.prediction.model import Prediction, ScatterInput
from evenpull.prediction.predict import RingResult
from evenpull.prediction.procedures import RingProcedure
from evenpull.ring.scatter.assembly import LoadPull, TorquePull, assemble, by_torque, timed
from evenpull.ring.scatter.creep import Creep, LogCreep, log_creep_from_relaxation
from evenpull.ring.scatter.floor import Floor, floor
from evenpull.ring.scatter.friction import NutFriction, Tool
from evenpull.ring.scatter.intervals import Chance, Intervals, intervals, share_above

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class TorqueOutcome:
    """One procedure on many assemblies by torque control. `intervals` has the low, middle and high quantile of every
    bolt at the end; `above` (n,) the share of assemblies in which the bolt stood above the limit in any state; `chance`
    that the wanted evenness is reached (None: none is wanted); `settings` the torques (N.m), one for each pull's bolt.
    """

    procedure: RingProcedure
    target: float
    pulls: tuple[TorquePull, ...]
    intervals: Intervals
    above: Floats
    chance: Chance | None
    floor: Floor


def friction_of(prediction: Prediction) -> NutFriction:
    """The nut factor of the file with its scatter: K is the mean at the target load. ValueError without them."""
    scatter = _stated(prediction)
    if prediction.K is None:
        raise ValueError(f"{prediction.id}: no nut factor is stated")
    return NutFriction(
        K=prediction.K,
        F_ref=prediction.case.bolts.target,
        m=scatter.K_exponent,
        cv_lot=scatter.K_lot,
        cv_nut=scatter.K_nut,
        cv_pull=scatter.K_pull,
        static_excess=scatter.static_excess,
        reuse=scatter.reuse,
        uses=scatter.uses,
    )


def tool_of(prediction: Prediction) -> Tool:
    scatter = _stated(prediction)
    return Tool(cv_own=scatter.tool_own, cv_pull=scatter.tool_pull)


def creep_of(prediction: Prediction) -> Creep | None:
    """The creep of the gasket, None where none is stated. A relaxation test is taken at the mean pressure that all
    bolts at their target put on the gasket."""
    scatter, case = _stated(prediction), prediction.case
    if scatter.creep is not None:
        return LogCreep(scatter.creep, scatter.creep_time)
    if scatter.residual is None or scatter.rig is None:
        return None
    area = np.pi / 4 * (case.facing.outside_diameter**2 - case.facing.inside_diameter**2)
    pressure = case.bolts.count * case.bolts.target / area
    return log_creep_from_relaxation(scatter.residual, pressure, scatter.rig, time=scatter.creep_time)


def by_torque_control(result: RingResult, procedure: RingProcedure) -> TorqueOutcome:
    """`procedure` on the assemblies of the file's [scatter], on the ring that `result` was made with.

    The same file gives the same numbers. ValueError when no scatter or no nut factor is stated; SteppingError as
    `predict`.
    """
    prediction = result.prediction
    scatter, bolts = _stated(prediction), prediction.case.bolts
    friction, tool = friction_of(prediction), tool_of(prediction)
    passes = [
        [by_torque(load_pull(pull.bolts, pull.shares, bolts.target), friction, bolts.d) for pull in one.pulls]
        for one in procedure.passes
    ]
    steps = timed(
        passes,
        between_pulls=scatter.between_pulls or 0.0,
        between_passes=scatter.between_passes or scatter.between_pulls or 0.0,
        dwell=scatter.wait or 0.0,
    )
    made = assemble(
        result.model, bolts, steps, samples=scatter.assemblies, rng=np.random.default_rng(scatter.seed),
        friction=friction, tool=tool, creep=creep_of(prediction),
    )  # fmt: skip
    tail = (1 - scatter.probability) / 2
    found = intervals(made, (tail, 0.5, 1 - tail))
    wanted = prediction.evenness
    return TorqueOutcome(
        procedure,
        bolts.target,
        tuple(pull for one in passes for pull in one),
        found,
        np.zeros(bolts.count) if bolts.limit is None else share_above(made, bolts.limit),
        found.meets(wanted.least, wanted.spread) if wanted else None,
        floor(friction, tool),
    )


def load_pull(bolts: tuple[int, ...], shares: tuple[float, ...], target: float) -> LoadPull:
    """Bolts numbered from 1 and shares of the target as a pull to loads (N)."""
    return LoadPull(tuple(bolt - 1 for bolt in bolts), tuple(share * target for share in shares))


def _stated(prediction: Prediction) -> ScatterInput:
    if prediction.scatter is None:
        raise ValueError(f"{prediction.id}: no scatter is stated")
    return prediction.scatter
