"""Where the parts of a curve begin and end, against the plain way."""

from __future__ import annotations

import ast
import math
from importlib.resources import files

import numpy as np
import pytest

from evenpull.curve.columns import one_curve
from evenpull.curve.features import SOURCES, measure
from evenpull.curve.names import AT, NAMES
from evenpull.curve.rise import knee, waver, window


@pytest.mark.parametrize("seed", range(5))
def test_the_knee_is_the_point_farthest_below_the_chord(seed: int) -> None:
    dice = np.random.default_rng(seed)
    a = np.cumsum(dice.random(300))
    T = np.where(a < 90, 2.0, 2.0 + 0.8 * (a - 90)) + dice.normal(0, 0.3, 300)
    peak = int(np.argmax(T))
    chord = T[0] + (T[peak] - T[0]) / (a[peak] - a[0]) * (a - a[0])
    assert knee(a, T, peak, np.empty(300)) == int(np.argmax((chord - T)[:peak]))
    assert knee(a, a.copy(), 299, np.empty(300)) == 0  # a straight rise has none


def test_a_window_takes_the_points_from_above_one_level_to_the_other() -> None:
    a = np.arange(101.0)
    x, y = np.empty(64), np.empty(64)
    n = window(a, a.copy(), 100, 40.0, 80.0, x, y)
    assert n == 40 and x[:n].tolist() == list(range(41, 81)) and y[:n].tolist() == x[:n].tolist()


def test_a_frequency_is_told_where_the_wavering_is_more_than_noise() -> None:
    """By the second differences of numpy; amplitudes on both sides of the border."""
    dice = np.random.default_rng(3)
    t, a = np.arange(200) * 0.01, np.arange(200.0)
    noise = dice.normal(0, 0.4, 200)
    told, expected = [], []
    for amplitude in np.linspace(0, 3, 61):
        T = a + noise + amplitude * np.sin(a)
        T[-1] = 200.0
        row = np.full(len(NAMES), np.nan)
        row[AT["k_el"]], row[AT["T_run"]] = 1.0, 0.0
        waver(t, a, T, 199, np.empty(200), row)
        first = int(np.flatnonzero(T[:199] <= 0.3 * 200)[-1]) + 1
        last = first + int(np.flatnonzero(T[first:] >= 0.9 * 200)[0]) if (T[first:199] >= 0.9 * 200).any() else 199
        own, when = T[first:last + 1], a[first:last + 1]
        rest = own - np.polyval(np.polyfit(when, own, 1), when)
        rms, rough = np.sqrt(np.mean(rest**2)), np.sqrt(np.mean(np.diff(own, 2) ** 2) / 6)
        assert row[AT["T_waver"]] == pytest.approx(math.sqrt(2) * rms)
        told.append(not math.isnan(row[AT["f_waver"]]))
        expected.append(bool(rms > 2 * rough))
    assert told == expected and 5 < sum(told) < 56


def test_the_last_point_of_the_run_down_counts_for_its_highest() -> None:
    a = np.arange(120.0)
    T = np.where(a < 80, 1.0, 1.25 + 0.6 * (a - 80))  # 1.25 N.m lies below 3 % of the rise and still belongs to it
    assert measure(one_curve(a * 0.01, a, T))["T_run_max"][0] == pytest.approx(1.25)


def test_shut_off_is_before_the_spring_back() -> None:
    """The highest torque came 20 deg before the highest angle; from there the tool turns back."""
    a = np.concatenate([np.arange(0, 101.0), np.arange(99, 89, -1.0)])
    T = np.concatenate([np.arange(0, 81.0), np.linspace(79, 60, 20), np.linspace(40, 0, 10)])
    found = measure(one_curve(np.arange(len(a)) * 0.01, a, T))
    assert found["angle_peak"][0] == 80 and 96 <= found["angle_off"][0] <= 100
    assert 60 <= found["T_off"][0] <= 64


def test_every_file_that_is_compiled_is_in_the_key_of_what_is_kept() -> None:
    """All modules of curves that features.py reaches, but for the columns, of which only types are taken."""
    reached, waiting = set(), ["features.py"]
    while waiting:
        name = waiting.pop()
        if name in reached:
            continue
        reached.add(name)
        tree = ast.parse(files("evenpull.curve").joinpath(name).read_text("utf-8"))
        waiting += [f"{node.module.rsplit('.', 1)[1]}.py" for node in ast.walk(tree)
                    if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("evenpull.curve.")]
    assert reached - {"columns.py"} == set(SOURCES)
