"""Joints of the scatter and advice tests: an invented M16 joint of two steel plates, and changes to it."""

from dataclasses import replace

from evenpull import joint
from evenpull.joint.case import (
    Bolt,
    Counterpart,
    Embedding,
    Friction,
    JointCase,
    Layer,
    Limits,
    Material,
    Section,
    Tightening,
)
from evenpull.joint.traced import Band

STEEL = Material("steel", 205e9, 11.5e-6)
MU = Band(0.08, 0.12, 0.16)
M16 = joint.thread("M16")


def m16(**changes) -> JointCase:
    plates = tuple(
        Layer(name=name, length=20e-3, material=STEEL, d_h=17.5e-3, D_A=50e-3) for name in ("cover", "casing")
    )
    case = JointCase(
        name="cover of the bulb casing",
        bolt=Bolt(thread=M16, strength=joint.strength("8.8", M16), material=STEEL, head="hexagon", d_w=22.49e-3,
                  sections=(Section(20e-3, 16e-3),)),
        counterpart=Counterpart(kind="nut", material=STEEL, d_w=22.49e-3), layers=plates,
        friction=Friction(mu_G=MU, mu_K=MU), tightening=Tightening(tool_scatter=0.04, torque=170.0),
        embedding=Embedding(f_Z=9e-6), limits=Limits(required_preload=50e3),
    )
    return replace(case, **changes)


def tight(case: JointCase, **changes) -> JointCase:
    return replace(case, tightening=replace(case.tightening, **changes))
