"""The cross-section of one flange as 8-node quadrilaterals in the r-z plane.

Blocks (raised face, ring, taper of the neck, pipe) share their grid lines; the ring has lines at every radius where
something begins or ends, so that loads and holes never cut an element.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import BearingFace, Flange, Neck

Floats = NDArray[np.float64]
_SAME = 1e-7  # m: closer lines are one line


@dataclass(frozen=True, slots=True)
class Mesh:
    """`nodes` (N, 2) r and z in m; `elements` (M, 8) corners counter-clockwise, then the middles of the four sides."""

    nodes: Floats
    elements: NDArray[np.int64]

    def edges_at(self, z: float) -> NDArray[np.int64]:
        """Element sides (K, 3) lying at the height `z`: two ends and the middle, from small to large radius."""
        found = []
        for first, second, middle in ((0, 1, 4), (1, 2, 5), (2, 3, 6), (3, 0, 7)):
            sides = self.elements[:, [first, second, middle]]
            on = np.all(np.abs(self.nodes[sides, 1] - z) < _SAME, axis=1)
            found.append(sides[on])
        sides = np.concatenate(found)
        swap = self.nodes[sides[:, 0], 0] > self.nodes[sides[:, 1], 0]
        sides[swap] = sides[swap][:, [1, 0, 2]]
        return sides


def section_mesh(flange: Flange, bolt_circle: float, rings: Sequence[float], size: float) -> Mesh:
    """Mesh of `flange` with elements of about `size` (m); `rings` are the radii (m) that bound the gasket's patches."""
    r_b = bolt_circle / 2
    lines = [flange.bore / 2, flange.outside_diameter / 2, *rings]
    end = flange.end
    widths = (end.d_w, end.d_h) if isinstance(end, BearingFace) else (end.d,)
    lines += [r_b + sign * width / 2 for width in widths for sign in (-1, 1)]
    heights = [flange.face_height, flange.back]
    if not isinstance(end, BearingFace):
        heights += [z for z in (end.depth, end.depth + end.engagement) if flange.face_height < z < flange.back]
    face = flange.raised_face
    inner = flange.bore / 2
    if face is not None:
        inner = (flange.bore if face.inside_diameter is None else face.inside_diameter) / 2
        lines += [inner, face.outside_diameter / 2]
    if flange.neck is not None:
        lines += _foot(flange, flange.neck)
    inside = [line for line in lines if flange.bore / 2 - _SAME <= line <= flange.outside_diameter / 2 + _SAME]
    radii = _divide(inside, size)
    blocks = [_block(radii, radii, _divide(heights, size))]
    if face is not None:
        part = _between(radii, inner, face.outside_diameter / 2)
        blocks.append(_block(part, part, _divide([0.0, face.height], size)))
    if flange.neck is not None:
        blocks.extend(_neck(flange, flange.neck, radii, size))
    return _merged(np.concatenate(blocks))


def _foot(flange: Flange, neck: Neck) -> list[float]:
    if neck.side == "inside":
        return [flange.bore / 2, flange.bore / 2 + neck.at_back]
    return [flange.outside_diameter / 2 - neck.at_back, flange.outside_diameter / 2]


def _neck(flange: Flange, neck: Neck, radii: Floats, size: float) -> list[Floats]:
    foot = _between(radii, *_foot(flange, neck))
    flush = foot[0] if neck.side == "inside" else foot[-1]  # the side of the neck that stays straight
    top = flush + (foot - flush) * neck.wall / neck.at_back
    blocks = []
    z = flange.back
    if neck.length > 0:
        # columns taper from foot to top: each layer is cut out of the straight line between the two
        heights = _divide([z, z + neck.length], max(size, neck.at_back / 2))
        for low, high in pairwise(heights):
            at = [(level - z) / neck.length for level in (low, high)]
            blocks.append(_block(foot + (top - foot) * at[0], foot + (top - foot) * at[1], np.array([low, high])))
        z += neck.length
    else:
        top = foot
    if neck.pipe_length > 0:
        layers = max(2, int(np.ceil(neck.pipe_length / max(1.5 * size, neck.wall))))
        grown = np.linspace(0.0, 1.0, layers + 1) ** 1.3  # finer where it meets the hub
        blocks.append(_block(top, top, z + neck.pipe_length * grown))
    return blocks


def _divide(lines: Iterable[float], size: float) -> Floats:
    marks = _distinct(lines)
    parts = [
        np.linspace(low, high, max(1, round((high - low) / size)) + 1)[:-1]
        for low, high in pairwise(marks)
    ]
    return np.concatenate([*parts, marks[-1:]])


def _distinct(lines: Iterable[float]) -> Floats:
    ordered = np.sort(np.array(list(lines)))
    return np.asarray(ordered[np.concatenate([[True], np.diff(ordered) > _SAME])])


def _between(radii: Floats, low: float, high: float) -> Floats:
    return radii[(radii >= low - _SAME) & (radii <= high + _SAME)]


def _block(bottom: Floats, top: Floats, heights: Floats) -> Floats:
    """Coordinates (M, 8, 2) of the elements of one block; its lines run from `bottom` to `top` radii."""
    share = (heights - heights[0]) / (heights[-1] - heights[0])
    r = bottom[:, None] + (top - bottom)[:, None] * share[None, :]
    z = np.broadcast_to(heights[None, :], r.shape)
    grid = np.stack([r, z], axis=-1)
    corners = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2).reshape(-1, 4, 2)
    middles = 0.5 * (corners + np.roll(corners, -1, axis=1))
    return np.concatenate([corners, middles], axis=1)


def _merged(coordinates: Floats) -> Mesh:
    flat = coordinates.reshape(-1, 2)
    _, first, index = np.unique(np.round(flat / _SAME).astype(np.int64), axis=0, return_index=True, return_inverse=True)
    return Mesh(flat[first], index.reshape(-1, 8).astype(np.int64))
