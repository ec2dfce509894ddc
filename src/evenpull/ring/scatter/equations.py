"""One round of Newton's method for many samples at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel
from evenpull.ring.scatter.pressures import pressures

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_SMALL = np.float32
_ACCURACY = 1e-3  # of the linear solution within a round, in the norm of the energy
_MOST_SWEEPS = 40


class Equations:
    """Equilibrium of S samples with nuts locked, pulled or loose. `creep` and `past` (S, N) m; `wanted` (S, n) N."""

    def __init__(self, model: RingModel, creep: Floats, past: Floats, wanted: Floats) -> None:
        self.model, self.creep, self.wanted = model, creep, wanted
        self.law = pressures(model.law, past)
        self.B = model.B + 1e-9 * np.diag(np.diag(model.B))
        self.small = [a.astype(_SMALL) for a in (self.B, model.Y, model.Y.T.copy())]

    def left(self, z: Floats, rows: NDArray[np.intp]) -> tuple[Floats, Floats]:
        """Residual (rows, r + n) N of the samples `rows` at z and the slope (rows, N) N/m of the gasket."""
        model = self.model
        w = z @ model.Y.T
        w -= self.creep[rows]
        p, slope = self.law(w, rows)
        p *= model.areas
        slope *= model.areas
        residual = z @ model.B + p @ model.Y
        residual[:, model.modes :] -= self.wanted[rows]
        return residual, slope

    def move(self, slope: Floats, residual: Floats, unknown: Flags, given: Floats) -> Floats:
        """Newton's move (S, r + n): `given` where not `unknown`, the rest by conjugate gradients on all at once."""
        mean = self.B + (self.model.Y.T * slope.mean(axis=0)) @ self.model.Y
        inner = _approximate(mean, unknown).astype(_SMALL)
        B, Y, Yt = self.small
        D, mask = slope.astype(_SMALL), unknown.astype(_SMALL)

        def tangent(x: NDArray[np.float32]) -> NDArray[np.float32]:
            pressed = x @ Yt
            pressed *= D
            return np.asarray(x @ B + pressed @ Y, dtype=_SMALL)

        # each sample on its own scale, so that single precision is enough
        pushed = given.any()
        rest = -residual - (given @ self.B + ((given @ self.model.Y.T) * slope) @ self.model.Y if pushed else 0.0)
        rest *= unknown
        size = np.abs(rest).max(axis=1, keepdims=True)
        size[size == 0.0] = 1.0
        r = (rest / size).astype(_SMALL)
        x = np.zeros_like(r)
        s = (r @ inner) * mask
        p = s.copy()
        rs = np.einsum("si,si->s", r, s)
        stop = _ACCURACY**2 * rs
        going = rs > stop
        self.sweeps = 0
        for _ in range(_MOST_SWEEPS):
            Ap = tangent(p)
            Ap *= mask
            curve = np.einsum("si,si->s", p, Ap)
            step = np.where(going, rs / np.where(going, curve, 1), 0)[:, None]
            x += step * p
            r -= step * Ap
            self.sweeps += 1
            s = (r @ inner) * mask
            new = np.einsum("si,si->s", r, s)
            going &= new > stop
            if not going.any():
                break
            p *= np.where(going, new / np.where(going, rs, 1), 0)[:, None]
            p += s
            rs = new
        return np.asarray(x * size + given)


def _approximate(mean: Floats, unknown: Flags) -> Floats:
    """Inverse of the mean tangent among the unknowns that most samples have, the diagonal's inverse for the rest."""
    often = unknown.mean(axis=0) > 0.5
    inner = np.diag(1 / np.diag(mean))
    at = np.ix_(often, often)
    inner[at] = np.linalg.inv(mean[at])
    return np.asarray(0.5 * (inner + inner.T))
