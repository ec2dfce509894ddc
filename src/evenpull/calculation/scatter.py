"""How the load of the joint scatters at the setting that is stated, and which setting is right most surely: as text.

First order (GUM) and Monte Carlo stand beside each other, from the same inputs.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from evenpull.calculation.plots import Bar, Curve, Mark, Plot
from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.traced import Band
from evenpull.joint.uncertainty.advice import Advice, Alternative, advise
from evenpull.joint.uncertainty.spread import Quantity, Spread, spread_of
from evenpull.quantities import show

NO_SETTING = "no number to set"  # tightening to yield stops where the bolt yields, and some ways reach nothing
SHOWN = {"N.m": "N.m", "rad": "deg", "m": "um", "N": "kN"}  # unit in which a setting is spoken of
MOST_WAYS = 10
MOST_BARS = 8
DRY = re.compile(r"\bdry$|^dry ")


@dataclass(frozen=True, slots=True)
class Scatter:
    """`spread` is at the setting that the case states (or that the advice finds best, `stated` False). `problem`: why
    there is neither.
    """

    spread: Spread | None
    advice: Advice | None
    stated: bool
    problem: str


def scatter_of(case: JointCase) -> Scatter:
    """Spread and advice of a case. What it lacks for them is said, not guessed."""
    try:
        advice = advise(case)
    except CaseError as error:
        return Scatter(None, None, False, str(error))
    stated = case.tightening.torque is not None or case.tightening.preload is not None
    if case.tightening.method == "torque and angle":
        stated = case.tightening.angle is not None
    if not stated:
        return Scatter(advice.spread, advice, False, "")
    try:
        return Scatter(spread_of(case), advice, True, "")
    except CaseError as error:
        return Scatter(advice.spread, advice, False, str(error))


def setting_words(value: float | None, unit: str) -> str:
    """A setting in the unit in which people speak of it."""
    return NO_SETTING if value is None or not math.isfinite(value) else show(value, SHOWN.get(unit, unit))


def window_words(window: Band | None, unit: str) -> str:
    return "–" if window is None else f"{setting_words(window.low, unit)} to {setting_words(window.high, unit)}"


def percent(share: float, trials: int | None = None) -> str:
    """Never 100 % for what is less, never 0 % for what is more; of trials, "all of" and "none of" them: that a trial
    never failed does not prove that none can.
    """
    if trials is not None and share in (0.0, 1.0):
        return f"{'all' if share else 'none'} of {trials} trials"
    if 0 < share < 1e-4:
        return "less than 0.01 %"
    if 0.9999 < share < 1:
        return "more than 99.99 %"
    return f"{100 * share:.4g} %"


def facts(scatter: Scatter) -> list[tuple[str, str]]:
    """Setting, limits and probabilities in words."""
    s = scatter.spread
    if s is None:
        return []
    p, n = s.probability, s.trials
    where = "as stated" if scatter.stated else "the one that the advice below finds best, as none is stated"
    rows = [] if s.setting is None else [("Setting", f"{s.setting_name}: {setting_words(s.setting, s.setting_unit)} "
                                          f"({where})")]
    rows += [
        ("Least load in service", show(s.required, "kN") if s.required > 0 else "none stated"),
        ("Most load at assembly", f"{show(s.allowed, 'kN')}, by: {s.allowed_by}" if math.isfinite(s.allowed)
         else "no limit known"),
        ("Between both", f"{percent(p.within, n)} by Monte Carlo, {percent(p.within_first_order)} by first order"),
        ("Too little load", f"{percent(p.below, n)} by Monte Carlo, {percent(p.below_first_order)} by first order"),
        ("Too much load", f"{percent(p.above, n)} by Monte Carlo, {percent(p.above_first_order)} by first order"),
    ]
    if p.fasteners > 1:
        rows.append((f"All {p.fasteners} between both", f"{percent(p.all_within_independent, n)} when each has its own "
                     f"friction, {percent(p.all_within_shared_friction, n)} when all share one lot's"))
    return rows


COLUMNS = ("load", "way", "value", "standard uncertainty", "95 % of all, from", "to")


def rows(spread: Spread) -> list[tuple[str, str, str, str, str, str]]:
    """Both ways for both loads, kN."""
    out = []
    for quantity in (spread.assembly, spread.residual):
        a, b = quantity.first_order, quantity.monte_carlo
        for way, value, u, low, high in (("first order", a.value, a.u, a.low, a.high),
                                         ("Monte Carlo", b.mean, b.u, b.low, b.high)):
            out.append((quantity.name, way, show(value, "kN"), show(u, "kN"), show(low, "kN"), show(high, "kN")))
    return out


def notes(spread: Spread) -> list[str]:
    """How the two ways agree, and what was reckoned with."""
    said = []
    for quantity in (spread.assembly, spread.residual):
        ends = f"{show(quantity.d_low, 'kN')} and {show(quantity.d_high, 'kN')}"
        agree = "the first order would do" if quantity.agrees else "the Monte Carlo result counts"
        said.append(f"{quantity.name}: the ends of both intervals are {ends} apart, the tolerance is "
                    f"{show(quantity.tolerance, 'kN')}: {agree} (JCGM 101 clause 8).")
    said.append(f"{spread.trials} trials, seed {spread.seed}; all inputs independent of each other, with the "
                "distributions of the inputs that vary. A probability holds for these inputs only: a wrong "
                "lubricant, a worn tool or a missed fastener is not in it.")
    return [*said, *spread.notes]


def inputs(spread: Spread) -> list[tuple[str, str, str, str, str]]:
    """(symbol, name, distribution, range, why) of each input that varies."""
    return [
        (i.symbol, i.name, i.shape, f"{_number(i.low, i.unit)} to {_number(i.high, i.unit)}", _signs(i.why))
        for i in spread.inputs if i.varies
    ]


def _signs(text: str) -> str:
    return text.replace("+- ", "±").replace("+-", "±")


def _number(value: float, unit: str) -> str:
    factor, name = {"m": (1e3, "mm"), "N": (1e-3, "kN"), "m/N": (1e9, "nm/N"), "Pa": (1e-6, "MPa"), "1": (1.0, ""),
                    "rad": (180 / math.pi, "°"), "N.m": (1.0, "N·m")}.get(unit, (1.0, unit))
    return f"{value * factor:.4g} {name}".strip().replace("-", "−")


def share_of_trials(share: float) -> str:
    """What a search among trials reached."""
    return "all trials" if share == 1.0 else "no trial" if share == 0.0 else percent(share)


def _warned(way: Alternative) -> str:
    """What a way of the catalogue must not hide."""
    if way.kind == "friction" and DRY.search(way.case.friction.lubricant):
        return "; without lubricant threads seize and friction scatters more than a table says: for comparison only"
    return ""


def _useful(advice: Advice) -> list[Alternative]:
    """The ways that put at least one trial between both limits."""
    return [way for way in advice.alternatives if way.probability > 0]


def ways(advice: Advice) -> list[tuple[str, str, str, str, str, str]]:
    """(rank, way, setting, window, probability, why) of what else could be done, best first."""
    return [
        (str(rank), _signs(a.text), setting_words(a.setting, a.setting_unit), window_words(a.window, a.setting_unit),
         share_of_trials(a.probability), _signs(a.why) + _warned(a))
        for rank, a in enumerate(_useful(advice)[:MOST_WAYS], 1)
    ]


WAY_COLUMNS = ("rank", "way", "best setting", f"window for {0.99:.0%}", "probability", "where the numbers come from")


def sentences(advice: Advice) -> list[str]:
    """What the search for the best setting found."""
    said = [advice.reason[0].upper() + advice.reason[1:] + "."]
    if advice.setting is not None:
        best = setting_words(advice.setting, advice.setting_unit)
        said.append(f"The best setting is {best} ({advice.setting_name}) with "
                    f"{share_of_trials(advice.probability)} between both limits.")
    if advice.window is not None:
        said.append(f"Settings from {window_words(advice.window, advice.setting_unit)} reach {percent(advice.goal)}.")
    if advice.alternatives:
        said.append("The setting found here reaches what is asked: the other ways stand for comparison, nothing has to "
                    "be changed." if advice.satisfied else "What else could be done stands below, best first.")
        said.append("Each way is computed at its own best setting with the guide values of its last column. Another "
                    "lubricant, tool or size has to be proved and allowed for this joint before it is used.")
    useless = len(advice.alternatives) - len(_useful(advice))
    if useless:
        said.append(f"{useless} other ways were tried and put no trial between both limits; they are left out.")
    left = len(_useful(advice)) - MOST_WAYS
    if left > 0:
        said.append(f"The {MOST_WAYS} best other ways stand below; {left} more stand behind them.")
    return said


def scatter_plots(scatter: Scatter) -> list[Plot]:
    """What contributes, how the load in service falls, and the probability over the setting."""
    made: list[Plot] = []
    if scatter.spread is not None:
        made += [_contributions(scatter.spread), _histogram(scatter.spread)]
    if scatter.advice is not None and scatter.advice.curve:
        made.append(_probability(scatter))
    return made


def _contributions(s: Spread) -> Plot:
    found = [c for c in s.contributions if c.share >= 0.005][:MOST_BARS] or s.contributions[:1]
    bars = tuple(Bar(f"{c.symbol}  {c.name}", c.share, f"{c.share:.0%}" + (
        f" (Monte Carlo {max(c.main, 0.0):.0%})" if c.differs else "")) for c in found)
    parts = ", ".join(f"{c.name} {c.share:.0%}" for c in found)
    words = f"Shares of the variance of the load in service: {parts}."
    return Plot("contributions", "What the scatter comes from", "", "", 1.0, 1.0, (), words, bars=bars,
                note="Shares of the variance of the load in service, first order; Monte Carlo beside it where it "
                     "differs by more than 3 %.")


def _histogram(s: Spread) -> Plot:
    """The trials as steps, the normal curve of the first order over them; both as shares of all per kN."""
    quantity: Quantity = s.residual
    trials, first = quantity.monte_carlo, quantity.first_order
    edges = np.asarray(trials.edges)
    width = float(edges[1] - edges[0]) / 1e3 if len(edges) > 1 and edges[1] > edges[0] else 1.0
    heights = np.asarray(trials.counts) / trials.trials / width
    steps = tuple(
        point for low, high, h in zip(edges[:-1], edges[1:], heights, strict=True)
        for point in ((float(low), float(h)), (float(high), float(h)))
    )
    curves = [Curve("Monte Carlo", steps, accent=True)]
    if first.u > 0:
        x = np.linspace(first.value - 4 * first.u, first.value + 4 * first.u, 81)
        y = np.exp(-0.5 * ((x - first.value) / first.u) ** 2) / (first.u / 1e3 * math.sqrt(2 * math.pi))
        curves.append(Curve("first order", tuple(zip(x.tolist(), y.tolist(), strict=True)), "dashed"))
    marks = (Mark("required " + show(s.required, "kN"), x=s.required, limit=True),) if s.required > 0 else ()
    p = s.probability
    words = (f"Load left in service: {show(trials.low, 'kN')} to {show(trials.high, 'kN')} for 95 % of the fasteners; "
             f"{percent(p.below, s.trials)} below the load that is required.")
    return Plot("load", "Load left in service", "load in service, kN", "share of fasteners per kN, %", 1e-3, 100.0,
                tuple(curves), words, marks=marks)


def _probability(scatter: Scatter) -> Plot:
    advice = scatter.advice
    assert advice is not None
    unit = advice.setting_unit
    factor, name = {"N.m": (1.0, "N·m"), "rad": (180 / math.pi, "degrees"), "m": (1e6, "µm"), "N": (1e-3, "kN")}[unit]
    marks = [Mark(f"goal {advice.goal:.0%}", y=advice.goal, limit=True)]
    note = ""
    spread = scatter.spread
    words = f"Probability over the setting; the highest is {percent(advice.probability)}"
    if advice.setting is not None:
        marks.append(Mark("best " + setting_words(advice.setting, unit), x=advice.setting, place=0.4))
        words += f" at {setting_words(advice.setting, unit)}"
    if scatter.stated and spread is not None and spread.setting is not None:
        if advice.curve[0][0] <= spread.setting <= advice.curve[-1][0]:
            marks.append(Mark("stated " + setting_words(spread.setting, unit), x=spread.setting, limit=True, place=0.6))
        else:
            note = f"The stated {setting_words(spread.setting, unit)} lies outside this range."
        words += f"; at the stated {setting_words(spread.setting, unit)} it is {percent(spread.probability.within)}"
    return Plot("probability", "Probability over the setting", f"{advice.setting_name}, {name}",
                "fasteners between both limits, %", factor, 100.0, (Curve("probability", advice.curve, accent=True),),
                words + ".", marks=tuple(marks), note=note)
