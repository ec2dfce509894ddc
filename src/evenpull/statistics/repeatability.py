"""Repeatability and reproducibility of a tool or gauge: variance components of a crossed study, with limits.

Model: y_ijk = mu + P_i + O_j + PO_ij + E_ijk, all of them random: p parts (or targets), o operators, r repeats.
Variances carry the unit squared, standard deviations the unit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenpull.statistics.sane import Floats, above_zero, probabilities, whole
from evenpull.statistics.variance_limits import combination_limits
from evenpull.statistics.variance_tables import F_test, OneWay, Source, TwoWay

Model = Literal["with interaction", "without interaction"]
POOL_ABOVE = 0.25  # p of the interaction above which it is usual to leave it out (common practice, no source)
_SEED, _DRAWS = 20_011, 40_000

_SUMS = ("reproducibility", "measurement", "total")
NAMES = ("repeatability", "operator", "interaction", "reproducibility", "measurement", "part", "total")


@dataclass(frozen=True, slots=True)
class Component:
    """A variance component. `estimate` as it comes out: a negative one says that the study is too small to see it or
    that the model does not fit. `variance` is that, or zero; of a sum, its parts so treated. Limits `low`, `high`
    two-sided, below zero set to zero; `contribution` is the share of the total of the variances (not deviations)."""

    name: str
    estimate: float
    variance: float
    low: float
    high: float
    contribution: float

    @property
    def s(self) -> float:
        """Standard deviation sqrt(variance)."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True)
class Repeatability:
    """The study judged: `components` by the names of `NAMES` (repeatability: one person, one part; reproducibility:
    operators and interaction; measurement: both together). `F` and `p_interaction` test the interaction against the
    error; `model` says whether it stands by itself or is pooled into the error."""

    table: TwoWay
    model: Model
    confidence: float
    F: float
    p_interaction: float
    components: Mapping[str, Component]
    notes: tuple[str, ...]

    @property
    def distinct_categories(self) -> int | None:
        """Groups of parts that the measurement tells apart: sqrt(2) sigma_part/sigma_measurement, cut to a whole
        number, at least 1 (measurement systems analysis, from memory); None where nothing scatters in measuring."""
        part, measurement = self.components["part"].s, self.components["measurement"].s
        return max(1, math.floor(math.sqrt(2) * part / measurement)) if measurement else None

    def to_tolerance(self, width: float) -> tuple[float, float, float]:
        """Precision to tolerance 6 sigma_measurement/width with its limits; `width` of the window in the unit."""
        return precision_to_tolerance(self.components["measurement"], width)


def precision_to_tolerance(component: Component, width: float) -> tuple[float, float, float]:
    """6 sigma/width of one component with its limits, in the order value, low, high; `width` of the window in the unit.
    ValueError unless the window is wider than zero."""
    above_zero(width=width)
    low, at, high = (6 * math.sqrt(v) / width for v in (component.low, component.variance, component.high))
    return at, low, high


def lines(table: TwoWay, model: Model) -> tuple[Source, ...]:
    """The mean squares that the model uses, in the order of the coefficients."""
    if model == "with interaction":
        return table.part, table.operator, table.interaction, table.error
    return table.part, table.operator, table.pooled


def coefficients(p: int, o: int, r: int, model: Model) -> dict[str, tuple[float, ...]]:
    """Each component as a combination of the mean squares of `lines` (expected mean squares of the random model)."""
    if model == "without interaction":
        return {
            "repeatability": (0, 0, 1),
            "operator": (0, 1 / (p * r), -1 / (p * r)),
            "interaction": (0, 0, 0),
            "reproducibility": (0, 1 / (p * r), -1 / (p * r)),
            "measurement": (0, 1 / (p * r), 1 - 1 / (p * r)),
            "part": (1 / (o * r), 0, -1 / (o * r)),
            "total": (1 / (o * r), 1 / (p * r), 1 - 1 / (p * r) - 1 / (o * r)),
        }
    return {
        "repeatability": (0, 0, 0, 1),
        "operator": (0, 1 / (p * r), -1 / (p * r), 0),
        "interaction": (0, 0, 1 / r, -1 / r),
        "reproducibility": (0, 1 / (p * r), (p - 1) / (p * r), -1 / r),
        "measurement": (0, 1 / (p * r), (p - 1) / (p * r), (r - 1) / r),
        "part": (1 / (o * r), 0, -1 / (o * r), 0),
        "total": (1 / (o * r), 1 / (p * r), (p * o - p - o) / (p * o * r), (r - 1) / r),
    }


def repeatability(table: TwoWay, *, model: Model = "with interaction", confidence: float = 0.95) -> Repeatability:
    """Components of the table under the model asked for, limits by `combination_limits`. With the interaction in the
    error the limits hold only if there is none: `POOL_ABOVE` is a rule, not a proof, and the choice is in `notes`.

    Sources: Montgomery, Design and Analysis of Experiments; Burdick, Borror, Montgomery, J. Quality Technology 35
    (2003). ValueError for a confidence outside 0 ... 1.
    """
    probabilities(confidence=confidence)
    used = lines(table, model)
    MS, df = np.array([line.MS for line in used]), [line.df for line in used]
    of = coefficients(table.p, table.o, table.r, model)
    raw = {name: float(np.dot(c, MS)) for name, c in of.items()}
    zeroed = {name: max(0.0, value) for name, value in raw.items()}
    zeroed["reproducibility"] = zeroed["operator"] + zeroed["interaction"]
    zeroed["measurement"] = zeroed["reproducibility"] + zeroed["repeatability"]
    zeroed["total"] = zeroed["measurement"] + zeroed["part"]
    components = {}
    for name in NAMES:
        low, high = (0.0, 0.0) if not any(of[name]) else map(float, combination_limits(of[name], MS, df, confidence))
        components[name] = Component(name, raw[name], zeroed[name], max(0.0, low), max(0.0, high),
                                     zeroed[name] / zeroed["total"])
    F, p = F_test(table.interaction, table.error)
    return Repeatability(table, model, confidence, F, p, components, _notes(table, model, p, raw))


def _notes(table: TwoWay, model: Model, p: float, raw: Mapping[str, float]) -> tuple[str, ...]:
    notes = [f"{name}: the estimate is negative ({value:.4g}) and counts as " + (
                 "the sum of its parts, of which negative ones count as zero" if name in _SUMS else
                 "zero; its limits say how large it may be") for name, value in raw.items() if value < 0]
    if model == "without interaction":
        notes.append(f"interaction pooled into the error: it was tested with p = {p:.3g}")
        if p <= POOL_ABOVE:
            notes.append(f"p is not above {POOL_ABOVE}: keep the interaction, people differ from part to part")
    elif p > POOL_ABOVE:
        notes.append(f"no interaction seen (p = {p:.3g}): the model without it may be taken, and has narrower limits")
    if table.o < 5:
        notes.append(f"{table.o} operators: what differs between people is known from {table.o - 1} "
                     f"degree{'s' if table.o > 2 else ''} of freedom only, hence the wide limits")
    return tuple(notes)


def one_way_components(table: OneWay, confidence: float = 0.95) -> dict[str, Component]:
    """"between", "within" and "total" of a one-way table, for pulls that cannot be repeated on one fastener: each group
    one person (or day, or tool) on fasteners of one lot, whose own scatter then counts as "within".

    Limits by `combination_limits`; groups of unequal size enter by `n_0`, for which they are approximate.
    """
    MS, df, n = [table.between.MS, table.within.MS], [table.between.df, table.within.df], table.n_0
    of = {"between": (1 / n, -1 / n), "within": (0.0, 1.0), "total": (1 / n, 1 - 1 / n)}
    raw = {name: float(np.dot(c, MS)) for name, c in of.items()}
    total = max(0.0, raw["between"]) + raw["within"]
    found = {}
    for name, c in of.items():
        low, high = map(float, combination_limits(c, MS, df, confidence))
        variance = total if name == "total" else max(0.0, raw[name])
        found[name] = Component(name, raw[name], variance, max(0.0, low), max(0.0, high), variance / total)
    return found


def generalized_draws(found: Repeatability, draws: int = _DRAWS, seed: int = _SEED) -> dict[str, Floats]:
    """Generalised pivotal quantities of each component, (draws,): mean squares times df/chi-square, negative values
    set to zero. Their quantiles are limits of anything made of components (Hamada and Weerahandi, J. Quality
    Technology 32, 2000; from memory). Same seed, same figures."""
    whole(1000, 10_000_000, draws=draws)
    dice = np.random.default_rng(seed)
    used = lines(found.table, found.model)
    MS = np.array([line.MS * line.df / dice.chisquare(line.df, draws) for line in used])
    of = coefficients(found.table.p, found.table.o, found.table.r, found.model)
    single = ("repeatability", "operator", "interaction", "part")
    made = {name: np.maximum(0.0, np.asarray(of[name]) @ MS) for name in single}
    made["reproducibility"] = made["operator"] + made["interaction"]
    made["measurement"] = made["reproducibility"] + made["repeatability"]
    made["total"] = made["measurement"] + made["part"]
    return made


def contribution_limits(found: Repeatability) -> dict[str, tuple[float, float]]:
    """Two-sided limits of each component's share of the total, by generalised draws, at the study's confidence."""
    made = generalized_draws(found)
    tail = (1 - found.confidence) / 2
    return {name: (float(low), float(high)) for name in NAMES
            for low, high in [np.quantile(made[name] / made["total"], (tail, 1 - tail))]}


def distinct_categories_limits(found: Repeatability) -> tuple[float, float]:
    """Two-sided limits of sqrt(2) sigma_part/sigma_measurement, not cut to whole numbers, by generalised draws."""
    made = generalized_draws(found)
    tail = (1 - found.confidence) / 2
    low, high = np.quantile(np.sqrt(2 * made["part"] / made["measurement"]), (tail, 1 - tail))
    return float(low), float(high)
