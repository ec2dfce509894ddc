"""Small invented rings for the tests of scatter."""

from __future__ import annotations

import numpy as np

from evenpull.ring.case import BearingFace, Facing, Flange, Neck, RaisedFace, RingBolts, RingCase
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.model import RingModel, ring_model

SHEET = GasketLaw(((0.0, 0.0), (1e-4, 5e6), (3e-4, 3e7), (6e-4, 9e7)), 6e11)
SPRING = LinearLaw(2e11)


def small_case(seed: int, law: GasketLaw | LinearLaw, count: int = 8) -> RingCase:
    """A raised-face flange pair of random proportions, M20 bolts."""
    rng = np.random.default_rng(seed)
    bore = rng.uniform(0.15, 0.25)
    gasket = bore + 0.02, bore + 0.02 + rng.uniform(0.04, 0.06)
    circle = gasket[1] + rng.uniform(0.045, 0.06)
    flange = Flange(
        bore=bore,
        outside_diameter=circle + 0.07,
        thickness=rng.uniform(0.02, 0.035),
        end=BearingFace(d_w=0.03, d_h=0.022),
        raised_face=RaisedFace(outside_diameter=gasket[1] + 0.005, height=0.002),
        neck=Neck(at_back=0.018, wall=0.008, length=0.03, pipe_length=0.15),
    )
    bolts = RingBolts(count=count, bolt_circle=circle, d=0.02, stiffness=6e8, bending=2e4, target=1e5, P=2.5e-3)
    facing = Facing(inside_diameter=gasket[0], outside_diameter=gasket[1], law=law)
    return RingCase(name=f"small {seed}", bolts=bolts, flanges=(flange, flange), facing=facing)


def small_model(seed: int, law: GasketLaw | LinearLaw, count: int = 8) -> tuple[RingCase, RingModel]:
    case = small_case(seed, law, count)
    return case, ring_model(condense(case, radial=2, circumferential=4), case.bolts, law)


def star_and_circular(count: int) -> list[tuple[tuple[int, ...], float]]:
    """Pulls of one bolt and their share of the target: crosswise at 30, 70, 100 %, then once round at 100 %."""
    half = count // 2
    star = [bolt for pair in ((k, k + half) for k in range(half)) for bolt in pair]
    return [((bolt,), share) for share in (0.3, 0.7, 1.0) for bolt in star] + [((b,), 1.0) for b in range(count)]
