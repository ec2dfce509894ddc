"""The face that slips under the turned end, and the hole below it."""

from __future__ import annotations

from evenpull.catalogue.heads import HOLE_SERIES, Dimension, clearance_hole
from evenpull.catalogue.heads import bearing_diameter as tabled_face
from evenpull.joint.target import ThreadSize
from evenpull.quantities import Measured, parse

# A bolt with a wide head goes with a nut as wide; every other nut is taken as the common hexagon nut.
NUT_OF_HEAD = {"heavy hexagon": "heavy hexagon", "structural hexagon": "structural hexagon"}


def bearing_face(head: str, turned: str, size: ThreadSize, stated: Measured | None = None) -> Dimension:
    """Outside diameter d_w (m) of the bearing face of the turned end; a stated value goes before the tables.

    Raises NotInCatalogue when nothing is stated and the tables have no such head or size.
    """
    if stated is not None:
        return Dimension(stated.si, "bearing face as stated in the specification", "stated")
    kind = head if turned == "head" else NUT_OF_HEAD.get(head, "hexagon nut")
    return tabled_face(kind, size.d, size.system)


def hole_diameter(hole: str, size: ThreadSize) -> Dimension:
    """Hole d_h (m): a series (fine, medium, coarse) or a diameter with its unit.

    Raises NotInCatalogue for a series without this size, UnitError for a text that is no length.
    """
    if hole.strip() in HOLE_SERIES:
        return clearance_hole(hole.strip(), size.d, size.system)
    return Dimension(parse(hole, "length").si, f"hole {hole} as stated in the specification", "stated")
