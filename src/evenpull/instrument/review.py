"""Review of an instrument found out: what did the tightenings since the last good evidence really get?

Three models of the deviation stand side by side. The decision rests on the worst case, the full deviation over the
whole period; a step at a known event can only make it worse; drift is information. Arrays throughout: a million
tightenings in one call. Torques in N.m, times in s on one clock, deviations and uncertainties as shares.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpull.instrument.certificate import Direction
from evenpull.instrument.deviation import DeviationCurve, Floats, Truths, true_value

ModelName = Literal["full deviation over the whole period", "linear by date", "linear by cycles", "step at the event"]
FULL: ModelName = "full deviation over the whole period"
BY_DATE: ModelName = "linear by date"
BY_CYCLES: ModelName = "linear by cycles"
STEP: ModelName = "step at the event"
Codes = NDArray[np.int8]
K = 2.0  # coverage factor of the true range


class Verdict(IntEnum):
    """Rising severity: what is above raises a decision, what is below never lowers it."""

    SURELY_IN = 0
    DOUBTFUL = 1
    CANNOT_BE_JUDGED = 2
    SURELY_OUT = 3

    @property
    def words(self) -> str:
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True, slots=True)
class FoundOut:
    """What was found, for one direction: `found` the as-found curve, `last` the as-left curve of the last good
    certificate (None: unknown, then nothing can be said of a drift and of the time before an event). Where the period
    begins with a shift check, the drift starts from that curve at the time of the check."""

    found: DeviationCurve
    last: DeviationCurve | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Uses:
    """The tightenings to be reviewed, arrays of one length.

    `indicated` N.m on the scale of the instrument that is at fault; `ratio` torque at the fastener per torque there
    (1 without adapter and multiplier). `lower` and `upper` N.m at the fastener, its own window; infinite where open.
    A value or a window that is not known (NaN) cannot be judged.
    `time` s, NaN where not known; `cycle` counter reading, NaN where not known. `anticlockwise` True for those
    turned that way.
    """

    indicated: ArrayLike
    lower: ArrayLike
    upper: ArrayLike
    time: ArrayLike
    cycle: ArrayLike | None = None
    ratio: ArrayLike = 1.0
    anticlockwise: ArrayLike = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewUncertainty:
    """u^2 = u_cal^2 + u_resolution^2 + u_repeat^2 + u_operator^2.

    Relative standard uncertainties, but `resolution` the whole step of the scale in N.m (u = r/(2 sqrt 3)). `w_cal`
    None takes that of the certificate points. A certificate whose budget holds resolution and repeatability makes
    them count twice unless they are 0 here: on the safe side. The hand on an adapter belongs to the operator.
    """

    resolution: float
    w_repeat: float
    w_operator: float
    w_cal: float | None = None

    def __post_init__(self) -> None:
        for value in (self.resolution, self.w_repeat, self.w_operator, self.w_cal or 0.0):
            if not 0 <= value < math.inf:
                raise ValueError(f"an uncertainty is finite and not negative: {value}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The period and the events in it: `start` last good evidence, `end` found out, s; `first_cycle`, `last_cycle`
    counter readings there; `event` s of a known drop or repair. None where not known."""

    start: float
    end: float
    first_cycle: float | None = None
    last_cycle: float | None = None
    event: float | None = None

    def __post_init__(self) -> None:
        if not self.start < self.end:
            raise ValueError(f"the last good evidence ({self.start}) has to lie before the finding ({self.end})")
        if self.event is not None and not self.start <= self.event <= self.end:
            raise ValueError(f"the event ({self.event}) lies outside the suspect period ({self.start} to {self.end})")
        if self.first_cycle is not None and self.last_cycle is not None and not self.first_cycle < self.last_cycle:
            raise ValueError(f"the counter has to rise over the period: {self.first_cycle} to {self.last_cycle}")


@dataclass(frozen=True, slots=True)
class ModelResult:
    """One model: deviation `a`, `true` value at the fastener and its standard uncertainty `u` (N.m), NaN where it
    cannot be judged; `verdict` codes of Verdict against each tightening's own window."""

    name: ModelName
    a: Floats
    true: Floats
    u: Floats
    verdict: Codes

    @property
    def low(self) -> Floats:
        return self.true - K * self.u

    @property
    def high(self) -> Floats:
        return self.true + K * self.u

    @property
    def delivered(self) -> tuple[float, float] | None:
        """Smallest and largest share of the indicated value that was there, 1/(1 + a); None where none is judged."""
        known = self.a[~np.isnan(self.a)]
        return (1 / (1 + float(known.max())), 1 / (1 + float(known.min()))) if known.size else None

    def counts(self) -> dict[Verdict, int]:
        return counted(self.verdict)


@dataclass(frozen=True, slots=True)
class Review:
    """`models` side by side, the full deviation first; `left_out` a reason for each model that could not be set up;
    `decision` codes of Verdict by the worst case."""

    models: tuple[ModelResult, ...]
    left_out: Mapping[ModelName, str]
    decision: Codes

    def model(self, name: ModelName) -> ModelResult:
        return next(one for one in self.models if one.name == name)

    def counts(self) -> dict[Verdict, int]:
        return counted(self.decision)


def counted(codes: Codes) -> dict[Verdict, int]:
    """How many of each verdict."""
    found = np.bincount(codes, minlength=len(Verdict))
    return {verdict: int(found[verdict]) for verdict in Verdict}


def counted_by(codes: Codes, group: ArrayLike, groups: int) -> NDArray[np.int64]:
    """How many of each verdict in each group (joint, class, state): a row a group, a column a verdict. `group` numbers
    from 0 to groups - 1, one for each tightening."""
    at = np.asarray(group, np.int64)
    if at.shape != codes.shape or (at.size and not 0 <= int(at.min()) <= int(at.max()) < groups):
        raise ValueError(f"a group from 0 to {groups - 1} is needed for each of {codes.size} tightenings")
    found = np.bincount(at * len(Verdict) + codes, minlength=groups * len(Verdict))
    return found.reshape(groups, len(Verdict)).astype(np.int64)


def review_uncertainty(true: Floats, w_cal: Floats, ratio: Floats | float, given: ReviewUncertainty) -> Floats:
    """u of the true torque at the fastener, N.m: root of the sum of squares of the four parts; NaN stays NaN."""
    w_squared = w_cal**2 + (given.w_repeat**2 + given.w_operator**2)
    step = given.resolution / (2 * math.sqrt(3)) * ratio
    return np.sqrt(true**2 * w_squared + step**2)


def window_verdict(true: Floats, half: Floats, lower: Floats, upper: Floats) -> Codes:
    """Surely in: the whole range true +- half lies within the window; surely out: none of it; doubtful: part of it;
    cannot be judged: NaN."""
    low, high = true - half, true + half
    codes = np.full(true.shape, Verdict.DOUBTFUL, np.int8)
    codes[(low >= lower) & (high <= upper)] = Verdict.SURELY_IN
    codes[(high < lower) | (low > upper)] = Verdict.SURELY_OUT
    codes[np.isnan(true) | np.isnan(half) | np.isnan(lower) | np.isnan(upper)] = Verdict.CANNOT_BE_JUDGED
    return codes


def linear_drift(a_last: Floats, a_found: Floats, at: Floats, first: float, last: float) -> Floats:
    """a(t) = a_last + (a_found - a_last)(t - t0)/(t1 - t0); by date or by cycles. NaN outside t0 to t1."""
    share = (at - first) / (last - first)
    return np.where((share >= 0) & (share <= 1), a_last + (a_found - a_last) * share, np.nan)


def worst_case(full: Codes, step: Codes | None) -> Codes:
    """The verdict by the full deviation, raised where the step at a known event was judged and is worse. That a model
    cannot be judged raises nothing: it then adds no knowledge to the full deviation."""
    if step is None:
        return full.copy()
    raised = np.maximum(full, step)
    raised[step == Verdict.CANNOT_BE_JUDGED] = full[step == Verdict.CANNOT_BE_JUDGED]
    return raised


def review(
    uses: Uses, faults: Mapping[Direction, FoundOut], span: Span, given: ReviewUncertainty,
) -> Review:
    """Judge the suspect tightenings, each against its own window. All must lie in the period (`Period.holds`).

    A direction without a fault entry cannot be judged. ValueError for arrays of unequal length, a ratio that is not
    positive, a window that falls, and times outside the period.
    """
    x, lower, upper, time, cycle, ratio, turned_back = _arrays(uses, span)
    found, w_found = _by_direction(x, turned_back, faults, last=False)
    last, w_last = _by_direction(x, turned_back, faults, last=True)
    torque = x * ratio
    left_out: dict[ModelName, str] = {}

    def model(name: ModelName, a: Floats, w: Floats) -> ModelResult:
        true = true_value(torque, a)
        u = review_uncertainty(true, w if given.w_cal is None else np.full_like(w, given.w_cal), ratio, given)
        return ModelResult(name, a, true, u, window_verdict(true, K * u, lower, upper))

    models = [model(FULL, found, w_found)]
    w_both = np.maximum(w_last, w_found)  # NaN where one of the two is
    if all(fault.last is None for fault in faults.values()):
        why = "the as-left points of the last good certificate are not known"
        left_out |= {BY_DATE: why, BY_CYCLES: why, STEP: why}
    else:
        if math.isinf(span.start):
            left_out[BY_DATE] = "there is no good evidence to count from"
        else:
            models.append(model(BY_DATE, linear_drift(last, found, time, span.start, span.end), w_both))
        if cycle is None or span.first_cycle is None or span.last_cycle is None:
            left_out[BY_CYCLES] = "the counter readings are not known"
        else:
            drift = linear_drift(last, found, cycle, span.first_cycle, span.last_cycle)
            models.append(model(BY_CYCLES, drift, w_both))
        if span.event is None:
            left_out[STEP] = "no event is known"
        else:
            # at the event itself and at a time not known the found deviation counts
            before = time < span.event
            models.append(model(STEP, np.where(before, last, found), np.where(before, w_last, w_found)))
    by_name = {one.name: one.verdict for one in models}
    return Review(tuple(models), left_out, worst_case(by_name[FULL], by_name.get(STEP)))


def _arrays(uses: Uses, span: Span) -> tuple[Floats, Floats, Floats, Floats, Floats | None, Floats, Truths]:
    x = np.atleast_1d(np.asarray(uses.indicated, np.float64))

    def like(name: str, values: ArrayLike) -> Floats:
        array = np.asarray(values, np.float64)
        if array.ndim and array.shape != x.shape:
            raise ValueError(f"{name}: {array.size} values for {x.size} tightenings")
        return np.broadcast_to(array, x.shape)

    lower, upper, time = like("lower", uses.lower), like("upper", uses.upper), like("time", uses.time)
    ratio, turned_back = like("ratio", uses.ratio), like("anticlockwise", uses.anticlockwise) != 0
    _refuse("ratio", ~(ratio > 0) | np.isinf(ratio), ratio, "has to be finite and greater than zero")
    _refuse("window", lower > upper, lower, "has a lower limit above the upper one")
    outside = (time <= span.start) | (time > span.end)
    _refuse("time", outside, time, f"lies outside the suspect period {span.start} to {span.end}")
    cycle = None if uses.cycle is None else like("cycle", uses.cycle)
    return x, lower, upper, time, cycle, ratio, turned_back


def _refuse(name: str, wrong: Truths, values: Floats, why: str) -> None:
    if wrong.any():
        first = int(np.argmax(wrong))
        raise ValueError(f"{name} of tightening {first + 1} ({values[first]:.6g}) {why}; {int(wrong.sum())} such")


def _by_direction(
    x: Floats, turned_back: Truths, faults: Mapping[Direction, FoundOut], *, last: bool,
) -> tuple[Floats, Floats]:
    """Deviation and its uncertainty at each value by the curve of its direction; NaN without a curve."""
    sides: tuple[tuple[Direction, Truths], ...] = (("clockwise", ~turned_back), ("anticlockwise", turned_back))
    a, w = np.full(x.shape, np.nan), np.full(x.shape, np.nan)
    for direction, mask in sides:
        fault = faults.get(direction)
        curve = None if fault is None else fault.last if last else fault.found
        if curve is None:
            continue
        if mask.all():
            found = curve.at(x)
            return found.a, found.w
        found = curve.at(x[mask])
        a[mask], w[mask] = found.a, found.w
    return a, w
