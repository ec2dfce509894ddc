"""What the people who decide have to think of: notices, cautions beside every re-check, the form of the failure.

The program never says that a notice is required, nor that an act is allowed: it names what is to be considered.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.equipment import Calibration
from evenpull.instrument.failure import failure_forms
from evenpull.quantities import from_si, show, unit_shown

CAUTIONS = (
    "A joint that is hot or under pressure: re-tightening, loosening or opening it can release what it holds. Whether "
    "and how it may be touched at all is for the operator of the plant, local codes and licensed practice to say.",
    "A residual check turns the fastener: it can move a fastener that was right, and it says little of the load. Do "
    "not loosen more than one fastener at a time unless the procedure of the joint says so.",
    "Shut-down, depressurising, isolation and permits come before any work on the joint, as its own file asks.",
    "A fastener that may have had too much torque can be harmed although it looks sound: replace it rather than "
    "turning it again.",
)
# Where rules ask such questions; recalled from the names of the documents, to be read there (from memory).
NOTICES: tuple[tuple[str, str], ...] = (
    ("customer", "Does the contract or an agreed quality plan ask that a suspect delivery be told to the customer, "
     "above all of joints that were handed over?"),
    ("authority", "Do rules that apply here ask for a report to an authority? Rules that ask such questions: 10 CFR "
     "Part 21 (defects in nuclear supply, USA), 49 CFR Part 573 (defects in vehicles, USA), occurrence reporting in "
     "aviation (Regulation (EU) 376/2014); there are others for pressure equipment, lifts, rail and structures."),
    ("owner of the plant", "Does whoever operates the joints have to know before they are used again?"),
    ("others who used the tool", "Was it lent, hired or shared, so that others have tightened with it?"),
    ("laboratory", "Does the laboratory that calibrated it, or the owner of the standard, have to know what was "
     "found?"),
)
# what has to be said before a review is closed -> what is asked
TO_SAY: dict[str, str] = {
    "cause": "Why it was out, as far as it is known.",
    "action": "What is changed so that it does not come again: interval, handling, storage, shift checks.",
    "same type": "Which tools of the same type, age or storage were checked, and what was found.",
    "notices": "Which notices were considered, and what was decided on each.",
}


@dataclass(frozen=True, slots=True)
class FormLine:
    """The form of a failure of one direction, in words."""

    direction: str
    form: str
    words: str


def forms(calibration: Calibration | None) -> tuple[FormLine, ...]:
    """Offset, slope or none of both by the as-found points of each direction; one direction only; scatter where the
    readings show it. () without a certificate or without a permissible deviation."""
    if calibration is None or calibration.permissible is None:
        return ()
    points = [p for p in calibration.certificate.points if p.stage == "as found"]
    limit, unit = calibration.permissible, calibration.unit
    found = [
        FormLine(one.direction, one.form,
                 f"mean error {from_si(one.offset, unit):+.3g} {unit_shown(unit)}, error in proportion to the value "
                 f"{100 * one.slope:+.2f} %")
        for one in failure_forms(points, limit)
    ]
    out = {one.direction for one in found if one.form != "within limits"}
    if len(found) == 2 and len(out) == 1:
        found.append(FormLine(next(iter(out)), "one direction only", "the other direction is within its limits"))
    for index, point in enumerate(calibration.certificate.points):
        readings = calibration.readings.get(index)
        if point.stage != "as found" or readings is None or len(readings.readings) < 2:
            continue
        spread = (max(readings.readings) - min(readings.readings)) / point.reference
        if spread > limit:
            words = f"readings at {show(point.nominal, unit)} spread over {100 * spread:.2f} % of the value"
            found.append(FormLine(point.direction, "scatter", words))
    return tuple(found)
