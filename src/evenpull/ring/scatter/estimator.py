"""From the angle that each nut moved back to its nut factor: a linearised Kalman filter beside the ring's model.

Unknown of each nut: x = ln of its factor on the mean nut factor, normal. A pull with the torque M brings it to
ln F = c(M) - (x + u)/(1 - m), u new in each pull. The model turns F into the nut's travel, the angle measures it.
Steps of the filter: A. Gelb (ed.), Applied Optimal Estimation, 1974, extended and iterated filter; from memory, not
re-read. A nut that did not move teaches nothing here, though it bounds K from below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel
from evenpull.ring.scatter import batch as many
from evenpull.ring.scatter.friction import NutFriction, Tool, lognormal_sigma

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_NUDGE = 0.01  # of the load: step for the slope of the travel, and the least by which a nut that moved rises
_ROUNDS = 2  # linearisations of each pull


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleReading:
    """Standard deviations in rad: `sd` of the angle of any pull, `sd_seat` of where the first pull of a nut begins to
    bear, on top. The twist of the bolt is taken as already subtracted."""

    sd: float
    sd_seat: float = 0.0

    def __post_init__(self) -> None:
        if not (0.0 < self.sd < math.inf and 0.0 <= self.sd_seat < math.inf):
            raise ValueError(f"an angle is read with a scatter above 0, not {self.sd}, {self.sd_seat}")


class Estimator:
    """What is known of S assemblies from settings and angles alone: `x` (S, n), `error` (S, n) N by which the loads
    differ from those of the model beside it, and the covariance (S, 2n, 2n) of both together. A pull makes the new
    error of a bolt from its x, so that a later angle, which tells a load difference, tells K."""

    def __init__(
        self, model: RingModel, friction: NutFriction, tool: Tool, reading: AngleReading, *, d: float, P: float,
        samples: int, tools: int = 1,
    ) -> None:  # fmt: skip
        n = model.n
        nut, lot = lognormal_sigma(friction.cv_nut) ** 2, lognormal_sigma(friction.cv_lot) ** 2
        pull = lognormal_sigma(friction.cv_pull) ** 2
        own, each = lognormal_sigma(tool.cv_own) ** 2, lognormal_sigma(tool.cv_pull) ** 2
        # one tool's own error cannot be told from the lot; several tools' are taken as new in each pull
        common = lot + (own if tools == 1 else 0.0)
        self._new = pull + each + (own if tools > 1 else 0.0)  # variance of u
        self._mean_new = (each + own - pull) / 2  # its mean: lognormal factors of mean 1 have logarithms of less
        self.x = np.full((samples, n), -(nut + lot) / 2)
        self.error = np.zeros((samples, n))
        self.covariance = np.zeros((samples, 2 * n, 2 * n))
        self.covariance[:, :n, :n] = nut * np.eye(n) + common
        self.batch = many.start(model, samples)
        self._model, self._friction, self._reading = model, friction, reading
        self._d, self._per_angle = d, P / (2 * math.pi)
        self._seated = np.zeros((samples, n), dtype=bool)

    def torques(self, bolts: tuple[int, ...], loads: tuple[float, ...]) -> Floats:
        """Settings (S, bolts) N.m for `loads` (N) with what is known of each nut so far."""
        return np.asarray(self._friction.torque(np.asarray(loads), self._d) * np.exp(self.x[:, list(bolts)]))

    def angles(self, bolts: tuple[int, ...], loads: tuple[float, ...]) -> Floats:
        """Angles (S, bolts) rad by which the nuts are still to be turned for `loads` (N); 0 where the load is there."""
        at = list(bolts)
        wanted = np.asarray(loads) - self.error[:, at]
        travel = many.pull(self._model, self.batch, bolts, wanted).travel[:, at] - self.batch.travel[:, at]
        return np.asarray(travel / self._per_angle)

    def turned(self, bolts: tuple[int, ...], angles: Floats) -> None:
        """Take in that nuts were turned by set `angles` (S, bolts) rad: the loads' errors stay what they were."""
        self.batch = many.turn(self._model, self.batch, bolts, angles * self._per_angle)

    def deviation(self) -> Floats:
        """Standard deviation (S, n) of ln K of each nut, as the filter sees it."""
        own = np.einsum("sii->si", self.covariance)[:, : self._model.n]
        return np.asarray(np.sqrt(own))

    def learn(self, bolts: tuple[int, ...], torques: Floats, moved: Flags, angles: Floats | None) -> None:
        """Take in a pull: `torques` (S, bolts) N.m that were set, whether each nut `moved`, and the `angles` (rad) it
        moved by; None when nobody read them."""
        at = list(bolts)
        n, b = self._model.n, len(at)
        e = [n + bolt for bolt in at]
        stiff = 1 - self._friction.m
        mean_nut = self._friction.load(torques, np.ones(torques.shape), self._d)
        prior = mean_nut * np.exp(-(self.x[:, at] + self._mean_new) / stiff)
        now = np.maximum(self.batch.F[:, at] + self.error[:, at], 0.0)
        prior = np.maximum(prior, (1 + _NUDGE) * now)  # a nut that moved has gone beyond where it stood
        per_x = -prior / stiff
        # the errors after this pull join x and the errors before it
        whole = np.zeros((len(now), 2 * n + b, 2 * n))
        whole[:, : 2 * n] = np.eye(2 * n)
        whole[:, range(2 * n, 2 * n + b), at] = per_x
        C = whole @ self.covariance @ whole.transpose(0, 2, 1)
        C[:, range(2 * n, 2 * n + b), range(2 * n, 2 * n + b)] += per_x**2 * self._new
        state = np.concatenate([self.x, self.error, np.zeros_like(now)], axis=1)
        loads = prior
        if angles is not None:
            seat = np.where(self._seated[:, at], 0.0, self._reading.sd_seat)
            noise = self._per_angle**2 * (self._reading.sd**2 + seat**2)
            for _ in range(_ROUNDS):
                travel, slope = self._travel(at, loads, moved)
                H = np.zeros((len(now), b, 2 * n + b))
                H[:, :, e], H[:, :, 2 * n :] = -slope, slope
                expected = travel - np.einsum("sij,sj->si", slope, loads - prior + self.error[:, at])
                CH = C @ H.transpose(0, 2, 1)
                seen = H @ CH + noise[:, :, None] * np.eye(b)
                surprise = np.where(moved, angles * self._per_angle - expected, 0.0)
                told = np.einsum("sij,sj->si", CH, np.linalg.solve(seen, surprise[:, :, None])[:, :, 0])
                loads = np.maximum(prior + told[:, 2 * n :], (1 + _NUDGE) * now)
            state = state + told
            C = C - CH @ np.linalg.solve(seen, CH.transpose(0, 2, 1))
        self._seated[:, at] |= moved
        # of the bolts that moved the new errors take the place of the old; their mean goes into the model's loads
        keep = np.tile(np.arange(2 * n), (len(now), 1))
        keep[:, e] = np.where(moved, np.arange(2 * n, 2 * n + b), e)
        self.covariance = np.take_along_axis(
            np.take_along_axis(C, keep[:, :, None], axis=1), keep[:, None, :], axis=2
        )
        self.x, self.error = state[:, :n], state[:, n : 2 * n].copy()
        self.error[:, at] = np.where(moved, 0.0, self.error[:, at])
        self.batch = many.pull(self._model, self.batch, tuple(at), np.where(moved, loads, 0.0))

    def _travel(self, at: list[int], loads: Floats, moved: Flags) -> tuple[Floats, Floats]:
        """Travel (S, bolts) m of the nuts in a pull to `loads` (N), and its slope (S, bolts, bolts) m/N."""
        began = self.batch.travel[:, at]

        def of(F: Floats) -> Floats:
            return many.pull(self._model, self.batch, tuple(at), np.where(moved, F, 0.0)).travel[:, at] - began

        middle = of(loads)
        steps = _NUDGE * loads
        columns = [(of(loads + steps * unit) - middle) / steps[:, k, None] for k, unit in enumerate(np.eye(len(at)))]
        return middle, np.stack(columns, axis=2) * moved[:, :, None] * moved[:, None, :]
