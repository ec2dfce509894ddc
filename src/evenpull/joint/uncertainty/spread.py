"""How the load of one joint scatters: GUM first order and Monte Carlo from one and the same inputs, side by side.

The ways themselves are in `joint.propagation`, the model in `joint.spread_model`, its inputs in `joint.spread_inputs`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.numeric import Num
from evenpull.joint.service.losses import tensioner_load, transfer_factor
from evenpull.joint.tightening.torque import torque_from_nut_factor, torque_lever
from evenpull.joint.uncertainty.propagation import (
    Contribution,
    FirstOrder,
    Quantity,
    as_array,
    contributions,
    draw,
    first_order,
    groups,
    means,
    quantity,
)
from evenpull.joint.uncertainty.spread_inputs import Assumptions, Input
from evenpull.joint.uncertainty.spread_model import SETTINGS, Model, model_of

__all__ = ["Contribution", "FirstOrder", "Probability", "Quantity", "Spread", "spread_of"]


@dataclass(frozen=True, slots=True)
class Probability:
    """Of one fastener: `within` both limits, `below` the required load in service, `above` the limit at assembly (they
    can overlap, then the three add up to more than 1). `error` is the standard error of `within`. Of all `fasteners` of
    the joint: with every input its own, and with the friction shared by all (one lot); the truth lies between.
    """

    within: float
    below: float
    above: float
    error: float
    below_first_order: float
    above_first_order: float
    fasteners: int
    all_within_independent: float
    all_within_shared_friction: float

    @property
    def within_first_order(self) -> float:
        return max(0.0, 1 - self.below_first_order - self.above_first_order)


@dataclass(frozen=True, slots=True)
class Spread:
    """`setting` is the torque without drag (N.m), angle from snug (rad), elongation (m) or pull (N); None with yield.
    `wrench` is what is set at the tool: the torque with the drag that is reckoned with. `required` and `allowed` are
    the limits at the means of the inputs; `allowed_by` names the one that governs.
    """

    method: str
    setting: float | None
    setting_name: str
    setting_unit: str
    wrench: float | None
    inputs: tuple[Input, ...]
    assembly: Quantity
    residual: Quantity
    required: float
    allowed: float
    allowed_by: str
    probability: Probability
    contributions: tuple[Contribution, ...]
    seed: int
    trials: int
    notes: tuple[str, ...]


def spread_of(
    case: JointCase, torque: float | None = None, *, trials: int = 200_000, seed: int = 1,
    assume: Assumptions | None = None, fasteners: int | None = None,
) -> Spread:
    """The scatter of the load and the probability that a fastener lies between its limits.

    `torque` (without drag) is the setting; for the other methods angle in rad, elongation in m or pull in N; None takes
    what the case states. `fasteners` of the joint: as stated by the case's flange or space input, else 1. CaseError
    names the field at fault.
    """
    if trials < 1000:
        raise CaseError(f"trials: at least 1000, not {trials}")
    model = model_of(case, assume)
    setting = _setting(model, torque)
    count = _fasteners(case, fasteners)
    x = draw(model, trials, np.random.default_rng(seed))

    def assembly(at: Mapping[str, Num]) -> Num:
        return model.assembly(at, setting)

    def residual(at: Mapping[str, Num]) -> Num:
        return model.residual(at, model.assembly(at, setting))

    F_M, F_R = as_array(assembly(x), trials), as_array(residual(x), trials)
    below, above = model.required(x) > F_R, model.allowed(x) < F_M
    at_mean = means(model)
    limits = model.limits_of(at_mean)
    allowed_by, allowed = min(limits, key=lambda item: float(item[1]))
    notes = list(model.notes)
    if case.tightening.method == "torque" and np.any(F_M <= 0):
        notes.append(f"in {np.mean(F_M <= 0):.2%} of the trials the drag takes all of the torque and no load is made")
    method = case.tightening.method
    wrench = None
    if method in ("torque", "torque and angle"):
        start = setting if method == "torque" else case.tightening.snug_torque or 0.0
        wrench = start + case.tightening.prevailing.nominal
    return Spread(
        method, None if method == "yield" else setting, *SETTINGS[method], wrench, tuple(model.inputs.values()),
        quantity("F_M", "load at assembly", assembly, F_M, model), quantity("F_res", "load left in service", residual,
                                                                            F_R, model),
        float(model.required(at_mean)), float(allowed), allowed_by,
        _probability(model, setting, below, above, count, seed), contributions(model, residual, seed), seed, trials,
        tuple(notes),
    )


def _fasteners(case: JointCase, stated: int | None) -> int:
    if stated is None and case.flange is not None:
        stated = case.flange.bolts
    if stated is None and case.space is not None:
        stated = case.space.n_f
    count = 1 if stated is None else stated
    if count < 1:
        raise CaseError(f"fasteners: 1 or more, not {count}")
    return count


def _setting(model: Model, asked: float | None) -> float:
    """The setting asked for, or what the case states: directly, or as a preload at the means of the inputs."""
    case, tightening = model.case, model.case.tightening
    if tightening.method == "yield":
        if asked is not None:
            raise CaseError("torque: with the method yield nothing is set; leave it out")
        return 0.0
    if asked is None:
        asked = {"torque": tightening.torque, "torque and angle": tightening.angle}.get(tightening.method)
    if asked is None and tightening.preload is not None and tightening.method != "torque and angle":
        at, F = means(model), tightening.preload
        if tightening.method == "stretch":
            asked = float(F * at["delta_S"])
        elif tightening.method == "tension":
            asked = float(tensioner_load(F, transfer_factor(at["p_T"])))
        elif "K" in at:
            asked = float(torque_from_nut_factor(F, at["K"], case.bolt.thread.d))
        else:
            asked = float(F * torque_lever(case.bolt.thread, at["mu_G"], at["mu_K"], at["D_Km"]))
    if asked is None:
        raise CaseError(f"torque: {SETTINGS[tightening.method][0]} is neither asked for nor stated by the case")
    if not 0 < asked < math.inf:
        raise CaseError(f"torque: {SETTINGS[tightening.method][0]} has to be finite and above zero, not {asked}")
    return asked


def _probability(
    model: Model, setting: float, below: np.ndarray, above: np.ndarray, count: int, seed: int
) -> Probability:
    within = float(np.mean(~(below | above)))

    def spare(at: Mapping[str, Num]) -> Num:
        return model.residual(at, model.assembly(at, setting)) - model.required(at)

    def room(at: Mapping[str, Num]) -> Num:
        return model.allowed(at) - model.assembly(at, setting)

    first = [_normal_below_zero(first_order(model, f)) for f in (spare, room)]
    independent, shared = within**count, within
    if count > 1:
        shared = _all_with_shared_friction(model, setting, count, seed)
    return Probability(within, float(np.mean(below)), float(np.mean(above)),
                       math.sqrt(within * (1 - within) / below.size), first[0], first[1], count, independent, shared)


def _normal_below_zero(margin: FirstOrder) -> float:
    if margin.u == 0:
        return float(margin.value < 0)
    return float(ndtr(-margin.value / margin.u))


def _all_with_shared_friction(model: Model, setting: float, count: int, seed: int, lots: int = 400) -> float:
    """Mean over lots of (probability of one fastener given the friction of its lot)^count."""
    each = 400
    rng = np.random.default_rng([seed, 3])
    x = draw(model, lots * each, rng)
    for group in groups(model):
        if not set(group) & {"mu_G", "mu_K", "K"}:
            continue
        p = np.repeat(rng.random(lots), each)
        x |= {symbol: model.inputs[symbol].at(p) for symbol in group}
    F_M = model.assembly(x, setting)
    good = (model.residual(x, F_M) >= model.required(x)) & (model.allowed(x) >= F_M)
    return float(np.mean(as_array(good, lots * each).reshape(lots, each).mean(axis=1) ** count))
