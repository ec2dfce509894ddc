"""The bolt of a ring as a spring: its pieces after VDI 2230-1 over the grip that the two flanges make."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.joint.case import Bolt, Counterpart, Friction, Gasket, JointCase, Layer, Material, Section
from evenpull.joint.springs.eccentric import beta_S
from evenpull.joint.springs.stiffness import SOURCE_S, bolt_resilience
from evenpull.joint.target import Strength, ThreadSize
from evenpull.joint.traced import Band

# A joint case has friction; a stiffness does not depend on it.
_NO_MATTER = Band(0.12, 0.12, 0.12)
SOURCE = f"pieces of the bolt over the grip, {SOURCE_S}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """What the bolt clamps, in m: washers, flanges up to the first engaged thread, gasket (0: none)."""

    washers: tuple[float, ...]
    flanges: tuple[float, ...]
    gasket: float

    @property
    def length(self) -> float:
        return sum(self.washers) + sum(self.flanges) + self.gasket


@dataclass(frozen=True, slots=True)
class BoltSpring:
    """Axial stiffness (N/m) and bending stiffness E I / l (N.m/rad) of the whole bolt."""

    stiffness: float
    bending: float


def bolt_spring(
    *, thread: ThreadSize, strength: Strength, material: Material, head: str, sections: tuple[Section, ...],
    tapped: bool, counterpart: Material, grip: Grip,
) -> BoltSpring:
    """Stiffness 1 / delta_S and bending stiffness 1 / beta_S by the functions of the VDI 2230-1 rule set.

    CaseError names the field at fault (sections longer than the grip, a head of which the guideline says nothing).
    """  # fmt: skip
    layers = tuple(
        Layer(name="clamped part", length=length, material=material, d_h=1.1 * thread.d)
        for length in (*grip.washers, *grip.flanges)
    )
    found = bolt_resilience(JointCase(
        name="ring",
        bolt=Bolt(
            thread=thread, strength=strength, material=material, head=head, d_w=1.5 * thread.d, sections=sections
        ),
        counterpart=Counterpart(kind="tapped hole" if tapped else "nut", material=counterpart),
        layers=layers,
        friction=Friction(mu_G=_NO_MATTER, mu_K=_NO_MATTER),
        gasket=Gasket(thickness=grip.gasket) if grip.gasket else None,
    ))  # fmt: skip
    return BoltSpring(1 / found.total, 1 / beta_S(found.parts))
