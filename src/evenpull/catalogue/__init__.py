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
from evenpull.catalogue.relaxation import RelaxationGuide, relaxation_guides
from evenpull.catalogue.tables import NotInCatalogue

__all__ = [
    "CAUTIONS", "HOLE_SERIES", "Caution", "ClassExample", "Dimension", "EmbeddingRow", "Lubricant",
    "NotInCatalogue", "NutFactor", "RelaxationGuide", "ToolScatter", "bearing_diameter", "caution", "cautions_for",
    "class_examples", "clearance_hole", "embedding", "friction_class", "heads", "lubricant", "lubricants",
    "nut_factors", "preload_scatter", "printed_nut_factor", "relaxation_guides", "tightening_factor",
    "tightening_methods", "tool_scatter",
]
