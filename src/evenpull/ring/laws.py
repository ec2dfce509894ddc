"""What a gasket answers when it is pressed: pressure (Pa) as a function of compression (m) and of its past."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LinearLaw:
    """Constant stiffness per area (Pa/m), also in tension: a spring layer, for checks and for glued faces."""

    stiffness: float

    def pressure(self, w: Floats, past: Floats) -> tuple[Floats, Floats]:
        """Pressure and its slope at the compression `w`; both of the shape of `w`. `past` plays no part."""
        return self.stiffness * w, np.full_like(w, self.stiffness)

    @property
    def stiffest(self) -> float:
        return self.stiffness

    def in_series(self, s: float) -> LinearLaw:
        """The law of this layer and a spring of `s` (m/Pa) on it."""
        return LinearLaw(1 / (1 / self.stiffness + s))


@dataclass(frozen=True)
class GasketLaw:
    """Loading curve, steep unloading with memory, no tension.

    `curve` holds (compression, pressure) from (0, 0) on, rising, joined by straight lines; beyond its end the last
    slope goes on. Below the largest compression so far the pressure falls along a line of slope `unloading` (Pa/m)
    and never below zero; on the way back it follows the same line up to the curve.
    """

    curve: tuple[tuple[float, float], ...]
    unloading: float

    @cached_property
    def _knots(self) -> tuple[Floats, Floats, Floats]:
        knots = np.array(self.curve, dtype=float)
        slopes = np.diff(knots[:, 1]) / np.diff(knots[:, 0])
        return knots[:, 0], knots[:, 1], slopes

    @property
    def stiffest(self) -> float:
        return self.unloading

    def in_series(self, s: float) -> GasketLaw:
        """The law of this gasket and a spring of `s` (m/Pa) on it: again a curve of straight lines."""
        return GasketLaw(tuple((w + s * p, p) for w, p in self.curve), 1 / (1 / self.unloading + s))

    def loading(self, w: Floats) -> tuple[Floats, Floats]:
        """Pressure and slope on the loading curve, any shape; zero below zero compression."""
        at, pressures, slopes = self._knots
        segment = np.clip(np.searchsorted(at, w, side="right") - 1, 0, len(slopes) - 1)
        pressed = w >= 0.0
        slope = np.where(pressed, slopes[segment], 0.0)
        return np.where(pressed, pressures[segment] + slope * (w - at[segment]), 0.0), slope

    def pressure(self, w: Floats, past: Floats) -> tuple[Floats, Floats]:
        """Pressure and its slope at the compression `w`, when `past` is the largest compression before; same shapes."""
        up, up_slope = self.loading(w)
        top, _ = self.loading(past)
        down = top - self.unloading * (past - w)
        loading = w >= past
        held = down > 0.0
        return (
            np.where(loading, up, np.where(held, down, 0.0)),
            np.where(loading, up_slope, np.where(held, self.unloading, 0.0)),
        )
