"""Tables of the trade with their source and status. No formula stands here; joint and instrument hold those."""

from evenpull.catalogue.cautions import CAUTIONS, Caution, caution, cautions_for
from evenpull.catalogue.embedding import EmbeddingRow, embedding
from evenpull.catalogue.friction import (
    ClassExample,
    Lubricant,
    NutFactor,
    ToolScatter,
    class_examples,
    friction_class,
    lubricant,
    lubricants,
    nut_factors,
    preload_scatter,
    printed_nut_factor,
    tightening_factor,
    tightening_methods,
    tool_scatter,
)
from evenpull.catalogue.heads import HOLE_SERIES, Dimension, bearing_diameter, clearance_hole, heads
from evenpull.catalogue.materials import MaterialRow, material_rows
from evenpull.catalogue.relaxation import RelaxationGuide, relaxation_guides
from evenpull.catalogue.sizes import (
    SLOTS,
    Countersunk,
    Slot,
    Washer,
    across_flats,
    countersunk_head,
    height,
    oversize_hole,
    slotted_hole,
    washer,
)
from evenpull.catalogue.tables import NotInCatalogue

__all__ = [
    "CAUTIONS", "HOLE_SERIES", "SLOTS", "Caution", "ClassExample", "Countersunk", "Dimension", "EmbeddingRow",
    "Lubricant", "MaterialRow", "NotInCatalogue", "NutFactor", "RelaxationGuide", "Slot", "ToolScatter", "Washer",
    "across_flats", "bearing_diameter", "caution", "cautions_for", "class_examples", "clearance_hole",
    "countersunk_head", "embedding", "friction_class", "heads", "height", "lubricant", "lubricants",
    "material_rows", "nut_factors", "oversize_hole", "preload_scatter", "printed_nut_factor", "relaxation_guides",
    "slotted_hole", "tightening_factor", "tightening_methods", "tool_scatter", "washer",
]
