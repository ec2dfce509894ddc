"""A bolted ring as it is drawn: two flanges, what lies between them, and the bolts. SI throughout (m, N, Pa, rad).

The axis of the ring is z. Each flange is described from its own contact face (z = 0) to its back (z = height of the
raised face + thickness), so that one description serves both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenpull.ring.laws import GasketLaw, LinearLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class RaisedFace:
    outside_diameter: float
    height: float
    inside_diameter: float | None = None  # None: from the bore


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """What stands on the back of the ring: a tapered hub and a piece of pipe or shell, inside (a pipe flange, whose
    bore goes on through the pipe) or outside (a tower ring, whose shell stands flush with the outside diameter)."""

    at_back: float  # thickness of the hub where it meets the back of the ring
    wall: float  # thickness of the pipe or shell
    length: float  # length of the taper; 0: none
    pipe_length: float  # how much of the pipe or shell takes part in the model
    side: Literal["inside", "outside"] = "inside"


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingFace:
    """Head or nut on the back of the ring, round a through hole."""

    d_w: float  # outside diameter of the bearing face
    d_h: float  # hole


@dataclass(frozen=True, slots=True, kw_only=True)
class TappedHole:
    """The thread goes into the ring itself, from its contact face on."""

    d: float  # nominal diameter of the thread
    engagement: float  # length of engaged thread
    depth: float = 0.0  # from the contact face to the first engaged thread (counterbore)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flange:
    bore: float
    outside_diameter: float
    thickness: float  # of the ring, without raised face
    end: BearingFace | TappedHole
    raised_face: RaisedFace | None = None
    neck: Neck | None = None
    E: float = 205e9
    nu: float = 0.3

    @property
    def face_height(self) -> float:
        return 0.0 if self.raised_face is None else self.raised_face.height

    @property
    def back(self) -> float:
        """z of the back of the ring."""
        return self.face_height + self.thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class RingBolts:
    """`stiffness` is that of the whole bolt between its two ends, N/m; `bending` is E I / l of the bolt (N.m/rad): the
    moment at both heads for one radian between them. Zero leaves bending out."""

    count: int
    bolt_circle: float
    d: float  # nominal diameter
    stiffness: float
    bending: float
    target: float  # N, the load wanted in each bolt
    P: float | None = None  # pitch of the thread; needed for angles
    limit: float | None = None  # N, the load no bolt may exceed in any state


@dataclass(frozen=True, slots=True, kw_only=True)
class Facing:
    """What lies between the flanges: a gasket, or the faces themselves (metal to metal), from one diameter to another.

    `law` gives the pressure (Pa) for a compression (m) of the whole gasket."""

    inside_diameter: float
    outside_diameter: float
    law: GasketLaw | LinearLaw
    metal: bool = False  # the faces touch: `law` is then the contact stiffness of the two faces, without tension


@dataclass(frozen=True, slots=True, kw_only=True)
class RingCase:
    name: str
    bolts: RingBolts
    flanges: tuple[Flange, Flange]
    facing: Facing

    @property
    def alike(self) -> bool:
        return self.flanges[0] == self.flanges[1]
