"""How many parts, operators and repeats a study of repeatability and reproducibility needs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats

from evenpull.statistics.repeatability import coefficients
from evenpull.statistics.sane import above_zero, probabilities, whole
from evenpull.statistics.variance_limits import combination_limits

Aim = Literal["repeatability", "operator", "reproducibility", "measurement", "part"]


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected before the study, as standard deviations in the unit: of parts, operators, interaction,
    repeats. A guess from earlier studies, and the plan is as good as it."""

    part: float
    operator: float
    interaction: float
    repeat: float


@dataclass(frozen=True, slots=True)
class StudyPlan:
    """`low` and `high`: limits of the standard deviation that such a study would show if its mean squares came out as
    expected, over the true one."""

    parts: int
    operators: int
    repeats: int
    low: float
    high: float

    @property
    def readings(self) -> int:
        return self.parts * self.operators * self.repeats


def planned(
    expected: Expected, p: int, o: int, r: int, *, aim: Aim = "measurement", confidence: float = 0.95,
) -> StudyPlan:
    """Limits to be expected from p parts, o operators, r repeats: `combination_limits` at the expected mean squares
    of the model with interaction."""
    whole(2, 10_000, parts=p, operators=o, repeats=r)
    above_zero(repeat=expected.repeat)
    others = (expected.part, expected.operator, expected.interaction)
    if not all(0 <= s < math.inf for s in others):
        raise ValueError(f"expected deviations are finite and not negative, not {others}")
    vP, vO, vPO, vE = (s**2 for s in (*others, expected.repeat))
    MS = np.array([vE + r * vPO + o * r * vP, vE + r * vPO + p * r * vO, vE + r * vPO, vE])
    c = coefficients(p, o, r, "with interaction")[aim]
    true = float(np.dot(c, MS))
    if true <= 1e-12 * MS.max():
        raise ValueError(f"{aim} is expected to be zero: no width relative to it can be planned; aim at measurement")
    df = [p - 1, o - 1, (p - 1) * (o - 1), p * o * (r - 1)]
    low, high = (math.sqrt(max(0.0, float(limit)) / true) for limit in combination_limits(c, MS, df, confidence))
    return StudyPlan(p, o, r, low, high)


def plan_study(
    expected: Expected, p: int, wanted: float, *, aim: Aim = "measurement", confidence: float = 0.95,
    most_operators: int = 30, most_repeats: int = 10,
) -> StudyPlan:
    """The study with the fewest readings whose upper limit is at most `wanted` (greater than 1) times the deviation
    itself, p parts given. ValueError with the best that can be had where the numbers allowed are not enough."""
    if not 1 < wanted < math.inf:
        raise ValueError(f"the wanted upper limit is a factor above 1, not {wanted}")
    whole(2, 200, most_operators=most_operators, most_repeats=most_repeats)
    tried = [planned(expected, p, o, r, aim=aim, confidence=confidence)
             for o in range(2, most_operators + 1) for r in range(2, most_repeats + 1)]
    enough = [plan for plan in tried if plan.high <= wanted]
    if not enough:
        best = min(tried, key=lambda plan: plan.high)
        raise ValueError(
            f"no study of {p} parts with up to {most_operators} operators and {most_repeats} repeats brings the upper "
            f"limit to {wanted:.3g}; the best, {best.operators} operators and {best.repeats} repeats, reaches "
            f"{best.high:.3g}: allow more, or take more parts"
        )
    return min(enough, key=lambda plan: (plan.readings, plan.high))


def degrees_needed(wanted: float, confidence: float = 0.95) -> int:
    """Fewest degrees of freedom with which the upper limit of a standard deviation, two-sided, is at most `wanted`
    times the deviation found: sqrt(nu/chi-square) (exact for normal values). Of operators: one more than that."""
    probabilities(confidence=confidence)
    if not 1 < wanted < math.inf:
        raise ValueError(f"the wanted upper limit is a factor above 1, not {wanted}")

    def factor(nu: int) -> float:
        return math.sqrt(nu / float(stats.chi2.ppf((1 - confidence) / 2, nu)))

    low, high = 0, 1
    while factor(high) > wanted:
        low, high = high, high * 2
        if high > 10_000_000:
            raise ValueError(f"more than {high} degrees of freedom would be needed: allow a factor above {wanted}")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if factor(middle) <= wanted else (middle, high)
    return high
