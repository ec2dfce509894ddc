"""Random joints M3 to M36 for the simulator, from a seed: round proportions, computed by `evenpull.joint`.

Nobody's joints: they are there so that thresholds meet many sizes, grips, frictions and tools.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpull.catalogue.threads import coarse_pitch
from evenpull.curve.expectation import Expectation, expected, torque_slope
from evenpull.joint.case import Bolt, Counterpart, Friction, Gasket, JointCase, Layer, Material, Tightening
from evenpull.joint.parts.strengths import strength
from evenpull.joint.parts.threads import metric_thread
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening.torque import M_A, D_Km, F_M_zul, thread_lever, torque_lever
from evenpull.joint.traced import Band

SIZES = (3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 36)
STEEL = Material("steel", 205e9, 11.5e-6)
LOWEST, HIGHEST = 0.08, 0.16  # friction class B of the catalogue
UTILISED = 0.7  # of the yield point at lowest friction: an accepted curve ends in the elastic part


@dataclass(frozen=True, slots=True)
class SimulatedJoint:
    """A joint type with what the plan states of it (`case`, `expectation`, `program_steps`), and nothing of the truth
    of a single assembly. Turns in deg, torques in N.m, windup in deg/(N.m), resiliences in m/N."""

    case: JointCase
    expectation: Expectation
    target: float
    run: float  # nominal turn to the seat
    drag: Band
    forming: bool  # the drag grows over the run-down, as a thread is formed
    delta_S: float
    delta_P: float
    delta_engaged: float
    windup: float
    speed_run: float  # 1/min
    speed_end: float
    resolution: float  # of the angle, deg
    noise: float  # share of the target


def random_joint(dice: np.random.Generator) -> SimulatedJoint:
    """One joint type. A quarter have a gasket, a quarter a prevailing or forming torque of 5 to 25 % of the target."""
    d = float(dice.choice(SIZES)) * 1e-3
    pitch = coarse_pitch(round(d * 1e3, 6))
    assert pitch is not None  # every size above has one
    thread = metric_thread(d, pitch * 1e-3)
    grip = d * dice.uniform(1.5, 5.0)
    gasket = bool(dice.random() < 0.25)
    friction = Band(LOWEST, 0.12, HIGHEST)
    layers = tuple(Layer(name=f"part {i + 1}", length=grip / 2, material=STEEL, d_h=1.1 * d) for i in range(2))
    made = strength(str(dice.choice(["8.8", "10.9"])), thread)
    target = float(M_A(F_M_zul(thread, made, LOWEST, UTILISED), thread, LOWEST, LOWEST, D_Km(1.5 * d, 1.1 * d)))
    share = float(dice.uniform(0.05, 0.25)) if dice.random() < 0.25 else 0.0
    drag = Band(0.6 * share * target, share * target, 1.4 * share * target + 0.03 * target)
    case = JointCase(
        name="simulated", layers=layers, friction=Friction(mu_G=friction, mu_K=friction),
        bolt=Bolt(thread=thread, strength=made, material=STEEL, head="hexagon", d_w=1.5 * d),
        counterpart=Counterpart(kind="nut", material=STEEL, d_w=1.5 * d),
        tightening=Tightening(torque=target, prevailing=drag),
        gasket=Gasket(stiffness=float(dice.uniform(0.2, 0.5)) / bolt_resilience_of(thread, grip)) if gasket else None,
    )
    bolt, parts = bolt_resilience(case), clamped_resilience(case)
    turns = float(dice.uniform(2.0, 7.0)) * 360
    slope = torque_slope(case, 0.12, 0.12)
    windup = float(dice.uniform(0.05, 0.25)) / slope  # tool and socket give 5 to 25 % of the elastic turn
    # the plan knows the tool's windup within 30 %
    band = Band(*(windup * share * math.pi / 180 for share in (0.7, 1.0, 1.3)))
    return SimulatedJoint(
        case=case, target=target, run=turns, drag=drag, forming=bool(dice.random() < 0.5),
        expectation=expected(case, target, run=Band(turns - 120, turns, turns + 120), last_step=3, windup=band),
        delta_S=bolt.total, delta_P=parts.total, delta_engaged=0.9 * d / (STEEL.E or math.nan) / thread.A_s,
        windup=windup, speed_run=float(dice.uniform(150, 500)), speed_end=float(dice.uniform(15, 60)),
        resolution=float(dice.choice([0.1, 0.25, 0.5])), noise=float(dice.uniform(0.002, 0.008)),
    )


def stated_joint(case: JointCase, target: float, *, run: float = 1440.0, speed_end: float = 20.0) -> SimulatedJoint:
    """A joint that is described, to be simulated: target (N.m), turn to the seat (deg), speed of the last step (1/min).
    The rest is what a steady tool does: 10 % of the elastic turn as windup, 0.4 % noise, 0.25 deg."""
    drag = case.tightening.prevailing
    windup = 0.1 / torque_slope(case, case.friction.mu_G.nominal, case.friction.mu_K.nominal)
    return SimulatedJoint(
        case=case, target=target, run=run, drag=drag, forming=False, expectation=expected(case, target, last_step=3),
        delta_S=bolt_resilience(case).total, delta_P=clamped_resilience(case).total,
        delta_engaged=0.9 * case.bolt.thread.d / (STEEL.E or math.nan) / case.bolt.thread.A_s, windup=windup,
        speed_run=200.0, speed_end=speed_end, resolution=0.25, noise=0.004,
    )


def bolt_resilience_of(thread: object, grip: float) -> float:
    """Rough resilience in m/N of a threaded bolt of this grip: scale for the stiffness of a gasket."""
    A_s = float(getattr(thread, "A_s", math.nan))
    return (grip + math.sqrt(4 * A_s / math.pi)) / ((STEEL.E or math.nan) * A_s)


def levers(joint: SimulatedJoint, mu_G: float, mu_K: float) -> tuple[float, float]:
    """Torque per load in m: whole, and its thread part (VDI 2230-1 R13)."""
    thread, d = joint.case.bolt.thread, joint.case.bolt.thread.d
    return float(torque_lever(thread, mu_G, mu_K, D_Km(1.5 * d, 1.1 * d))), float(thread_lever(thread, mu_G))
