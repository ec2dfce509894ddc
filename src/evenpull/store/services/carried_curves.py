"""Files of curves and their mappings in a carrier: whether the dossier has them, and how they are written.

Loaded where a carrier holds some: the reader of curves needs their compiler.
"""

from __future__ import annotations

from collections.abc import Mapping

from evenpull.carrier import Part
from evenpull.carrier.parts import CURVES
from evenpull.intake.curve_mapping import CurveMapping, read_curve_mapping
from evenpull.store.models import Fact
from evenpull.store.services import curves_kept, curves_taking, facts
from evenpull.store.services.fact_kinds import CURVE_MAPPING


def is_new(part: Part, joints: Mapping[str, str], mappings: dict[str, CurveMapping]) -> bool:
    """Whether the dossier lacks this content. `joints` (fold -> id) and `mappings`: what the carrier brought so far; a
    mapping is added. Raises the error of its reader when it cannot be taken."""
    if part.kind != CURVES:
        found = read_curve_mapping(part.data.decode(), part.name)
        mappings[found.name] = found
        return not any(fact.data["digest"] == part.sha256 for fact in Fact.objects.filter(kind=CURVE_MAPPING))
    if curves_taking.readings_of(part.sha256):
        return False  # also where a person withdrew it: that it counts again is for a person to say
    how = None if not part.mapping else mappings.get(part.mapping) or curves_kept.mapping(part.mapping)
    if facts.fold(part.joint) not in joints:
        curves_kept.described(part.joint)
    curves_taking.check(part.name, part.data, how)
    return True


def write(part: Part, who: str) -> None:
    """Write a part that is new; inside `writing()`."""
    if part.kind == CURVES:
        curves_taking.take(part.name, part.data, part.joint, who, mapping=part.mapping)
    else:
        curves_kept.add_mapping(part.data.decode(), part.name, who)
