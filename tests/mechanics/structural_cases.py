"""Cases of structural joints and flanges for the tests, SI."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from evenpull import joint
from evenpull.joint.case import Bolt, Counterpart, FlangeInput, Friction, JointCase, Layer, Material, StructuralInput

STEEL = Material("steel", 205e9, 11.5e-6)
INCH = 0.0254


def case(size: str, name: str, grip: tuple[float, ...], **fields: Any) -> JointCase:
    """A joint of plates of these thicknesses (m) under hexagon head and nut. Fields of the case replace defaults."""
    thread = joint.thread(size)
    mu = joint.Band(0.10, 0.12, 0.16)
    made = JointCase(
        name="KN-021",
        bolt=Bolt(thread=thread, strength=joint.strength(name, thread), material=STEEL, head="hexagon",
                  d_w=1.5 * thread.d),
        counterpart=Counterpart(kind="nut", material=STEEL, d_w=1.5 * thread.d),
        layers=tuple(Layer(name=f"plate {i}", length=t, material=STEEL, d_h=1.1 * thread.d)
                     for i, t in enumerate(grip, 1)),
        friction=Friction(mu_G=mu, mu_K=mu),
    )
    return replace(made, **fields)


def us(size: str = "3/4-10 UNC", bolt: str = "A325", length: float | None = 3 * INCH, **stated: Any) -> JointCase:
    method = stated.pop("method", "turn of nut")
    strength = "8.8" if size.startswith("M") else "A490" if bolt == "A490" else "A325"
    made = case(size, strength, (0.02, 0.02), structural=StructuralInput(bolt=bolt, method=method, **stated))
    return replace(made, bolt=replace(made.bolt, length=length))


def eu(size: str = "M20", bolt: str = "10.9", grip: tuple[float, ...] = (0.02, 0.02), **stated: Any) -> JointCase:
    method = stated.pop("method", "torque")
    return case(size, bolt, grip, structural=StructuralInput(bolt=bolt, method=method, **stated))


def flange(size: str = "3/4-10 UNC", K: joint.Band | None = None, **stated: Any) -> JointCase:
    made = case(size, "A193 B7" if not size.startswith("M") else "8.8", (0.05, 0.05), flange=FlangeInput(**stated))
    return replace(made, friction=replace(made.friction, K=K))
