"""The ring ready for stepping: bolts, gasket and both flanges in one small symmetric system.

With every nut locked, the movements are y = M f, M = (C^-1 + bolts)^-1, f = (k t, -A p): t is the travel of each nut, k
the bolt's stiffness, p the gasket's pressure. M is block-circulant, so it is made harmonic by harmonic; no rigid motion
is left in it, since the bolts hold the flanges. Written in the unknowns z = (q, t), q the amplitudes of the gasket's
modes of movement, equilibrium is

    B z + Y' A p(Y z) = (0, F),     B = diag(1, H),  H = k - k M_bb k,

with w = Y z the compression of each patch and F the bolt loads. Of t, either the travel is known (locked nut) or the
load (pulled or loose nut). docs/ring.md derives it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import RingBolts
from evenpull.ring.condensed import PORTS_OF_BOLT, Condensed
from evenpull.ring.laws import GasketLaw, LinearLaw

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
_LEAST_MODE = 2e-2  # of the gasket's own movement: what softer modes would add to a patch's pressure at its stiffest


@dataclass(frozen=True, slots=True)
class RingModel:
    """`Y` (N, r + n) compression of each patch (m) by the unknowns; `B` (r + n, r + n); `areas` (N,) m2. The patches
    stand sector by sector; the last n unknowns are the nuts' travels (m), the first r the gasket's modes."""

    n: int
    Y: Floats
    B: Floats
    areas: Floats
    law: GasketLaw | LinearLaw
    stiffness: float  # of a bolt, N/m

    @property
    def modes(self) -> int:
        return int(self.Y.shape[1]) - self.n


def ring_model(condensed: Condensed, bolts: RingBolts, law: GasketLaw | LinearLaw) -> RingModel:
    """Raises ValueError when the condensed ring and the bolts have different counts."""
    if condensed.n != bolts.count:
        raise ValueError(f"the condensed ring has {condensed.n} bolts, the case {bolts.count}")
    n, patches = condensed.n, condensed.patches
    k = bolts.stiffness
    locked = np.stack([_with_bolts(C, k, bolts.bending) for C in condensed.compliance])
    H = k * np.eye(n) - k**2 * _circulant(locked[:, :1, :1], n)
    G = slice(PORTS_OF_BOLT, None)
    travel = k * _circulant(locked[:, G, :1], n)
    modes, rest = _modes(locked[:, G, G], patches.areas, law.stiffest, n)
    r = modes.shape[1]
    B = np.zeros((r + n, r + n))
    B[:r, :r] = np.eye(r)
    B[r:, r:] = 0.5 * (H + H.T)
    return RingModel(n, np.hstack([modes, travel]), B, np.tile(patches.areas, n), law.in_series(rest), k)


def _with_bolts(C: Complexes, k: float, bending: float) -> Complexes:
    """(C^-1 + diag(k, bending, bending, 0 ...))^-1 without inverting C."""
    ports = [0] if bending == 0.0 else [0, 1, 2]
    springs = np.diag([k, bending, bending][: len(ports)])
    core = np.linalg.inv(np.linalg.inv(springs) + C[np.ix_(ports, ports)])
    M = C - C[:, ports] @ core @ C[ports, :]
    return np.asarray(0.5 * (M + M.conj().T))


def _circulant(blocks: Complexes, n: int) -> Floats:
    """(n a, n b) real matrix; its block of sector difference d is the mean over h of blocks_h exp(i h 2 pi d / n)."""
    h = np.arange(n)
    full = np.where((h <= n // 2)[:, None, None], blocks[np.minimum(h, n - h)], blocks[np.minimum(h, n - h)].conj())
    rows = np.fft.ifft(full, axis=0).real
    difference = (h[:, None] - h[None, :]) % n
    return np.asarray(rows[difference].transpose(0, 2, 1, 3).reshape(n * blocks.shape[1], n * blocks.shape[2]))


def _modes(blocks: Complexes, areas: Floats, stiffest: float, n: int) -> tuple[Floats, float]:
    """Modes (n G, r), real, and what is left (m/Pa): the compliance between patches is modes @ modes.T + rest / areas.

    Seen by the gasket only a few patterns of pressure bend the flanges; all others just dent their own patch, each
    about as much as the other. That mean goes into the law as a spring in series.
    """
    root = np.sqrt(areas)
    values, vectors = np.linalg.eigh(root[:, None] * blocks * root[None, :])
    rest = _rest(values)
    sectors = np.arange(n)
    columns = []
    for h, (value, vector) in enumerate(zip(values, vectors, strict=True)):
        kept = (value - rest) * stiffest > _LEAST_MODE
        shapes = np.divide(
            vector[:, kept] * np.sqrt(value[kept] - rest), root[:, None],
            out=np.zeros((len(root), int(kept.sum())), dtype=complex), where=root[:, None] > 0.0,
        )  # fmt: skip
        wave = np.exp(2j * np.pi * h * sectors / n)
        whole = (wave[:, None, None] * shapes[None, :, :]).reshape(n * len(areas), -1) / np.sqrt(n)
        if h == 0 or 2 * h == n:
            # the block is real there, and so are its vectors but for a phase
            columns.append(_realed(whole))
        else:
            columns.extend([np.sqrt(2) * whole.real, np.sqrt(2) * whole.imag])
    return np.concatenate(columns, axis=1), rest


def _rest(values: Floats) -> float:
    return float(np.median(values))


def _realed(whole: Complexes) -> Floats:
    largest = whole[np.argmax(np.abs(whole), axis=0), np.arange(whole.shape[1])]
    return np.asarray((whole * np.conj(largest / np.abs(largest))).real)
