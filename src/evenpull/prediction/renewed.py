"""What it would bring to read the angle of every pull and renew the settings that are still to come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpull.prediction.predict import RingResult
from evenpull.prediction.procedures import RingProcedure
from evenpull.prediction.scatter import friction_of, load_pull, tool_of
from evenpull.ring.scatter.estimator import AngleReading
from evenpull.ring.scatter.feedback import Pass, feedback

# Standard deviations of a pull's angle and of the seat point, degrees: good, usual, poor. Common practice, no source.
READINGS = ((1.0, 5.0), (3.0, 10.0), (5.0, 20.0))
ASSEMBLIES = 50


@dataclass(frozen=True, slots=True)
class Renewed:
    """Share of the friction part of the spread that renewed settings remove, with its standard error; None where
    interaction makes most of the spread, so that the rest, a difference of two large figures, tells nothing.
    `by_angle`: the last pass turns each nut by the angle still missing, not to a torque. Angles in degrees."""

    angle: float
    seat: float
    by_angle: bool
    spread_without: float
    spread_with: float
    removed: float | None
    error: float


def renewed_settings(
    result: RingResult, procedure: RingProcedure, readings: Sequence[tuple[float, float]] = READINGS
) -> tuple[Renewed, ...]:
    """For each of the readings, by torque throughout and with the last pass by angle; coefficients of variation of the
    loads in one assembly. Creep is left out. ValueError without scatter, nut factor, pitch or friction's part."""
    prediction = result.prediction
    bolts, friction, tool = prediction.case.bolts, friction_of(prediction), tool_of(prediction)
    seed = prediction.scatter.seed if prediction.scatter is not None else 0
    pulls = [tuple(load_pull(pull.bolts, pull.shares, bolts.target) for pull in one.pulls) for one in procedure.passes]
    found = []
    for angle, seat in readings:
        reading = AngleReading(sd=math.radians(angle), sd_seat=math.radians(seat))
        for by_angle in (False, True):
            passes = [Pass(one, by_angle=by_angle and one is pulls[-1]) for one in pulls]
            made = feedback(result.model, bolts, passes, friction, reading, samples=ASSEMBLIES, seed=seed, tool=tool)
            without, with_, even = made.spread
            told = even**2 < 0.5 * without**2
            error = made.removed_error(np.random.default_rng(seed)) if told else math.nan
            found.append(Renewed(angle, seat, by_angle, without, with_, made.removed if told else None, error))
    return tuple(found)
