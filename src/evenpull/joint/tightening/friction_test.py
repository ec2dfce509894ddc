"""Torque-tension tests: the quantities of ISO 16047 of each run, a lot of runs, and a nut factor that falls with load.

SI: N, m, N.m; the formulas take single numbers or arrays. The equations of ISO 16047:2005 are from memory, not re-read;
its coefficient is 0.577 where VDI 2230-1 has 0.58.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenpull.joint.case import Friction
from evenpull.joint.numeric import Num, holds, require_positive
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.torque import nut_factor_from_test
from evenpull.joint.traced import Band
from evenpull.statistics.lots import LotFigures, lot_figures


def D_b(D_o: Num, d_h: Num) -> Num:
    """Mean diameter of the bearing face, (D_o + d_h)/2 in m, D_o the diameter that really rubs (ISO 16047).

    ValueError unless 0 < d_h < D_o.
    """
    require_positive(D_o=D_o, d_h=d_h)
    if not holds(d_h < D_o):
        raise ValueError(f"the bearing face must be larger than the hole: D_o = {D_o} m, d_h = {d_h} m")
    return (D_o + d_h) / 2


def _friction(value: Num, name: str, why: str) -> Num:
    if not holds(value > 0):
        raise ValueError(f"{name} comes out as {value}: {why}")
    return value


def mu_tot(T: Num, F: Num, P: Num, d2: Num, D_b: Num) -> Num:
    """mu_tot = (T/F - P/(2 pi))/(0.577 d2 + 0.5 D_b) (ISO 16047). ValueError when the torque does not even lift the
    load along the helix.
    """
    require_positive(T=T, F=F, P=P, d2=d2, D_b=D_b)
    return _friction((T / F - P / (2 * math.pi)) / (0.577 * d2 + 0.5 * D_b), "mu_tot",
                     "the torque is too small for this load on this pitch")


def mu_th(T_th: Num, F: Num, P: Num, d2: Num) -> Num:
    """mu_th = (T_th/F - P/(2 pi))/(0.577 d2) (ISO 16047)."""
    require_positive(T_th=T_th, F=F, P=P, d2=d2)
    return _friction((T_th / F - P / (2 * math.pi)) / (0.577 * d2), "mu_th",
                     "the thread torque is too small for this load on this pitch")


def mu_b(T: Num, T_th: Num, F: Num, D_b: Num) -> Num:
    """mu_b = (T - T_th)/(0.5 D_b F), the bearing torque being what the thread leaves (ISO 16047)."""
    require_positive(T=T, T_th=T_th, F=F, D_b=D_b)
    return _friction((T - T_th) / (0.5 * D_b * F), "mu_b", "the thread torque is not less than the whole torque")


def load_from_torques(T_on: Num, T_off: Num, P: Num) -> Num:
    """F = pi (T_on - T_off)/P in N: load from the torques while turning on and off at it, friction cancelled.

    Only while both turn steadily with the same friction: breakaway torques, seizing or a second pass of the thread make
    it wrong by a multiple, because the small difference of two large torques is taken (common practice, no source).
    """
    require_positive(T_on=T_on, T_off=T_off, P=P)
    if not holds(T_on > T_off):
        raise ValueError(f"turning on takes more torque than turning off, not {T_on} and {T_off} N.m")
    return math.pi * (T_on - T_off) / P


@dataclass(frozen=True, slots=True)
class Run:
    """One tightening on the test bench at the load that the test asks for; `name` as in its record."""

    name: str
    T: float
    F: float
    T_th: float | None = None  # thread torque, where it was measured


@dataclass(frozen=True, slots=True)
class RunResult:
    name: str
    K: float
    mu_tot: float
    mu_th: float | None
    mu_b: float | None


@dataclass(frozen=True, slots=True)
class LotResult:
    """The runs one by one and their figures; mu_th and mu_b only where every run has a thread torque."""

    runs: tuple[RunResult, ...]
    K: LotFigures
    mu_tot: LotFigures
    mu_th: LotFigures | None
    mu_b: LotFigures | None
    notes: tuple[str, ...]


def evaluate_run(run: Run, thread: ThreadSize, D_b: float) -> RunResult:
    """K, mu_tot and, with a thread torque, mu_th and mu_b of one run. ValueError names the run."""
    try:
        total = mu_tot(run.T, run.F, thread.P, thread.d2, D_b)
        K = nut_factor_from_test(run.T, run.F, thread.d)
        if run.T_th is None:
            return RunResult(run.name, K, total, None, None)
        return RunResult(run.name, K, total, mu_th(run.T_th, run.F, thread.P, thread.d2),
                         mu_b(run.T, run.T_th, run.F, D_b))
    except ValueError as error:
        raise ValueError(f"run {run.name}: {error}") from error


def evaluate_lot(
    runs: Sequence[Run], thread: ThreadSize, D_b: float, *, sigmas: float = 3.0, content: float = 0.95,
    confidence: float = 0.95,
) -> LotResult:
    """A lot of at least three runs. Nothing is left out: runs that stand apart are named in `notes` (Grubbs, 5 %)."""
    names = [run.name for run in runs]
    if len(set(names)) != len(names):
        raise ValueError("two runs have one name")
    found = tuple(evaluate_run(run, thread, D_b) for run in runs)

    def figures(name: str, values: Sequence[float]) -> LotFigures:
        result = lot_figures(values, sigmas=sigmas, content=content, confidence=confidence)
        for place in result.apart:
            notes.append(f"{name} of run {found[place].name} stands apart ({values[place]:.4g}, mean "
                         f"{result.mean:.4g}, s {result.s:.3g}): find the reason; it is kept in the figures")
        return result

    notes: list[str] = []
    K = figures("K", [run.K for run in found])
    total = figures("mu_tot", [run.mu_tot for run in found])
    thread_parts = [run.mu_th for run in found if run.mu_th is not None]
    bearing_parts = [run.mu_b for run in found if run.mu_b is not None]
    whole = len(thread_parts) == len(found)
    if thread_parts and not whole:
        notes.append(f"only {len(thread_parts)} of {len(found)} runs have a thread torque: mu_th and mu_b of the lot "
                     "are not given")
    if K.interval[0] <= 0:
        notes.append("the interval of K reaches below 0: too few runs or too much scatter to plan with")
    return LotResult(
        found, K, total, figures("mu_th", thread_parts) if whole else None,
        figures("mu_b", bearing_parts) if whole else None, tuple(notes),
    )


def lot_friction(lot: LotResult, lubricant: str, source: str) -> Friction:
    """Friction of a joint whose lot was tested: the intervals that hold most of the lot as bands, means nominal.

    Thread and bearing face apart where both were measured, else mu_tot for both. ValueError when an interval reaches
    down to 0: too few runs or too much scatter to plan with.
    """
    def band(name: str, figures: LotFigures) -> Band:
        low, high = figures.interval
        if low <= 0:
            raise ValueError(f"the interval of {name} reaches from {low:.4g} to {high:.4g}: test more runs, or find "
                             "why they scatter")
        return Band(low, figures.mean, high)

    mu_G, mu_K = (lot.mu_tot, lot.mu_tot) if lot.mu_th is None or lot.mu_b is None else (lot.mu_th, lot.mu_b)
    return Friction(mu_G=band("mu_G", mu_G), mu_K=band("mu_K", mu_K), K=band("K", lot.K), lubricant=lubricant,
                    source=source, status="stated")


@dataclass(frozen=True, slots=True)
class FallingK:
    """A nut factor that changes with load, fitted between `F_low` and `F_high` (N); outside it refuses.

    "power": K = a (F/F_0)^b, b < 0 when it falls, F_0 the geometric mean of the fitted loads. "offset": T = a + b F, so
    K = (a/F + b)/d: a torque that makes no load and a constant rest. `deviation` is the standard deviation of K about
    the fit.
    """

    form: Literal["power", "offset"]
    a: float
    b: float
    F_0: float
    d: float
    F_low: float
    F_high: float
    n: int
    deviation: float

    def K(self, F: Num) -> Num:
        """Nut factor at the load F (N)."""
        if not holds((self.F_low * (1 - 1e-9) <= F) & (self.F_high * (1 + 1e-9) >= F)):
            raise ValueError(f"the fit holds from {self.F_low:.6g} to {self.F_high:.6g} N, not at {F}")
        return self._K(F)

    def _K(self, F: Num) -> Num:
        return self.a * (F / self.F_0) ** self.b if self.form == "power" else (self.a / F + self.b) / self.d

    def torque(self, F: Num) -> Num:
        """Torque in N.m for the load F (N)."""
        return self.K(F) * self.d * F

    def load(self, T: Num) -> Num:
        """Load in N that the torque T (N.m) gives. ValueError outside the fitted loads."""
        require_positive(torque=T)
        if self.form == "power":
            F = (T * self.F_0**self.b / (self.a * self.d)) ** (1 / (1 + self.b))
        else:
            F = (T - self.a) / self.b
        self.K(F)  # refuses what lies outside
        return F


def fit_nut_factor(
    loads: Sequence[float], torques: Sequence[float], d: float, form: Literal["power", "offset"] = "power",
) -> FallingK:
    """Least squares over readings of load (N) and torque (N.m): of ln K over ln F ("power"), of T over F ("offset").

    ValueError for fewer than three readings, readings that are not above 0, or loads that are all one.
    """
    F, T = _readings(loads, torques, d)
    if len(F) < 3 or not F.min() < F.max():
        raise ValueError("at least three readings at different loads are needed")
    K = nut_factor_from_test(T, F, d)
    F_0 = float(np.exp(np.log(F).mean()))
    if form == "power":
        slope, intercept = np.polyfit(np.log(F / F_0), np.log(K), 1)
        a, b = float(np.exp(intercept)), float(slope)
    elif form == "offset":
        slope, intercept = np.polyfit(F, T, 1)
        a, b = float(intercept), float(slope)
    else:
        raise ValueError(f'the form of the fit is "power" or "offset", not {form!r}')
    fit = FallingK(form, a, b, F_0, d, float(F.min()), float(F.max()), len(F), 0.0)
    rest = K - fit._K(F)
    deviation = float(np.sqrt((rest**2).sum() / (len(F) - 2)))
    if (form == "power" and not b > -1) or (form == "offset" and not b > 0):
        raise ValueError("the torque does not rise with the load: the readings do not belong to one tightening")
    return FallingK(form, a, b, F_0, d, fit.F_low, fit.F_high, len(F), deviation)


@dataclass(frozen=True, slots=True)
class NutFactorCurve:
    """Points of load (N) and nut factor in order of load, ready to be drawn."""

    load: tuple[float, ...]
    K: tuple[float, ...]

    def at(self, F: float) -> float:
        """K at a load between the readings, the torque taken as linear from one to the next. ValueError outside."""
        if not self.load[0] <= F <= self.load[-1]:
            raise ValueError(f"readings go from {self.load[0]:.6g} to {self.load[-1]:.6g} N, not to {F:.6g} N")
        loads = np.array(self.load)
        return float(np.interp(F, loads, loads * np.array(self.K)) / F)


def nut_factor_curve(loads: Sequence[float], torques: Sequence[float], d: float) -> NutFactorCurve:
    """K = T/(F d) over the load for readings of one tightening; equal loads are refused."""
    F, T = _readings(loads, torques, d)
    order = np.argsort(F)
    F, T = F[order], T[order]
    if len(F) < 2 or not bool((np.diff(F) > 0).all()):
        raise ValueError("at least two readings are needed, each at a load of its own")
    return NutFactorCurve(tuple(F.tolist()), tuple(nut_factor_from_test(T, F, d).tolist()))


def _readings(loads: Sequence[float], torques: Sequence[float], d: float) -> tuple[np.ndarray, np.ndarray]:
    F, T = np.array([float(x) for x in loads]), np.array([float(x) for x in torques])
    if len(F) != len(T):
        raise ValueError(f"{len(F)} loads and {len(T)} torques: each reading has both")
    if len(F) == 0:
        raise ValueError("there are no readings")
    require_positive(d=d, load=F, torque=T)
    return F, T
