"""What a prediction says of each procedure: definitions, the worst on the way, demands, the way round the ring."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from evenpull.prediction import Asked, RingResult, make_procedure, predict, read_prediction
from evenpull.prediction.predict import Judged, walking_distance
from evenpull.ring.case import Flange
from tests.prediction.files import PLAIN

MORE = """[[procedure]]
name = "one pass"
order = "star"
passes = [1.0]
[[procedure]]
name = "all together"
order = "circular"
passes = [0.5, 1.0]
tools_at_once = 8
[[procedure]]
name = "twice the same"
order = "circular"
passes = [1.0]
tools_at_once = 8
circular_passes = 1
"""
TEXT = PLAIN + MORE + '[evenness]\nleast = 0.8\nspread = "25 %"\n'


@lru_cache(maxsize=1)
def result() -> RingResult:
    return predict(read_prediction(TEXT, "t.toml"))


def test_figures_at_the_end_follow_their_definitions() -> None:
    for outcome in result().outcomes:
        shares = outcome.loads[-1] / outcome.target
        assert outcome.loads.shape == (len(outcome.procedure.pulls), 8)
        assert outcome.spread == pytest.approx(max(shares) - min(shares))
        assert outcome.deviation == pytest.approx(math.sqrt(sum((shares - shares.mean()) ** 2) / 8))
        assert (outcome.least, outcome.most) == pytest.approx((min(shares), max(shares)))
        assert outcome.load.value == pytest.approx(outcome.loads.max())
        assert outcome.loads[outcome.load.pull - 1, outcome.load.bolt - 1] == outcome.load.value


def test_every_pull_reaches_exactly_its_load() -> None:
    for outcome in result().outcomes:
        for pull, row in zip(outcome.procedure.pulls, outcome.loads, strict=True):
            for bolt, share in zip(pull.bolts, pull.shares, strict=True):
                assert row[bolt - 1] >= share * outcome.target * (1 - 1e-6)


def test_more_passes_leave_a_more_even_ring() -> None:
    first, single, *_ = result().outcomes
    assert single.spread > 0.2 > first.spread


def test_all_bolts_together_stay_even_and_parallel() -> None:
    together = result().outcome("all together")
    assert together is not None
    assert together.spread == pytest.approx(0.0, abs=1e-6) and together.tilt.value < 1e-9
    single = result().outcome("one pass")
    assert single is not None and single.tilt.value > 1e-5 and single.tilt.pull >= 1
    assert result().outcome("no such") is None


def test_bolts_at_their_load_are_left_alone() -> None:
    twice = result().outcome("twice the same")
    assert twice is not None
    assert list(twice.idle) == [0, 8] and np.array_equal(twice.loads[0], twice.loads[1])


def test_pressure_balances_the_bolts() -> None:
    """All loads equal: mean pressure over the gasket is n F / A; the least line pressure cannot be above it."""
    together = result().outcome("all together")
    assert together is not None
    mean = 8 * 98e3 / (math.pi / 4 * (0.245**2 - 0.215**2))
    assert together.seating <= mean <= together.pressure.value
    assert together.seating > 0.8 * mean


def test_demands_are_judged_and_what_is_not_stated_is_not() -> None:
    outcome = result().outcomes[1]
    verdicts = {one.key: one.verdict for one in outcome.judged}
    assert verdicts["tilt"] == verdicts["rotation"] == verdicts["seating"] == "not judged"
    assert verdicts["load"] == "accepted" and verdicts["least"] == verdicts["spread"] == "not accepted"
    assert outcome.verdict == "not accepted"
    assert result().outcome("all together").verdict == "accepted"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("value", "limit", "most", "verdict"),
    [(1.0, 1.0, True, "accepted"), (1.01, 1.0, True, "not accepted"), (0.99, 1.0, False, "not accepted"),
     (1.0, 1.0, False, "accepted"), (5.0, None, True, "not judged")],
)  # fmt: skip
def test_a_demand(value: float, limit: float | None, most: bool, verdict: str) -> None:
    assert Judged("x", "x", value, limit, most, "kN").verdict == verdict


def test_limits_of_the_file_are_those_judged() -> None:
    text = TEXT.replace('largest_pressure = "200 MPa"', 'least_pressure = "500 MPa"\ntilt = "0.001 deg"\n'
                        'largest_pressure = "10 MPa"\nrotation = "0.001 deg"')  # fmt: skip
    prediction = read_prediction(text, "t.toml")
    (outcome,) = predict(prediction, prediction.procedures[:1]).outcomes
    refused = {one.key for one in outcome.judged if one.verdict == "not accepted"}
    assert refused == {"seating", "tilt", "pressure", "rotation"}


def test_other_procedures_than_those_of_the_file() -> None:
    prediction = read_prediction(TEXT, "t.toml")
    made = make_procedure(Asked(name="mine", order="circular", passes=(1.0,), tools_at_once=2), 8)
    assert [one.procedure.name for one in predict(prediction, (made,)).outcomes] == ["mine"]


def test_two_different_flanges_add_up() -> None:
    """Both sides' compliance is summed: the two mixed pairs together are the two plain pairs together."""
    prediction = read_prediction(TEXT, "t.toml")
    case = prediction.case
    thin, thick = case.flanges, tuple(replace(flange, thickness=0.040) for flange in case.flanges)

    def compliance(first: Flange, second: Flange) -> np.ndarray:
        return predict(replace(prediction, case=replace(case, flanges=(first, second))), ()).condensed.compliance

    mixed = compliance(thin[0], thick[1]) + compliance(thick[0], thin[1])
    plain = compliance(*thin) + compliance(*thick)
    assert np.abs(mixed - plain).max() < 1e-9 * np.abs(plain).max()
    assert not np.allclose(compliance(*thin), compliance(*thick), rtol=0.05)


def test_the_way_round_the_ring() -> None:
    def way(**asked: object) -> float:
        made = make_procedure(Asked(name="w", passes=(1.0,), **asked), 8)  # type: ignore[arg-type]
        return walking_distance(made, 8, 8 / math.pi)  # one metre from bolt to bolt

    assert way(order="circular") == pytest.approx(7.0)
    assert way(order="listed", listed=(1, 5, 3, 7, 2, 6, 4, 8)) == pytest.approx(4 + 2 + 4 + 3 + 4 + 2 + 4)
    assert way(order="circular", tools_at_once=2) == pytest.approx(2 * 3.0)
    assert way(order="circular", tools_at_once=8) == 0.0
