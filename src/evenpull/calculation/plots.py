"""What the plots of a sheet show, as points in SI: preload diagram, load over friction, torque over angle.

Only the library's own formulas are used; a plot that a case has no numbers for is left out and says why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from evenpull.calculation.model import WITH_DRAG
from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.result import RuleResult
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening.torque import F_M, M_A, D_Km, F_M_zul
from evenpull.quantities import show

Style = Literal["line", "thin", "dashed", "dotted", "points"]  # points: readings, each by itself
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Curve:
    name: str
    points: tuple[Point, ...]
    style: Style = "line"
    accent: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A range between two limits: of x ("across") or of y ("along"); drawn as a hatched or shaded field."""

    name: str
    axis: Literal["x", "y"]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A limit as a line at a value, or a named point (`x` and `y`)."""

    name: str
    x: float | None = None
    y: float | None = None
    limit: bool = False
    left: bool = False  # the name of a line of y stands at its left end
    place: float = 0.05  # where the name of a line of x stands: 0 at the top, 1 at the bottom


@dataclass(frozen=True, slots=True)
class Bar:
    name: str
    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Plot:
    """`words` say what it shows to whoever does not see it. `x_factor` and `y_factor` turn points into the unit of the
    label. Either `curves` or `bars` are there; a curve without a name is left out of the legend. `y_from_zero`: the
    axis of y begins at zero; readings that lie far from it are told apart without. `x_whole`: x counts something.
    """

    key: str
    title: str
    x_label: str
    y_label: str
    x_factor: float
    y_factor: float
    curves: tuple[Curve, ...]
    words: str
    areas: tuple[Area, ...] = ()
    marks: tuple[Mark, ...] = ()
    bars: tuple[Bar, ...] = ()
    note: str = ""
    y_from_zero: bool = True
    x_whole: bool = False


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A plot that cannot be drawn for this case, and why."""

    title: str
    why: str


PRELOAD, FRICTION, ANGLE = "Preload diagram", "Load over friction", "Torque over angle from snug"
MU_RANGE = (0.04, 0.30)
POINTS = 60


def mean_diameter(case: JointCase) -> float:
    """D_Km (m) of the face that is taken as turning: that of the nut where there is one, else of the head."""
    if case.counterpart.kind == "nut" and case.counterpart.d_w is not None:
        return float(D_Km(case.counterpart.d_w, case.layers[-1].chamfer or case.layers[-1].d_h))
    return float(D_Km(case.bolt.d_w, case.layers[0].chamfer or case.layers[0].d_h))


def plots(case: JointCase, results: Sequence[RuleResult]) -> tuple[tuple[Plot, ...], tuple[LeftOut, ...]]:
    """All plots that the case has numbers for, and those that were left out."""
    drawn: list[Plot] = []
    left_out: list[LeftOut] = []
    load, torque, whence = aimed(case, results)
    ways: tuple[tuple[str, Callable[[JointCase, float | None], Plot], float | None], ...] = (
        (PRELOAD, preload_diagram, load), (FRICTION, load_over_friction, torque), (ANGLE, torque_over_angle, torque),
    )
    for title, make, at in ways:
        try:
            plot = make(case, at)
            drawn.append(replace(plot, note=f"{whence} {plot.note}".strip()))
        except CaseError as error:
            left_out.append(LeftOut(title, str(error)))
    return tuple(drawn), tuple(left_out)


def aimed(case: JointCase, results: Sequence[RuleResult]) -> tuple[float | None, float | None, str]:
    """(load, torque, where they come from) at assembly: as wished by the case, else what the first rule set that
    gives one aims at. A torque without a load, and a load without a torque, is turned by the nominal friction. A
    torque that holds the drag of its nut (`WITH_DRAG`) gives no load.
    """
    load, torque, who = case.tightening.preload, case.tightening.torque, "the calculation file"
    if load is None and torque is None:
        for r in results:
            if r.torque is not None and r.rule_set.key not in WITH_DRAG:
                torque, who = r.torque.nominal, r.rule_set.title
            elif r.preload is not None:
                load, who = r.preload.nominal, r.rule_set.title
            else:
                continue
            break
    if torque is not None:
        whence = f"The torque of {show(torque, 'N.m')} is that of: {who}; its load is the one at nominal friction."
    else:
        whence = "" if load is None else f"The load of {show(load, 'kN')} is that of: {who}."
    at = (case.bolt.thread, case.friction.mu_G.nominal, case.friction.mu_K.nominal, mean_diameter(case))
    if torque is not None and load is None:
        load = float(F_M(torque, *at))
    if load is not None and torque is None:
        torque = float(M_A(load, *at))
    return load, torque, whence


def preload_diagram(case: JointCase, load: float | None) -> Plot:
    """Load over deformation: the line of the bolt up, the line of the parts down, the working load between them."""
    if load is None:
        raise CaseError("no rule set gives a preload, and the case states none")
    delta_S, delta_P = bolt_resilience(case).total, clamped_resilience(case).total
    f_S, f_P = load * delta_S, load * delta_P
    F_A = case.loads.F_A_max
    Phi = case.loads.n * delta_P / (delta_S + delta_P)
    F_SA = Phi * F_A
    F_KR = load - (F_A - F_SA)
    curves = [
        Curve("bolt", ((0.0, 0.0), (f_S, load), (f_S * 1.12, load * 1.12)), accent=True),
        Curve("clamped parts", ((f_S - 0.12 * f_P, load * 1.12), (f_S, load), (f_S + f_P, 0.0)), "dashed"),
    ]
    marks = [Mark("F_M " + show(load, "kN"), y=load, left=True)]
    words = (f"Load over deformation. At the preload of {show(load, 'kN')} the bolt is longer by {show(f_S, 'um')} and "
             f"the parts are shorter by {show(f_P, 'um')}.")
    if F_A:
        # The bolt's load rises along its own line; what is left between the parts falls along theirs.
        f = f_S + F_SA * delta_S
        curves.append(Curve("working load", ((f, F_KR), (f, F_KR + F_A)), "line"))
        marks += [Mark("F_S " + show(load + F_SA, "kN"), y=load + F_SA), Mark("F_KR " + show(F_KR, "kN"), y=F_KR)]
        words += (f" Under the working load of {show(F_A, 'kN')} the bolt carries {show(load + F_SA, 'kN')} and "
                  f"{show(F_KR, 'kN')} stay between the parts.")
    needed = case.loads.F_Kerf
    if needed:
        marks.append(Mark("F_Kerf " + show(needed, "kN"), y=needed, limit=True))
        words += f" The clamp load required is {show(needed, 'kN')}."
    return Plot("preload", PRELOAD, "deformation, µm", "load, kN", 1e6, 1e-3, tuple(curves), words, marks=tuple(marks),
                note="Before losses, with the resiliences of VDI 2230-1." + (
                    f" The working load acts with n = {case.loads.n:g}, so its lower end lies beside the line of the "
                    "parts." if F_A and case.loads.n < 1 else ""))


def load_over_friction(case: JointCase, torque: float | None) -> Plot:
    """The load that one torque gives over the coefficient of friction, thread and face alike, and its limits."""
    if torque is None:
        raise CaseError("no rule set gives a torque, and the case states none")
    thread, face = case.bolt.thread, mean_diameter(case)
    mu = np.linspace(*MU_RANGE, POINTS)
    s = case.tightening.tool_scatter
    curves = [_curve("load at the torque", mu, F_M(torque, thread, mu, mu, face), accent=True)]
    if s:
        curves += [_curve(f"torque + {s:.0%}", mu, F_M(torque * (1 + s), thread, mu, mu, face), "thin"),
                   _curve(f"torque − {s:.0%}", mu, F_M(torque * (1 - s), thread, mu, mu, face), "thin")]
    allowed = F_M_zul(thread, case.bolt.strength, mu, case.limits.nu)
    curves.append(_curve(f"{case.limits.nu:.0%} of yield", mu, allowed, "dashed"))
    f = case.friction
    low, high = min(f.mu_G.low, f.mu_K.low), max(f.mu_G.high, f.mu_K.high)
    at = [float(F_M(torque, thread, m, m, face)) for m in (low, high)]
    marks = []
    words = (f"Load over friction at {show(torque, 'N.m')}: {show(at[1], 'kN')} at the highest friction of {high:g}, "
             f"{show(at[0], 'kN')} at the lowest of {low:g}.")
    needed = case.limits.required_preload
    if needed is not None:
        marks.append(Mark("required " + show(needed, "kN"), y=needed, limit=True))
        words += f" Required are {show(needed, 'kN')}."
    if case.limits.largest_preload is not None:
        marks.append(Mark("most " + show(case.limits.largest_preload, "kN"), y=case.limits.largest_preload, limit=True))
    return Plot("friction", FRICTION, "coefficient of friction, thread and face alike", "load, kN", 1.0, 1e-3,
                tuple(curves), words, areas=(Area("friction of the case", "x", low, high),), marks=tuple(marks),
                note=f"At {show(torque, 'N.m')} without drag.")


def torque_over_angle(case: JointCase, torque: float | None) -> Plot:
    """Torque over the angle from snug, elastic: the angle stretches bolt and parts, the torque follows the load."""
    thread, face = case.bolt.thread, mean_diameter(case)
    delta = bolt_resilience(case).total + clamped_resilience(case).total
    friction = case.friction
    snug = case.tightening.snug_torque or 0.0
    curves, marks, ends = [], [], []
    states: tuple[tuple[str, float, float, Style], ...] = (
        ("least friction", friction.mu_G.low, friction.mu_K.low, "thin"),
        ("nominal friction", friction.mu_G.nominal, friction.mu_K.nominal, "line"),
        ("most friction", friction.mu_G.high, friction.mu_K.high, "dashed"),
    )
    for name, mu_G, mu_K, style in states:
        top = float(F_M_zul(thread, case.bolt.strength, mu_G, 1.0))
        start = float(F_M(snug, thread, mu_G, mu_K, face)) if snug else 0.0
        if start >= top:
            raise CaseError(f"tightening.snug_torque of {show(snug, 'N.m')} is above the yield point")
        loads = np.linspace(start, top, 24)
        angle = 2 * math.pi / thread.P * delta * (loads - start)
        curves.append(_curve(name, angle, M_A(loads, thread, mu_G, mu_K, face), style, accent=style == "line"))
        ends.append((float(angle[-1]), float(M_A(top, thread, mu_G, mu_K, face))))
    if torque is not None:
        marks.append(Mark("torque " + show(torque, "N.m"), y=torque, left=True))
    words = ("Torque over angle from snug up to the yield point: " + "; ".join(
        f"{state[0]} {show(y, 'N.m')} at {show(x, 'deg')}" for (x, y), state in zip(ends, states, strict=True)) + ".")
    areas: tuple[Area, ...] = ()
    t = case.tightening
    if t.angle is not None:
        areas = (Area("angle asked", "x", t.angle - t.angle_scatter, t.angle + t.angle_scatter),)
    return Plot("angle", ANGLE, "angle from snug, degrees", "torque, N·m", 180 / math.pi, 1.0, tuple(curves), words,
                areas=areas, marks=tuple(marks),
                note="Elastic part only, to the yield point of tension with torsion; seating and bending before snug "
                     "are not in it.")


def _curve(name: str, x: object, y: object, style: Style = "line", *, accent: bool = False) -> Curve:
    return Curve(name, tuple(zip(np.asarray(x).tolist(), np.asarray(y).tolist(), strict=True)), style, accent)
