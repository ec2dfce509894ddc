"""Values with units at the boundary: reading and printing them, and the suspicion that a unit was mixed up.

Inside the program every quantity is an SI float; these functions are for what people and tools write.
"""

from evenpull.quantities.measured import Kind, Measured, UnitError
from evenpull.quantities.reading import measured, parse
from evenpull.quantities.showing import figures, in_words, show, unit_shown
from evenpull.quantities.slips import Slip, unit_slips
from evenpull.quantities.units import canonical_unit, from_si, kind_of, si_unit, to_si, units_for

__all__ = [
    "Kind", "Measured", "Slip", "UnitError", "canonical_unit", "figures", "from_si", "in_words", "kind_of", "measured",
    "parse", "show", "si_unit", "to_si", "unit_shown", "unit_slips", "units_for",
]
