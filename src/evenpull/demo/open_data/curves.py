"""What our judge says of the curves of the thread-forming data, beside what the station said and what is known.

    python -m evenpull.demo.open_data.curves [FOLDER]      report on the runs of FOLDER (default: the open ones)
    python -m evenpull.demo.open_data.curves --yardstick   the learner of a general library beside it (extra `test`)
    python -m evenpull.demo.open_data.curves --fix         write the wear score anew from the open runs (wear.toml)

FOLDER holds runs.csv and curves.parquet (run_id, step, time_s, angle_deg, torque_Nm). All parameters come from
judge.toml and wear.toml: on further runs nothing is fitted.
"""

from __future__ import annotations

import csv
import sys
import tomllib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError, Curves, curves_of
from evenpull.curve.features import FeatureTable, measure
from evenpull.curve.steps import CAUSES, ProgramStep, program_fulfilled, step_ends
from evenpull.demo.open_data.wear import WEAR, Score, auc, auc_interval, fit_score, folds, wear_table

OPEN = files("evenpull.demo.open_data").joinpath("thread_forming", "source")
NEW, WORN = 2, 10  # prior uses: at most so many count as new, at least so many as worn
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Curves in the order of runs.csv with what is known of each."""

    curves: Curves
    run_id: NDArray[np.int64]
    workpiece: NDArray[np.str_]
    prior_uses: NDArray[np.int64]
    passed: NDArray[np.bool_]  # by the station
    ended_by: list[str]


@dataclass(frozen=True, slots=True)
class Judge:
    program: tuple[ProgramStep, ...]
    target: float


def judge_of_file() -> Judge:
    text = tomllib.loads(files("evenpull.demo.open_data").joinpath("judge.toml").read_text("utf-8"))
    return Judge(tuple(ProgramStep(**step) for step in text["step"]), float(text["program"]["target"]))


def load(folder: Path) -> Runs:
    """CurveError where a run of runs.csv has no curve, or a curve no run."""
    with (folder / "runs.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    table = pq.read_table(folder / "curves.parquet")
    run = table.column("run_id").to_numpy()
    begin = np.concatenate([[0], np.flatnonzero(np.diff(run)) + 1])
    time, angle, torque, step = (table.column(name).to_numpy()
                                 for name in ("time_s", "angle_deg", "torque_Nm", "step"))
    curves = curves_of(time, angle, torque, step, np.append(begin, len(run)))
    known = {int(row["run_id"]): row for row in rows}
    order = run[begin]
    if len(set(order.tolist())) != len(order) or set(order.tolist()) != set(known):
        raise CurveError(f"{folder}: curves.parquet and runs.csv do not hold the same runs, each once; take both anew "
                         "from the same source")
    own = [known[int(number)] for number in order]
    return Runs(curves, order.astype(np.int64), np.array([row["workpiece"] for row in own]),
                np.array([int(row["prior_uses"]) for row in own]),
                np.array([row["station_result"] == "OK" for row in own]), [row["ended_by"] for row in own])


@dataclass(frozen=True, slots=True)
class Agreement:
    """Counts: (station passed, we pass) -> runs; and for each run on which we differ, its cause."""

    counts: dict[tuple[bool, bool], int]
    differ: tuple[tuple[int, str], ...]
    causes: dict[tuple[str, str], int]  # (cause the station gives, cause we find) of the last step -> runs


def agreement(runs: Runs, judge: Judge) -> Agreement:
    """On what the station can know: whether every step of its program ended by its target."""
    ours = program_fulfilled(runs.curves, judge.program)
    ends = step_ends(runs.curves, judge.program)
    last = np.flatnonzero(np.append(np.diff(ends.curve) > 0, True))
    cause = [CAUSES[c] for c in ends.cause[last]]
    differ = tuple((int(runs.run_id[c]), f"station {runs.ended_by[c]}, we: step {ends.step[last[c]]} {cause[c]}, "
                    f"{ends.torque[last[c]]:.3f} N.m, {ends.turn[last[c]]:.4g} deg")
                   for c in np.flatnonzero(ours != runs.passed))
    pairs = Counter(zip(runs.passed.tolist(), ours.tolist(), strict=True))
    return Agreement(dict(pairs), differ, dict(Counter(zip(runs.ended_by, cause, strict=True))))


@dataclass(frozen=True, slots=True)
class Told:
    """How well worn threads are told from new ones: AUC with its 95 % interval over workpieces."""

    what: str
    n_new: int
    n_worn: int
    auc: float
    low: float
    high: float


Predict = Callable[[Floats, NDArray[np.bool_], Floats], Floats]


def by_score(x: Floats, worn: NDArray[np.bool_], test: Floats) -> Floats:
    return fit_score(x, worn).of(test)


def by_best_feature(x: Floats, worn: NDArray[np.bool_], test: Floats) -> Floats:
    """The feature that tells best in the runs learned from, taken alone."""
    found = [auc(x[:, i], worn) for i in range(x.shape[1])]
    best = int(np.argmax(np.abs(np.array(found) - 0.5)))
    return np.asarray(test[:, best] * (1 if found[best] > 0.5 else -1))


def by_library(x: Floats, worn: NDArray[np.bool_], test: Floats) -> Floats:
    """Gradient boosting of scikit-learn with its defaults: a yardstick, not a part of the program."""
    from sklearn.ensemble import HistGradientBoostingClassifier
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1):  # on small tables its threads wait for each other
        learner = HistGradientBoostingClassifier(random_state=0).fit(x, worn)
        return np.asarray(learner.predict_proba(test)[:, 1], np.float64)


def wear_told(runs: Runs, features: FeatureTable, chosen: NDArray[np.bool_], how: Predict, what: str) -> Told:
    """Out of fold, split by workpiece, so that no housing is in both parts."""
    x, worn, piece = _known_wear(runs, features, chosen)
    scores = np.empty(len(x))
    for test in folds(piece):
        both = how(x[~test], worn[~test], np.concatenate([x[test], x[~test]]))
        own, learned = both[:int(test.sum())], both[int(test.sum()):]
        # scores of different folds are not on one scale: ranks within what was learned from make them so
        scores[test] = (own[:, None] > learned[None, :]).mean(axis=1)
    low, high = auc_interval(scores, worn, piece)
    return Told(what, int((~worn).sum()), int(worn.sum()), auc(scores, worn), low, high)


def _known_wear(
    runs: Runs, features: FeatureTable, chosen: NDArray[np.bool_],
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.str_]]:
    used = chosen & ((runs.prior_uses <= NEW) | (runs.prior_uses >= WORN))
    return wear_table(features)[used], (runs.prior_uses >= WORN)[used], runs.workpiece[used]


def fixed_told(runs: Runs, features: FeatureTable, chosen: NDArray[np.bool_], score: Score, what: str) -> Told:
    """The score as it was fixed: nothing is learned from these runs."""
    x, worn, piece = _known_wear(runs, features, chosen)
    scores = score.of(x)
    low, high = auc_interval(scores, worn, piece)
    return Told(what, int((~worn).sum()), int(worn.sum()), auc(scores, worn), low, high)


def single_features(runs: Runs, features: FeatureTable, chosen: NDArray[np.bool_]) -> list[tuple[str, float]]:
    """AUC of each feature alone (below 0.5: it falls with wear), the most telling first."""
    x, worn, _ = _known_wear(runs, features, chosen)
    found = [(name, auc(x[:, i], worn)) for i, name in enumerate(WEAR)]
    return sorted(found, key=lambda one: -abs(one[1] - 0.5))


def main(words: list[str]) -> None:
    given = [Path(word) for word in words if not word.startswith("--")]
    folder = given[0] if given else Path(str(OPEN))
    runs, judge = load(folder), judge_of_file()
    features = measure(runs.curves, target=judge.target)
    everything = np.ones(len(features), bool)
    if "--fix" in words:
        x, worn, _ = _known_wear(runs, features, everything)
        text = fit_score(x, worn).as_toml(f"{len(x)} runs with at most {NEW} or at least {WORN} prior uses")
        Path(str(files("evenpull.demo.open_data").joinpath("wear.toml"))).write_text(text, "utf-8")
        print(f"wear.toml: fixed on {len(x)} runs")
        return
    found = agreement(runs, judge)
    print(f"{len(features)} runs of {len(set(runs.workpiece.tolist()))} workpieces\n\nstation / we   pass   refuse")
    for passed in (True, False):
        print(f"{'pass' if passed else 'refuse':<12} {found.counts.get((passed, True), 0):6} "
              f"{found.counts.get((passed, False), 0):8}")
    for (station, ours), n in sorted(found.causes.items()):
        print(f"  last step ended: station {station:<20} we {ours:<16} {n:5}")
    for run, why in found.differ:
        print(f"  differ: run {run}: {why}")
    for name, chosen in (("all runs", everything), ("runs that the station passed", runs.passed)):
        print(f"\nworn (at least {WORN} uses) or new (at most {NEW}), {name}")
        told = [fixed_told(runs, features, chosen, Score.of_file(), "our score, fixed"),
                wear_told(runs, features, chosen, by_score, "our score, by workpiece"),
                wear_told(runs, features, chosen, by_best_feature, "best single feature")]
        if "--yardstick" in words:
            told.append(wear_told(runs, features, chosen, by_library, "gradient boosting"))
        for one in told:
            print(f"  {one.what:<26} AUC {one.auc:.3f} ({one.low:.3f} to {one.high:.3f})  {one.n_new} new, "
                  f"{one.n_worn} worn")
        print("  alone: " + ", ".join(f"{feature} {value:.2f}" for feature, value in
                                      single_features(runs, features, chosen)[:8]))


if __name__ == "__main__":
    main(sys.argv[1:])
