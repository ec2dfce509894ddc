"""Verdicts of curves with reasons: pure rules over the feature table, vectorised; sentences only for those asked for.

A rule is applied where its numbers are there. One that could not be applied is told (`Verdicts.applied`) and is
never taken for "nothing found".
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError, Floats
from evenpull.curve.expectation import Expectation
from evenpull.curve.features import FeatureTable
from evenpull.curve.version import THRESHOLDS_TEXT

Bools = NDArray[np.bool_]
Answer = Literal["accepted", "not accepted", "not judged"]
ANSWERS: tuple[Answer, ...] = ("accepted", "not accepted", "not judged")
Thresholds = Mapping[str, Any]
THRESHOLDS: Thresholds = tomllib.loads(THRESHOLDS_TEXT)
VERDICTS = (
    "sensor fault", "step order", "re-hit", "slip or stripping", "cross-thread or early seating", "bottomed",
    "extra part", "missing part", "soft or lost gasket", "seized or drag high", "yield suspected",
    "stopped by the user", "torque outside its window",
)  # the first that applies is named first


@dataclass(frozen=True, slots=True, eq=False)
class Verdicts:
    """found, applied: curves x `VERDICTS`. `basis` says what the limits rest on. `answer`: place in `ANSWERS`.
    `thresholds`: the judge's parameters that were used."""

    found: Bools
    applied: Bools
    answer: NDArray[np.int8]
    basis: str
    features: FeatureTable
    expectation: Expectation
    thresholds: Thresholds = field(default_factory=lambda: THRESHOLDS)

    def __len__(self) -> int:
        return len(self.found)

    def of(self, name: str) -> Bools:
        return self.found[:, VERDICTS.index(name)]

    def first(self) -> list[str]:
        """The verdict named first of each curve, "none" where there is none."""
        place = np.where(self.found.any(axis=1), self.found.argmax(axis=1), -1)
        return [VERDICTS[i] if i >= 0 else "none" for i in place]


@dataclass(frozen=True, slots=True, eq=False)
class _Given:
    """What rules read: features, expectation, the turn to the seat, and which direction the seat is off."""

    f: FeatureTable
    e: Expectation
    run: Floats
    early: Bools
    late: Bools
    full: Bools
    s: Thresholds

    def k(self) -> Floats:
        return self.f["k_el"]


def verdicts(
    features: FeatureTable, expectation: Expectation, basis: str = "mechanics of the joint",
    thresholds: Thresholds = THRESHOLDS,
) -> Verdicts:
    """All rules on all curves. CurveError where features and expectation are not of the same curves. `thresholds`:
    those of this version, or those of an earlier one to see what they make.

    Accepted: the torque at shut-off lies in its window and no rule found anything. Not judged: there is no window, or
    the curve has too few points to say anything. Rules that could not be applied do not accept by themselves: they are
    told beside the answer.
    """
    if len(features) != len(expectation):
        raise CurveError(f"{len(features)} curves, but {len(expectation)} expectations: one for each curve")
    with np.errstate(invalid="ignore"):
        given = _given(features, expectation, thresholds)
        found = np.zeros((len(features), len(VERDICTS)), bool)
        applied = np.zeros_like(found)
        for place, name in enumerate(VERDICTS):
            found[:, place], applied[:, place] = _RULES[name](given)
        _settle(found, given)
    found &= applied
    usable = ~np.isnan(features["T_peak"]) & ~np.isnan(expectation.T_low) & ~np.isnan(expectation.T_high)
    answer = np.where(found.any(axis=1), 1, np.where(usable, 0, 2)).astype(np.int8)
    return Verdicts(found, applied, answer, basis, features, expectation, thresholds)


def _given(f: FeatureTable, e: Expectation, s: Thresholds) -> _Given:
    run = np.where(np.isnan(f["seat"]), f["origin"], f["seat"])
    run = np.where(np.isnan(f["T_run"]), np.nan, run)
    return _Given(f, e, run, run < e.run_low, run > e.run_high, f["T_peak"] >= 0.5 * e.T_low, s)


def _settle(found: Bools, g: _Given) -> None:
    """Where one cause explains another, the other is not named: a torque that slipped was not stopped short, and a
    curve that a sensor or a program spoiled says nothing about the joint."""
    at = VERDICTS.index
    spoiled = found[:, at("sensor fault")]
    found[spoiled, at("step order") + 1:] = False
    rehit = found[:, at("re-hit")]
    for name in ("cross-thread or early seating", "bottomed", "extra part", "missing part", "soft or lost gasket",
                 "seized or drag high", "yield suspected"):
        found[rehit, at(name)] = False
    slip = found[:, at("slip or stripping")]
    for name in ("yield suspected", "stopped by the user", "soft or lost gasket"):
        found[slip, at(name)] = False
    seat = (found[:, at("cross-thread or early seating")] | found[:, at("extra part")] | found[:, at("bottomed")])
    found[seat, at("soft or lost gasket")] = False
    found[found[:, at("yield suspected")], at("stopped by the user")] = False
    named = found[:, :at("torque outside its window")].any(axis=1)
    found[named, at("torque outside its window")] = False


def _known(*columns: Floats) -> Bools:
    return np.asarray(~np.isnan(np.stack(columns)).any(axis=0))


Rule = Callable[[_Given], tuple[Bools, Bools]]


def _sensor(g: _Given) -> tuple[Bools, Bools]:
    """Points that are no numbers, spikes, a torque that stands while the tool turns, a torque without turn, a zero that
    is off."""
    s, f = g.s["sensor"], g.f
    peak = f["T_peak"]
    stuck = (f["stuck"] > s["stuck"]) & (f["stuck"] > s["stuck_share"] * f["angle_off"])
    still = (f["angle_off"] <= s["still"]) & (g.e.fresh == 1)  # a check of what is tight may well turn nothing
    found = (
        (f["n_bad"] > s["bad_share"] * f["n_points"]) | (f["n_spikes"] >= s["spikes"]) | (f["clip"] > s["clip"])
        | stuck | still | (np.abs(f["T_zero"]) > s["zero"] * peak)
        | (f["T_lowest"] < -s["zero"] * peak) | (f["n_late"] > 0)
    )
    return found, np.ones(len(f), bool)


def _order(g: _Given) -> tuple[Bools, Bools]:
    """Steps that do not go 1, 2, 3; a target reached before the last step of the program; more steps than it has."""
    f, e = g.f, g.e
    stated = e.last_step > 0
    skipped = stated & ((f["last_step"] > e.last_step) | ((f["last_step"] < e.last_step) & (f["T_peak"] >= e.T_low)))
    return (f["in_order"] == 0) | skipped, np.ones(len(f), bool)


def _rehit(g: _Given) -> tuple[Bools, Bools]:
    """No run-down, most of the torque at once: less turn than the elastic angle, or a break-away at the start. Only
    where the plan lets the fastener start loose: a later pass begins tight, as it should."""
    s, f = g.s["rehit"], g.f
    at_once = (f["angle_off"] < s["turn"] * g.e.theta_low) | (f["T_first"] > s["first"]) | (
        f["breakaway"] > s["breakaway"])
    no_run = np.isnan(f["T_run"]) | (g.run < s["run"]) | (f["angle_off"] < s["run"])
    return no_run & at_once & g.full, _known(f["T_peak"], f["T_first"], g.e.T_low) & (g.e.fresh == 1)


def _slip(g: _Given) -> tuple[Bools, Bools]:
    """The torque fell before shut-off, or the turn is far beyond the elastic angle although no gasket gives way. Not
    where the fastener was tight before: its break-away may be the highest torque of the curve."""
    s, f = g.s["slip"], g.f
    bent = f["yield_ratio"] < g.s["yield"]["ratio"]
    far = (f["angle_origin"] > s["turn"] * g.e.theta_high) & (g.e.gasket == 0) & ~g.early & ~bent
    return (f["off_ratio"] < s["fallen"]) | far, _known(f["T_peak"]) & (g.e.fresh == 1)


def _soft(g: _Given) -> Bools:
    return np.asarray(g.k() < g.s["slope"]["soft"] * g.e.k_low)


def _stiff(g: _Given) -> Bools:
    return np.asarray(g.k() > g.s["slope"]["stiff"] * g.e.k_high)


def _slope_known(g: _Given) -> Bools:
    return _known(g.k(), g.e.k_low, g.e.k_high)


def _cross(g: _Given) -> tuple[Bools, Bools]:
    """The torque rises turns too early, and softer than the joint: something wedges before the parts meet."""
    return g.early & _soft(g), _slope_known(g) & _known(g.run, g.e.run_low)


def _bottomed(g: _Given) -> tuple[Bools, Bools]:
    """The slope is stiffer than the joint can be, and the torque rises early or where it should: tip on the ground."""
    no_gasket = (g.e.gasket == 0) | g.early
    return _stiff(g) & ~g.late & no_gasket, _slope_known(g)


def _extra(g: _Given) -> tuple[Bools, Bools]:
    """The torque rises turns too early with a slope the joint may have: part too many or too thick, burr, dirt."""
    return g.early & ~_soft(g) & ~_stiff(g), _slope_known(g) & _known(g.run, g.e.run_low)


def _missing(g: _Given) -> tuple[Bools, Bools]:
    """The torque rises turns too late: a part is missing or too thin."""
    return g.late & ~((g.e.gasket == 1) & _stiff(g)), _known(g.run, g.e.run_high)


def _gasket(g: _Given) -> tuple[Bools, Bools]:
    """Softer than the joint with its gasket can be; or, with a gasket stated, as stiff as without one."""
    return (_soft(g) & ~g.early) | (_stiff(g) & (g.e.gasket == 1) & ~g.early), _slope_known(g)


def _drag(g: _Given) -> tuple[Bools, Bools]:
    """The run-down takes more torque than it may."""
    limit = g.e.drag_high + g.s["drag"]["over"] * g.e.target
    return np.maximum(g.f["T_run"], g.f["T_run_max"]) > limit, _known(g.f["T_run"], limit)


def _yield(g: _Given) -> tuple[Bools, Bools]:
    """The curve has left its elastic line by more than the slope before shut-off asks for: by `bend` where that is
    still the elastic one, by less the more it has fallen, by `least_bend` from `ratio` on. Two signs of one cause, each
    of which noise and stick-slip may feign alone. Where the end slope is too unsure, the bend decides alone."""
    s, bend = g.s["yield"], g.f["bend"]
    fallen = (1 - g.f["k_end"] / g.f["k_el"]) / (1 - s["ratio"])
    asked = np.maximum(s["bend"] - (s["bend"] - s["least_bend"]) * fallen, s["least_bend"])
    bent = bend > np.where(np.isnan(g.f["yield_ratio"]), s["far_bend"], asked)
    return bent & g.full, _known(bend, g.e.T_low)


def _stopped(g: _Given) -> tuple[Bools, Bools]:
    """Ended below the window while the torque still rose."""
    short = g.f["T_peak"] < g.s["stopped"]["short"] * g.e.T_low
    return short & (g.f["off_ratio"] > 0.95) & ~(g.f["yield_ratio"] < 0.1), _known(g.f["T_peak"], g.e.T_low)


def _outside(g: _Given) -> tuple[Bools, Bools]:
    """The torque at shut-off is not in its window and nothing above explains it."""
    T = g.f["T_off"]
    return (g.e.T_low > T) | (g.e.T_high < T), _known(T, g.e.T_low, g.e.T_high)


_RULES: dict[str, Rule] = {
    "sensor fault": _sensor, "step order": _order, "re-hit": _rehit, "slip or stripping": _slip,
    "cross-thread or early seating": _cross, "bottomed": _bottomed, "extra part": _extra, "missing part": _missing,
    "soft or lost gasket": _gasket, "seized or drag high": _drag, "yield suspected": _yield,
    "stopped by the user": _stopped, "torque outside its window": _outside,
}  # fmt: skip
