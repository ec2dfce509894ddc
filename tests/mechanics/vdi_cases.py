"""The four whole examples of the VDI 2230 chain, as cases.

Source: computed from the equations of VDI 2230-1 (from memory) independently of this library, the cone also integrated
numerically; they are not the printed examples B1 to B5. The rows stand in tests/reference/joints_vdi_examples.csv.
"""

from __future__ import annotations

from evenpull import joint
from evenpull.joint import Band
from evenpull.joint.case import (
    Bolt,
    Counterpart,
    Embedding,
    Friction,
    JointCase,
    Layer,
    Loads,
    Material,
    Section,
    Tightening,
)

STEEL = Material("steel", 205e9, 11.5e-6, p_G=700e6)


def same(value: float) -> Band:
    return Band(value, value, value)


def example(
    size: str, cls: str, *, l_K: float, l_1: float, D_A: float, d_w: float, d_h: float, F_Kerf: float, F_A: float,
    n: float, f_Z: float, alpha_A: float, mu: float, E_P: float = 205e9, tapped: bool = False,
) -> JointCase:
    thread = joint.thread(size)
    part = Material("part", E_P, 11.5e-6, p_G=700e6)
    return JointCase(
        name="example",
        bolt=Bolt(thread=thread, strength=joint.strength(cls, thread), material=STEEL, d_w=d_w,
                  head="socket cap" if tapped else "hexagon", sections=(Section(l_1, thread.d),) if l_1 else ()),
        # the tapped part counts with the modulus of the bolt in these examples
        counterpart=Counterpart(kind="tapped hole" if tapped else "nut", material=STEEL, d_w=None if tapped else d_w),
        layers=(Layer(name="plate", length=l_K, material=part, d_h=d_h, D_A=D_A),),
        friction=Friction(mu_G=same(mu), mu_K=same(mu)), tightening=Tightening(alpha_A=alpha_A),
        loads=Loads(F_Kerf=F_Kerf, F_A_max=F_A, n=n), embedding=Embedding(f_Z=f_Z),
    )


VJ1 = example("M12", "10.9", l_K=0.04, l_1=0.02, D_A=0.05, d_w=0.01663, d_h=0.0135, F_Kerf=15e3, F_A=12e3, n=0.5,
              f_Z=11e-6, alpha_A=1.6, mu=0.12)
VJ2 = example("M8", "8.8", l_K=0.02, l_1=0, D_A=0.03, d_w=0.01233, d_h=0.009, F_Kerf=4e3, F_A=5e3, n=0.3, f_Z=9.5e-6,
              alpha_A=1.7, mu=0.1, E_P=70e9, tapped=True)
VJ3 = example("M10", "10.9", l_K=0.06, l_1=0.04, D_A=0.022, d_w=0.01463, d_h=0.011, F_Kerf=8e3, F_A=6e3, n=0.7,
              f_Z=8e-6, alpha_A=1.4, mu=0.14)
VJ4 = example("M16", "8.8", l_K=0.05, l_1=0.025, D_A=0.12, d_w=0.02249, d_h=0.0175, F_Kerf=30e3, F_A=20e3, n=0.4,
              f_Z=12e-6, alpha_A=1.6, mu=0.16)
ALL = {"VJ1": VJ1, "VJ2": VJ2, "VJ3": VJ3, "VJ4": VJ4}
