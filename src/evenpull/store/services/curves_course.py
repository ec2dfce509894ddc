"""One feature of the curves of a joint over time: every curve, or, of many, its middle and spread in equal shares.

    CurveTable --ordered by time--> values --shares--> low, median, high; odd ones and limits beside
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.verdicts import VERDICTS
from evenpull.store.services import curves_learning
from evenpull.store.services.curves_table import LIMIT_OF, CurveTable, table_of
from evenpull.store.services.errors import Unknown

WATCHED = ("T_off", "k_el", "angle_origin", "T_run", "T_run_max", "seat", "yield_ratio")
SINGLE = 1_500  # curves that are drawn one by one; of more, shares
SHARES, ODD_DRAWN = 150, 200
LOW, HIGH = 5, 95  # % of a share


@dataclass(frozen=True, eq=False)
class Course:
    """`x`: s since 1970 where `by_time`, else the place in the order. `low`, `middle`, `high` of each share, the same
    value three times where each curve stands alone. `odd`: (x, value, file, number, verdict), at most 200 of `n_odd`,
    the last ones. `n` curves show the feature, `absent` do not. `limits` of the mechanics where all have the same;
    `window` learned. `words` on drift from it, None without windows."""

    feature: str
    pass_number: int | None
    passes: tuple[int, ...]
    by_time: bool
    x: NDArray[np.float64]
    low: NDArray[np.float64]
    middle: NDArray[np.float64]
    high: NDArray[np.float64]
    single: bool
    odd: tuple[tuple[float, float, int, int, str], ...]
    n_odd: int
    n: int
    absent: int
    limits: tuple[float | None, float | None]
    window: tuple[float, float] | None
    words: str | None


def course(joint: str, feature: str, pass_number: int | None = None, fastener: int | None = None) -> Course:
    """Unknown for a feature that is not watched. Without a pass the last one that has curves: passes are not mixed."""
    if feature not in WATCHED:
        raise Unknown(f"{feature[:40]!r} is not drawn over time; there are: {', '.join(WATCHED)}")
    table = table_of([joint], fastener).ordered()
    passes, wanted = table.passes, table.pass_or_last(pass_number)
    if wanted is not None:
        table = table.picked(table.pass_number == wanted)
    shown = np.isfinite(table.values[feature])
    own = table.picked(shown)
    by_time = len(own) > 0 and not np.isnan(own.time).any()
    x = own.time if by_time else np.arange(1, len(own) + 1, dtype=np.float64)
    y = own.values[feature]
    low, middle, high, at = _shares(x, y)
    drift = curves_learning.drift_of(joint)
    window = None
    if drift is not None and drift.row.pass_number == wanted:
        found = drift.row.learned.window("run" if feature == "seat" else feature)
        window = None if found is None else (found.low, found.high)
    return Course(
        feature, wanted, passes, by_time, at, low, middle, high, len(y) <= SINGLE, _odd(own, x, y), int(own.odd.sum()),
        len(own), int((~shown).sum()), _limits(own, feature), window, None if drift is None else drift.words,
    )  # fmt: skip


def _shares(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    if len(y) <= SINGLE:
        return y, y, y, x
    parts = np.array_split(np.arange(len(y)), SHARES)
    low, middle, high = (np.array([np.percentile(y[p], q) for p in parts]) for q in (LOW, 50, HIGH))
    return low, middle, high, np.array([np.median(x[p]) for p in parts])


def _odd(
    own: CurveTable, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[tuple[float, float, int, int, str], ...]:
    return tuple((float(x[i]), float(y[i]), int(own.file[i]), int(own.number[i]), VERDICTS[int(own.verdict[i])])
                 for i in np.flatnonzero(own.odd)[-ODD_DRAWN:].tolist())


def _limits(own: CurveTable, feature: str) -> tuple[float | None, float | None]:
    low, high = (own.same(f"limit {name}") if name else None for name in LIMIT_OF.get(feature, ("", "")))
    return low, high
