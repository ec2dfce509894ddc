"""Control chart of single values: limits from a baseline, wider the shorter it is, with the chance of a false alarm.

Any unit. All chances take independent normal values; values that hang together (one temperature over a shift) alarm
more often.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy import optimize, stats
from scipy.special import gammaln, ndtr

from evenpull.statistics.lots import grubbs_limit
from evenpull.statistics.run_rules import RULES, Rule, Signal, alarmed, signals_of
from evenpull.statistics.sane import Floats, probabilities, readings, scatter, whole

Method = Literal["moving range", "standard deviation"]
D2 = 2 / math.sqrt(math.pi)  # E|difference of two standard normal values|, 1.128
THREE_SIGMA = 0.0026997960632601866  # chance beyond 3 sigma, both sides
FEWEST = 4
_SIMULATED_UP_TO, _SEED = 60, 6_173
_DRAWS, _BATCH, _BINS = 200_000, 10_000, 2_000


@lru_cache(maxsize=4096)
def _c4(df: float) -> float:
    """E(s)/sigma with df degrees of freedom."""
    return math.sqrt(2 / df) * math.exp(float(gammaln((df + 1) / 2) - gammaln(df / 2)))


@lru_cache(maxsize=4096)
def moving_range_degrees(n: int) -> float:
    """Degrees of freedom of a chi distribution that varies as much as the mean moving range of n normal values.

    Variance of (mean range)/d2 over sigma^2: (m (pi/2 - 1) + 2 (m - 1)(sqrt(3)/2 + pi/12 - 1))/m^2, m = n - 1, exact
    (neighbouring ranges share a value); as J. D. Cryer, T. P. Ryan (J. Quality Technology 22, 1990; from memory) print
    it in numbers. About 0.6 n. ValueError below three values.
    """
    whole(3, n=n)
    m = n - 1
    variance = (m * (math.pi / 2 - 1) + 2 * (m - 1) * (math.sqrt(3) / 2 + math.pi / 12 - 1)) / m**2
    return float(optimize.brentq(lambda df: 1 / _c4(df) ** 2 - 1 - variance, 0.5, 10 * n, xtol=1e-9))


@lru_cache(maxsize=64)
def _estimates(n: int) -> Floats:
    """Estimates of sigma = 1 by the mean moving range of n normal values, each as likely as the others.

    Simulated once, same seed, and averaged in equal shares. Above 60 values the chi distribution of
    `moving_range_degrees`: it misses 2 % of a chance of 0.0027 there (at four values it would miss two thirds).
    """
    if n <= _SIMULATED_UP_TO:
        dice = np.random.default_rng(_SEED)
        batches = (dice.standard_normal((_BATCH, n)) for _ in range(_DRAWS // _BATCH))
        drawn = np.sort(np.concatenate([np.abs(np.diff(x, axis=1)).mean(axis=1) / D2 for x in batches]))
        return np.asarray(drawn.reshape(_BINS, -1).mean(axis=1), float)
    df = moving_range_degrees(n)
    return np.asarray(np.sqrt(stats.chi2.ppf((np.arange(_BINS) + 0.5) / _BINS, df) / df) / _c4(df), float)


def _beyond(k: float, method: Method, n: int) -> float:
    """Chance that the next value lies more than k estimated sigma above the mean of n: mean and estimate are
    independent, so it is the normal tail averaged over the estimate. For "standard deviation" it is Student's t."""
    k /= math.sqrt(1 + 1 / n)
    if method == "standard deviation":
        return float(stats.t.sf(k, n - 1))
    return float(ndtr(-k * _estimates(n)).mean())


@lru_cache(maxsize=512)
def _width(method: Method, n: int, false_alarm: float) -> float:
    """Half-width of the limits in estimated sigma."""
    high = 4.0
    while 2 * _beyond(high, method, n) > false_alarm:
        high *= 2
    return float(optimize.brentq(lambda k: 2 * _beyond(k, method, n) - false_alarm, 0.0, high, xtol=1e-9))


@lru_cache(maxsize=64)
def _alarmed(method: Method, n: int, false_alarm: float, points: int, rules: tuple[Rule, ...]) -> float:
    dice = np.random.default_rng(_SEED + 1)
    steps = np.concatenate((np.linspace(0, 12, 600), np.geomspace(12.1, 1e6, 200)))
    scores = np.minimum(stats.norm.isf([_beyond(float(k), method, n) for k in steps]), 38.0)
    alarms, batch = 0, 2_000
    for _ in range(10):
        # mean and scatter of a baseline are independent: no need to draw its values
        mean = dice.standard_normal((batch, 1)) / math.sqrt(n)
        sigma = (np.sqrt(dice.chisquare(n - 1, (batch, 1)) / (n - 1)) if method == "standard deviation"
                 else dice.choice(_estimates(n), (batch, 1)))
        k = (dice.standard_normal((batch, points)) - mean) / sigma
        z = np.sign(k) * np.interp(np.abs(k), steps, scores)
        alarms += int(alarmed(z, rules, float(stats.norm.isf(false_alarm / 2))).sum())
    return alarms / (10 * batch)


@dataclass(frozen=True, slots=True)
class Chart:
    """Limits for the values that come after a baseline of n. `low`, `high` hold a value of the same lot with the
    chance 1 - `false_alarm`, on the average over baselines. `sigma` is the estimate by `method`. `three_sigma` are the
    classical limits mean +- 3 sigma, `three_sigma_alarm` how often they really alarm with so short a baseline. `apart`
    are places (from 0) of baseline values that stand apart (Grubbs, 5 % for all): find the reason before using it."""

    n: int
    mean: float
    sigma: float
    method: Method
    false_alarm: float
    low: float
    high: float
    three_sigma: tuple[float, float]
    three_sigma_alarm: float
    apart: tuple[int, ...]

    def z(self, values: Iterable[float]) -> Floats:
        """Later values as standard normal scores: the score that is as seldom as the value is after this baseline."""
        k = (readings(values, 1) - self.mean) / self.sigma
        tails = [_beyond(abs(float(each)), self.method, self.n) for each in k]
        return np.asarray(np.sign(k) * stats.norm.isf(tails), float)

    def signals(self, values: Iterable[float], rules: tuple[Rule, ...] = RULES) -> tuple[Signal, ...]:
        """Alarms among later values, in their order, by the rules asked for; "beyond" is beyond `low` or `high`. The
        other rules see the scores `z`: each value by itself is judged fairly, but all share one baseline, so that they
        alarm together: `false_alarm_within` says how often."""
        return signals_of(self.z(values), rules, float(stats.norm.isf(self.false_alarm / 2)))

    def false_alarm_within(self, points: int, rules: tuple[Rule, ...] = RULES) -> float:
        """Chance of at least one false alarm among the next `points` values, over baselines as long as this one: by
        simulation (20,000 baselines, same seed), to about 0.003. With a short baseline it is far above that with mean
        and sigma known (`run_rules.false_alarm_within`)."""
        whole(1, 1000, points=points)
        return _alarmed(self.method, self.n, self.false_alarm, points, rules)


def chart(
    baseline: Iterable[float], *, method: Method = "moving range", false_alarm: float = THREE_SIGMA,
) -> Chart:
    """Limits from the values of a time when all was well, in their order. The moving range sees neither a trend nor a
    step in the baseline as scatter; the standard deviation uses all of it and is sharper where there is none.

    "standard deviation": mean +- t s sqrt(1 + 1/n), exact. "moving range": widened as far as its simulated law asks for
    (within some 2 % of the chance). Classical limits as NIST/SEMATECH handbook 6.3.2.2. ValueError for fewer than four
    values and where nothing scatters.
    """
    probabilities(false_alarm=false_alarm)
    found = readings(baseline, FEWEST, "values of the baseline")
    s, n, mean = scatter(found, "values of the baseline"), len(found), float(found.mean())
    sigma = s if method == "standard deviation" else float(np.abs(np.diff(found)).mean()) / D2
    half = _width(method, n, false_alarm) * sigma
    farthest = int(np.abs(found - mean).argmax())
    apart = (farthest,) if abs(found[farthest] - mean) > grubbs_limit(n) * s else ()
    return Chart(n, mean, sigma, method, false_alarm, mean - half, mean + half,
                 (mean - 3 * sigma, mean + 3 * sigma), 2 * _beyond(3.0, method, n), apart)
