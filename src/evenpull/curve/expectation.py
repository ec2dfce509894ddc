"""What the joint's mechanics lets one expect of its curve: slope, elastic angle, drag, turn to the seat.

The one place where the radians of `evenpull.joint` become the degrees of curves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from evenpull.curve.columns import CurveError, Floats
from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening.torque import D_Km, thread_lever, torque_lever
from evenpull.joint.tightening.turning import load_per_angle, torsional_resilience
from evenpull.joint.traced import Band


@dataclass(frozen=True, slots=True, eq=False)
class Expectation:
    """One value a curve each. Torques in N.m, slopes in N.m/deg, turns in deg; nan: not stated, and rules that need it
    are not applied. `run_*` is the turn from the first point to the seat; `last_step` 0: program not stated. `fresh`: 1
    where the fastener starts loose, 0 where it is tight already (a later pass, a check); nan: not known."""

    target: Floats
    T_low: Floats  # accepted torque at shut-off
    T_high: Floats
    k_low: Floats  # elastic slope
    k_high: Floats
    theta_low: Floats  # elastic angle from the origin to the target
    theta_high: Floats
    drag_high: Floats  # highest run-down torque
    run_low: Floats
    run_high: Floats
    gasket: Floats  # 1 with a gasket, else 0
    last_step: Floats
    fresh: Floats

    def __len__(self) -> int:
        return len(self.target)


def nothing_expected(n: int, *, target: float = math.nan, T_low: float = math.nan, T_high: float = math.nan,
                     last_step: int = 0, fresh: float = 1.0) -> Expectation:
    """Expectation of n curves of a joint whose mechanics are not known: target, window and program only."""
    values = {field.name: np.full(n, math.nan) for field in fields(Expectation)}
    values |= {"target": np.full(n, target), "T_low": np.full(n, T_low), "T_high": np.full(n, T_high),
               "gasket": np.zeros(n), "last_step": np.full(n, float(last_step)), "fresh": np.full(n, fresh)}
    return Expectation(**values)


def stacked(many: Sequence[Expectation]) -> Expectation:
    """Expectations one behind the other."""
    return Expectation(**{field.name: np.concatenate([getattr(part, field.name) for part in many])
                          for field in fields(Expectation)})


def repeated(one: Expectation, n: int) -> Expectation:
    """The expectation of one curve for each of n. CurveError where it is not of one curve."""
    if len(one) != 1:
        raise CurveError(f"an expectation of {len(one)} curves cannot stand for each of {n}: give that of one curve")
    return Expectation(**{field.name: np.repeat(getattr(one, field.name), n) for field in fields(Expectation)})


def torque_slope(case: JointCase, mu_G: float, mu_K: float, *, springs: float = 1.0, windup: float = 0.0) -> float:
    """Elastic slope dT/dangle in N.m/deg at the tool. The turn is shared between load and twist:

        1/k = 1/(c_F L) + rho L_G/L + windup

    c_F = P/(2 pi (delta_S + delta_P)) load per angle, L torque per load and L_G its thread part (VDI 2230-1 R13), rho
    twist per torque of the free bolt at its stress diameter (textbook), `windup` of tool and socket in rad/(N.m),
    `springs` a factor on both resiliences. CaseError as the resiliences raise it.
    """
    thread, layer = case.bolt.thread, case.layers[0]
    hole = max(layer.d_h, layer.chamfer or 0.0)
    L, L_G = torque_lever(thread, mu_G, mu_K, D_Km(case.bolt.d_w, hole)), thread_lever(thread, mu_G)
    S, P_ = bolt_resilience(case).total * springs, clamped_resilience(case).total * springs
    c_F = load_per_angle(thread.P, S, P_)
    grip = sum(part.length for part in case.layers)
    rho = torsional_resilience(grip, (thread.d2 + thread.d3) / 2, case.bolt.material.E or math.nan)
    return float(1 / (1 / (c_F * L) + rho * L_G / L + windup)) * math.pi / 180


def expected(
    case: JointCase, target: float, *, run: Band | None = None, last_step: int = 0, stiffness: float = 0.25,
    torque_share: float = 0.05, windup: Band | None = None,
) -> Expectation:
    """Expectation of one curve of this joint (a column of one).

    The window of the slope takes friction from low to high, resiliences `stiffness` off to both sides (for joints
    whose cones were never measured; common practice, no source) and the `windup` of the tool (rad/(N.m), default
    none). Accepted torque is the target and `torque_share` to both sides. `run` in deg, as counted from the start of
    the record. CaseError for a torque that is not above the drag.
    """
    drag = case.tightening.prevailing
    if not drag.high < target < math.inf:
        raise CaseError(f"tightening: the target of {target} N.m has to be finite and above the drag {drag.high} N.m")
    if not 0 <= stiffness < 1 or not 0 < torque_share < 1:
        raise CurveError(f"stiffness and torque_share are shares from 0 to below 1, not {stiffness}, {torque_share}")
    soft, hard = (windup.high, windup.low) if windup else (0.0, 0.0)
    mu_G, mu_K = case.friction.mu_G, case.friction.mu_K
    low = torque_slope(case, mu_G.low, mu_K.low, springs=1 + stiffness, windup=soft)
    high = torque_slope(case, mu_G.high, mu_K.high, springs=1 / (1 + stiffness), windup=hard)
    one = {"target": target, "T_low": target * (1 - torque_share), "T_high": target * (1 + torque_share),
           "k_low": low, "k_high": high, "theta_low": (target - drag.high) / high,
           "theta_high": (target - drag.low) / low, "drag_high": drag.high,
           "run_low": run.low if run else math.nan, "run_high": run.high if run else math.nan,
           "gasket": float(case.gasket is not None), "last_step": float(last_step), "fresh": 1.0}
    return Expectation(**{name: np.array([value], np.float64) for name, value in one.items()})
