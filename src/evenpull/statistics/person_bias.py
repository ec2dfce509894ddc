"""How far each person stands off: from the others of a crossed study, or from reference values. In the unit read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from evenpull.statistics.repeatability import Model
from evenpull.statistics.sane import above_zero, probabilities, readings, whole
from evenpull.statistics.variance_tables import Crossed, two_way


@dataclass(frozen=True, slots=True)
class PersonBias:
    """`bias` with limits that hold for all persons of the study together with at least the confidence asked for
    (Bonferroni: each one's interval is made at 1 - (1 - confidence)/o); `p` of each alone, before that."""

    operator: str
    bias: float
    low: float
    high: float
    p: float

    @property
    def seen(self) -> bool:
        """Whether zero lies outside the limits."""
        return self.low > 0 or self.high < 0


def bias_among(
    study: Crossed, *, model: Model = "with interaction", confidence: float = 0.95,
) -> tuple[PersonBias, ...]:
    """Each person's mean less the mean of all: a statement on these people, no one knows who of them is right.

    Error of the difference: sqrt(MS (o - 1)/(p r o)), MS that of the interaction (parts random) with its degrees of
    freedom, or the pooled error in the model without (Montgomery, mixed model with persons fixed).
    """
    probabilities(confidence=confidence)
    table = two_way(study)
    line = table.interaction if model == "with interaction" else table.pooled
    if line.MS == 0:
        raise ValueError("no interaction at all: every person differs from the others by the same on every part; take "
                         "the model without interaction, or look whether values were copied")
    error = math.sqrt(line.MS * (table.o - 1) / (table.p * table.r * table.o))
    off = study.y.mean(axis=(0, 2)) - study.y.mean()
    return _persons(study, off, np.full(table.o, error), line.df, confidence)


def bias_from_reference(
    study: Crossed, reference: Sequence[float], *, confidence: float = 0.95,
) -> tuple[PersonBias, ...]:
    """Each person's mean deviation from the reference value of each part, in the order of `study.parts`.

    t over the p parts, each person with the own scatter and p - 1 degrees of freedom: persons need not scatter alike.
    The uncertainty of the reference values is not in it: add it. ValueError unless there is one finite value per part.
    """
    probabilities(confidence=confidence)
    true = readings(reference, len(study.parts), "reference values")
    if len(true) != len(study.parts):
        raise ValueError(f"{len(true)} reference values for {len(study.parts)} parts: give one for each")
    d = study.y.mean(axis=2) - true[:, None]
    p = len(true)
    errors = d.std(axis=0, ddof=1) / math.sqrt(p)
    if (errors == 0).any():
        who = study.operators[int(np.flatnonzero(errors == 0)[0])]
        raise ValueError(f"operator {who} deviates by the same on every part: read with a finer resolution")
    return _persons(study, d.mean(axis=0), errors, p - 1, confidence)


def bias_half_width(s: float, n: int, persons: int = 1, *, confidence: float = 0.95) -> float:
    """Half the width that the limits of each person's bias will have after n pulls that scatter by `s`: t s/sqrt(n),
    the limits made to hold for all persons together as in `bias_from_reference`. In the unit of `s`."""
    above_zero(s=s)
    whole(2, n=n)
    whole(1, persons=persons)
    probabilities(confidence=confidence)
    return float(stats.t.isf((1 - confidence) / (2 * persons), n - 1)) * s / math.sqrt(n)


def pulls_needed(s: float, wanted: float, persons: int = 1, *, confidence: float = 0.95) -> int:
    """Fewest pulls of each person after which the limits of the bias lie at most `wanted` to either side of it.
    ValueError where a million are not enough."""
    above_zero(s=s, wanted=wanted)
    low, high = 1, 2
    while bias_half_width(s, high, persons, confidence=confidence) > wanted:
        low, high = high, high * 2
        if high > 1_000_000:
            raise ValueError(f"more than a million pulls would be needed: allow more than {wanted:g} to either side")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if bias_half_width(s, middle, persons, confidence=confidence) <= wanted else (
            middle, high)
    return high


def _persons(
    study: Crossed, off: np.ndarray, errors: np.ndarray, df: int, confidence: float,
) -> tuple[PersonBias, ...]:
    t = float(stats.t.isf((1 - confidence) / (2 * len(off)), df))
    return tuple(
        PersonBias(name, float(b), float(b - t * e), float(b + t * e), float(2 * stats.t.sf(abs(b) / e, df)))
        for name, b, e in zip(study.operators, off, errors, strict=True)
    )
