"""What stands beside every prediction, word for word, on the command line, the page and in the report."""

from __future__ import annotations

PREDICTED = "Predicted, not measured: the loads follow from the drawing data by a model."
INTERACTION_ONLY = "interaction only: every pull reaches exactly its load"
INTERACTION = (
    "These figures are interaction only: every pull reaches exactly its load, without friction, tool scatter or creep. "
    "They must not be set beside figures of tightening by torque, whose spread friction makes larger."
)
TORQUE_CONTROL = "torque control with scatter: friction, tools and creep as stated in the file"
TORQUE = (
    "These figures are tightening by torque: each load follows with the nut's own friction. They hold for the scatter "
    "stated and must not be set beside figures of interaction only."
)
FLOOR = (
    "floor: what friction and tools alone leave when every bolt keeps the load of its last pull; the part that each "
    "nut keeps is the same for every order and number of passes"
)
LIMITS_OF_MODEL = (
    "Model: linear elastic flanges, no yield of flange or bolt, faces flat and parallel at the start, no misalignment, "
    "no external load, no temperature; the gasket follows its stated curve at every place and does not flow sideways.",
    "All bolts are alike and evenly spaced; every nut has been run down by hand and carries nothing at the start.",
)
NO_LICENCE = (
    "The prediction does not show that an order, a pass or a check is unnecessary. The procedure that the "
    "specification of the joint states stays in force until those who may change it change it."
)
SPREAD = "spread = (largest load - least load) / target; deviation = standard deviation of the loads / target"
NO_LIMIT = "no limit stated"


def notes(*, torque: bool = False) -> tuple[str, ...]:
    """The notes of an interaction result in their order, or of a torque result."""
    return (PREDICTED, TORQUE if torque else INTERACTION, *LIMITS_OF_MODEL, NO_LICENCE)
