"""Drift of one tool, from its shift checks and its calibrations: chart with honest limits, trend, step, interval.

Deviations as shares, a = (set - device)/device: above zero the tool shows, or is set to, more than it delivers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import pairwise
from typing import Literal

from evenpull.calculation.plots import Plot
from evenpull.instrument.deviation import relative_deviation
from evenpull.statistics.change_point import ChangePoint, change_point
from evenpull.statistics.control_chart import FEWEST, Chart, chart
from evenpull.statistics.interval_advice import IntervalAdvice, advise_interval
from evenpull.statistics.run_rules import MEANING, Signal
from evenpull.statistics.trend import Line, MannKendall, line, mann_kendall
from evenpull.study.drift_plot import drift_plot
from evenpull.study.words import counted, number, p_shown, percent

LONGEST_BASELINE = 10  # checks at the start that make the limits, unless somebody says how many
ODD = 0.05
ALIKE = 0.02  # relative; values set that lie closer are one series
MOST_AHEAD = 200  # later checks for which the chance of a false alarm is simulated
DAY = 86_400.0
Finding = Literal["too few", "nothing seen", "drift seen", "alarm"]


@dataclass(frozen=True, slots=True)
class Check:
    """One pull on a check device: `set` shown or dialled, `device` what the device showed, both N.m; `source` where it
    stands, `outside` that it was stated to lie outside its limits."""

    at: datetime
    set: float
    device: float
    device_name: str = ""
    outside: bool = False
    source: str = ""

    @property
    def a(self) -> float:
        """Relative deviation of the tool."""
        return float(relative_deviation(self.set, self.device))

    @property
    def percent(self) -> float:
        return 100 * self.a


@dataclass(frozen=True, slots=True)
class Calibration:
    """Deviation (share) as found and as left on a day; `left` None: not adjusted, so it was left as found. `found`
    None: nobody looked before the adjustment, and the interval before that day tells of no drift. One of them is
    there."""

    day: date
    found: float | None
    left: float | None = None

    @property
    def leaves(self) -> float:
        """ValueError where neither is there."""
        value = self.found if self.left is None else self.left
        if value is None:
            raise ValueError(f"the calibration of {self.day} says neither what was found nor what was left")
        return value


@dataclass(frozen=True, slots=True)
class Series:
    """Checks at one value set, the first one first. `baseline` of them make the `chart`; `signals` by place among the
    later ones. `problems`: what could not be computed, in words."""

    set: float
    checks: tuple[Check, ...]
    baseline: int
    chart: Chart | None
    signals: tuple[Signal, ...]
    false_alarm: float | None
    trend: MannKendall | None
    line: Line | None
    step: ChangePoint | None
    finding: Finding
    says: tuple[str, ...]
    problems: tuple[str, ...]
    plot: Plot | None

    @property
    def days(self) -> tuple[float, ...]:
        return tuple((one.at - self.checks[0].at).total_seconds() / DAY for one in self.checks)


@dataclass(frozen=True, slots=True)
class Drift:
    """All series of one tool; `advice` on its interval, or `no_advice` saying why there is none."""

    tool: str
    since: datetime | None
    series: tuple[Series, ...]
    advice: IntervalAdvice | None
    no_advice: str
    advice_words: tuple[str, ...]
    says_not: tuple[str, ...]

    @property
    def finding(self) -> Finding:
        order: tuple[Finding, ...] = ("alarm", "drift seen", "nothing seen", "too few")
        found = [one.finding for one in self.series]
        return next((one for one in order if one in found), "too few")


SAYS_NOT = (
    "A chart sees only what a check device sees: when the device itself drifts, every tool seems to drift the other "
    "way. Look at two tools on one device, or at one tool on two devices.",
    "Nothing seen is not nothing there: how large a drift may hide stands with each series.",
    "An alarm does not say what it was: tool, hand, device, temperature. It says: stop, and look at the tool first.",
    "Nothing here is a calibration, and no interval is lengthened by it: that decides who answers for the tools, by "
    "the rule of the place.",
)


def drift(
    tool: str, checks: Iterable[Check], calibrations: Sequence[Calibration] = (), *, since: datetime | None = None,
    baseline: int | None = None, limit: float | None = None, k_u: float = 0.0, probability: float = 0.95,
    stretch: float = 1.0,
) -> Drift:
    """Drift of a tool from its checks (after `since`, where it is given) and calibrations.

    `baseline`: how many of the first checks of each series make the limits; left out, half of them, at most
    `LONGEST_BASELINE`. `limit`: permissible deviation (share) and `k_u`: expanded uncertainty of a calibration (share)
    for the advice on the interval. ValueError for a value set or shown that is not above zero, or a baseline too short.
    """
    if baseline is not None and baseline < FEWEST:
        raise ValueError(f"a baseline of {baseline} checks makes no limits: {FEWEST} or more")
    held = sorted((one for one in checks if since is None or one.at >= since), key=lambda one: one.at)
    series = tuple(_series(set_, own, baseline, limit) for set_, own in _by_value(held))
    advice, why, words = _advice(calibrations, limit, k_u, probability, stretch)
    return Drift(tool, since, series, advice, why, words, SAYS_NOT)


def _by_value(checks: Sequence[Check]) -> list[tuple[float, list[Check]]]:
    """Checks whose values set lie within `ALIKE` of each other's first, the longest series first."""
    groups: list[tuple[float, list[Check]]] = []
    for one in checks:
        own = next((held for set_, held in groups if abs(one.set - set_) <= ALIKE * set_), None)
        if own is None:
            groups.append((one.set, [one]))
        else:
            own.append(one)
    return sorted(groups, key=lambda group: (-len(group[1]), group[0]))


def _series(set_: float, checks: list[Check], wanted: int | None, limit: float | None) -> Series:
    a = [one.a for one in checks]
    n = len(checks)
    baseline = wanted if wanted is not None else min(LONGEST_BASELINE, max(FEWEST, n // 2))
    problems: list[str] = []
    made: Chart | None = None
    signals: tuple[Signal, ...] = ()
    false_alarm = None
    if n <= baseline:
        problems.append(f"{counted(n, 'check')}: a chart needs more than {baseline}, {baseline} to make its limits and "
                        "one to be judged by them")
    else:
        try:
            made = chart(a[:baseline])
            signals = made.signals(a[baseline:])
            false_alarm = made.false_alarm_within(min(MOST_AHEAD, n - baseline))
        except ValueError as error:
            problems.append(f"no chart: {error}")
    trend, fitted, step = _trends(checks, a, problems)
    finding: Finding = "too few" if made is None and trend is None else "nothing seen"
    if any(test is not None and test.p < ODD for test in (trend, step)):
        finding = "drift seen"
    if signals:
        finding = "alarm"
    found = Series(set_, tuple(checks), baseline, made, signals, false_alarm, trend, fitted, step, finding, (),
                   tuple(problems), None)
    return replace(found, says=tuple(_says(found, limit)), plot=drift_plot(
        found.days, a, checks[0].at, made, baseline, [s.place + baseline for s in signals], fitted, limit))


def _trends(
    checks: Sequence[Check], a: Sequence[float], problems: list[str]
) -> tuple[MannKendall | None, Line | None, ChangePoint | None]:
    days = [(one.at - checks[0].at).total_seconds() / DAY for one in checks]
    trend, fitted, step = None, None, None
    try:
        trend = mann_kendall(a)
        fitted = line(days, a)
        step = change_point(a)
    except ValueError as error:
        problems.append(f"no trend: {error}")
    return trend, fitted, step


def _says(one: Series, limit: float | None) -> list[str]:
    said = [*_chart_words(one), *_trend_words(one, limit)]
    devices = {check.device_name for check in one.checks if check.device_name}
    if len(devices) > 1:
        said.append(f"{len(devices)} check devices were used ({', '.join(sorted(devices))}): a step may be that of a "
                    "device.")
    outside = [check for check in one.checks if check.outside]
    if outside:
        said.append(f"{counted(len(outside), 'check')} stated to lie outside the limits, the last on "
                    f"{outside[-1].at:%Y-%m-%d}: the tool is not to be used until it was looked at.")
    return said


def _chart_words(one: Series) -> list[str]:
    if one.chart is None:
        return []
    c, later = one.chart, len(one.checks) - one.baseline
    low, high = c.three_sigma
    said = [f"Limits from the first {one.baseline} checks: {percent(c.low)} to {percent(c.high)}, as wide as so short "
            f"a baseline asks for; the usual three sigma ({percent(low)} to {percent(high)}) would alarm falsely in "
            f"{percent(c.three_sigma_alarm, 2)} of checks instead of {percent(c.false_alarm, 2)}."]
    if c.apart:
        when = one.checks[c.apart[0]].at
        said.append(f"Check of {when:%Y-%m-%d} stands apart in the baseline: find the reason before resting on it.")
    if one.signals:
        first = one.signals[0]
        at = one.checks[first.place + one.baseline].at
        kinds = dict.fromkeys(MEANING[signal.rule] for signal in one.signals)
        said.append(f"Alarm, first on {at:%Y-%m-%d}, {'above' if first.side > 0 else 'below'} the mean: "
                    f"{'; '.join(kinds)}.")
    else:
        said.append(f"No alarm in {counted(later, 'later check')}.")
    if one.false_alarm is not None:
        ahead = counted(min(MOST_AHEAD, later), "check")
        said.append(f"Where nothing has changed, {ahead} after such a baseline alarm at least once with probability "
                    f"{percent(one.false_alarm, 2)}.")
    return said


def _trend_words(one: Series, limit: float | None) -> list[str]:
    if one.trend is None:
        return []
    said = []
    seen = one.trend.p < ODD
    rises = "rises" if one.trend.S > 0 else "falls"
    said.append(f"The deviation {rises} in the order of time (Mann and Kendall, {p_shown(one.trend.p)})." if seen else
                f"No trend in the order of time (Mann and Kendall, {p_shown(one.trend.p)}).")
    if one.line is not None:
        low, high = (100 * 30 * x for x in (one.line.low, one.line.high))
        hidden = "" if seen else (f": a drift of up to {number(max(abs(low), abs(high)), 2)} % in 30 days may hide in "
                                  "these checks")
        said.append(f"Straight line: {number(3000 * one.line.slope, 2)} % in 30 days, limits {number(low, 2)} to "
                    f"{number(high, 2)} %{hidden}.")
        if seen and limit is not None:
            said.append(_reaches(one, one.line, limit))
    if one.step is not None and one.step.p < ODD:
        at = one.checks[one.step.place].at
        both = " A steady trend looks like a step too: look at both." if seen else ""
        said.append(f"A step before the check of {at:%Y-%m-%d}: mean {percent(one.step.before)} before, "
                    f"{percent(one.step.after)} after ({p_shown(one.step.p)}).{both}")
    said.append(f"Each of these tests is wrong in {percent(ODD, 2)} of tools that do not drift.")
    return said


def _reaches(one: Series, fitted: Line, limit: float) -> str:
    """When a further check is to be expected beyond the permissible deviation, if the line goes on."""
    last = one.days[-1]
    for ahead in range(366):
        low, high = fitted.prediction(last + ahead)
        if low < -limit or high > limit:
            when = "with the next check already" if ahead == 0 else f"within {ahead} days"
            return f"If it goes on so, a check may lie beyond {percent(limit)} {when} (prediction limits)."
    return f"If it goes on so, no check within a year lies beyond {percent(limit)} (prediction limits)."


# calibrations --------------------------------------------------------------------------------------------------------


def _advice(
    calibrations: Sequence[Calibration], limit: float | None, k_u: float, probability: float, stretch: float
) -> tuple[IntervalAdvice | None, str, tuple[str, ...]]:
    """(advice, why there is none, words). The drift of an interval is what was found less what was left before it."""
    if not calibrations:
        return None, "no calibrations were given", ()
    if limit is None:
        return None, "no permissible deviation was stated, and an interval is kept against one", ()
    ordered = sorted(calibrations, key=lambda one: one.day)
    try:
        told = [(float((b.day - a.day).days), b.found - a.leaves) for a, b in pairwise(ordered) if b.found is not None]
        times, drifts = [time for time, _ in told], [moved for _, moved in told]
        found = advise_interval(times, drifts, limit=limit, k_u=k_u, start=ordered[-1].leaves,
                                probability=probability, stretch=stretch)
    except ValueError as error:
        return None, str(error), ()
    return found, "", _advice_words(found, ordered, limit, k_u)


def _advice_words(
    found: IntervalAdvice, calibrations: Sequence[Calibration], limit: float, k_u: float
) -> tuple[str, ...]:
    laws = "; ".join(f"{law}: {'never reached' if days == float('inf') else f'{number(days, 3)} days'}"
                     for law, days in found.computed.items())
    rates = "; ".join(f"{one.law}: {number(100 * 365.25 * one.rate, 2)} % a year" for one in found.drifts)
    return (
        f"Next calibration after {number(found.interval, 3)} days at the latest. Basis: {found.basis}.",
        f"Permissible deviation {percent(limit)}, expanded uncertainty of a calibration {percent(k_u)}, left at "
        f"{percent(calibrations[-1].leaves)} on {calibrations[-1].day}. By law of drift: {laws}. Drift found: {rates}.",
        f"The longest interval that was tried is {number(found.longest, 4)} days; beyond it nothing was seen.",
        "This is information. The interval stays with the rule that applies and with who signs for it.",
    )
