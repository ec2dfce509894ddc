"""Procedures found for the evenness of a ring file: they keep what the file demands when they are stepped again."""

from __future__ import annotations

from functools import cache

import pytest

from evenpull.prediction import RingResult, predict, read_prediction
from evenpull.prediction.found import FoundProcedure, find_procedures
from tests.prediction.files import PLAIN, changed

WANTED = changed(PLAIN, "[[procedure]]", '[evenness]\nleast = 0.9\nspread = "10 %"\n[[procedure]]')


@cache
def searched() -> tuple[RingResult, tuple[FoundProcedure, ...]]:
    """What the file with a wanted evenness predicts, and what is found for it; searched for once, read by two tests."""
    result = predict(read_prediction(WANTED, "t.toml"))
    return result, find_procedures(result)


def test_nothing_is_searched_for_without_a_wanted_evenness() -> None:
    assert find_procedures(predict(read_prediction(PLAIN, "t.toml"))) == ()


def test_found_procedures_reach_the_evenness_when_stepped_again_with_their_printed_settings() -> None:
    result, (own, level) = searched()
    for found in (own, level):
        (again,) = predict(result.prediction, (found.outcome.procedure,)).outcomes
        assert found.reached and again.least >= 0.9 and again.spread <= 0.1 and again.verdict == "accepted"
        assert len(again.loads) >= 8  # every bolt at least once, one tool
    assert len(own.outcome.loads) <= len(level.outcome.loads)
    assert any("fewer than 8 pulls" in text for text in own.words)


def test_the_same_file_gives_the_same_procedures() -> None:
    _, first = searched()
    second = find_procedures(predict(read_prediction(WANTED, "t.toml")))
    assert [one.outcome.procedure for one in first] == [one.outcome.procedure for one in second]


@pytest.mark.parametrize("key", ["largest_pressure", "tilt"])
def test_limits_of_the_file_are_kept_or_said_to_be_broken(key: str) -> None:
    stated = {"largest_pressure": "40 MPa", "tilt": "0.002 deg"}
    text = changed(WANTED, 'largest_pressure = "200 MPa"', f'{key} = "{stated[key]}"')
    for found in find_procedures(predict(read_prediction(text, "t.toml"))):
        verdict = next(one.verdict for one in found.outcome.judged if one.key == key.replace("largest_", ""))
        assert found.reached == (found.outcome.verdict == "accepted")
        assert verdict == "accepted" or not found.reached
