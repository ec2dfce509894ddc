"""The open thread-forming curves (source and licence: README beside them): what the station knew, and wear.

The station's answers and the prior uses are theirs; the limits in judge.toml were read off these runs, so agreement
here shows that steps are read as the station read them. The score of wear is tested on housings it was not learned
from.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from sklearn.metrics import roc_auc_score

from evenpull.curve.columns import CurveError
from evenpull.curve.features import FeatureTable, measure
from evenpull.demo.open_data.curves import (
    OPEN,
    WORN,
    Runs,
    agreement,
    by_best_feature,
    by_library,
    by_score,
    fixed_told,
    judge_of_file,
    load,
    main,
    wear_told,
)
from evenpull.demo.open_data.wear import Score, auc, fit_score, folds, wear_table


@pytest.fixture(scope="module")
def runs() -> Runs:
    return load(Path(str(OPEN)))


@pytest.fixture(scope="module")
def features(runs: Runs) -> FeatureTable:
    return measure(runs.curves, target=judge_of_file().target)


def test_we_agree_with_the_station_on_what_it_can_know(runs: Runs) -> None:
    found = agreement(runs, judge_of_file())
    assert found.counts == {(True, True): 1247, (False, False): 253} and found.differ == ()
    assert sum(found.causes.values()) == 1500


def test_peaks_are_those_of_the_station(runs: Runs, features: FeatureTable) -> None:
    """Its column max_torque_Nm; for us the highest point of a noisy top may be another."""
    import csv

    with (Path(str(OPEN)) / "runs.csv").open(encoding="utf-8") as stream:
        theirs = {int(row["run_id"]): float(row["max_torque_Nm"]) for row in csv.DictReader(stream)}
    off = features["T_peak"] - np.array([theirs[int(run)] for run in runs.run_id])
    assert (np.abs(off) < 1e-3).mean() > 0.94
    assert off.max() < 1e-3


def test_worn_threads_are_told_from_new_ones(runs: Runs, features: FeatureTable) -> None:
    """Split by housing. Better than the best single feature, no worse than a general learner beyond its interval."""
    everything = np.ones(len(features), bool)
    ours = wear_told(runs, features, everything, by_score, "ours")
    single = wear_told(runs, features, everything, by_best_feature, "single")
    library = wear_told(runs, features, everything, by_library, "library")
    assert ours.n_new == 180 and ours.n_worn == int((runs.prior_uses >= WORN).sum())
    assert ours.low > single.auc, "beyond its interval"
    assert ours.high > library.auc
    assert ours.low > 0.98


def test_the_score_is_the_one_that_was_fixed(runs: Runs, features: FeatureTable) -> None:
    """wear.toml is what the open runs give: it was not tuned by hand."""
    used = (runs.prior_uses <= 2) | (runs.prior_uses >= WORN)
    again = fit_score(wear_table(features)[used], runs.prior_uses[used] >= WORN)
    kept = Score.of_file()
    assert np.allclose(again.weight, kept.weight, rtol=1e-3, atol=1e-4)
    assert fixed_told(runs, features, np.ones(1500, bool), kept, "fixed").auc > 0.99


def test_prior_uses_shuffled_among_runs_cannot_be_told(runs: Runs, features: FeatureTable) -> None:
    """The same machinery finds nothing where there is nothing: no leak from what is learned to what is tested."""
    from dataclasses import replace

    shuffled = replace(runs, prior_uses=np.random.default_rng(3).permutation(runs.prior_uses))
    told = wear_told(shuffled, features, np.ones(1500, bool), by_score, "shuffled")
    assert abs(told.auc - 0.5) < 0.08


def test_no_housing_is_on_both_sides(runs: Runs) -> None:
    tested = np.zeros(len(runs.workpiece), int)
    for test in folds(runs.workpiece):
        assert not set(runs.workpiece[test]) & set(runs.workpiece[~test])
        tested += test
    assert (tested == 1).all()


def test_auc_is_that_of_a_general_library() -> None:
    dice = np.random.default_rng(5)
    worn = dice.random(400) < 0.3
    score = np.round(dice.normal(size=400) + worn, 1)  # with ties
    assert auc(score, worn) == pytest.approx(roc_auc_score(worn, score))
    assert np.isnan(auc(score, np.ones(400, bool)))
    with pytest.raises(ValueError, match="both worn and new"):
        fit_score(score[:, None], np.ones(400, bool))


def test_runs_without_curves_are_refused(tmp_path: Path) -> None:
    for name in ("runs.csv", "curves.parquet"):
        shutil.copy(Path(str(OPEN)) / name, tmp_path / name)
    lines = (tmp_path / "runs.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "runs.csv").write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
    with pytest.raises(CurveError, match="do not hold the same runs"):
        load(tmp_path)


def test_the_report(capsys: pytest.CaptureFixture[str]) -> None:
    main([])
    said = capsys.readouterr().out
    assert "1500 runs of 30 workpieces" in said and "AUC 0.99" in said
