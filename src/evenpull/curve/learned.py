"""Windows learned from accepted tightenings of one joint type: the second basis of verdicts.

Learning is an act of its own with a result that does not change: windows are never widened by what they judged. Later
curves are only watched for drift, and a person decides whether to learn anew.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from evenpull.curve.columns import CurveError, Floats
from evenpull.curve.expectation import Expectation
from evenpull.curve.features import FeatureTable
from evenpull.statistics.tolerance import tolerance_factor

LEAST = 25  # accepted tightenings
CONTENT, CONFIDENCE = 0.998, 0.95
EFFICIENCY = 0.37  # of the median absolute deviation on normal scatter (textbook, from memory)
WATCHED = ("k_el", "run", "T_run_max", "angle_origin", "yield_ratio", "T_off")
DRIFTED = 3.3  # standard uncertainties: about 1 in 1000 without drift


@dataclass(frozen=True, slots=True)
class Window:
    """Median, robust sigma and tolerance interval of one feature; `n` accepted curves showed it. `logarithm`: found on
    the logarithm, as a slope or a torque cannot be below zero."""

    name: str
    n: int
    median: float
    sigma: float
    low: float
    high: float
    logarithm: bool


@dataclass(frozen=True, slots=True)
class Learned:
    """Windows of one joint type, with the number and a digest of the curves they were learned from."""

    joint: str
    n: int
    digest: str
    windows: tuple[Window, ...]

    @property
    def basis(self) -> str:
        return f"windows learned from {self.n} accepted tightenings ({self.digest[:12]})"

    def window(self, name: str) -> Window | None:
        return next((window for window in self.windows if window.name == name), None)

    def limits(self, expectation: Expectation) -> Expectation:
        """The expectation with the learned windows in place of those of the mechanics, one each for all curves. What
        could not be learned is nan: rules that need it are not applied on this basis."""
        n = len(expectation)

        def full(name: str, end: str) -> Floats:
            window = self.window(name)
            return np.full(n, math.nan if window is None else getattr(window, end), np.float64)

        return replace(
            expectation, k_low=full("k_el", "low"), k_high=full("k_el", "high"), run_low=full("run", "low"),
            run_high=full("run", "high"), theta_low=full("angle_origin", "low"),
            theta_high=full("angle_origin", "high"), drag_high=full("T_run_max", "high"),
        )


def watched(features: FeatureTable, name: str) -> Floats:
    """One watched quantity; "run" is the seat, or the elastic origin where the seat cannot be found."""
    if name == "run":
        return np.where(np.isnan(features["seat"]), features["origin"], features["seat"])
    return features[name]


def learn(joint: str, features: FeatureTable, accepted: ArrayLike) -> Learned:
    """Windows from the accepted curves. CurveError for fewer than 25 of them.

    Median and 1.4826 MAD with the exact normal tolerance factor for content 99.8 % and confidence 95 %, taken at
    1 + 0.37 (n - 1) curves because the MAD uses only that share of what they tell. A quantity that fewer than 25 of
    them show, or that does not scatter, gets no window.
    """
    chosen = np.asarray(accepted, bool)
    if len(chosen) != len(features):
        raise CurveError(f"accepted: one answer for each of the {len(features)} curves, not {len(chosen)}")
    n = int(chosen.sum())
    if n < LEAST:
        raise CurveError(f"{joint}: {n} accepted tightenings, at least {LEAST} are needed to learn windows; until then "
                         "the mechanics of the joint are the only basis")
    windows = []
    for name in WATCHED:
        values = watched(features, name)[chosen]
        window = _window(name, values[np.isfinite(values)])
        if window is not None:
            windows.append(window)
    digest = hashlib.sha256(np.ascontiguousarray(features.values[chosen]).tobytes()).hexdigest()
    return Learned(joint, n, digest, tuple(windows))


def _window(name: str, values: Floats) -> Window | None:
    if len(values) < LEAST:
        return None
    logarithm = bool((values > 0).all()) and name not in ("yield_ratio", "run")
    x = np.log(values) if logarithm else values
    centre = float(np.median(x))
    sigma = float(1.4826 * np.median(np.abs(x - centre)))
    if sigma <= 1e-9 * max(1e-9, abs(centre)):
        return None
    k = tolerance_factor(max(2, int(1 + EFFICIENCY * (len(values) - 1))), CONTENT, CONFIDENCE)
    low, high = centre - k * sigma, centre + k * sigma
    back = math.exp if logarithm else float
    return Window(name, len(values), back(centre), sigma, back(low), back(high), logarithm)


@dataclass(frozen=True, slots=True)
class Drift:
    """One quantity of later curves against its window: how many lie outside, and how far their median has moved in
    standard uncertainties of the difference of both medians. `moved`: beyond 3.3."""

    name: str
    n: int
    outside: int
    shift: float
    moved: bool


def drift(learned: Learned, features: FeatureTable) -> tuple[Drift, ...]:
    """How later curves (at least 5 that show the quantity) lie to the windows. The windows stay as they are."""
    found = []
    for window in learned.windows:
        values = watched(features, window.name)
        values = values[np.isfinite(values)]
        if len(values) < 5:
            continue
        outside = int(((values < window.low) | (values > window.high)).sum())
        if window.logarithm:
            values = np.log(np.maximum(values, 1e-300))
        centre = math.log(window.median) if window.logarithm else window.median
        u = 1.253 * window.sigma * math.sqrt(1 / window.n + 1 / len(values))
        shift = float((np.median(values) - centre) / u)
        found.append(Drift(window.name, len(values), outside, shift, abs(shift) > DRIFTED))
    return tuple(found)


def told(drifts: Sequence[Drift]) -> str:
    """Drift in words, with the way out."""
    moved = [one for one in drifts if one.moved]
    if not moved:
        return "no drift: " + ", ".join(f"{one.name} {one.shift:+.1f} u" for one in drifts)
    what = ", ".join(f"{one.name} by {one.shift:+.1f} u ({one.outside} of {one.n} outside)" for one in moved)
    return (f"drift: {what}"
            "; the windows were not changed: find the cause, and learn anew only from tightenings accepted after it")
