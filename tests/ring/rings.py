"""Small rings for the tests, invented."""

from __future__ import annotations

from evenpull.ring.case import BearingFace, Facing, Flange, Neck, RaisedFace, RingBolts, RingCase, TappedHole
from evenpull.ring.laws import GasketLaw

CURVE = GasketLaw(((0.0, 0.0), (0.2e-3, 8e6), (0.4e-3, 30e6), (0.8e-3, 120e6)), 9e11)


def pipe_flange(end: BearingFace | TappedHole | None = None, **changes: float) -> Flange:
    sizes = {"bore": 0.2, "outside_diameter": 0.34, "thickness": 0.026} | changes
    return Flange(
        **sizes,
        end=end or BearingFace(d_w=0.036, d_h=0.022),
        raised_face=RaisedFace(outside_diameter=0.255, height=0.002),
        neck=Neck(at_back=0.015, wall=0.007, length=0.04, pipe_length=0.08),
    )


def ring(count: int = 8, *, target: float = 98e3, flanges: tuple[Flange, Flange] | None = None) -> RingCase:
    one = pipe_flange()
    return RingCase(
        name=f"ring of {count}",
        bolts=RingBolts(
            count=count, bolt_circle=0.29, d=0.02, stiffness=6.8e8, bending=1.3e4, target=target, P=2.5e-3,
            limit=2 * target,
        ),
        flanges=flanges or (one, one),
        facing=Facing(inside_diameter=0.215, outside_diameter=0.245, law=CURVE),
    )


def metal_ring(count: int = 12) -> RingCase:
    one = Flange(bore=0.3, outside_diameter=0.46, thickness=0.04, end=BearingFace(d_w=0.038, d_h=0.022))
    law = GasketLaw(((0.0, 0.0), (1e-6, 1e7)), 1e13)
    return RingCase(
        name=f"metal ring of {count}",
        bolts=RingBolts(count=count, bolt_circle=0.38, d=0.02, stiffness=5e8, bending=1e4, target=98e3, P=2.5e-3),
        flanges=(one, one),
        facing=Facing(inside_diameter=0.3, outside_diameter=0.46, law=law, metal=True),
    )
