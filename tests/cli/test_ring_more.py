"""`ring --find` and `ring --angles` on a small ring of the scenario's kind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from evenpull.demo.scenario import RINGS, ring_text
from evenpull.prediction import predict, read_prediction
from evenpull.prediction.renewed import renewed_settings
from tests.cli.calling import call


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("ring") / "ring.toml"
    path.write_text(ring_text(RINGS[0]), encoding="utf-8")
    return path


def test_find_prints_pulls_bound_and_what_they_leave(file: Path) -> None:
    done = call("ring", file, "--find")
    assert "interaction only" in done.stdout and "Predicted, not measured" in done.stdout
    assert "no procedure has fewer than" in done.stdout
    pulls = [int(number) for number in re.findall(r"^  (\d+) pulls?, ", done.stdout, re.MULTILINE)]
    bound = int(re.search(r"no procedure has fewer than (\d+)", done.stdout).group(1))  # type: ignore[union-attr]
    assert len(pulls) == 2 and min(pulls) >= bound


def test_flags_that_do_not_go_together_are_refused(file: Path) -> None:
    assert "leave out the other flags" in " ".join(call("ring", file, "--find", "--loads", code=2).output.split())


def test_find_without_a_wanted_evenness_is_refused(file: Path, tmp_path: Path) -> None:
    text = re.sub(r"\[evenness\]\n(?:[^\[\n].*\n|\n)*", "", file.read_text(encoding="utf-8"))
    bare = tmp_path / "bare.toml"
    bare.write_text(text, encoding="utf-8")
    assert "no [evenness]" in " ".join(call("ring", bare, "--find", code=2).output.split())


def test_a_sharper_angle_removes_more_of_the_friction_part(file: Path) -> None:
    prediction = read_prediction(file.read_text(encoding="utf-8"), str(file))
    result = predict(prediction, prediction.procedures[:1])
    good, poor = renewed_settings(result, prediction.procedures[0], ((1.0, 5.0), (20.0, 60.0)))[1::2]
    assert good.by_angle and poor.by_angle
    assert good.removed is not None and poor.removed is not None
    assert good.removed - poor.removed > 2 * (good.error + poor.error)
    assert good.spread_without == pytest.approx(poor.spread_without)


def test_where_interaction_makes_most_of_the_spread_no_share_is_told(file: Path) -> None:
    prediction = read_prediction(file.read_text(encoding="utf-8"), str(file))
    result = predict(prediction, prediction.procedures[1:2])
    assert result.outcomes[0].spread > 0.3
    (row, _) = renewed_settings(result, prediction.procedures[1], ((1.0, 5.0),))
    assert row.removed is None
    assert row.spread_without == pytest.approx(row.spread_with, rel=0.1)
