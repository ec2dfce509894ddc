"""Printing values: with a unit for reading, in words for reading aloud."""

from __future__ import annotations

import math
from decimal import Decimal

from num2words import num2words

from evenpull.quantities.units import from_si, unit_named

_SHOWN = {"degC": "°C", "degF": "°F", "deg": "°", "um": "µm", "mm2": "mm²", "m2": "m²", "cm2": "cm²", "in2": "in²"}


def unit_shown(unit: str) -> str:
    """The unit as it is printed: "N·m" for "N.m"."""
    name = unit_named(unit)[1].name
    return _SHOWN.get(name, name.replace(".", "·"))


def show(si: float, unit: str, digits: int = 4) -> str:
    """An SI value in `unit` with `digits` significant figures and the unit, never with an exponent.

    Whole figures are never rounded away ("12346 N" with 4 digits); zeros behind the decimal point are left out.
    """
    return _joined(figures(from_si(si, unit), digits), unit)


def figures(value: float, digits: int = 4) -> str:
    """A number with `digits` significant figures as `show` writes it. ValueError where it is not finite."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be shown")
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{value:.{max(places, 0)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _joined(number: str, unit: str) -> str:
    shown = unit_shown(unit)
    return f"{number}{shown}" if shown == "°" else f"{number} {shown}"


def in_words(value: float, unit: str) -> str:
    """The value in words with its unit; figures behind the decimal point are read one by one.

    in_words(258, "N.m") is "two hundred and fifty-eight newton metres".
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be put in words")
    _, found = unit_named(unit)
    written = format(Decimal(str(value)), "f")
    whole, _, behind = written.removeprefix("-").partition(".")
    behind = behind.rstrip("0")
    words = str(num2words(int(whole)))
    if behind:
        words += " point " + " ".join(str(num2words(int(figure))) for figure in behind)
    if value < 0:
        words = "minus " + words
    return f"{words} {found.one if value == 1 else found.many}"
