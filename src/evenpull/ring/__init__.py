"""Many fasteners on one ring: elastic interaction, gasket law, stepping a procedure, scatter, search.

In a notebook: `model = ring_model(condense(case), case.bolts, case.facing.law)`, `loads, state = run(model, pulls)`.
"""

from evenpull.ring.case import (
    BearingFace,
    Facing,
    Flange,
    Neck,
    RaisedFace,
    RingBolts,
    RingCase,
    TappedHole,
)
from evenpull.ring.condensed import Condensed
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.model import RingModel, ring_model
from evenpull.ring.sane import RingCaseError
from evenpull.ring.stepping import Pull, State, SteppingError, relax, run, start, step

__all__ = [
    "BearingFace",
    "Condensed",
    "Facing",
    "Flange",
    "GasketLaw",
    "LinearLaw",
    "Neck",
    "Pull",
    "RaisedFace",
    "RingBolts",
    "RingCase",
    "RingCaseError",
    "RingModel",
    "State",
    "SteppingError",
    "TappedHole",
    "condense",
    "relax",
    "ring_model",
    "run",
    "start",
    "step",
]
