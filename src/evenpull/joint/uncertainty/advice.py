"""The inverse: which torque (angle, stretch, pull) puts a fastener between its limits most surely, and what would help.

Load at assembly and load in service are straight lines in the setting. So each trial of the Monte Carlo method has one
window of settings that are right for it, and the probability of a setting is the share of windows that hold it: the
whole curve comes from one set of trials, without search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.traced import Band
from evenpull.joint.uncertainty.alternatives import Change, changes_of
from evenpull.joint.uncertainty.propagation import draw, means
from evenpull.joint.uncertainty.spread import Spread, spread_of
from evenpull.joint.uncertainty.spread_inputs import Assumptions
from evenpull.joint.uncertainty.spread_model import SETTINGS, Model, model_of

GOAL = 0.99  # probability per fastener that counts as enough where nothing else is asked (common practice, no source)
_LOADS = (0.0, 1e5)  # N, any two: the residual load is a straight line between them


@dataclass(frozen=True, slots=True)
class Alternative:
    """What else could be done and what it would bring, at its own best setting. `window` as in `Advice`."""

    kind: str  # "friction", "tested lot", "tool", "method", "size", "class", or two of them
    text: str
    why: str  # where its numbers come from
    method: str
    setting: float | None
    setting_unit: str
    window: Band | None
    probability: float
    gain: float  # over the joint as it is
    case: JointCase


@dataclass(frozen=True, slots=True)
class Advice:
    """`setting` is the best one and `probability` what it reaches; `window`: settings (low, best, high) that reach
    `goal`, None when none does (`satisfied` False; `reason` says why). `sure`: settings that were right in every trial.
    `curve`: probability over the setting. `alternatives` stand ranked, best first; `not_tried` says which could not be
    computed and why.
    """

    method: str
    setting: float | None
    setting_name: str
    setting_unit: str
    probability: float
    goal: float
    satisfied: bool
    window: Band | None
    sure: Band | None
    reason: str
    spread: Spread
    curve: tuple[tuple[float, float], ...]
    alternatives: tuple[Alternative, ...]
    not_tried: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """Probability over the setting as steps: `settings` rise, `inside[i]` holds from settings[i] to settings[i + 1]."""

    settings: np.ndarray
    inside: np.ndarray

    def at(self, setting: float) -> float:
        """Probability at one setting."""
        place = int(np.searchsorted(self.settings, setting, side="right")) - 1
        return float(self.inside[place]) if place >= 0 else 0.0

    def best(self, trials: int) -> tuple[float, float]:
        """The setting in the middle of the top and the probability there; the top is all that lies within one standard
        error of the largest share, so that the noise of the trials does not choose.
        """
        top = float(self.inside.max(initial=0.0))
        if top == 0:
            return math.nan, 0.0
        band = self.between(top - math.sqrt(top * (1 - top) / trials))
        setting = math.nan if band is None else (band[0] + band[1]) / 2
        return setting, self.at(setting)

    def between(self, goal: float) -> tuple[float, float] | None:
        """First and last setting that reach the goal; None when none does."""
        reached = np.nonzero(self.inside[:-1] >= goal)[0]
        if reached.size == 0 or goal <= 0:
            return None
        return float(self.settings[reached[0]]), float(self.settings[reached[-1] + 1])


def windows(model: Model, trials: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Least and largest right setting of every trial (the window is empty where least > largest), and the load each
    trial needs and may have at assembly (N). For the method yield the settings are 0 where the load is right.
    """
    x = draw(model, trials, np.random.default_rng(seed))
    start, end = (model.residual(x, F) for F in _LOADS)
    keeps = (end - start) / (_LOADS[1] - _LOADS[0])
    need = np.broadcast_to((model.required(x) - start) / keeps, (trials,))
    most = np.broadcast_to(model.allowed(x), (trials,))
    zero, one = model.assembly(x, 0.0), model.assembly(x, 1.0)
    slope = one - zero
    if model.case.tightening.method == "yield":
        good = (zero >= need) & (zero <= most)
        return np.where(good, 0.0, 1.0), np.zeros(trials), need, most
    return (np.broadcast_to((need - zero) / slope, (trials,)), np.broadcast_to((most - zero) / slope, (trials,)), need,
            most)


def probability_curve(least: np.ndarray, largest: np.ndarray) -> Curve:
    """The share of the trials whose window holds a setting, for every setting above zero."""
    trials = least.size
    some = (least <= largest) & (largest > 0)
    starts, ends = np.sort(np.maximum(least[some], 0.0)), np.sort(largest[some])
    places = np.unique(np.concatenate([starts, ends, np.nextafter(ends, np.inf)]))
    inside = np.searchsorted(starts, places, side="right") - np.searchsorted(ends, places, side="left")
    return Curve(places, inside / trials if places.size else places)


@dataclass(frozen=True, slots=True)
class _Best:
    setting: float | None
    probability: float
    window: Band | None
    sure: Band | None
    curve: Curve | None
    need: np.ndarray
    most: np.ndarray


def _best(model: Model, goal: float, trials: int, seed: int) -> _Best:
    least, largest, need, most = windows(model, trials, seed)
    if model.case.tightening.method == "yield":
        return _Best(None, float(np.mean(least <= largest)), None, None, None, need, most)
    curve = probability_curve(least, largest)
    setting, probability = curve.best(trials)
    if math.isnan(setting):
        return _Best(None, 0.0, None, None, curve, need, most)
    return _Best(setting, probability, _band(curve, goal, setting), _band(curve, 1.0, setting), curve, need, most)


def _band(curve: Curve, goal: float, best: float) -> Band | None:
    found = curve.between(goal)
    return None if found is None else Band(found[0], min(max(best, found[0]), found[1]), found[1])


def advise(
    case: JointCase, *, goal: float = GOAL, trials: int = 60_000, seed: int = 1, assume: Assumptions | None = None,
    fasteners: int | None = None, alternatives: bool = True,
) -> Advice:
    """The setting of the case's own method that most surely keeps a fastener between the load it needs in service and
    the load it may have at assembly, its window, and ranked with numbers what would raise the probability.

    CaseError names the field at fault. The advice computes; who works and decides follows the joint's specification.
    """
    if not 0 < goal < 1:
        raise CaseError(f"goal: a probability above 0 and below 1, not {goal}")
    if trials < 1000:
        raise CaseError(f"trials: at least 1000, not {trials}")
    assume = assume or Assumptions()
    model = model_of(case, assume)
    best = _best(model, goal, trials, seed)
    method = case.tightening.method
    setting = best.setting
    shown = _middle_setting(model, best) if setting is None and method != "yield" else setting
    spread = spread_of(case, shown, trials=max(trials, 1000), seed=seed, assume=assume, fasteners=fasteners)
    satisfied = best.probability >= goal
    found, not_tried = _alternatives(case, best, goal, trials, seed, assume) if alternatives else ((), ())
    return Advice(
        method, setting, *SETTINGS[method], best.probability, goal, satisfied, best.window, best.sure,
        _reason(model, best, goal), spread, _drawn(best.curve), found, not_tried,
    )


def _middle_setting(model: Model, best: _Best) -> float:
    """Where no setting is right in any trial: one with a load between need and limit, to show how it fails."""
    at = means(model)
    zero, one = float(model.assembly(at, 0.0)), float(model.assembly(at, 1.0))
    return max((float(np.median(best.need)) + float(np.median(best.most))) / 2 - zero, 1.0) / (one - zero)


def _reason(model: Model, best: _Best, goal: float) -> str:
    method = model.case.tightening.method
    name = "way to yield" if method == "yield" else SETTINGS[method][0].split(",")[0]
    need, most = float(np.median(best.need)), float(np.median(best.most))
    limit = min(model.limits_of(means(model)), key=lambda item: float(item[1]))[0]
    loads = (f"needed at assembly {need / 1e3:.4g} kN, allowed {most / 1e3:.4g} kN ({limit}); medians of all trials")
    if best.probability >= goal:
        return f"{loads}: {best.probability:.2%} of the fasteners lie between, {goal:.2%} is asked"
    if need > most:
        return (f"even without scatter no {name} satisfies both limits: {loads}. Less scatter does not help; a larger "
                "bolt, a higher class, smaller losses or another limit do")
    ratio = most / need
    return (f"no {name} satisfies both limits at {goal:.2%}: {loads}. The room between them is a factor of {ratio:.3g}"
            f", and the scatter takes more; the best reaches {best.probability:.2%}")


def _drawn(curve: Curve | None, points: int = 121) -> tuple[tuple[float, float], ...]:
    if curve is None or curve.settings.size == 0:
        return ()
    low, high = float(curve.settings[0]), float(curve.settings[-1])
    room = 0.05 * (high - low)
    places = np.linspace(max(low - room, 0.0), high + room, points)
    return tuple((float(s), curve.at(float(s))) for s in places)


def _alternatives(
    case: JointCase, now: _Best, goal: float, trials: int, seed: int, assume: Assumptions
) -> tuple[tuple[Alternative, ...], tuple[str, ...]]:
    changes, not_tried = changes_of(case)
    found, reached = [], list[tuple[float, Change]]()

    def judge(change: Change) -> None:
        try:
            best = _best(model_of(change.case, assume), goal, trials, seed)
        except CaseError as error:
            not_tried.append(f"{change.text}: {error}")
            return
        reached.append((best.probability, change))
        method = change.case.tightening.method
        found.append(Alternative(change.kind, change.text, change.why, method, best.setting, SETTINGS[method][1],
                                 best.window, best.probability, best.probability - now.probability, change.case))

    for change in changes:
        judge(change)
    if max((p for p, _ in reached), default=0.0) < goal and now.probability < goal:
        for change in _pairs(reached, not_tried):
            judge(change)
    return tuple(sorted(found, key=lambda a: -a.probability)), tuple(not_tried)


def _pairs(reached: list[tuple[float, Change]], not_tried: list[str]) -> list[Change]:
    """The best change of each kind together with the best of another kind, where one alone was not enough."""
    best: dict[str, tuple[float, Change]] = {}
    for probability, change in reached:
        if change.kind not in best or probability > best[change.kind][0]:
            best[change.kind] = (probability, change)
    ranked = [change for _, change in sorted(best.values(), key=lambda item: -item[0])]
    pairs = []
    for number, one in enumerate(ranked):
        for other in ranked[number + 1:]:
            try:
                together = other.apply(one.case)
            except (CaseError, LookupError) as error:
                not_tried.append(f"{one.text}, and {other.text}: {error}")
                continue
            pairs.append(Change(f"{one.kind} and {other.kind}", f"{one.text}, and {other.text}",
                                f"{one.why}; {other.why}", together, other.apply))
    return pairs
