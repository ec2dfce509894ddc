"""A review carried to the load: does the fastener still hold what is required, whatever its torque was?

F = M/(K d) with the range of the nut factor. Torques in N.m, loads in N, diameters in m.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evenpull.instrument.deviation import Floats
from evenpull.instrument.review import (
    FULL,
    STEP,
    Codes,
    K,
    ModelName,
    ModelResult,
    Review,
    Verdict,
    counted,
    worst_case,
)
from evenpull.joint.tightening.torque import load_from_nut_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadBasis:
    """`K_low` to `K_high` the range of the nut factor, `d` the nominal diameter, `required` the least load that each
    fastener must keep (NaN where none is stated), `drag` prevailing torque that clamps nothing, `kept` the share of
    the load left after relaxation and settling. Floats or arrays of one length."""

    K_low: ArrayLike
    K_high: ArrayLike
    d: ArrayLike
    required: ArrayLike
    drag: ArrayLike = 0.0
    kept: ArrayLike = 1.0


@dataclass(frozen=True, slots=True)
class LoadResult:
    """`low` to `high` load left, N; `verdict` codes of Verdict against the required minimum: surely in means surely
    enough, surely out surely too little."""

    low: Floats
    high: Floats
    verdict: Codes

    def counts(self) -> dict[Verdict, int]:
        return counted(self.verdict)


def load_range(model: ModelResult, basis: LoadBasis) -> LoadResult:
    """Load of the true range of one model: F_low = (M_low - drag) kept/(K_high d), F_high with M_high and K_low.

    ValueError for a nut factor or diameter not positive, a range that falls, a share outside 0 to 1, a negative drag
    or required load, and arrays of unequal length.
    """
    shape = model.true.shape
    K_low, K_high = _like(shape, K_low=basis.K_low), _like(shape, K_high=basis.K_high)
    d, required = _like(shape, d=basis.d), _like(shape, required=basis.required)
    drag, kept = _like(shape, drag=basis.drag), _like(shape, kept=basis.kept)
    if not (np.all(K_low > 0) and np.all(K_low <= K_high) and np.all(np.isfinite(K_high))):
        raise ValueError("the nut factor needs a range greater than zero that rises")
    if not (np.all(d > 0) and np.all(np.isfinite(d))):
        raise ValueError("the diameter has to be finite and greater than zero")
    if not (np.all(drag >= 0) and np.all(kept > 0) and np.all(kept <= 1)):
        raise ValueError("the drag cannot be negative, and the share kept lies above 0 and is at most 1")
    if np.any(required < 0):
        raise ValueError("the required load cannot be negative; NaN where none is stated")
    half = K * model.u
    low = load_from_nut_factor(np.maximum(model.true - half - drag, 0.0), K_high, d) * kept
    high = load_from_nut_factor(np.maximum(model.true + half - drag, 0.0), K_low, d) * kept
    codes = np.full(shape, Verdict.DOUBTFUL, np.int8)
    codes[low >= required] = Verdict.SURELY_IN
    codes[high < required] = Verdict.SURELY_OUT
    codes[np.isnan(low) | np.isnan(required)] = Verdict.CANNOT_BE_JUDGED
    return LoadResult(low, high, codes)


def worst_load(review: Review, basis: LoadBasis) -> tuple[dict[ModelName, LoadResult], Codes]:
    """Loads of every model by its name, and the decision by the worst case as in the review."""
    loads = {model.name: load_range(model, basis) for model in review.models}
    step = loads.get(STEP)
    return loads, worst_case(loads[FULL].verdict, None if step is None else step.verdict)


def _like(shape: tuple[int, ...], **named: ArrayLike) -> Floats:
    (name, values), = named.items()
    array = np.asarray(values, np.float64)
    if array.ndim and array.shape != shape:
        raise ValueError(f"{name}: {array.size} values for {shape[0]} tightenings")
    return np.broadcast_to(array, shape)
