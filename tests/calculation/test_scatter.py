"""Spread and advice on the sheet are the library's own numbers, in words; what a case lacks is said."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenpull.calculation import make_sheet, read_calculation, scatter
from evenpull.calculation.scatter import percent, scatter_of, scatter_plots
from evenpull.joint.uncertainty.spread import spread_of
from tests.calculation.files import changed, demo, plain


def test_facts_are_those_of_the_spread() -> None:
    case = demo("kn-cw-014-c1").case
    found = scatter_of(case)
    spread = spread_of(case)
    assert found.stated and found.spread is not None and found.spread.probability == spread.probability
    facts = dict(scatter.facts(found))
    assert facts["Setting"] == "torque, without drag: 520 N·m (as stated)"
    assert facts["Least load in service"] == "95 kN" and "All 16 between both" in facts
    rows = scatter.rows(spread)
    assert [row[:2] for row in rows] == [
        ("load at assembly", "first order"), ("load at assembly", "Monte Carlo"),
        ("load left in service", "first order"), ("load left in service", "Monte Carlo"),
    ]
    assert float(rows[3][2].split()[0]) * 1e3 == pytest.approx(spread.residual.monte_carlo.mean, rel=1e-3)


def test_histogram_holds_all_trials_and_the_normal_curve_has_the_same_area() -> None:
    found = scatter_of(demo("kn-cw-014-c1").case)
    plot = next(plot for plot in scatter_plots(found) if plot.key == "load")
    steps, normal = (np.array(curve.points) for curve in plot.curves)
    area = float(np.sum(steps[::2, 1] * (steps[1::2, 0] - steps[::2, 0]))) / 1e3
    assert area == pytest.approx(1, abs=1e-9)
    assert float(np.trapezoid(normal[:, 1], normal[:, 0])) / 1e3 == pytest.approx(1, abs=2e-3)


def test_probability_over_the_setting_meets_the_spread_at_the_stated_torque() -> None:
    found = scatter_of(demo("kn-cw-014-c1").case)
    assert found.spread is not None
    plot = next(plot for plot in scatter_plots(found) if plot.key == "probability")
    x, y = np.array(plot.curves[0].points).T
    assert np.interp(520.0, x, y) == pytest.approx(found.spread.probability.within, abs=0.01)
    assert {mark.name.split()[0] for mark in plot.marks} == {"goal", "best", "stated"}


def test_contributions_are_shares_of_one_variance() -> None:
    found = scatter_of(demo("kn-tb-001-c1").case)
    assert found.spread is not None
    plot = next(plot for plot in scatter_plots(found) if plot.key == "contributions")
    assert sum(c.share for c in found.spread.contributions) == pytest.approx(1)
    values = [bar.value for bar in plot.bars]
    assert values == sorted(values, reverse=True) and min(values) >= 0.005


def test_without_a_setting_the_best_one_is_shown_and_said_so() -> None:
    text = changed(plain(), 'torque = "70 N.m"\n', "") + '[limits]\nrequired_preload = "15 kN"\n'
    found = scatter_of(read_calculation(text, "t.toml").case)
    assert not found.stated and found.advice is not None and found.advice.setting is not None
    assert "as none is stated" in dict(scatter.facts(found))["Setting"]


def test_what_the_case_lacks_is_said_and_the_rule_sets_stand_all_the_same() -> None:
    text = changed(plain("vdi2230"), 'E = "205 GPa"\n', "")
    sheet = make_sheet(read_calculation(text, "t.toml"))
    assert sheet.scatter.spread is None and len(sheet.scatter.problem) > 10
    assert scatter.facts(sheet.scatter) == [] and scatter_plots(sheet.scatter) == []


def test_no_setting_that_satisfies_is_said_with_the_reason() -> None:
    text = plain() + '[limits]\nrequired_preload = "90 kN"\n'
    found = scatter_of(read_calculation(text, "t.toml").case)
    assert found.advice is not None and not found.advice.satisfied
    assert "satisfies both limits" in scatter.sentences(found.advice)[0]
    assert scatter.ways(found.advice) == []  # nothing reaches it, so nothing is ranked
    assert any("put no trial between" in said for said in scatter.sentences(found.advice))


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (1.0, "100 %"), (3e-5, "less than 0.01 %"), (0.99995, "more than 99.99 %"), (0.12345, "12.35 %")],
)
def test_a_probability_is_never_rounded_to_certainty(share: float, text: str) -> None:
    assert percent(share) == text


def test_a_setting_that_is_none_is_not_shown_as_a_number() -> None:
    assert scatter.setting_words(None, "1") == scatter.setting_words(math.nan, "N.m") == scatter.NO_SETTING
    assert scatter.setting_words(1.0, "rad") == "57.3°" and scatter.window_words(None, "N.m") == "–"


def test_a_probability_of_one_or_none_is_said_in_trials() -> None:
    assert scatter.percent(1.0, 60000) == "all of 60000 trials"
    assert scatter.percent(0.0, 60000) == "none of 60000 trials"
    assert scatter.percent(0.5, 60000) == "50 %" and scatter.percent(0.99995) == "more than 99.99 %"


def test_advice_warns_of_dry_threads_and_says_when_nothing_has_to_change() -> None:
    found = scatter_of(read_calculation(plain(), "t.toml").case)
    assert found.advice is not None and found.advice.satisfied
    assert any("nothing has to be changed" in text for text in scatter.sentences(found.advice))
    dry = [row for row in scatter.ways(found.advice) if row[1].endswith("dry steel")]
    assert dry and "seize" in dry[0][5]


def test_ways_that_reach_nothing_are_counted_not_ranked() -> None:
    text = changed(plain(), 'torque = "70 N.m"', 'method = "yield"') + '[limits]\nlargest_preload = "20 kN"\n'
    found = scatter_of(read_calculation(text, "t.toml").case)
    assert found.advice is not None
    assert all(row[4] != "no trial" for row in scatter.ways(found.advice))
    assert any("put no trial between" in said for said in scatter.sentences(found.advice))
