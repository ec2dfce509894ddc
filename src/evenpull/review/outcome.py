"""The review itself: every tightening under every model, against its window and carried to load, and the decision.

Touched + Suspect... --examine--> Outcome. The formulas are those of `evenpull.instrument.review` and `review_load`.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter

import numpy as np

from evenpull.instrument.certificate import Direction
from evenpull.instrument.deviation import Floats
from evenpull.instrument.review import (
    BY_CYCLES,
    BY_DATE,
    FULL,
    STEP,
    Codes,
    FoundOut,
    ModelName,
    ModelResult,
    Review,
    ReviewUncertainty,
    Span,
    Uses,
    Verdict,
    counted,
    counted_by,
    review,
    worst_case,
)
from evenpull.instrument.review_load import LoadBasis, LoadResult, load_range
from evenpull.review.codes import CLASSES, JointState, Reason
from evenpull.review.found import Found
from evenpull.review.suspects import Suspect
from evenpull.review.touched import Ints, Small, Touched, windows

MODELS: tuple[ModelName, ...] = (FULL, BY_DATE, BY_CYCLES, STEP)
NOT_ASKED = -1  # of a load: a later tightening of this fastener is known, so that its load no longer rests on this one


@dataclass(frozen=True)
class Outcome:
    """`models` over all tightenings, NaN where one could not be set up; `left_out` (serial, model, reason). `decision`
    by the worst case against each window; `load` codes of Verdict against the least load, NOT_ASKED where a later
    tightening stands. `reason` codes of Reason, why one cannot be judged."""

    found: Found
    suspects: tuple[Suspect, ...]
    touched: Touched
    lower: Floats
    upper: Floats
    models: tuple[ModelResult, ...]
    left_out: tuple[tuple[str, ModelName, str], ...]
    decision: Codes
    load: Codes
    reason: Small

    def model(self, name: ModelName) -> ModelResult | None:
        return next((one for one in self.models if one.name == name), None)

    @property
    def counts(self) -> dict[Verdict, int]:
        return counted(self.decision)

    @property
    def load_counts(self) -> dict[Verdict, int]:
        return counted(self.load[self.load != NOT_ASKED])

    def by_joint(self) -> Ints:
        """Verdicts of each joint: a row a joint, a column a verdict."""
        return counted_by(self.decision, self.touched.joint, len(self.touched.joints))

    def by_class(self) -> Ints:
        return counted_by(self.decision, self.touched.joint_class(), len(CLASSES))

    def by_state(self) -> Ints:
        return counted_by(self.decision, self.touched.state, len(JointState))

    def load_by_joint(self) -> Ints:
        asked = self.load != NOT_ASKED
        return counted_by(self.load[asked], self.touched.joint[asked], len(self.touched.joints))

    def reasons(self) -> dict[Reason, int]:
        """Why tightenings cannot be judged, and how many; those that occur."""
        found = np.bincount(self.reason[self.decision == Verdict.CANNOT_BE_JUDGED], minlength=len(Reason))
        return {reason: int(found[reason]) for reason in Reason if found[reason]}

    def digest(self) -> str:
        """SHA-256 over the place in the log and the codes of every tightening, in the order of the log. Numbers that
        end in rounding are not in it: two machines agree on it."""
        order = np.argsort(self.touched.seq, kind="stable")
        sums = hashlib.sha256(b"evenpull tool review 1\n")
        sums.update(self.touched.seq[order].astype("<i8").tobytes())
        for codes in (self.decision, self.load, self.reason):
            sums.update(codes[order].astype("<i1").tobytes())
        for name in MODELS:
            one = self.model(name)
            sums.update(name.encode() + (b"" if one is None else one.verdict[order].astype("<i1").tobytes()))
        return sums.hexdigest()

    def loads(self, rows: Ints) -> dict[ModelName, LoadResult]:
        """Loads of some tightenings under every model, N; NaN where nothing is stated of size or friction."""
        basis = load_basis(self.touched, self.found.kept, rows)
        return {one.name: load_range(_taken(one, rows), basis) for one in self.models}


def _taken(one: ModelResult, rows: Ints) -> ModelResult:
    return ModelResult(one.name, one.a[rows], one.true[rows], one.u[rows], one.verdict[rows])


def load_basis(touched: Touched, kept: float, rows: Ints) -> LoadBasis:
    """What the load of some tightenings follows from. Where size or friction is not stated it is one that carries no
    load that could be compared (required NaN), so that nothing is said."""
    asked = attrgetter("K_low", "K_high", "d", "required", "drag")
    of_joint = np.array([asked(one) for one in touched.joints], float).reshape(-1, 5)
    K_low, K_high, d, required, drag = of_joint.T[:, touched.joint[rows]]
    known = ~(np.isnan(K_low) | np.isnan(K_high) | np.isnan(d))
    return LoadBasis(
        K_low=np.where(known, K_low, 1.0), K_high=np.where(known, K_high, 1.0), d=np.where(known, d, 1.0),
        required=np.where(known, required, math.nan), drag=np.nan_to_num(drag), kept=kept,
    )  # fmt: skip


def examine(found: Found, suspects: Sequence[Suspect], touched: Touched) -> Outcome:
    """Judge all tightenings. Each has to lie in the period of its suspect; ValueError otherwise, and as of `review`."""
    lower, upper = windows(touched)
    n = touched.count
    parts = []
    for place, one in enumerate(suspects):
        rows = np.flatnonzero(touched.suspect == place)
        if rows.size or (n == 0 and place == 0):
            parts.append((one, rows))
    left_out: list[tuple[str, ModelName, str]] = []
    kept: dict[ModelName, list[tuple[Ints, ModelResult]]] = {}
    for one, rows in parts:
        whole = rows.size == n
        result = _review(found, one, touched, lower, upper, slice(None) if whole else rows)
        left_out += [(one.serial, name, why) for name, why in result.left_out.items()]
        for model in result.models:
            kept.setdefault(model.name, []).append((rows, model))
    models = tuple(_joined(name, kept[name], n) for name in MODELS if name in kept)
    decision = _decided(models, n)
    return Outcome(
        found, tuple(suspects), touched, lower, upper, models, tuple(left_out), decision,
        _load_decided(found, touched, models), _reasons(found, suspects, touched, lower, upper, models, decision),
    )  # fmt: skip


def _review(
    found: Found, one: Suspect, touched: Touched, lower: Floats, upper: Floats, rows: Ints | slice,
) -> Review:
    ratio = touched.ratio[rows]
    safe = np.where(ratio > 0, ratio, 1.0)
    x = np.where(ratio > 0, touched.torque[rows], np.nan) / safe
    faults: Mapping[Direction, FoundOut] = {}
    if one.found is not None:
        faults = {one.direction: FoundOut(one.found, one.last)}
    period = one.period
    span = Span(start=period.start, end=period.end, first_cycle=one.first_cycle, last_cycle=one.last_cycle,
                event=one.event)
    given = ReviewUncertainty(resolution=one.resolution, w_repeat=found.w_repeat, w_operator=found.w_operator)
    uses = Uses(
        indicated=x, lower=lower[rows], upper=upper[rows], time=touched.time[rows], cycle=touched.cycle[rows],
        ratio=safe, anticlockwise=one.direction == "anticlockwise",
    )  # fmt: skip
    return review(uses, faults, span, given)


def _joined(name: ModelName, some: Sequence[tuple[Ints, ModelResult]], n: int) -> ModelResult:
    """One model over all tightenings, of its results for each suspect."""
    if len(some) == 1 and some[0][0].size == n:
        return some[0][1]
    a, true, u = (np.full(n, np.nan) for _ in range(3))
    verdict = np.full(n, Verdict.CANNOT_BE_JUDGED, np.int8)
    for rows, one in some:
        a[rows], true[rows], u[rows], verdict[rows] = one.a, one.true, one.u, one.verdict
    return ModelResult(name, a, true, u, verdict)


def _decided(models: Sequence[ModelResult], n: int) -> Codes:
    by_name = {one.name: one.verdict for one in models}
    if FULL not in by_name:
        return np.full(n, Verdict.CANNOT_BE_JUDGED, np.int8)
    return worst_case(by_name[FULL], by_name.get(STEP))


def _load_decided(found: Found, touched: Touched, models: Sequence[ModelResult]) -> Codes:
    """The load of what stands against its required minimum, by the worst case."""
    codes = np.full(touched.count, NOT_ASKED, np.int8)
    rows = np.flatnonzero(touched.standing)
    if not rows.size:
        return codes
    basis = load_basis(touched, found.kept, rows)
    by_name = {one.name: load_range(_taken(one, rows), basis).verdict for one in models if one.name in (FULL, STEP)}
    full = by_name.get(FULL)
    if full is None:
        codes[rows] = Verdict.CANNOT_BE_JUDGED
    else:
        codes[rows] = worst_case(full, by_name.get(STEP))
    return codes


def _reasons(
    found: Found, suspects: Sequence[Suspect], touched: Touched, lower: Floats, upper: Floats,
    models: Sequence[ModelResult], decision: Codes,
) -> Small:
    """Why each that cannot be judged cannot: the first reason in the order of the codes."""
    codes = np.zeros(touched.count, np.int8)
    if not (decision == Verdict.CANNOT_BE_JUDGED).any():
        return codes
    without = np.array([one.found is None for one in suspects] or [True])
    described = np.array([one.joint_class != "" for one in touched.joints] or [False])
    for reason, where in (
        (Reason.OUTSIDE_POINTS, np.ones(touched.count, bool)),
        (Reason.NO_CURVE, without[touched.suspect]),
        (Reason.NO_RATIO, np.isnan(touched.ratio)),
        (Reason.NO_WINDOW, np.isnan(lower) | np.isnan(upper)),
        (Reason.NOT_DESCRIBED, ~described[touched.joint]),
        (Reason.NO_TORQUE, np.isnan(touched.torque)),
    ):
        codes[where & (decision == Verdict.CANNOT_BE_JUDGED)] = reason
    return codes
