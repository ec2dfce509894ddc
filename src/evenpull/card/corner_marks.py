"""What a reader straightens a page by: four marks near its corners, and the places of its codes. Lengths in mm.

Each is a black square with one to four white round holes, counted clockwise from the top left corner of the page, so
that a mark says by itself which corner it is: a page that lost a corner, or lies upside down, is still straightened.
They lie 6.5 mm from the edges: what printers leave white is up to 6.35 mm, a quarter of an inch (common practice, no
source).
"""

from __future__ import annotations

from evenpull.card.paper import Paper

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


HEAD_ABOVE_TEXT, FOOT_BELOW_TEXT = 27.91, 3.2  # from the ends of the text area to the top of the codes
QUIET = 4  # modules of white around a code (ISO/IEC 18004)


def head_code(on: Paper, part: int, parts: int) -> tuple[float, float, float]:
    """Left, top and size of one code in the head, quiet zone included, of a card that is no draft."""
    return on.width - on.side - (parts - part + 1) * on.head_code, on.top - HEAD_ABOVE_TEXT, on.head_code


def foot_code(on: Paper) -> tuple[float, float, float]:
    """Left, top and size of the code in the foot, quiet zone included."""
    return on.side, on.height - on.bottom + FOOT_BELOW_TEXT, on.foot_code


def mark_centres(width: float, height: float) -> tuple[Point, Point, Point, Point]:
    """Centres on a page of this size: top left, top right, bottom right, bottom left."""
    inset = MARK_EDGE + MARK_SIZE / 2
    return (inset, inset), (width - inset, inset), (width - inset, height - inset), (inset, height - inset)
