"""What each procedure of a prediction leaves: the load of every bolt after every pull, and the worst on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from evenpull.prediction.model import Prediction
from evenpull.prediction.procedures import RingProcedure, pulls_of
from evenpull.ring.condensed import Condensed
from evenpull.ring.flange.model import condense
from evenpull.ring.measures import line_pressures, rotation, tilt
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.stepping import patch_pressures, start, step

Floats = NDArray[np.float64]
Verdict = Literal["accepted", "not accepted", "not judged"]
_CLOSE = 1e-6  # of a limit: how much of it rounding may take


@dataclass(frozen=True, slots=True)
class Extreme:
    """The worst value of one quantity on the way: `pull` counts from 1, `bolt` from 1 (0: not of one bolt)."""

    value: float
    pull: int
    bolt: int = 0


@dataclass(frozen=True, slots=True)
class Judged:
    """One demand: `value` and `limit` in SI (None: no limit stated, so not judged); `most`: the limit is a most."""

    key: str
    name: str
    value: float
    limit: float | None
    most: bool
    unit: str  # in which it is shown

    @property
    def verdict(self) -> Verdict:
        if self.limit is None:
            return "not judged"
        over = self.value - self.limit if self.most else self.limit - self.value
        return "accepted" if over <= _CLOSE * abs(self.limit) else "not accepted"


@dataclass(frozen=True, slots=True, eq=False)
class ProcedureOutcome:
    """What one procedure leaves, interaction only: every pull reaches exactly its load.

    `loads` (pulls, n) N after each pull; `idle` (pulls,) how many of the pull's bolts were found at or above their
    load and left alone. `load` is the highest load of any bolt in any state, `pressure` the highest pressure on any
    patch of the gasket in any state, `tilt` and `rotation` (rad) the largest of any state; `seating` is the least
    pressure at the end, mean over the gasket's width. `walk` is how far round the bolt circle the crew goes (m).
    """

    procedure: RingProcedure
    target: float
    loads: Floats
    idle: NDArray[np.int64]
    load: Extreme
    pressure: Extreme
    tilt: Extreme
    rotation: Extreme
    seating: float
    walk: float
    judged: tuple[Judged, ...]

    @property
    def final(self) -> Floats:
        """(n,) N at the end."""
        return np.asarray(self.loads[-1])

    @property
    def least(self) -> float:
        """Least load at the end, share of the target."""
        return float(self.final.min()) / self.target

    @property
    def mean(self) -> float:
        return float(self.final.mean()) / self.target

    @property
    def most(self) -> float:
        return float(self.final.max()) / self.target

    @property
    def spread(self) -> float:
        """(largest - least) / target at the end."""
        return self.most - self.least

    @property
    def deviation(self) -> float:
        """Standard deviation of the loads at the end (over the n bolts, divisor n) / target."""
        return float(self.final.std()) / self.target

    @property
    def verdict(self) -> Verdict:
        """Not accepted when a demand is not met; accepted when at least one is judged and all judged ones are met."""
        verdicts = {one.verdict for one in self.judged}
        if "not accepted" in verdicts:
            return "not accepted"
        return "accepted" if "accepted" in verdicts else "not judged"


@dataclass(frozen=True, slots=True, eq=False)
class RingResult:
    prediction: Prediction
    condensed: Condensed
    model: RingModel
    outcomes: tuple[ProcedureOutcome, ...]

    def outcome(self, name: str) -> ProcedureOutcome | None:
        return next((one for one in self.outcomes if one.procedure.name == name), None)


def predict(
    prediction: Prediction,
    procedures: tuple[RingProcedure, ...] | None = None,
    condensed: Condensed | None = None,
) -> RingResult:
    """Build the ring once and step every procedure (those of the file, or `procedures`). `condensed` takes the place of
    the fast model's, for example that of the solid reference.

    RingCaseError for a case that cannot be; SteppingError when no equilibrium is found, which names the pull.
    """
    case = prediction.case
    condensed = condense(case) if condensed is None else condensed
    model = ring_model(condensed, case.bolts, case.facing.law)
    chosen = prediction.procedures if procedures is None else procedures
    return RingResult(prediction, condensed, model, tuple(_outcome(prediction, condensed, model, p) for p in chosen))


def _outcome(
    prediction: Prediction, condensed: Condensed, model: RingModel, procedure: RingProcedure
) -> ProcedureOutcome:
    bolts, patches = prediction.case.bolts, condensed.patches
    pulls = pulls_of(procedure, bolts.target)
    loads, idle = np.empty((len(pulls), model.n)), np.zeros(len(pulls), dtype=np.int64)
    worst = {name: Extreme(0.0, 0) for name in ("load", "pressure", "tilt", "rotation")}
    state = start(model)
    for number, pull in enumerate(pulls, start=1):
        before = state
        state = step(model, state, pull)
        loads[number - 1] = state.F
        idle[number - 1] = sum(
            before.F[bolt] >= load * (1 - _CLOSE) for bolt, load in zip(pull.bolts, pull.loads, strict=True)
        )
        if state is before:
            continue
        for name, value, bolt in (
            ("load", float(state.F.max()), int(state.F.argmax()) + 1),
            ("pressure", float(patch_pressures(model, state).max()), 0),
            ("tilt", tilt(model, patches, state), 0),
            ("rotation", rotation(model, patches, state), 0),
        ):
            if value > worst[name].value:
                worst[name] = Extreme(value, number, bolt)
    seating = float(line_pressures(model, patches, state).min())
    return ProcedureOutcome(
        procedure,
        bolts.target,
        loads,
        idle,
        worst["load"],
        worst["pressure"],
        worst["tilt"],
        worst["rotation"],
        seating,
        walking_distance(procedure, bolts.count, bolts.bolt_circle),
        _judged(prediction, loads[-1], worst, seating),
    )


def _judged(prediction: Prediction, final: Floats, worst: dict[str, Extreme], seating: float) -> tuple[Judged, ...]:
    bolts, limits, wanted = prediction.case.bolts, prediction.limits, prediction.evenness
    least = float(final.min()) / bolts.target
    spread = float(np.ptp(final)) / bolts.target
    return (
        Judged("least", "least load at the end / target", least, wanted.least if wanted else None, False, "%"),
        Judged("spread", "spread at the end", spread, wanted.spread if wanted else None, True, "%"),
        Judged("load", "highest bolt load on the way", worst["load"].value, bolts.limit, True, "kN"),
        Judged("seating", "least pressure at the end", seating, limits.least_pressure, False, "MPa"),
        Judged(
            "pressure", "highest pressure on the way", worst["pressure"].value, limits.largest_pressure, True, "MPa"
        ),
        Judged("tilt", "flanges out of parallel on the way", worst["tilt"].value, limits.tilt, True, "deg"),
        Judged("rotation", "faces inclined on the way", worst["rotation"].value, limits.rotation, True, "deg"),
    )


def walking_distance(procedure: RingProcedure, count: int, bolt_circle: float) -> float:
    """How far the tools are carried round the bolt circle (m), all tools together, each the shorter way along the
    circle; from step to step they are shared out so that the whole way is least. The way to the first step is not
    counted, and a tool that a step does not need stays where it is."""
    spacing = math.pi * bolt_circle / count
    places = list(procedure.pulls[0].bolts)
    total = 0
    for pull in procedure.pulls[1:]:
        apart = np.abs(np.subtract.outer(np.array(places), np.array(pull.bolts))) % count
        apart = np.minimum(apart, count - apart)
        tools, targets = linear_sum_assignment(apart)
        total += int(apart[tools, targets].sum())
        for tool, target in zip(tools, targets, strict=True):
            places[tool] = pull.bolts[target]
        places.extend(bolt for at, bolt in enumerate(pull.bolts) if at not in set(targets))
    return total * spacing
