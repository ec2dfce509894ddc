"""The kinds of value of a calculation file, each checked with a message a person can act on; SI floats come out.

They refuse as the values of a joint file do (`plan.values.refuse`), so that one reader names every fault.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Annotated

from pydantic import PlainValidator
from pydantic_core import PydanticCustomError

from evenpull.joint.traced import Band
from evenpull.plan.values import finite, line_text, refuse, shown, written
from evenpull.quantities import Kind, UnitError, from_si, parse, show, units_for

UNIT: Mapping[Kind, str] = {
    "torque": "N.m", "force": "kN", "length": "mm", "angle": "deg", "stress": "MPa", "area": "mm2",
    "temperature": "degC",
}
KELVIN = 273.15
LEAST_PERCENT = 0.001  # "0.06 %" is a slip for "6 %" or 0.06
Check = Callable[[object], float]


def _quantity(kind: Kind, least: float, most: float, *, zero: bool, signed: bool) -> Check:
    unit = UNIT[kind]
    sign = "either sign, up to " if signed else "zero or " if zero else ""

    def allowed() -> str:
        span = f"{sign}{show(most, unit)}" if signed else f"{sign}{show(least, unit)} to {show(most, unit)}"
        return f"a {kind} with its unit, {span}; units: {', '.join(units_for(kind))}"

    def check(value: object) -> float:
        si = written(value, kind, unit, allowed).si
        if si < 0 and not signed:
            raise refuse(f"{shown(value)} is less than zero", allowed())
        if si == 0 and not (zero or signed):
            raise refuse(f"{shown(value)} is not more than zero", allowed())
        if si != 0 and not least <= abs(si) <= most:
            raise refuse(f"{shown(value)} is {show(si, unit)}: no such {kind} occurs here; is the unit right?",
                         allowed())
        return si

    return check


def quantity(kind: Kind, least: float, most: float, *, zero: bool = False, signed: bool = False) -> PlainValidator:
    """A quantity written with its unit; gives SI."""
    return PlainValidator(_quantity(kind, least, most, zero=zero, signed=signed))


def _temperature(value: object) -> float:
    """degC, as the case holds it."""
    allowed = "a temperature with its unit, -270 °C to 1200 °C; units: degC, degF, K"
    if not isinstance(value, str):
        raise refuse(f"{shown(value)} is not a temperature", allowed)
    try:
        celsius = from_si(parse(value, "temperature").si, "degC")
    except UnitError as error:
        raise refuse(f"{shown(value)} is not a temperature: {error.reason}", allowed) from None
    if not -270 <= celsius <= 1200:
        raise refuse(f"{shown(value)}: no bolt works there", allowed)
    return round(celsius, 9)


def _stiffness(value: object) -> float:
    """N/m of "250 kN/mm"."""
    allowed = 'a force over a length: "250 kN/mm"'
    if not isinstance(value, str) or value.count("/") != 1:
        raise refuse(f"{shown(value)} is not a stiffness", allowed)
    above, below = value.split("/")
    try:
        found = parse(above, "force").si / parse(f"1 {below}", "length").si
    except UnitError as error:
        raise refuse(f"{shown(value)} is not a stiffness: {error.reason}", allowed) from None
    if not 1e3 <= found <= 1e13:
        raise refuse(f"{shown(value)}: no such stiffness occurs here; are the units right?", allowed)
    return found


_INERTIA = re.compile(r"\s*(\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*(mm|cm|m|in)(?:4|\^4|⁴)\s*")
_PER_K = re.compile(r"\s*(\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*(?:1\s*)?/\s*K\s*")


def _matched(value: object, pattern: re.Pattern[str], what: str, allowed: str) -> re.Match[str]:
    found = pattern.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise refuse(f"{shown(value)} is not {what}", allowed)
    return found


def _second_moment(value: object) -> float:
    """m4 of "12000 mm4"."""
    allowed = 'a second moment of area with its unit: "12000 mm4"; units: mm4, cm4, m4, in4'
    found = _matched(value, _INERTIA, "a second moment of area", allowed)
    si = float(found[1]) * parse(f"1 {found[2]}", "length").si ** 4
    if not 1e-16 <= si <= 10:
        raise refuse(f"{shown(value)}: no such section occurs here; is the unit right?", allowed)
    return si


def _expansion(value: object) -> float:
    """1/K of "11.5e-6 1/K"."""
    allowed = 'a coefficient of expansion with its unit: "11.5e-6 1/K", 1e-7 to 1e-4'
    si = float(_matched(value, _PER_K, "a coefficient of expansion", allowed)[1])
    if not 1e-7 <= si <= 1e-4:
        raise refuse(f"{shown(value)}: no such coefficient occurs here", allowed)
    return si


_PERCENT = re.compile(r"\s*(\d{1,3}(?:\.\d{1,9})?)\s*%\s*")


def share(most: float, *, zero: bool = True) -> PlainValidator:
    """A share "5 %" or 0.05, at most `most`."""
    allowed = f'a share such as "5 %" or 0.05, {"0" if zero else "more than 0"} to {most:g}'

    def check(value: object) -> float:
        if isinstance(value, str):
            found = _PERCENT.fullmatch(value)
            if found is None:
                raise refuse(f"{shown(value)} is not a share", allowed)
            number = float(found[1]) / 100
            if 0 < number < LEAST_PERCENT:
                raise refuse(f"{shown(value)} is {number:g} of the whole: nothing here is known so closely; was the "
                             "sign % or the number meant?", allowed)
        else:
            number = finite(value, "a share")
        if not 0 <= number <= most or (number == 0 and not zero):
            raise refuse(f"{shown(value)} is not a share this can be", allowed)
        return number

    return PlainValidator(check)


def _drag(value: object) -> Band:
    """One torque, or least, nominal and most."""
    allowed = 'a torque, "12 N.m", or least, nominal and most: ["5 N.m", "9 N.m", "14 N.m"]'
    one = _quantity("torque", 1e-4, 1e5, zero=True, signed=False)
    items = value if isinstance(value, list) else [value] * 3
    if len(items) != 3:
        raise refuse(f"{shown(value)} is not a band of torques", allowed)
    try:
        low, nominal, high = (one(item) for item in items)
    except PydanticCustomError as error:
        raise refuse(str((error.context or {}).get("message", error)), allowed) from None
    if not low <= nominal <= high:
        raise refuse(f"{shown(value)} does not rise", allowed)
    return Band(low, nominal, high)


def words(*, most: int = 12) -> PlainValidator:
    """A list of words, each once."""

    def check(value: object) -> tuple[str, ...]:
        allowed = f'a list of 1 to {most} words: ["one", "two"]'
        if not isinstance(value, list) or not 1 <= len(value) <= most:
            raise refuse(f"{shown(value)} is not such a list", allowed)
        found = tuple(line_text(item, most=40) for item in value)
        if len(set(found)) != len(found):
            raise refuse(f"{shown(value)} names one twice", allowed)
        return found

    return PlainValidator(check)


Length = Annotated[float, quantity("length", 1e-5, 10.0)]
LengthOrZero = Annotated[float, quantity("length", 1e-6, 10.0, zero=True)]
SignedLength = Annotated[float, quantity("length", 1e-6, 10.0, signed=True)]
SmallLength = Annotated[float, quantity("length", 1e-8, 1e-2, zero=True)]
Force = Annotated[float, quantity("force", 1.0, 1e8)]
ForceOrZero = Annotated[float, quantity("force", 1e-3, 1e8, zero=True)]
SignedForce = Annotated[float, quantity("force", 1e-3, 1e8, signed=True)]
Torque = Annotated[float, quantity("torque", 1e-3, 1e6)]
TorqueOrZero = Annotated[float, quantity("torque", 1e-4, 1e6, zero=True)]
Angle = Annotated[float, quantity("angle", 1e-4, 100.0)]
AngleOrZero = Annotated[float, quantity("angle", 1e-5, 100.0, zero=True)]
Stress = Annotated[float, quantity("stress", 1e4, 1e12)]
StressOrZero = Annotated[float, quantity("stress", 1.0, 1e12, zero=True)]
Modulus = Annotated[float, quantity("stress", 1e5, 2e12)]
Area = Annotated[float, quantity("area", 1e-9, 100.0)]
AreaOrZero = Annotated[float, quantity("area", 1e-9, 100.0, zero=True)]
Temperature = Annotated[float, PlainValidator(_temperature)]
Stiffness = Annotated[float, PlainValidator(_stiffness)]
SecondMoment = Annotated[float, PlainValidator(_second_moment)]
Expansion = Annotated[float, PlainValidator(_expansion)]
Drag = Annotated[Band, PlainValidator(_drag)]
