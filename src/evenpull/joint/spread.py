"""How the load of one joint scatters: GUM first order and Monte Carlo from one and the same inputs, side by side.

First order: JCGM 100:2008 clause 5.1.2 with numeric sensitivities. Monte Carlo: JCGM 101:2008 clauses 5 to 8 (trials,
coverage interval 7.7, settled results 7.9 in the fixed-number form, comparison of both ways by the numerical tolerance
of clauses 7.9.2 and 8.1). Inputs are independent. (Clause numbers from memory, not re-read.)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.losses import tensioner_load, transfer_factor
from evenpull.joint.numeric import Num
from evenpull.joint.spread_inputs import Assumptions, Input
from evenpull.joint.spread_model import SETTINGS, Model, model_of
from evenpull.joint.torque import torque_from_nut_factor, torque_lever

K95 = 1.959963984540054  # half width of the central 95 % of a normal distribution, in standard uncertainties
BATCHES = 10
SOBOL_TRIALS = 16384
Function = Callable[[Mapping[str, Num]], Num]


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """Value at the means of the inputs, standard uncertainty, 95 % interval of a normal distribution."""

    value: float
    u: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """Mean, standard deviation, central 95 % interval. `figures`: significant figures of u (2, 1, or 0 for none) to
    which the trials have settled: two standard errors of all four numbers stay within the numerical `tolerance`.
    """

    mean: float
    u: float
    low: float
    high: float
    trials: int
    tolerance: float
    figures: int
    edges: tuple[float, ...]  # histogram: one edge more than counts
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One load by both ways. `agrees`: both ends of the first-order interval lie within the numerical tolerance (u at
    one figure) of the Monte Carlo ones, so the first order would do; where not, the Monte Carlo result counts.
    """

    symbol: str
    name: str
    unit: str
    first_order: FirstOrder
    monte_carlo: MonteCarlo
    d_low: float
    d_high: float
    tolerance: float
    agrees: bool


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one input does to the residual load. `sensitivity` dF/dx; shares of the variance: first order, and by Monte
    Carlo alone (`main`) and with all its interactions (`total`). `differs` where first order and `main` are more than
    0.03 apart.
    """

    symbol: str
    name: str
    unit: str
    mean: float
    u: float
    sensitivity: float
    u_of_load: float
    share: float
    main: float
    total: float
    differs: bool


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

    F_M, F_R = _array(assembly(x), trials), _array(residual(x), trials)
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
        _quantity("F_M", "load at assembly", assembly, F_M, model), _quantity("F_res", "load left in service", residual,
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


def means(model: Model) -> dict[str, float]:
    """Every input at its mean."""
    return {symbol: found.mean for symbol, found in model.inputs.items()}


def draw(model: Model, trials: int, rng: np.random.Generator) -> dict[str, Num]:
    """Independent draws of every input; an input without scatter stays one number."""
    return {
        symbol: found.at(rng.random(trials)) if found.varies else found.nominal
        for symbol, found in model.inputs.items()
    }


def sensitivities(model: Model, function: Function) -> dict[str, float]:
    """Partial derivatives at the means by central differences over +- u/1000, one for each input that varies
    (JCGM 100 clause 5.1.3). All of them in two calls of the function.
    """
    names = [symbol for symbol, found in model.inputs.items() if found.varies]
    at = means(model)
    if not names:
        return {}
    step = {symbol: model.inputs[symbol].u * 1e-3 for symbol in names}
    shift = np.eye(len(names))
    sides = []
    for sign in (1, -1):
        x: dict[str, Num] = dict(at)
        for number, symbol in enumerate(names):
            x[symbol] = at[symbol] + sign * step[symbol] * shift[number]
        sides.append(_array(function(x), len(names)))
    return {symbol: float((sides[0] - sides[1])[i]) / (2 * step[symbol]) for i, symbol in enumerate(names)}


def first_order(model: Model, function: Function) -> FirstOrder:
    """u^2 = sum (c_i u_i)^2 for independent inputs (JCGM 100 equation 10)."""
    value = float(function(means(model)))
    u = math.sqrt(sum((c * model.inputs[s].u) ** 2 for s, c in sensitivities(model, function).items()))
    return FirstOrder(value, u, value - K95 * u, value + K95 * u)


def numerical_tolerance(u: float, figures: int) -> float:
    """Half a unit of the last of so many significant figures of u (JCGM 101 clause 7.9.2): u = c 10^l gives 10^l / 2.

    1.9996 at two figures is 2.0: the number is rounded before its exponent is read.
    """
    if figures not in (1, 2):
        raise ValueError(f"one or two significant figures, not {figures}")
    if u == 0:
        return 0.0
    exponent = int(f"{u:.{figures - 1}e}".split("e")[1])
    return float(0.5 * 10.0 ** (exponent - figures + 1))


def monte_carlo(values: np.ndarray) -> MonteCarlo:
    """Summary of the trials of one load; interval by the order statistics (JCGM 101 clause 7.7)."""
    low, high = (float(v) for v in np.quantile(values, (0.025, 0.975)))
    u = float(np.std(values, ddof=1))
    batches = values[: values.size // BATCHES * BATCHES].reshape(BATCHES, -1)
    averages = np.vstack([batches.mean(axis=1), batches.std(axis=1, ddof=1), *np.quantile(batches, (0.025, 0.975),
                                                                                           axis=1)])
    error = 2 * float(np.max(averages.std(axis=1, ddof=1))) / math.sqrt(BATCHES)
    figures = next((n for n in (2, 1) if error <= numerical_tolerance(u, n)), 0)
    counts, edges = np.histogram(values, bins=60) if u > 0 else (np.array([values.size]), np.array([low, high]))
    return MonteCarlo(float(values.mean()), u, low, high, values.size, numerical_tolerance(u, max(figures, 1)), figures,
                      tuple(edges.tolist()), tuple(int(n) for n in counts))


def _quantity(symbol: str, name: str, function: Function, values: np.ndarray, model: Model) -> Quantity:
    first, trials = first_order(model, function), monte_carlo(values)
    tolerance = numerical_tolerance(trials.u, 1)
    d_low, d_high = abs(first.low - trials.low), abs(first.high - trials.high)
    return Quantity(symbol, name, "N", first, trials, d_low, d_high, tolerance, max(d_low, d_high) <= tolerance)


def contributions(model: Model, function: Function, seed: int, trials: int = SOBOL_TRIALS) -> tuple[Contribution, ...]:
    """Every input that varies, largest first. Shares of the variance at first order, and by Monte Carlo: main effect
    (Saltelli 2010) and total effect (Jansen 1999) from two independent sets of draws, one column exchanged at a time
    (Saltelli et al., Computer Physics Communications 181, 2010; from memory). Their standard error is about 0.01.
    """
    slopes = sensitivities(model, function)
    rng = np.random.default_rng([seed, 2])
    a, b = draw(model, trials, rng), draw(model, trials, rng)
    of_a, of_b = _array(function(a), trials), _array(function(b), trials)
    middle = float(np.mean(np.concatenate([of_a, of_b])))  # taken off, so that the products keep their figures
    variance = float(np.var(np.concatenate([of_a, of_b])))
    whole = sum((c * model.inputs[s].u) ** 2 for s, c in slopes.items())
    found = []
    for symbol, slope in slopes.items():
        item = model.inputs[symbol]
        of_ab = _array(function({**a, symbol: b[symbol]}), trials)
        main = float(np.mean((of_b - middle) * (of_ab - of_a))) / variance if variance else 0.0
        total = float(np.mean((of_a - of_ab) ** 2)) / (2 * variance) if variance else 0.0
        share = (slope * item.u) ** 2 / whole if whole else 0.0
        found.append(Contribution(symbol, item.name, item.unit, item.mean, item.u, slope, abs(slope) * item.u, share,
                                  main, total, abs(share - main) > 0.03))
    return tuple(sorted(found, key=lambda c: -c.share))


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
    for symbol in ("mu_G", "mu_K", "K"):
        if symbol in x and model.inputs[symbol].varies:
            x[symbol] = np.repeat(model.inputs[symbol].at(rng.random(lots)), each)
    F_M = model.assembly(x, setting)
    good = (model.residual(x, F_M) >= model.required(x)) & (model.allowed(x) >= F_M)
    return float(np.mean(_array(good, lots * each).reshape(lots, each).mean(axis=1) ** count))


def _array(values: Num, size: int) -> np.ndarray:
    return np.broadcast_to(np.asarray(values), (size,))

