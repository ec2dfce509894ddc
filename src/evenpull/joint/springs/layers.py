"""Clamped parts in layers: the deformation cone cut at each layer boundary (VDI 2230-1:2015 section 5.1.2, from
memory), slotted holes, and a gasket as a spring in series.

From each bearing face a cone grows by 2 tan(phi) per length; where a layer is narrower the cone stays inside it and
grows on from there in the next. Through bolts have two cones that end where they meet. Lengths in m, E in Pa.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from evenpull.joint.numeric import require_positive
from evenpull.joint.parts.bearing import slotted_area
from evenpull.joint.springs.cones import delta_frustum, delta_P_sleeve

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)


@dataclass(frozen=True, slots=True)
class ConeLayer:
    """One part along the grip; D_A None: wider than the cone."""

    name: str
    length: float
    E: float
    d_h: float
    D_A: float | None = None
    slot_length: float | None = None  # overall length of a slotted hole d_h wide


class ClampedPart(NamedTuple):
    """One piece of the clamped body; D_1 <= D_2 its end diameters, equal for a sleeve. `formula` is text to recompute
    from `inputs`; without "=" where an integral has no closed form.
    """

    name: str
    symbol: str
    value: float
    l: float  # noqa: E741
    D_1: float
    D_2: float
    d_h: float
    E: float
    formula: str
    inputs: Mapping[str, float]


class _Piece(NamedTuple):
    x_0: float
    x_1: float
    D_0: float
    D_1: float

    def at(self, x: float) -> float:
        return self.D_0 + (self.D_1 - self.D_0) * (x - self.x_0) / (self.x_1 - self.x_0)


def _grown(layers: Sequence[ConeLayer], d_w: float, slope: float) -> list[_Piece]:
    """The cone from one bearing face through all layers, as straight pieces."""
    pieces, x, D = [], 0.0, d_w
    for layer in layers:
        limit = math.inf if layer.D_A is None else layer.D_A
        D = min(D, limit)
        grows = min(layer.length, (limit - D) / slope)
        if grows < layer.length * 1e-9:  # a rounding error is no piece
            grows = 0.0
        elif grows > layer.length * (1 - 1e-9):
            grows = layer.length
        if grows > 0:
            pieces.append(_Piece(x, x + grows, D, D + slope * grows))
            D += slope * grows
        if grows < layer.length:
            pieces.append(_Piece(x + grows, x + layer.length, D, D))
        x += layer.length
    return pieces


def _narrower(one: list[_Piece], other: list[_Piece], tiny: float) -> list[_Piece]:
    """The smaller of two cones everywhere: where they meet, the piece is cut."""
    cuts = sorted({p.x_0 for p in (*one, *other)} | {p.x_1 for p in (*one, *other)})
    found: list[_Piece] = []
    for x_0, x_1 in pairwise(cuts):
        if x_1 - x_0 <= tiny:
            continue
        middle = (x_0 + x_1) / 2
        a = next(p for p in one if p.x_0 <= middle <= p.x_1)
        b = next(p for p in other if p.x_0 <= middle <= p.x_1)
        left, right = a.at(x_0) - b.at(x_0), a.at(x_1) - b.at(x_1)
        ends = [x_0, x_1]
        if left * right < 0:
            ends = [x_0, x_0 + (x_1 - x_0) * left / (left - right), x_1]
        for start, end in pairwise(ends):
            if end - start > tiny:
                p = a if a.at((start + end) / 2) <= b.at((start + end) / 2) else b
                found.append(_Piece(start, end, p.at(start), p.at(end)))
    return found


def delta_slotted(D_1: float, D_2: float, l: float, d_h: float, slot_length: float, E: float) -> float:  # noqa: E741
    """Resilience in m/N of a frustum or sleeve with a slotted hole: the integral of dx/(E A(x)) over the net area, by
    Gauss-Legendre quadrature (common practice, no source: the guideline knows round holes only).
    """
    require_positive("", E=E, l=l)
    middle, half = (D_1 + D_2) / 2, (D_2 - D_1) / 2
    share = sum(w / float(slotted_area(middle + half * x, d_h, slot_length))
                for x, w in zip(_NODES.tolist(), _WEIGHTS.tolist(), strict=True))
    return l / (2 * E) * share


def layered_parts(
    layers: Sequence[ConeLayer], d_w_head: float, d_w_nut: float | None, tan_phi: float
) -> tuple[ClampedPart, ...]:
    """The pieces of the clamped body from head to nut; `d_w_nut` None for a tapped hole, where the one cone goes on to
    the end. Their sum is delta_P in m/N. ValueError for sizes that leave no ring around a hole.
    """
    if not layers:
        raise ValueError("nothing is clamped: there is no layer")
    for layer in layers:
        require_positive("", length=layer.length, E=layer.E, d_h=layer.d_h)
    require_positive("", d_w=d_w_head, tan_phi=tan_phi)
    slope, l_K = 2 * tan_phi, sum(layer.length for layer in layers)
    pieces = _grown(layers, d_w_head, slope)
    if d_w_nut is not None:
        require_positive("m", d_w_nut=d_w_nut)
        back = _grown(list(reversed(layers)), d_w_nut, slope)
        mirrored = [_Piece(l_K - p.x_1, l_K - p.x_0, p.D_1, p.D_0) for p in reversed(back)]
        pieces = _narrower(pieces, mirrored, 1e-9 * l_K)
    ends, x = [], 0.0
    for layer in layers:
        x += layer.length
        ends.append(x)
    found: list[ClampedPart] = []
    for p in _joined(pieces, ends, 1e-9 * l_K):
        place = next(i for i, end in enumerate(ends) if (p.x_0 + p.x_1) / 2 <= end)
        found.append(_part(len(found) + 1, layers[place], p, tan_phi))
    return tuple(found)


def _joined(pieces: list[_Piece], ends: Sequence[float], tiny: float) -> list[_Piece]:
    """Neighbours of one layer that are one straight line are one piece."""
    found: list[_Piece] = []
    for p in pieces:
        if found and not any(abs(p.x_0 - end) <= tiny for end in ends):
            before = found[-1]
            whole = _Piece(before.x_0, p.x_1, before.D_0, p.D_1)
            if abs(whole.at(p.x_0) - p.D_0) <= tiny:
                found[-1] = whole
                continue
        found.append(p)
    return found


def _part(number: int, layer: ConeLayer, piece: _Piece, tan_phi: float) -> ClampedPart:
    key = f"P{number}"
    D_1, D_2 = sorted((piece.D_0, piece.D_1))
    length, d_h, E = piece.x_1 - piece.x_0, layer.d_h, layer.E
    if not d_h < D_1:
        raise ValueError(
            f"{layer.name}: its hole of {d_h} m leaves no ring where the load comes in with a diameter of {D_1} m"
        )
    inputs = {f"D_{key}": D_1, f"d_h{key}": d_h, f"E_{key}": E}
    end = "head" if piece.D_0 < piece.D_1 else "nut"
    sleeve = D_2 - D_1 <= 1e-9 * D_2
    if layer.slot_length is not None:
        value = delta_slotted(D_1, D_2, length, d_h, layer.slot_length, E)
        formula, name = "integral of dx/(E A) over the net area beside the slot", "with slot"
        inputs |= {f"l_{key}": length, f"D_{key}e": D_2, f"s_{key}": layer.slot_length}
    elif sleeve:
        value, name = delta_P_sleeve(D_1, d_h, length, E), "sleeve"
        formula = f"delta_{key} = 4 l_{key} / (pi E_{key} (D_{key}^2 - d_h{key}^2))"
        inputs |= {f"l_{key}": length}
    else:
        value, name = delta_frustum(D_1, D_2, d_h, E, tan_phi), f"cone from the {end}"
        formula = (
            f"delta_{key} = ln((D_{key}e - d_h{key}) (D_{key} + d_h{key}) / ((D_{key}e + d_h{key}) "
            f"(D_{key} - d_h{key}))) / (pi E_{key} d_h{key} tan_phi)"
        )
        inputs |= {f"D_{key}e": D_2, "tan_phi": tan_phi}
    return ClampedPart(
        f"{layer.name}, {name}", f"delta_{key}", float(value), length, D_1, D_1 if sleeve else D_2, d_h, E, formula,
        inputs,
    )


def gasket_stiffness(E: float, area: float, thickness: float) -> float:
    """k_g = E A/t in N/m: a gasket as a linear spring (Shigley section 8-10; E on unloading)."""
    require_positive("", E=E, area=area, thickness=thickness)
    return E * area / thickness
