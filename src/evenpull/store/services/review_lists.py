"""The joints and tightenings of a review for pages, papers and files."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpull.instrument.review import ModelName, Verdict
from evenpull.instrument.review_load import LoadResult
from evenpull.report.review_table import TooLongError, review_csv, review_xlsx
from evenpull.review import NOT_ASKED, JointState, Other, Outcome, Reason
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.facts import fold
from evenpull.store.services.review_marks import Decided
from evenpull.store.services.reviewing import ReviewView, worst_of_joints

ON_A_PAGE = 50
SORTS = ("worst", "joint", "class", "state", "tightenings")
TIGHTENINGS_SHOWN = 400


@dataclass(frozen=True)
class JointLine:
    """One joint: how many of its tightenings got which verdict, in the order of Verdict, and of its loads."""

    joint: str
    joint_class: str
    state: str
    counts: tuple[int, ...]
    loads: tuple[int, ...]
    worst: Verdict
    other: tuple[str, ...]
    decided: Decided | None

    @property
    def uses(self) -> int:
        return sum(self.counts)


@dataclass(frozen=True)
class LinePage:
    rows: tuple[JointLine, ...]
    total: int
    number: int
    pages: int


@dataclass(frozen=True)
class Shown:
    """One tightening under one model: deviation %, true, lowest, highest N.m, verdict, load kN."""

    model: ModelName
    a: float
    true: float
    low: float
    high: float
    verdict: Verdict
    load_low: float
    load_high: float
    load: Verdict


@dataclass(frozen=True)
class TighteningLine:
    """One tightening with its models side by side; `load` None where a later tightening stands."""

    fact: int
    unit: str
    fastener: int
    pass_number: int
    serial: str
    time: float
    torque: float
    lower: float
    upper: float
    models: tuple[Shown, ...]
    decision: Verdict
    reason: str
    load: Verdict | None
    other: tuple[str, ...]


def matching(
    view: ReviewView, *, worst: str = "", joint_class: str = "", state: str = "", undecided: bool = False,
    words: str = "", sort: str = "worst",
) -> list[int]:
    """Places of the joints that fit, sorted. `worst` and `state` in words."""
    outcome = view.now.outcome
    t = outcome.touched
    if not t.joints:
        return []
    codes, states = worst_of_joints(outcome), _states(outcome)
    kept = codes >= 0
    if worst:
        kept &= codes == next((v for v in Verdict if v.words == worst), -2)
    if state:
        kept &= states == next((s for s in JointState if s.words == state), -1)
    places = [int(n) for n in np.flatnonzero(kept)]
    if joint_class:
        wanted = "" if joint_class == "none" else joint_class
        places = [n for n in places if t.joints[n].joint_class == wanted]
    if words:
        places = [n for n in places if words.casefold() in t.joints[n].joint.casefold()]
    if undecided:
        places = [n for n in places if view.now.taken.folds[n] not in view.decided]
    sums = outcome.by_joint().sum(axis=1)
    keys = {
        "worst": lambda n: (-int(codes[n]), t.joints[n].joint_class or "Z", t.joints[n].joint),
        "joint": lambda n: t.joints[n].joint, "class": lambda n: (t.joints[n].joint_class or "Z", t.joints[n].joint),
        "state": lambda n: (-int(states[n]), t.joints[n].joint), "tightenings": lambda n: -int(sums[n]),
    }  # fmt: skip
    return sorted(places, key=keys.get(sort, keys["worst"]))  # type: ignore[arg-type]


def _states(outcome: Outcome) -> np.ndarray:
    states = np.zeros(len(outcome.touched.joints), np.int8)
    np.maximum.at(states, outcome.touched.joint, outcome.touched.state)
    return states


def lines(view: ReviewView, places: list[int]) -> tuple[JointLine, ...]:
    """These joints as lines."""
    outcome = view.now.outcome
    t = outcome.touched
    if not places:
        return ()
    counts, loads, codes, states = (outcome.by_joint(), outcome.load_by_joint(), worst_of_joints(outcome),
                                    _states(outcome))
    other = np.zeros(len(t.joints), np.int64)
    np.bitwise_or.at(other, t.joint, t.other.astype(np.int64))
    return tuple(
        JointLine(
            t.joints[n].joint, t.joints[n].joint_class, JointState(int(states[n])).words,
            tuple(int(c) for c in counts[n]), tuple(int(c) for c in loads[n]), Verdict(int(codes[n])),
            Other(int(other[n])).words, view.decided.get(view.now.taken.folds[n]),
        )
        for n in places
    )


def page(view: ReviewView, number: int, places: list[int]) -> LinePage:
    pages = max(1, -(-len(places) // ON_A_PAGE))
    number = min(max(1, number), pages)
    return LinePage(lines(view, places[(number - 1) * ON_A_PAGE : number * ON_A_PAGE]), len(places), number, pages)


def tightenings(view: ReviewView, joint: str) -> tuple[TighteningLine, ...]:
    """The tightenings of one joint, by fastener and time, at most TIGHTENINGS_SHOWN; the file has all. Unknown for a
    joint that is not of the review."""
    outcome = view.now.outcome
    t, wanted = outcome.touched, fold(joint)
    place = next((n for n, one in enumerate(view.now.taken.folds) if one == wanted), None)
    if place is None:
        raise Unknown(f"review {view.head.id} does not concern {joint}")
    rows = np.flatnonzero(t.joint == place)
    rows = rows[np.lexsort((t.seq[rows], t.time[rows], t.fastener[rows], t.unit[rows]))][:TIGHTENINGS_SHOWN]
    loads = outcome.loads(rows)
    return tuple(_line(outcome, int(row), at, loads) for at, row in enumerate(rows))


def _line(outcome: Outcome, i: int, at: int, loads: dict[ModelName, LoadResult]) -> TighteningLine:
    t = outcome.touched
    shown = tuple(
        Shown(one.name, 100 * float(one.a[i]), float(one.true[i]), float(one.low[i]), float(one.high[i]),
              Verdict(int(one.verdict[i])), float(loads[one.name].low[at]) / 1e3, float(loads[one.name].high[at]) / 1e3,
              Verdict(int(loads[one.name].verdict[at]))) for one in outcome.models
    )
    code = int(outcome.load[i])
    return TighteningLine(
        int(t.seq[i]), t.units[int(t.unit[i])], int(t.fastener[i]), int(t.pass_number[i]),
        outcome.suspects[int(t.suspect[i])].serial, float(t.time[i]), float(t.torque[i]), float(outcome.lower[i]),
        float(outcome.upper[i]), shown, Verdict(int(outcome.decision[i])), Reason(int(outcome.reason[i])).words,
        None if code == NOT_ASKED else Verdict(code), Other(int(t.other[i])).words,
    )  # fmt: skip


def decided_words(view: ReviewView) -> dict[str, str]:
    """Joint as it is named in the outcome -> its disposition in words."""
    joints = zip(view.now.outcome.touched.joints, view.now.taken.folds, strict=True)
    return {one.joint: view.decided[fold].words for one, fold in joints if fold in view.decided}


def csv(view: ReviewView) -> bytes:
    return review_csv(view.now.outcome, decided_words(view))


def xlsx(view: ReviewView) -> bytes:
    """Refused for more rows than a sheet should hold."""
    try:
        return review_xlsx(view.now.outcome, decided_words(view))
    except TooLongError as error:
        raise Refused(str(error)) from error
