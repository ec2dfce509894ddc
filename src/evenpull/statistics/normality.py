"""Whether values may come from a normal distribution."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy import stats

from evenpull.statistics.sane import readings, scatter

_MOST_SHAPIRO = 5000


@dataclass(frozen=True, slots=True)
class Normality:
    """`test` by name, its statistic and p: chance that normal values look at least as odd. A large p proves nothing:
    few values hide much. `alike` is the share of values that another one equals: display steps that are coarse against
    the scatter make p small without any fault of the lot."""

    test: str
    n: int
    statistic: float
    p: float
    alike: float


def normality(values: Iterable[float]) -> Normality:
    """Shapiro and Wilk's W (Biometrika 52, 1965; Royston's p) for 3 to 5000 values, D'Agostino and Pearson's K^2 above;
    scipy computes both. ValueError for fewer than 3 values or values that are all alike."""
    found = readings(values, 3)
    found = (found - found.mean()) / scatter(found)  # the tests do not see it; scipy warns of small ranges
    name, result = ("Shapiro-Wilk", stats.shapiro(found)) if len(found) <= _MOST_SHAPIRO else (
        "D'Agostino-Pearson", stats.normaltest(found))
    _, counts = np.unique(found, return_counts=True)
    return Normality(name, len(found), float(result.statistic), float(result.pvalue),
                     float(counts[counts > 1].sum() / len(found)))
