"""Sheets of curves to be named: the same for the same number, marked by what was built in."""

from __future__ import annotations

import pytest

from evenpull.exercise.traces import LOOK, NAMES, NORMAL, ExerciseError, marked, sheet


def test_a_number_gives_its_sheet_and_another_one_another() -> None:
    one, again, other = sheet(41), sheet(41), sheet(42)
    assert [t.truth for t in one.traces] == [t.truth for t in again.traces]
    assert [t.picture for t in one.traces] == [t.picture for t in again.traces]
    assert [t.picture for t in one.traces] != [t.picture for t in other.traces]
    assert [t.number for t in one.traces] == list(range(1, 13))


def test_every_fault_comes_up_and_some_are_normal() -> None:
    seen = [t.truth for seed in range(6) for t in sheet(seed).traces]
    assert set(seen) == set(NAMES) == set(LOOK) and 0.2 < seen.count(NORMAL) / len(seen) < 0.4


def test_answers_are_marked_by_what_was_built_in() -> None:
    """Limits of 9 right of 10: 55.5 to 99.7 % (Clopper and Pearson; e.g. in the tables of NIST/SEMATECH 7.2.4.1, from
    memory)."""
    of = sheet(41)
    truth = {t.number: t.truth for t in of.traces}
    every = marked(of, truth)
    assert every.right == tuple(truth) and not (every.missed or every.alarms or every.unanswered) and every.high == 1.0
    faulty = next(n for n, name in truth.items() if name != NORMAL)
    normal = next(n for n, name in truth.items() if name == NORMAL)
    ten = dict(list(truth.items())[:10]) | {faulty: NORMAL}
    ten = dict(list(ten.items())[:10])
    found = marked(of, ten)
    assert found.missed == (faulty,) and len(found.right) == 9 and found.unanswered == (11, 12)
    assert (found.low, found.high) == (pytest.approx(0.555, abs=0.001), pytest.approx(0.997, abs=0.001))
    assert marked(of, {normal: "bottomed"}).alarms == (normal,)
    assert marked(of, {}).low != marked(of, {}).low


@pytest.mark.parametrize(("seed", "curves"), [(-1, 12), (1_000_000, 12), (1, 3), (1, 31)])
def test_sheets_that_there_are_not(seed: int, curves: int) -> None:
    with pytest.raises(ExerciseError):
        sheet(seed, curves)


def test_answers_that_there_are_not() -> None:
    with pytest.raises(ExerciseError, match="no curve 13"):
        marked(sheet(1), {13: NORMAL})
    with pytest.raises(ExerciseError, match="no answer"):
        marked(sheet(1), {1: "fine"})
