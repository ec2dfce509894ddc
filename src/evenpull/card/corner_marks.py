"""The four marks near the corners of each page, by which a reader straightens it. Lengths in mm.

Each is a black square with one to four white round holes, counted clockwise from the top left corner of the page, so
that a mark says by itself which corner it is: a page that lost a corner, or lies upside down, is still straightened.
They lie 6.5 mm from the edges: what printers leave white is up to 6.35 mm, a quarter of an inch (common practice, no
source).
"""

from __future__ import annotations

MARK_SIZE = 5.0
MARK_EDGE = 6.5  # from the edges of the paper to the outside of the mark
HOLE_RADIUS = 0.11  # share of the size
Point = tuple[float, float]
# Centres of the holes from the centre of the square, in shares of the size, y downwards.
MARK_HOLES: tuple[tuple[Point, ...], ...] = (
    ((0.0, 0.0),),
    ((-0.22, -0.22), (0.22, 0.22)),
    ((0.0, -0.25), (-0.23, 0.17), (0.23, 0.17)),
    ((-0.22, -0.22), (0.22, -0.22), (-0.22, 0.22), (0.22, 0.22)),
)


def mark_centres(width: float, height: float) -> tuple[Point, Point, Point, Point]:
    """Centres on a page of this size: top left, top right, bottom right, bottom left."""
    inset = MARK_EDGE + MARK_SIZE / 2
    return (inset, inset), (width - inset, inset), (width - inset, height - inset), (inset, height - inset)
