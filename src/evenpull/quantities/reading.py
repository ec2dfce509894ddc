"""Reading "90 N.m", "3/4 in" or "30 deg" as people and files write them."""

from __future__ import annotations

import math
import re

from evenpull.quantities.measured import Kind, Measured, UnitError
from evenpull.quantities.units import canonical_unit, to_si, units_for

_NUMBER = re.compile(
    r"(?P<sign>[+\-−]?)\s*(?:(?:(?P<whole>\d+)(?:\s+|-))?(?P<above>\d+)\s*/\s*(?P<below>\d+)"
    r"|(?P<plain>(?:\d+\.?\d*|\.\d+)(?:[eE][+\-]?\d+)?))(?P<rest>.*)",
    re.DOTALL,
)


def measured(value: float, unit: str, kind: Kind) -> Measured:
    """A value that already is a number, in `unit`. UnitError for NaN, infinity or a unit of another kind."""
    name = canonical_unit(unit, kind)
    if not math.isfinite(value):
        raise UnitError(f"{value} {unit}", kind, "the number is not finite", units_for(kind))
    return Measured(to_si(value, name, kind), float(value), name, f"{value:g} {name}", kind)


def parse(text: str, kind: Kind, *, default_unit: str | None = None) -> Measured:
    """Read a number with its unit; a fraction or mixed number ("1-1/8 in") is understood.

    The unit may only be left out when `default_unit` is given. Raises UnitError for anything that is not exactly one
    finite number followed by one unit of `kind`; a decimal comma is refused because "1,250" has two meanings.
    """
    stripped = text.strip()
    if not stripped:
        raise UnitError(text, kind, "there is nothing", units_for(kind))
    match = _NUMBER.fullmatch(stripped)
    if match is None:
        raise UnitError(text, kind, "it does not begin with a number", units_for(kind))
    if match["plain"] is not None:
        value = float(match["plain"])
    else:
        if int(match["below"]) == 0:
            raise UnitError(text, kind, "the fraction divides by zero", units_for(kind))
        value = int(match["whole"] or 0) + int(match["above"]) / int(match["below"])
    if match["sign"] in ("-", "−"):
        value = -value
    rest = match["rest"].strip()
    if re.match(r"[,'’]\s*\d", rest):
        raise UnitError(
            text, kind, "write the number with a decimal point and without grouping, as 1250.5", units_for(kind)
        )
    if re.match(r"[\d.]", rest):
        raise UnitError(text, kind, "there is more than one number", units_for(kind))
    if not rest:
        if default_unit is None:
            raise UnitError(text, kind, "the unit is missing", units_for(kind))
        rest = default_unit
    try:
        unit = canonical_unit(rest, kind)
    except UnitError as error:
        raise UnitError(text, kind, error.reason, error.allowed) from None
    if not math.isfinite(value):
        raise UnitError(text, kind, "the number is too large", units_for(kind))
    return Measured(to_si(value, unit, kind), value, unit, text, kind)
