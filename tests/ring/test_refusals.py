"""Rings that cannot be: each slip is named by its field, with what may stand there, before anything is built."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from evenpull.ring.case import BearingFace, Facing, Flange, Neck, RaisedFace, RingBolts, RingCase, TappedHole
from evenpull.ring.flange.model import condense
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.sane import RingCaseError, check_case, contradictions
from tests.ring.given import given_paths, read_given

CURVE = ((0.0, 0.0), (0.1e-3, 5e6), (0.4e-3, 60e6))
FLANGE = Flange(
    bore=0.2, outside_diameter=0.4, thickness=0.03, end=BearingFace(d_w=0.030, d_h=0.022),
    raised_face=RaisedFace(outside_diameter=0.29, height=0.002),
    neck=Neck(at_back=0.02, wall=0.01, length=0.03, pipe_length=0.05),
)  # fmt: skip
GOOD = RingCase(
    name="made up",
    bolts=RingBolts(count=8, bolt_circle=0.34, d=0.020, stiffness=6e8, bending=1e4, target=1e5, P=0.0025, limit=1.4e5),
    flanges=(FLANGE, FLANGE),
    facing=Facing(inside_diameter=0.22, outside_diameter=0.28, law=GasketLaw(CURVE, 400e9)),
)


def bolts(**changes: Any) -> RingCase:
    return replace(GOOD, bolts=replace(GOOD.bolts, **changes))


def flange(**changes: Any) -> RingCase:
    """Both sides changed."""
    one = replace(FLANGE, **changes)
    return replace(GOOD, flanges=(one, one))


def facing(**changes: Any) -> RingCase:
    return replace(GOOD, facing=replace(GOOD.facing, **changes))


def curve(*points: tuple[float, float], unloading: float = 400e9) -> RingCase:
    return facing(law=GasketLaw(points, unloading))


def tapped(engagement: float, depth: float = 0.0, d: float = 0.020) -> RingCase:
    other = replace(FLANGE, end=TappedHole(d=d, engagement=engagement, depth=depth))
    return replace(GOOD, flanges=(FLANGE, other))


NECK, FACE = FLANGE.neck, FLANGE.raised_face
assert NECK is not None and FACE is not None
SLIPS = {
    "no bolt": (bolts(count=0), "bolts.count", "more than zero"),
    "one bolt": (bolts(count=1), "bolts.count", "3 to 200"),
    "two bolts": (bolts(count=2), "bolts.count", "3 to 200"),
    "201 bolts": (bolts(count=201, bolt_circle=3.4), "bolts.count", "3 to 200"),
    "half a bolt": (bolts(count=8.5), "bolts.count", "3 to 200"),
    "zero stiffness": (bolts(stiffness=0.0), "bolts.stiffness", "more than zero"),
    "negative stiffness": (bolts(stiffness=-1.0), "bolts.stiffness", "more than zero"),
    "stiffness not a number": (bolts(stiffness=math.nan), "bolts.stiffness", "finite"),
    "endless stiffness": (bolts(stiffness=math.inf), "bolts.stiffness", "finite"),
    "negative bending": (bolts(bending=-1.0), "bolts.bending", "zero or more"),
    "no target": (bolts(target=0.0), "bolts.target", "more than zero"),
    "target above limit": (bolts(target=1.5e5), "bolts.target", "at most 140 kN"),
    "bolt circle outside": (bolts(bolt_circle=0.42), "bolts.bolt_circle", "between bore and outside"),
    "bolt circle in the bore": (bolts(bolt_circle=0.19), "bolts.bolt_circle", "between bore and outside"),
    "neighbours overlap": (bolts(count=36), "bolts.count", "at most 35"),
    "bore above outside": (flange(bore=0.5), "flanges.0.outside_diameter", "more than 500 mm"),
    "no thickness": (flange(thickness=0.0), "flanges.0.thickness", "more than zero"),
    "modulus zero": (flange(E=0.0), "flanges.0.E", "more than zero"),
    "Poisson": (flange(nu=0.5), "flanges.0.nu", "less than 0.5"),
    "face over the outside": (flange(end=BearingFace(d_w=0.064, d_h=0.022)), "flanges.0.end.d_w", "at most 60 mm"),
    "face falls through": (flange(end=BearingFace(d_w=0.021, d_h=0.022)), "flanges.0.end.d_w", "more than 22 mm"),
    "hole too small": (flange(end=BearingFace(d_w=0.030, d_h=0.020)), "flanges.0.end.d_h", "more than 20 mm"),
    "hub into the face": (flange(neck=replace(NECK, at_back=0.06)), "flanges.0.neck.at_back", "at most 55 mm"),
    "hub past the bolts": (flange(neck=replace(NECK, at_back=0.08)), "flanges.0.neck.at_back", "less than 55 mm"),
    "shell into the face": (
        flange(neck=replace(NECK, side="outside")), "flanges.0.neck.at_back", "at most 15 mm"),
    "hub thinner than wall": (flange(neck=replace(NECK, wall=0.03)), "flanges.0.neck.at_back", "at least 30 mm"),
    "step without taper": (flange(neck=replace(NECK, length=0.0)), "flanges.0.neck.wall", "20 mm"),
    "neck of no length": (
        flange(neck=Neck(at_back=0.01, wall=0.01, length=0, pipe_length=0)), "flanges.0.neck.pipe_length", "length"),
    "raised face too wide": (
        flange(raised_face=replace(FACE, outside_diameter=0.41)), "flanges.0.raised_face.outside_diameter", "400 mm"),
    "raised face in the bore": (
        flange(raised_face=replace(FACE, inside_diameter=0.19)), "flanges.0.raised_face.inside_diameter", "200 mm"),
    "gasket beyond raised face": (facing(outside_diameter=0.30), "facing.outside_diameter", "at most 290 mm"),
    "gasket inside the bore": (facing(inside_diameter=0.18), "facing.inside_diameter", "at least 200 mm"),
    "gasket without width": (facing(outside_diameter=0.22), "facing.outside_diameter", "more than 220 mm"),
    "gasket outside the bolts": (
        facing(inside_diameter=0.36, outside_diameter=0.39), "facing.inside_diameter", "less than 340 mm"),
    "tapped too long": (tapped(0.025, 0.010), "flanges.1.end.engagement", "at most 22 mm"),
    "thread in the air": (tapped(0.020, 0.001), "flanges.1.end.depth", "2 mm"),
    "tapped too thin": (tapped(0.020, d=0.016), "flanges.1.end.d", "20 mm"),
    "curve falls": (curve((0, 0), (1e-4, 5e6), (2e-4, 4e6)), "facing.law.curve.2", "more than 5 MPa"),
    "curve level": (curve((0, 0), (1e-4, 5e6), (2e-4, 5e6)), "facing.law.curve.2", "more than 5 MPa"),
    "equal compressions": (curve((0, 0), (1e-4, 5e6), (1e-4, 9e6)), "facing.law.curve.2", "larger compression"),
    "curve begins pressed": (curve((0, 1e6), (1e-4, 5e6)), "facing.law.curve.0", "0 and 0"),
    "curve of one point": (curve((0, 0)), "facing.law.curve", "at least one more"),
    "curve not a number": (curve((0, 0), (1e-4, math.nan)), "facing.law.curve", "finite"),
    "soft unloading": (curve(*CURVE, unloading=100e9), "facing.law.unloading", "at least 183.333 MPa/mm"),
    "unloading not a number": (curve(*CURVE, unloading=math.nan), "facing.law.unloading", "at least"),
    "linear zero": (facing(law=LinearLaw(0.0)), "facing.law.stiffness", "more than zero"),
}  # fmt: skip


def test_the_case_that_the_slips_start_from_is_right() -> None:
    assert list(contradictions(GOOD)) == []
    assert list(contradictions(tapped(0.022, 0.010))) == []


@pytest.mark.parametrize("path", given_paths(), ids=lambda path: path.stem)
def test_the_given_joints_are_right(path: Any) -> None:
    assert list(contradictions(read_given(path)[0])) == []


@pytest.mark.parametrize("slip", SLIPS)
def test_each_slip_is_named_with_its_limit(slip: str) -> None:
    case, field, allowed = SLIPS[slip]
    with pytest.raises(RingCaseError) as caught:
        check_case(case)
    assert caught.value.field == field
    assert allowed in caught.value.allowed
    assert str(caught.value).startswith(f"{field}: ") and caught.value.allowed in str(caught.value)


def test_full_face_may_reach_beyond_the_bolts_but_not_end_in_the_holes() -> None:
    flat = replace(FLANGE, raised_face=None)
    full = replace(GOOD, flanges=(flat, flat), facing=replace(GOOD.facing, outside_diameter=0.39))
    assert list(contradictions(full)) == []
    for diameter in (0.32, 0.34, 0.36):
        with pytest.raises(RingCaseError, match="in the middle of the bolt holes") as caught:
            check_case(replace(full, facing=replace(full.facing, outside_diameter=diameter)))
        assert "at most 318 mm, or a full face of at least 362 mm" in str(caught.value)
    with pytest.raises(RingCaseError, match="begins at 330 mm, in the middle"):
        check_case(replace(full, facing=replace(full.facing, inside_diameter=0.33)))


def test_both_sides_tapped_cannot_be_pulled() -> None:
    other = replace(FLANGE, end=TappedHole(d=0.020, engagement=0.02, depth=0.002))
    with pytest.raises(RingCaseError, match="both flanges have a tapped hole"):
        check_case(replace(GOOD, flanges=(other, other)))


def test_the_most_bolts_named_do_fit() -> None:
    assert list(contradictions(bolts(count=35))) == []


def test_a_library_user_is_stopped_before_the_mesh() -> None:
    with pytest.raises(RingCaseError, match=r"bolts\.stiffness"):
        condense(bolts(stiffness=0.0))
