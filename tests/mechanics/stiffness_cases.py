"""Joint cases for the tests of stiffness, built in millimetres and megapascals."""

from __future__ import annotations

from typing import Any

from evenpull import joint
from evenpull.joint.case import Bolt, Counterpart, Friction, JointCase, Layer, Material, Section

STEEL = Material("steel", 205e9, 11.5e-6)
ALUMINIUM = Material("aluminium", 70e9, 23e-6)


def layer(length: float, d_h: float, D_A: float | None = None, material: Material = STEEL, **more: Any) -> Layer:
    """A part in mm."""
    return Layer(name=more.pop("name", "plate"), length=length * 1e-3, material=material, d_h=d_h * 1e-3,
                 D_A=None if D_A is None else D_A * 1e-3,
                 **{key: value if isinstance(value, bool) else value * 1e-3 for key, value in more.items()})


def case_of(
    size: str, layers: tuple[Layer, ...], d_w: float, *, shank: float = 0.0, head: str = "hexagon",
    through: bool = True, nut: Material = STEEL, d_w_nut: float | None = None, **more: Any,
) -> JointCase:
    """A bolt of class 8.8 with one shank of nominal diameter; `shank`, `d_w` in mm."""
    thread = joint.thread(size)
    band = joint.Band(0.12, 0.12, 0.12)
    return JointCase(
        name="case", layers=layers, friction=Friction(mu_G=band, mu_K=band),
        bolt=more.pop("bolt", None) or Bolt(
            thread=thread, strength=joint.strength("8.8", thread), material=STEEL, head=head, d_w=d_w * 1e-3,
            sections=(Section(shank * 1e-3, thread.d),) if shank else (),
        ),
        counterpart=Counterpart(
            kind="nut" if through else "tapped hole", material=nut,
            d_w=(d_w if d_w_nut is None else d_w_nut) * 1e-3 if through else None,
            engagement=more.pop("engagement", None),
        ),
        **more,
    )
