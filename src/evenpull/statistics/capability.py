"""Capability indices with their confidence limits: of a tool on a test bench (Cm, Cmk), of a process (Cp, Cpk).

L and U are the limits of the window (one may be None), x the mean, s the standard deviation, all in one unit. The same
formulas serve both pairs of names; they differ in the values: Cm from one short run of one tool under one condition, Cp
from a process over its usual changes. Never from residual torques mixed with installation torques.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy import stats

from evenpull.statistics.noncentral_t import noncentral_t_quantile, noncentrality
from evenpull.statistics.normality import Normality, normality
from evenpull.statistics.sane import Floats, above_zero, probabilities, readings, scatter, whole
from evenpull.statistics.variance_tables import F_test, one_way

Kind = Literal["machine", "process"]
# Values usual before an index is reported: 50 pulls on the joint simulator, 25 groups of 5 (common practice, no
# source). The confidence limits say what fewer values cost; the rule says only what others will ask for.
USUAL_VALUES = {"machine": 50, "process": 125}
_NAMES = {"machine": ("Cm", "Cmk"), "process": ("Cp", "Cpk")}
_NORMAL_BELOW = _DIFFERENT_BELOW = 0.05
_LARGEST_INDEX = 1000


@dataclass(frozen=True, slots=True)
class Index:
    """`value` as estimated; `least` is the one-sided lower confidence limit, the figure to judge by; `low` and `high`
    are two-sided limits, all at the confidence asked for."""

    name: str
    value: float
    least: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Capability:
    """`spread` (Cm, Cp or Pp) is None with one limit only. `outside` is the share of the lot beyond the limits that
    mean and s promise, `outside_most` its upper confidence limit; both rest on the normal distribution. `df` degrees of
    freedom of s."""

    n: int
    mean: float
    s: float
    df: int
    confidence: float
    spread: Index | None
    centred: Index
    outside: float
    outside_most: float
    normality: Normality
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProcessCapability:
    """A process seen in groups. `within`: Cp, Cpk from the scatter inside the groups, what it could do if its mean
    stood still. `overall`: Pp, Ppk from all values, what it did. `p` tests whether the means of the groups differ."""

    within: Capability
    overall: Capability
    F: float
    p: float


def spread_limits(C: float, df: int, confidence: float = 0.95) -> tuple[float, float, float]:
    """(least, low, high) of Cp = (U - L)/(6 s): C sqrt(chi-square/df), exact for normal values (V. E. Kane, J. Quality
    Technology 18, 1986; from memory). df = n - 1, or that of a deviation within groups."""
    above_zero(C=C)
    whole(1, df=df)
    probabilities(confidence=confidence)

    def at(p: float) -> float:
        return C * math.sqrt(float(stats.chi2.ppf(p, df)) / df)

    return at(1 - confidence), at((1 - confidence) / 2), at((1 + confidence) / 2)


@lru_cache(maxsize=4096)
def one_sided_limit(C: float, n: int, df: int, p: float) -> float:
    """What (U - mu)/(3 sigma), or (mu - L)/(3 sigma), lies below with confidence p when `C` was found: exact, since
    3 sqrt(n) C is noncentral t with df degrees and noncentrality 3 sqrt(n) times the true one. ValueError for n < 2."""
    whole(2, n=n)
    whole(1, df=df)
    probabilities(p=p)
    if not math.isfinite(C):
        raise ValueError(f"the index found has to be finite, not {C}")
    root = 3 * math.sqrt(n)
    return noncentrality(root * C, df, 1 - p) / root


def bissell_limits(C: float, n: int, df: int, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided limits of Cpk, C +- z sqrt(1/(9 n) + C^2/(2 df)), for n above some 30 (A. F. Bissell, Applied
    Statistics 39, 1990; from memory). It stands beside the exact ones where others computed so."""
    whole(2, n=n)
    whole(1, df=df)
    probabilities(confidence=confidence)
    half = float(stats.norm.isf((1 - confidence) / 2)) * math.sqrt(1 / (9 * n) + C**2 / (2 * df))
    return C - half, C + half


def centred_limits(
    ends: tuple[float, ...], n: int, df: int, confidence: float = 0.95,
) -> tuple[float, float, float]:
    """(least, low, high) of the smaller of one or two one-sided indices `ends`. Exact for one. For two: the smaller of
    the lower limits is a lower limit of the smaller index (it holds at least as often); the upper one holds by
    Bonferroni."""
    tail = (1 - confidence) / 2
    return (
        min(one_sided_limit(C, n, df, 1 - confidence) for C in ends),
        min(one_sided_limit(C, n, df, tail) for C in ends),
        min(one_sided_limit(C, n, df, 1 - tail / len(ends)) for C in ends),
    )


def capability(
    values: Iterable[float], lower: float | None, upper: float | None, *, kind: Kind = "machine",
    confidence: float = 0.95,
) -> Capability:
    """Indices of one series of at least three values against the window: Cm, Cmk, or Cp, Cpk of a process known to be
    stable. ValueError for fewer, no limit at all, limits in the wrong order, values that are all alike.

    Values that look other than normal are reported in `notes`, not refused: then the figures do not hold and an
    interval without a distribution (`ordered_interval`) is the way out.
    """
    found = readings(values, 3)
    looks = normality(found)
    return _indices(_NAMES[kind], found, scatter(found), len(found) - 1, (lower, upper), confidence, looks,
                    _notes(kind, len(found), looks))


def process_capability(
    groups: Sequence[Iterable[float]], lower: float | None, upper: float | None, *, confidence: float = 0.95,
) -> ProcessCapability:
    """Indices of a process from groups taken one after the other, values of one group close together in time (ISO
    22514-2, from memory). The limits of Cp, Cpk are exact if the means of the groups are one; those of Pp, Ppk too, and
    where the means differ they are too narrow, which `notes` says. ValueError as `capability` and `one_way` raise.
    """
    parts = [readings(group, 1, f"values in group {place}") for place, group in enumerate(groups, 1)]
    table = one_way(parts)
    F, p = F_test(table.between, table.within)
    found = np.concatenate(parts)
    looks = normality(np.concatenate([part - part.mean() for part in parts if len(part) > 1]))
    notes = _notes("process", len(found), looks)
    if p < _DIFFERENT_BELOW:
        notes += (f"the means of the groups differ (p = {p:.2g}): the process is not stable, Cp and Cpk promise "
                  "what it did not keep, and the limits of Pp and Ppk are too narrow: find what moves the mean",)
    limits = (lower, upper)
    return ProcessCapability(
        _indices(("Cp", "Cpk"), found, math.sqrt(table.within.MS), table.within.df, limits, confidence, looks, notes),
        _indices(("Pp", "Ppk"), found, scatter(found), len(found) - 1, limits, confidence, looks, notes),
        F, p,
    )


def _indices(
    names: tuple[str, str], found: Floats, s: float, df: int, limits: tuple[float | None, float | None],
    confidence: float, looks: Normality, notes: tuple[str, ...],
) -> Capability:
    probabilities(confidence=confidence)
    lower, upper = limits
    given = [limit for limit in limits if limit is not None]
    if not given or not all(math.isfinite(limit) for limit in given):
        raise ValueError(f"a finite lower or upper limit of the window is needed, not {lower} and {upper}")
    if lower is not None and upper is not None and lower >= upper:
        raise ValueError(f"the lower limit {lower} has to lie below the upper one {upper}")
    n, mean = len(found), float(found.mean())
    ends = tuple(distance / (3 * s) for distance in (
        None if lower is None else mean - lower, None if upper is None else upper - mean) if distance is not None)
    if max(map(abs, ends)) > _LARGEST_INDEX:
        raise ValueError(f"an index of {max(ends, key=abs):.3g}: the scatter {s:.3g} and the window {lower} to {upper} "
                         "do not belong together; check units and resolution")
    spread = None
    if lower is not None and upper is not None:
        C = (upper - lower) / (6 * s)
        spread = Index(names[0], C, *spread_limits(C, df, confidence))
    shared = (1 - confidence) / len(ends)
    most = sum(float(stats.norm.sf(3 * one_sided_limit(C, n, df, shared))) for C in ends)
    return Capability(
        n, mean, s, df, confidence, spread, Index(names[1], min(ends), *centred_limits(ends, n, df, confidence)),
        sum(float(stats.norm.sf(3 * C)) for C in ends), min(1.0, most), looks, notes,
    )


def _notes(kind: Kind, n: int, looks: Normality) -> tuple[str, ...]:
    notes = []
    if n < USUAL_VALUES[kind]:
        notes.append(f"{n} values; {USUAL_VALUES[kind]} are usual for {_NAMES[kind][1]} (common practice): judge by "
                     "the lower confidence limit")
    if looks.p < _NORMAL_BELOW:
        why = (f"; {looks.alike:.0%} of the values are alike, which a coarse display explains" if looks.alike > 0.5
               else ": look at the order of the values, at two mixed lots, at values that stand apart")
        notes.append(f"the values do not look normal ({looks.test}, p = {looks.p:.2g}): indices and shares outside, "
                     f"with their limits, do not hold{why}")
    return tuple(notes)


def index_needed(demanded: float, n: int, confidence: float = 0.95) -> float:
    """The one-sided index that n values have to show so that its lower limit reaches `demanded`: the noncentral t
    quantile over 3 sqrt(n), exact."""
    above_zero(demanded=demanded)
    whole(2, 1_000_000, n=n)
    probabilities(confidence=confidence)
    root = 3 * math.sqrt(n)
    return noncentral_t_quantile(confidence, n - 1, root * demanded) / root


def values_needed(demanded: float, expected: float, confidence: float = 0.95) -> int:
    """Fewest values after which an index that comes out as `expected` has a lower limit of at least `demanded`.
    ValueError unless it is expected above the demand."""
    above_zero(demanded=demanded)
    if not demanded < expected < math.inf:
        raise ValueError(f"an index of {expected} never shows {demanded}: it has to lie above; narrow the scatter, or "
                         "demand less")
    low, high = 1, 2
    while index_needed(demanded, high, confidence) > expected:
        low, high = high, high * 2
        if high > 1_000_000:
            raise ValueError(f"more than a million values would show {demanded} with {expected}: they lie too close")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if index_needed(demanded, middle, confidence) <= expected else (middle, high)
    return high
