"""Drift of a tool from its checks and calibrations: what was put in is found, what was not is not, and what is short of
evidence says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from xml.etree import ElementTree

import numpy as np
import pytest

from evenpull.instrument.certificate import Certificate, Entry, certificate
from evenpull.report.plot_svg import plot_svg
from evenpull.statistics.control_chart import THREE_SIGMA, chart
from evenpull.statistics.interval_advice import advise_interval
from evenpull.study.drift import ODD, Calibration, Check, drift
from evenpull.study.drift_certificates import history_of

START = datetime(2026, 1, 5, 6, 30, tzinfo=UTC)


def checks(
    a: list[float] | np.ndarray, *, every: float = 2.0, set_: float = 200.0, device: str = "CD-3"
) -> list[Check]:
    return [Check(START + timedelta(days=every * i), set_, set_ / (1 + one), device) for i, one in enumerate(a)]


def noise(n: int, seed: int = 3, s: float = 0.004) -> np.ndarray:
    return s * np.random.default_rng(seed).normal(size=n)


def test_the_deviation_is_that_of_a_certificate() -> None:
    """A wrench set to 200 of which the device shows 196: it promises 2.04 % more than it delivers."""
    assert Check(START, 200.0, 196.0).a == pytest.approx(200 / 196 - 1)


def test_a_steady_tool_gives_no_alarm_and_says_what_may_hide() -> None:
    (one,) = drift("TW", checks(noise(30, seed=12))).series
    assert one.finding == "nothing seen" and one.baseline == 10 and not one.signals
    assert one.chart == chart([c.a for c in one.checks[:10]]) and one.chart.false_alarm == THREE_SIGMA
    assert any("may hide in these checks" in said for said in one.says)
    assert any("wrong in 5 % of tools that do not drift" in said for said in one.says)


def test_a_drift_is_found_by_trend_and_chart() -> None:
    a = noise(36) + 0.0008 * np.maximum(0, np.arange(36) - 12)
    (one,) = drift("TW", checks(a), limit=0.04).series
    assert one.finding == "alarm" and one.trend is not None and one.trend.p < 1e-4 and one.line is not None
    assert one.line.slope * 2 == pytest.approx(0.0008 * 24 / 36, rel=0.5)  # per check, over the whole series
    assert any("a check may lie beyond 4 % within" in said for said in one.says)


def test_a_step_is_found_where_it_is() -> None:
    a = noise(24, s=0.002) + np.where(np.arange(24) >= 14, 0.02, 0.0)
    (one,) = drift("TW", checks(a)).series
    assert one.step is not None and one.step.place == 14 and one.step.p < 0.001 and one.finding == "alarm"
    when = (START + timedelta(days=28)).date()
    assert any(said.startswith(f"A step before the check of {when}") for said in one.says)


def test_false_alarms_come_as_often_as_is_said() -> None:
    """400 steady tools with 10 + 10 checks: the share with an alarm lies where the simulation says."""
    rng = np.random.default_rng(5)
    alarmed = [bool(chart(x[:10]).signals(x[10:])) for x in rng.normal(size=(400, 20))]
    said = drift("TW", checks(noise(20))).series[0].false_alarm
    assert said is not None and abs(np.mean(alarmed) - said) < 4 * (said * (1 - said) / 400) ** 0.5


def test_trends_of_steady_tools_are_seen_in_one_of_twenty() -> None:
    seen = sum(drift("TW", checks(noise(9, seed=seed))).series[0].trend.p < ODD  # type: ignore[union-attr]
               for seed in range(300))
    assert seen / 300 == pytest.approx(ODD, abs=4 * (0.05 * 0.95 / 300) ** 0.5)


def test_series_are_kept_apart_by_the_value_set() -> None:
    found = drift("TW", [*checks(noise(14)), *checks(noise(6, seed=9), set_=500.0), *checks([0.0], set_=201.0)])
    assert [(one.set, len(one.checks)) for one in found.series] == [(200.0, 15), (500.0, 6)]


def test_too_few_checks_and_a_coarse_display_are_said() -> None:
    (one,) = drift("TW", checks(noise(3))).series
    assert one.finding == "too few" and "a chart needs more than 4" in one.problems[0] and one.plot is not None
    (alike,) = drift("TW", checks([0.01] * 12)).series
    assert alike.finding == "too few"
    assert any("scatter is hidden by the resolution" in problem for problem in alike.problems)
    assert drift("TW", []).finding == "too few"
    with pytest.raises(ValueError, match="4 or more"):
        drift("TW", checks(noise(30)), baseline=3)
    with pytest.raises(ValueError, match="X_ref"):
        drift("TW", [Check(START, 200.0, 0.0)])


def test_since_and_baseline_are_those_asked_for() -> None:
    (one,) = drift("TW", checks(noise(30)), since=START + timedelta(days=20), baseline=6).series
    assert len(one.checks) == 20 and one.baseline == 6 and one.chart is not None and one.chart.n == 6


def test_devices_and_outside_are_said() -> None:
    given = checks(noise(12))
    given[5] = Check(given[5].at, 200.0, given[5].device, "CD-4", True, "fact 9")
    (one,) = drift("TW", given).series
    assert any("2 check devices were used (CD-3, CD-4)" in said for said in one.says)
    assert any("not to be used until it was looked at" in said for said in one.says)


def test_the_interval_is_that_of_the_statistics_with_its_basis() -> None:
    """Found less what was left before: the third calibration was adjusted from 1.2 % to 0.1 %."""
    known = [Calibration(date(2022, 2, 1), 0.001), Calibration(date(2023, 2, 3), 0.006),
            Calibration(date(2024, 2, 3), 0.012, 0.001), Calibration(date(2025, 2, 3), 0.005)]  # fmt: skip
    found = drift("TW", [], list(reversed(known)), limit=0.04, k_u=0.008)
    told = advise_interval([367, 365, 366], [0.005, 0.006, 0.004], limit=0.04, k_u=0.008, start=0.005)
    assert found.advice is not None and found.advice.interval == told.interval == 367
    assert found.advice.basis == told.basis and told.basis in found.advice_words[0]
    assert "stays with the rule that applies" in found.advice_words[-1]
    assert "left at 0.5 % on 2025-02-03" in found.advice_words[1]


@pytest.mark.parametrize(
    ("known", "more", "why"),
    [
        ([], {"limit": 0.04}, "no calibrations were given"),
        ([Calibration(date(2024, 1, 1), 0.01)] * 2, {}, "no permissible deviation was stated"),
        ([Calibration(date(2024, 1, 1), 0.01), Calibration(date(2025, 1, 1), 0.01)], {"limit": 0.04},
         "at least 3 are needed"),
    ],
)  # fmt: skip
def test_no_advice_says_why(known: list[Calibration], more: dict[str, float], why: str) -> None:
    found = drift("TW", [], known, **more)  # type: ignore[arg-type]
    assert found.advice is None and why in found.no_advice


def test_the_chart_is_drawn_with_every_check_and_its_limits() -> None:
    a = noise(24, s=0.002) + np.where(np.arange(24) >= 14, 0.02, 0.0)
    (one,) = drift("TW", checks(a), limit=0.04).series
    assert one.plot is not None
    root = ElementTree.fromstring(plot_svg(one.plot))
    dots = list(root.iter("{http://www.w3.org/2000/svg}circle"))
    assert len(dots) == 24 + 2  # each check, and both samples of the legend
    name = root.get("aria-label") or ""
    assert "24 checks over 46 days" in name and "with an alarm" in name


def held(id: str, year: int, *points: tuple[str, float, float]) -> Certificate:
    """A certificate of one February, its points (stage, indicated, reference) in N.m, clockwise, 1 % with k = 2."""
    entries = [Entry(X, X, ref, "clockwise", stage, 0.01, 2.0) for stage, X, ref in points]
    return certificate(id, date(year, 2, 1), date(year, 2, 1), date(year + 1, 1, 31), ["RS-1"], entries)


def both(found: dict[float, float], left: dict[float, float]) -> list[tuple[str, float, float]]:
    """Points of both stages: indicated -> deviation, as the reference that gives it."""
    return [(stage, X, X / (1 + a)) for stage, of in (("as found", found), ("as left", left)) for X, a in of.items()]


def test_certificates_tell_the_drift_at_the_value_left_worst() -> None:
    """Left 0.2 % off at 100 and 0.5 % at 200: taken is 200, where each certificate says what was found and left."""
    history = history_of([
        held("C4", 2025, *both({100.0: 0.010, 200.0: 0.013}, {100.0: 0.002, 200.0: 0.005})),
        held("C1", 2022, ("as left", 100.0, 100 / 1.001), ("as left", 200.0, 200 / 1.002)),
        held("C2", 2023, ("as found", 100.0, 100 / 1.004), ("as found", 200.0, 200 / 1.006)),  # not adjusted
        held("C3", 2024, *both({100.0: 0.008, 200.0: 0.010}, {100.0: 0.001, 200.0: 0.001})),
    ])  # fmt: skip
    assert history is not None and (history.X, history.direction, history.k_u) == (200.0, "clockwise", 0.01)
    assert [(c.day.year, c.found if c.found is None else round(c.found, 6), round(c.leaves, 6))
            for c in history.calibrations] == [(2022, None, 0.002), (2023, 0.006, 0.006), (2024, 0.01, 0.001),
                                               (2025, 0.013, 0.005)]  # fmt: skip
    found = drift("TW", [], history.calibrations, limit=0.04, k_u=history.k_u)
    told = advise_interval([365, 365, 366], [0.004, 0.004, 0.012], limit=0.04, k_u=0.01, start=0.005)
    assert found.advice is not None and found.advice.interval == pytest.approx(told.interval)
    assert "4 certificates (C1 to C4), clockwise, at 200 N·m" in history.words


def test_a_value_that_one_certificate_does_not_cover_is_not_taken() -> None:
    wide = held("C1", 2022, *both({100.0: 0.004, 200.0: 0.006}, {100.0: 0.001, 200.0: 0.009}))
    narrow = held("C2", 2023, *both({100.0: 0.004, 150.0: 0.005}, {100.0: 0.002, 150.0: 0.003}))
    history = history_of([narrow, wide])
    assert history is not None and history.X == 150.0
    first = history.calibrations[0]
    assert (first.found, first.left) == pytest.approx((0.005, 0.005))
    low = held("C3", 2024, *both({10.0: 0.004, 20.0: 0.005}, {10.0: 0.002, 20.0: 0.003}))
    assert history_of([wide, low]) is None and history_of([]) is None


def test_a_certificate_without_points_begins_the_history_anew() -> None:
    some = [held(f"C{n}", 2020 + n, *both({100.0: 0.004}, {100.0: 0.001})) for n in range(4)]
    some[1] = replace(some[1], points=())
    history = history_of(some)
    assert history is not None and [c.day.year for c in history.calibrations] == [2022, 2023]
    assert history_of([*some, replace(some[1], calibrated=date(2026, 2, 1))]) is None


def test_an_interval_at_whose_end_nobody_looked_tells_of_no_drift() -> None:
    days = [date(year, 2, 1) for year in range(2020, 2026)]
    some = [Calibration(day, 0.01 + 0.001 * n, 0.0) for n, day in enumerate(days)]
    blind = [*some[:3], Calibration(days[3], None, 0.0), *some[4:]]
    found = drift("TW", [], blind, limit=0.04)
    assert found.advice is not None and found.advice.basis.startswith("4 calibrations")
    assert "says neither" in drift("TW", [], [*some[:2], Calibration(days[5], None)], limit=0.04).no_advice
