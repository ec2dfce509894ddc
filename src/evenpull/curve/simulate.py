"""Simulator of torque-angle curves with and without faults, from joint mechanics.

Load over turn by Ramberg and Osgood's law in the loaded thread (`joint.tightening.yielding`), torque by VDI 2230-1 R13,
prevailing or forming torque, seating that is not sharp, friction that wavers over a turn, stick-slip, twist and windup,
gasket as a spring that stiffens, three steps with two speeds, shut-off with overrun and spring-back, noise, sampling.

Limits: one bolt; no time effects (creep, relaxation between steps); friction does not depend on load or speed except
where a re-hit breaks away; severities are drawn from bands that are ours, not from frequencies of the trade. What is
found here says that the rules find what they are made for, not how often faults happen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpull.curve.columns import Curves, Floats, curves_of
from evenpull.curve.expectation import Expectation, stacked
from evenpull.curve.simulated_joints import HIGHEST, LOWEST, SimulatedJoint, levers, random_joint
from evenpull.joint.tightening.turning import torsional_resilience
from evenpull.joint.tightening.yielding import load_at_gradient, turn_to_load

FAULTS = (
    "none", "re-hit", "drag", "slip", "cross-thread", "bottomed", "missing part", "extra part", "soft gasket",
    "lost gasket", "yield", "step order", "stopped", "sensor",
)
HARDENING = 18.0  # exponent of Ramberg and Osgood; class 8.8 with 5 % uniform strain gives about this (computed)
DEG = 180 / math.pi


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """Curves with the fault that was built into each and what the plan expects of each."""

    curves: Curves
    fault: list[str]
    expectation: Expectation


@dataclass(slots=True)
class _Course:
    """Torque (N.m) over the turn of the nut (deg) before any tool, with the thread torque that twists the bolt."""

    turn: Floats
    torque: Floats
    load: Floats
    seat: float


def simulate(seed: int, faults: Sequence[str], *, per_joint: int = 1, joint: SimulatedJoint | None = None) -> Simulated:
    """One curve for each fault named, in that order; every `per_joint` of them the joint is drawn anew (never, where
    `joint` is given). The same seed gives the same curves."""
    dice = np.random.default_rng(seed)
    own = joint
    made, expectations = [], []
    for number, fault in enumerate(faults):
        if joint is None and number % per_joint == 0:
            own = random_joint(dice)
            while fault in ("soft gasket", "lost gasket") and own.case.gasket is None:
                own = random_joint(dice)
        assert own is not None
        made.append(one(own, fault, dice))
        expectations.append(own.expectation)
    offsets = np.cumsum([0, *(len(curve[0]) for curve in made)])
    time, angle, torque, step = (np.concatenate([curve[place] for curve in made]) for place in range(4))
    return Simulated(curves_of(time, angle, torque, step, offsets), list(faults), stacked(expectations))


def one(joint: SimulatedJoint, fault: str, dice: np.random.Generator) -> tuple[Floats, Floats, Floats, Floats]:
    """time (s), angle (deg), torque (N.m), step of one curve. ValueError for a fault that is not known, and for a
    gasket fault on a joint without one."""
    if fault not in FAULTS:
        raise ValueError(f"no fault {fault!r} can be simulated; there are {', '.join(FAULTS)}")
    if fault.endswith("gasket") and joint.case.gasket is None:
        raise ValueError(f"{fault}: this joint has no gasket; take one that has")
    course = _rehit(joint, dice) if fault == "re-hit" else _course(joint, fault, dice)
    recorded = _recorded(joint, course, fault, dice)
    return _broken(joint, recorded, fault, dice)


def _course(joint: SimulatedJoint, fault: str, dice: np.random.Generator) -> _Course:
    thread, P = joint.case.bolt.thread, joint.case.bolt.thread.P
    mu_G, mu_K = dice.uniform(LOWEST, HIGHEST, 2)
    L, L_G = levers(joint, float(mu_G), float(mu_K))
    factor = dice.uniform(0.88, 1.12)
    S, parts = joint.delta_S * factor, joint.delta_P * factor
    seat = joint.run + dice.uniform(-80, 80)
    wedge = 1.0
    if fault == "bottomed":  # the tip sits on the ground: only the engaged thread is strained, the head rubs nowhere
        seat -= dice.uniform(150, 500)
        S, parts, L = joint.delta_engaged, 0.15 * joint.delta_engaged, L_G + 0.25 * thread.d * float(mu_K)
    elif fault == "missing part":
        seat += 360 * dice.uniform(0.15, 0.22) * thread.d / P
    elif fault == "extra part":
        seat -= min(360 * dice.uniform(0.15, 0.22) * thread.d / P, 0.85 * joint.run)
    elif fault == "cross-thread":
        seat *= dice.uniform(0.15, 0.5)
        wedge = dice.uniform(0.08, 0.4)
    elif fault == "soft gasket":
        parts = parts * dice.uniform(3.5, 7.0)
    elif fault == "lost gasket":
        assert joint.case.gasket is not None and joint.case.gasket.stiffness is not None
        parts = max(parts - factor / joint.case.gasket.stiffness, 0.15 * S)
        seat += 360 * dice.uniform(1.0e-3, 3.0e-3) / P
    seat = max(seat, 60.0)
    reach = joint.target / L  # load at which the target is reached without drag
    R_p02 = joint.case.bolt.strength.R_p02 * dice.uniform(1.03, 1.2)
    mu = float(mu_G)
    grip = sum(part.length for part in joint.case.layers)
    turn, drag = _run_down(joint, max(seat, 60.0), fault, dice)
    if fault == "yield":  # a softer bolt: the slope falls to 5 to 30 % where the target is reached
        R_p02 = _soft_strength(joint, (joint.target - drag[-1]) / L, S, parts, mu, dice.uniform(0.05, 0.3))
    beyond = np.linspace(0.0, 1.5 * reach, 400)
    x = turn_to_load(beyond, thread, S, parts, R_p02, HARDENING, mu, 0.5 * grip) * DEG / wedge
    if fault == "slip":
        return _slipping(joint, x, beyond, L, L_G, turn, drag, seat, dice)
    toe = dice.uniform(0.02, 0.12) * x[int(400 / 1.5)]  # the parts find each other
    if joint.case.gasket is not None:
        toe *= 2
    fine = np.arange(0.0, min(x[-1], 3000.0), max(min(0.1, x[-1] / 400), 0.002))
    bedded = np.sqrt(fine**2 + toe**2) - toe
    load = np.interp(bedded, x, beyond)
    after = drag[-1] * np.ones(len(fine))
    return _Course(np.concatenate([turn, seat + fine]), np.concatenate([drag, after + L * load]),
                   np.concatenate([np.zeros(len(turn)), L_G * load]), seat)


def _soft_strength(joint: SimulatedJoint, F: float, S: float, parts: float, mu: float, ratio: float) -> float:
    """R_p02 (Pa) at which the gradient has fallen to `ratio` at the load F: `load_at_gradient` grows with
    R_p02^(n/(n - 1)), so one value gives all."""
    grip = sum(part.length for part in joint.case.layers)
    known = joint.case.bolt.strength.R_p02
    at_known = load_at_gradient(ratio, joint.case.bolt.thread, S, parts, known, HARDENING, mu, 0.5 * grip)
    return float(known * (F / at_known) ** ((HARDENING - 1) / HARDENING))


def _slipping(
    joint: SimulatedJoint, x: Floats, load: Floats, L: float, L_G: float, turn: Floats, drag: Floats, seat: float,
    dice: np.random.Generator,
) -> _Course:
    """The thread gives way at 40 to 92 % of the target; the load falls over half a turn to three turns of shearing."""
    top = dice.uniform(0.4, 0.92) * (joint.target - drag[-1]) / L
    left = dice.uniform(0.1, 0.5)
    fine = np.arange(0.0, 400.0, 0.1)
    rising = np.interp(fine, x, load)
    at = float(np.interp(top, load, x))
    fall = dice.uniform(40, 250)
    falling = top * (left + (1 - left) * np.exp(-np.maximum(fine - at, 0.0) / fall * 3))
    own = np.where(fine < at, np.minimum(rising, top), falling)
    own = np.convolve(np.pad(own, 40, mode="edge"), np.ones(81) / 81, "valid")
    return _Course(np.concatenate([turn, seat + fine]), np.concatenate([drag, drag[-1] + L * own]),
                   np.concatenate([np.zeros(len(turn)), L_G * own]), seat)


def _run_down(
    joint: SimulatedJoint, seat: float, fault: str, dice: np.random.Generator,
) -> tuple[Floats, Floats]:
    turn = np.arange(0.0, seat, 1.0)
    share = turn / seat
    free = 0.01 * joint.target
    level = free + dice.uniform(joint.drag.low, joint.drag.nominal * 1.15)
    if fault == "drag":
        level = joint.drag.high + dice.uniform(0.1, 0.4) * joint.target
    rise = np.minimum(share / 0.15, 1.0) if not joint.forming else 0.4 + 0.6 * share
    ripple = 1 + dice.uniform(0.02, 0.08) * np.sin(2 * math.pi * turn / 360 + dice.uniform(0, 6.28))
    if fault == "drag" and dice.random() < 0.5:  # galling: it grows
        rise = 0.3 + 0.7 * share**2
    return turn, level * rise * ripple


def _rehit(joint: SimulatedJoint, dice: np.random.Generator) -> _Course:
    """A fastener that is tight already: windup, then break-away at 1.2 to 1.3 times the sliding torque of its load."""
    mu_G, mu_K = dice.uniform(LOWEST, HIGHEST, 2)
    L, L_G = levers(joint, float(mu_G), float(mu_K))
    load = dice.uniform(0.85, 1.0) * joint.target / L
    static = dice.uniform(1.2, 1.3) * L * load
    wound = np.linspace(0.0, 0.02, 200)
    up = np.linspace(0.0, static, 200)
    fine = np.arange(0.0, 90.0, 0.05)
    c = joint.case.bolt.thread.P / (2 * math.pi * (joint.delta_S + joint.delta_P)) / DEG  # N per deg
    sliding = L * (load + c * fine) + (static - L * load) * np.exp(-fine / dice.uniform(0.3, 1.5))
    return _Course(np.concatenate([wound, 0.03 + fine]), np.concatenate([up, sliding]),
                   np.concatenate([up * L_G / L, L_G * (load + c * fine)]), 0.0)


def _recorded(
    joint: SimulatedJoint, course: _Course, fault: str, dice: np.random.Generator,
) -> tuple[Floats, Floats, Floats, Floats]:
    """The tool: twist and windup, steps and speeds, shut-off, sampling."""
    target = joint.target * dice.uniform(0.985, 1.005)
    if fault == "stopped":
        target *= dice.uniform(0.35, 0.88)
    thread = joint.case.bolt.thread
    grip = sum(part.length for part in joint.case.layers)
    rho = float(torsional_resilience(grip, (thread.d2 + thread.d3) / 2, 205e9)) * DEG
    T = course.torque * (1 + dice.uniform(0.005, 0.02) * np.sin(course.turn / 57 + dice.uniform(0, 6.28)))
    angle = np.maximum.accumulate(course.turn + rho * course.load + joint.windup * dice.uniform(0.75, 1.25) * T)
    reached = np.flatnonzero(target <= T)
    limit = np.searchsorted(angle, course.seat + dice.uniform(200, 380)) if fault == "slip" else len(T) - 1
    stop = min(int(reached[0]) if reached.size else len(T) - 1, int(limit))
    step = np.ones(len(T))
    snug = np.flatnonzero(0.35 * joint.target <= T)
    final = np.flatnonzero(0.5 * joint.target <= T)
    step[int(snug[0]) if snug.size else len(T):] = 2
    step[int(final[0]) if final.size else len(T):] = 3
    speed = np.where(step == 1, joint.speed_run, joint.speed_end) * 6  # deg/s
    time = np.concatenate([[0.0], np.cumsum(np.diff(angle) / speed[1:])])
    time, angle, T, step = time[:stop + 1], angle[:stop + 1], T[:stop + 1], step[:stop + 1]
    rate = float(np.clip(dice.uniform(500, 900) / max(time[-1], 1e-3), 100, 4000))
    at = np.append(np.arange(0.0, time[-1], 1 / rate), time[-1])  # the tool keeps the point at which it shuts off
    own_angle, own_T = np.interp(at, time, angle), np.interp(at, time, T)
    own_step = step[np.minimum(np.searchsorted(time, at), len(step) - 1)]
    if dice.random() < 0.3:  # stick-slip of up to 2 % of the target once it is loaded
        own_T += np.where(own_step > 1, 1, 0) * dice.uniform(0.005, 0.02) * joint.target * np.sin(
            2 * math.pi * dice.uniform(20, 60) * at)
    tail = int(dice.integers(2, 60))
    gone = np.arange(1, tail + 1) / rate
    fall = np.exp(-gone / 0.006)
    over = dice.uniform(0.1, 0.8)
    own_angle = np.concatenate([own_angle, own_angle[-1] + over * (1 - fall) - joint.windup * own_T[-1] * (1 - fall)])
    own_T = np.concatenate([own_T, own_T[-1] * fall])
    own_step = np.concatenate([own_step, np.full(tail, own_step[-1])])
    own_T += dice.normal(0, joint.noise * joint.target, len(own_T))
    own_angle = np.round(own_angle / joint.resolution) * joint.resolution
    return np.concatenate([at, at[-1] + gone]), own_angle, own_T, own_step


def _broken(
    joint: SimulatedJoint, curve: tuple[Floats, Floats, Floats, Floats], fault: str, dice: np.random.Generator,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Faults of program and sensor, laid over a curve that is well."""
    time, angle, T, step = curve
    if fault == "step order":
        kind = int(dice.integers(3))
        orders: tuple[dict[int, int], ...] = ({1: 2, 2: 1, 3: 3}, {1: 1, 2: 3, 3: 2}, {1: 1, 2: 3, 3: 3})
        step = np.array([orders[kind][int(number)] for number in step], np.float64)
    if fault == "sensor":
        kind = int(dice.integers(6))
        top = float(T.max())
        if kind == 0:
            first = int(dice.integers(len(T) // 2))
            T = T.copy()
            T[first:first + int(dice.uniform(0.05, 0.2) * len(T))] = math.nan
        elif kind == 1:
            T = np.minimum(T, dice.uniform(0.5, 0.85) * top)
        elif kind == 2:
            T = T.copy()
            first = int(dice.uniform(0.1, 0.5) * len(T))
            T[first:first + int(0.3 * len(T))] = T[first]
        elif kind == 3:
            angle = np.full(len(angle), angle[0]) + dice.choice([0.0, joint.resolution], len(angle))
        elif kind == 4:
            T = T + dice.choice([-1, 1]) * dice.uniform(0.13, 0.3) * top
        else:
            T = T.copy()
            at = dice.choice(np.arange(2, len(T) - 2, 3), 12, replace=False)
            T[at] += dice.choice([-1, 1], 12) * dice.uniform(0.3, 1.0, 12) * top
    return time, angle, T, step
