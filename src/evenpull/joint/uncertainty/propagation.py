"""Propagation of distributions through a model: GUM first order, Monte Carlo, shares of the variance.

First order: JCGM 100:2008 clause 5.1.2 with numeric sensitivities. Monte Carlo: JCGM 101:2008 clauses 5 to 8 (trials,
coverage interval 7.7, settled results 7.9 in the fixed-number form, comparison of both ways by the numerical tolerance
of clauses 7.9.2 and 8.1). Clause numbers from memory, not re-read. Inputs are independent, but for those of the model
that go together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from evenpull.joint.numeric import Num
from evenpull.joint.uncertainty.spread_model import Model

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
    """What one input does to the residual load, or inputs that go together (mean and u of the first of them then).
    `sensitivity` dF/dx; shares of the variance: first order, and by Monte
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


def means(model: Model) -> dict[str, float]:
    """Every input at its mean."""
    return {symbol: found.mean for symbol, found in model.inputs.items()}


def draw(model: Model, trials: int, rng: np.random.Generator) -> dict[str, Num]:
    """Draws of every input, independent but for those that go together; an input without scatter stays one number."""
    drawn: dict[str, Num] = {symbol: found.nominal for symbol, found in model.inputs.items()}
    for group in groups(model):
        p = rng.random(trials)
        drawn |= {symbol: model.inputs[symbol].at(p) for symbol in group}
    return drawn


def groups(model: Model) -> list[tuple[str, ...]]:
    """The inputs that vary: those that go together as one group, every other alone."""
    varying = [symbol for symbol, found in model.inputs.items() if found.varies]
    joined = tuple(symbol for symbol in varying if symbol in model.together)
    found = [(symbol,) if symbol not in joined else joined for symbol in varying]
    return list(dict.fromkeys(found))


def _of_group(model: Model, slopes: Mapping[str, float], group: tuple[str, ...]) -> float:
    """What a group adds to the load per standard uncertainty: sum of c_i u_i, as correlation 1 wants it (JCGM 100 note
    to clause 5.2.2).
    """
    return sum(slopes[symbol] * model.inputs[symbol].u for symbol in group)


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
        sides.append(as_array(function(x), len(names)))
    return {symbol: float((sides[0] - sides[1])[i]) / (2 * step[symbol]) for i, symbol in enumerate(names)}


def first_order(model: Model, function: Function) -> FirstOrder:
    """u^2 = sum (c_i u_i)^2 over independent inputs or groups (JCGM 100 equations 10 and 16)."""
    value = float(function(means(model)))
    if not math.isfinite(value):  # no load at all is allowed: nothing to linearise
        return FirstOrder(value, 0.0, value, value)
    slopes = sensitivities(model, function)
    u = math.sqrt(sum(_of_group(model, slopes, group) ** 2 for group in groups(model)))
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


def quantity(symbol: str, name: str, function: Function, values: np.ndarray, model: Model) -> Quantity:
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
    of_a, of_b = as_array(function(a), trials), as_array(function(b), trials)
    middle = float(np.mean(np.concatenate([of_a, of_b])))  # taken off, so that the products keep their figures
    variance = float(np.var(np.concatenate([of_a, of_b])))
    each = {group: _of_group(model, slopes, group) for group in groups(model)}
    whole = sum(one**2 for one in each.values())
    found = []
    for group, of_load in each.items():
        item = model.inputs[group[0]]
        of_ab = as_array(function({**a, **{symbol: b[symbol] for symbol in group}}), trials)
        main = float(np.mean((of_b - middle) * (of_ab - of_a))) / variance if variance else 0.0
        total = float(np.mean((of_a - of_ab) ** 2)) / (2 * variance) if variance else 0.0
        share = of_load**2 / whole if whole else 0.0
        found.append(Contribution(
            ", ".join(group), " and ".join(model.inputs[symbol].name for symbol in group), item.unit, item.mean, item.u,
            of_load / item.u, abs(of_load), share, main, total, abs(share - main) > 0.03,
        ))
    return tuple(sorted(found, key=lambda c: -c.share))


def as_array(values: Num, size: int) -> np.ndarray:
    """One number or an array as an array of this size."""
    return np.broadcast_to(np.asarray(values), (size,))
