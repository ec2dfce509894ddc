"""Numbers nobody measured: every statistic gives finite figures or a ValueError in plain words, never a warning."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.statistics.capability import capability, process_capability
from evenpull.statistics.change_point import change_point
from evenpull.statistics.control_chart import chart
from evenpull.statistics.interval_advice import advise_interval
from evenpull.statistics.lots import lot_figures
from evenpull.statistics.normality import normality
from evenpull.statistics.person_bias import bias_among
from evenpull.statistics.repeatability import one_way_components, repeatability
from evenpull.statistics.tolerance import ordered_interval
from evenpull.statistics.trend import line, mann_kendall, sen_slope
from evenpull.statistics.two_samples import compare_samples
from evenpull.statistics.variance_tables import crossed, one_way, two_way

ODD = st.sampled_from([0.0, -0.0, 1.0, 1.0 + 1e-15, 1e-320, 1e-200, 1e150, -1e300, math.inf, -math.inf, math.nan, 1e16])
NUMBERS = st.one_of(st.floats(-1e6, 1e6), st.integers(-3, 3).map(float), ODD)
SERIES = st.one_of(st.lists(NUMBERS, max_size=12), st.lists(st.floats(-1e3, 1e3), min_size=4, max_size=12))
INFINITE = {"computed", "t"}  # an interval never reached; a step without any scatter beside it


def parts(found: Any, name: str = "") -> Iterator[tuple[str, float]]:
    if is_dataclass(found):
        for field in fields(found):
            yield from parts(getattr(found, field.name), field.name)
    elif isinstance(found, dict):
        for value in found.values():
            yield from parts(value, name)
    elif isinstance(found, tuple | list):
        for value in found:
            yield from parts(value, name)
    elif isinstance(found, float | np.floating):
        yield name, float(found)


def answers(call: Callable[[], Any]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            found = call()
        except ValueError as error:
            assert len(str(error)) > 20, error
            return
    for name, value in parts(found):
        assert math.isfinite(value) or (name in INFINITE and not math.isnan(value)), (name, value, found)


@pytest.mark.parametrize(
    "statistic",
    [
        lambda a, b: capability(a, -1.0, 5.0), lambda a, b: capability(a, None, 5.0, kind="process"),
        lambda a, b: process_capability([a, b], -10.0, 10.0), lambda a, b: change_point(a, orders=99),
        lambda a, b: chart(a, method="standard deviation"), lambda a, b: chart(a),
        lambda a, b: advise_interval([abs(x) for x in a], b, limit=2.0, k_u=0.1), lambda a, b: lot_figures(a),
        lambda a, b: normality(a), lambda a, b: ordered_interval(a, content=0.5, confidence=0.5),
        lambda a, b: line(a, b), lambda a, b: mann_kendall(a), lambda a, b: sen_slope(a, b, 0.8),
        lambda a, b: compare_samples(a, b), lambda a, b: one_way_components(one_way([a, b])),
    ],
)
def test_series(statistic: Callable[[list[float], list[float]], Any]) -> None:
    @settings(max_examples=50, deadline=None, derandomize=True)
    @given(SERIES, SERIES)
    def run(a: list[float], b: list[float]) -> None:
        answers(lambda: statistic(a, b))

    run()


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.lists(NUMBERS, min_size=8, max_size=8), st.integers(0, 2))
def test_study(values: list[float], missing: int) -> None:
    rows = [(f"P{i // 4}", f"O{i // 2 % 2}", value) for i, value in enumerate(values)][missing:]
    answers(lambda: repeatability(two_way(crossed(rows))))
    answers(lambda: bias_among(crossed(rows)))
