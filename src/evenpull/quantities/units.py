"""The units that are understood, their spellings and their conversion to SI.

The factors come from pint's registry (exact definitions: lb = 0.45359237 kg, g = 9.80665 m/s2, in = 25.4 mm). What
is accepted as a spelling is our own list, so that a word nobody meant as a torque never becomes one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evenpull.quantities.measured import Kind, UnitError


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: the name we write, the same for the registry, other spellings, and words for reading aloud.

    `strict` keeps the case of the spelling: "mN.m" and "MN.m" differ by 1e9 and must not be guessed.
    """

    name: str
    registry: str
    spellings: tuple[str, ...]
    one: str
    many: str
    strict: bool = False


UNITS: dict[Kind, tuple[Unit, ...]] = {
    "torque": (
        Unit("N.m", "newton*meter", ("Nm",), "newton metre", "newton metres"),
        Unit("kN.m", "kilonewton*meter", ("kNm",), "kilonewton metre", "kilonewton metres"),
        Unit("N.cm", "newton*centimeter", ("Ncm",), "newton centimetre", "newton centimetres"),
        Unit("cN.m", "centinewton*meter", ("cNm",), "centinewton metre", "centinewton metres"),
        Unit("N.mm", "newton*millimeter", ("Nmm",), "newton millimetre", "newton millimetres"),
        Unit("dN.m", "decinewton*meter", ("dNm",), "decinewton metre", "decinewton metres", strict=True),
        Unit("daN.m", "decanewton*meter", ("daNm", "m.daN"), "decanewton metre", "decanewton metres"),
        Unit("mN.m", "millinewton*meter", ("mNm",), "millinewton metre", "millinewton metres", strict=True),
        Unit("lbf.ft", "force_pound*foot", (
            "lb.ft", "ft.lbf", "ft.lb", "lbs.ft", "ft.lbs", "lbfs.ft", "foot pound", "foot pounds", "pound foot",
            "pound feet", "pound-force foot", "pound-force feet", "foot pounds-force",
        ), "pound-force foot", "pound-force feet"),
        Unit("lbf.in", "force_pound*inch", (
            "lb.in", "in.lbf", "in.lb", "lbs.in", "in.lbs", "inch pound", "inch pounds", "pound inch", "pound inches",
            "pound-force inch", "pound-force inches",
        ), "pound-force inch", "pound-force inches"),
        Unit("kip.ft", "kip*foot", ("ft.kip", "kips.ft", "ft.kips"), "kip foot", "kip feet"),
        Unit("ozf.in", "force_ounce*inch", ("oz.in", "in.ozf", "in.oz"), "ounce-force inch", "ounce-force inches"),
        Unit("kgf.m", "force_kilogram*meter", ("kg.m", "m.kgf", "m.kg", "kp.m", "m.kp"),
             "kilogram-force metre", "kilogram-force metres"),
        Unit("kgf.cm", "force_kilogram*centimeter", ("kg.cm", "cm.kgf", "cm.kg", "kp.cm", "cm.kp"),
             "kilogram-force centimetre", "kilogram-force centimetres"),
        Unit("kgf.mm", "force_kilogram*millimeter", ("kg.mm", "mm.kgf", "mm.kg", "kp.mm", "mm.kp"),
             "kilogram-force millimetre", "kilogram-force millimetres"),
    ),
    "force": (
        Unit("N", "newton", ("newton", "newtons"), "newton", "newtons"),
        Unit("kN", "kilonewton", ("kilonewton", "kilonewtons"), "kilonewton", "kilonewtons"),
        Unit("daN", "decanewton", ("decanewton", "decanewtons"), "decanewton", "decanewtons"),
        Unit("MN", "meganewton", ("meganewton", "meganewtons"), "meganewton", "meganewtons", strict=True),
        Unit("lbf", "force_pound", ("lb", "lbs", "pound-force", "pounds-force"), "pound-force", "pounds-force"),
        Unit("kip", "kip", ("kips", "klbf", "kipf"), "kip", "kips"),
        Unit("kgf", "force_kilogram", ("kp",), "kilogram-force", "kilograms-force"),
        Unit("tf", "force_metric_ton", ("tonne-force", "tonnes-force"), "tonne-force", "tonnes-force"),
    ),
    "length": (
        Unit("mm", "millimeter", ("MM", "millimetre", "millimetres", "millimeter", "millimeters"),
             "millimetre", "millimetres", strict=True),
        Unit("m", "meter", ("metre", "metres", "meter", "meters"), "metre", "metres", strict=True),
        Unit("cm", "centimeter", ("centimetre", "centimetres"), "centimetre", "centimetres"),
        Unit("km", "kilometer", ("kilometre", "kilometres"), "kilometre", "kilometres"),
        Unit("mi", "mile", ("mile", "miles"), "mile", "miles"),
        Unit("um", "micrometer", ("µm", "μm", "micrometre", "micrometres"), "micrometre", "micrometres"),
        Unit("in", "inch", ("inch", "inches", '"', "″"), "inch", "inches"),
        Unit("ft", "foot", ("foot", "feet"), "foot", "feet"),
        Unit("thou", "thou", ("mil", "mils"), "thousandth of an inch", "thousandths of an inch"),
    ),
    "angle": (
        Unit("deg", "degree", ("°", "degree", "degrees"), "degree", "degrees"),
        Unit("rad", "radian", ("radian", "radians"), "radian", "radians"),
        Unit("turn", "turn", ("turns", "rev", "revs", "revolution", "revolutions"), "turn", "turns"),
    ),
    "stress": (
        Unit("MPa", "megapascal", ("MPA", "Mpa", "N/mm2", "N/mm^2", "megapascal", "megapascals"),
             "megapascal", "megapascals", strict=True),
        Unit("Pa", "pascal", ("pascal", "pascals", "N/m2"), "pascal", "pascals"),
        Unit("kPa", "kilopascal", ("kilopascal", "kilopascals"), "kilopascal", "kilopascals"),
        Unit("GPa", "gigapascal", ("gigapascal", "gigapascals", "kN/mm2"), "gigapascal", "gigapascals"),
        Unit("psi", "psi", ("lbf/in2", "lb/in2"), "pound-force per square inch", "pounds-force per square inch"),
        Unit("ksi", "ksi", ("kip/in2",), "kip per square inch", "kips per square inch"),
        Unit("bar", "bar", ("bars",), "bar", "bar"),
        Unit("kgf/mm2", "force_kilogram/millimeter**2", ("kg/mm2", "kp/mm2"),
             "kilogram-force per square millimetre", "kilograms-force per square millimetre"),
        Unit("kgf/cm2", "force_kilogram/centimeter**2", ("kg/cm2", "kp/cm2"),
             "kilogram-force per square centimetre", "kilograms-force per square centimetre"),
    ),
    "temperature": (
        Unit("degC", "degC", ("°C", "C", "Celsius"), "degree Celsius", "degrees Celsius"),
        Unit("degF", "degF", ("°F", "F", "Fahrenheit"), "degree Fahrenheit", "degrees Fahrenheit"),
        Unit("K", "kelvin", ("kelvin",), "kelvin", "kelvin"),
    ),
    "area": (
        Unit("mm2", "millimeter**2", ("mm^2", "sq mm"), "square millimetre", "square millimetres", strict=True),
        Unit("m2", "meter**2", ("m^2", "sq m"), "square metre", "square metres", strict=True),
        Unit("cm2", "centimeter**2", ("cm^2", "sq cm"), "square centimetre", "square centimetres"),
        Unit("in2", "inch**2", ("in^2", "sq in"), "square inch", "square inches"),
    ),
    "mass": (
        Unit("kg", "kilogram", ("kilogram", "kilograms"), "kilogram", "kilograms"),
        Unit("g", "gram", ("gram", "grams"), "gram", "grams"),
        Unit("t", "metric_ton", ("tonne", "tonnes"), "tonne", "tonnes"),
        Unit("lb", "pound", ("lbs", "lbm", "pound", "pounds"), "pound", "pounds"),
    ),
}
SI_UNIT: dict[Kind, str] = {
    "torque": "N.m", "force": "N", "length": "m", "angle": "rad", "stress": "Pa", "temperature": "K", "area": "m2",
    "mass": "kg",
}
_SEPARATORS = re.compile(r"[\s.·⋅∙*×\-_]+")


def units_for(kind: Kind) -> tuple[str, ...]:
    """Names of the units of one kind, the usual one first."""
    return tuple(unit.name for unit in UNITS[kind])


def si_unit(kind: Kind) -> str:
    """Name of the SI unit in which the program keeps this kind."""
    return SI_UNIT[kind]


def _compact(text: str) -> str:
    return _SEPARATORS.sub("", text.strip().replace("²", "2").replace("^", ""))


@lru_cache(maxsize=1)
def _spellings() -> tuple[dict[Kind, dict[str, Unit]], dict[Kind, dict[str, Unit]]]:
    exact: dict[Kind, dict[str, Unit]] = {}
    folded: dict[Kind, dict[str, Unit]] = {}
    for kind, units in UNITS.items():
        exact[kind], folded[kind] = {}, {}
        for unit in units:
            for spelling in (unit.name, *unit.spellings):
                key = _compact(spelling)
                exact[kind].setdefault(key, unit)
                if not unit.strict:
                    folded[kind].setdefault(key.casefold(), unit)
    return exact, folded


def _find(text: str, kind: Kind) -> Unit | None:
    exact, folded = _spellings()
    key = _compact(text)
    return exact[kind].get(key) or folded[kind].get(key.casefold())


def canonical_unit(text: str, kind: Kind) -> str:
    """Our name of the unit written as `text`. UnitError names what is allowed, and a unit of another kind as such."""
    unit = _find(text, kind)
    if unit is not None:
        return unit.name
    if not text.strip():
        raise UnitError(text, kind, "the unit is missing", units_for(kind))
    for other in UNITS:
        if other != kind and (found := _find(text, other)) is not None:
            raise UnitError(text, kind, f"{found.name} is a unit of {other}", units_for(kind))
    raise UnitError(text, kind, f"the unit {text.strip()!r} is not known", units_for(kind))


@lru_cache(maxsize=1)
def _by_name() -> dict[str, tuple[Kind, Unit]]:
    return {unit.name: (kind, unit) for kind, units in UNITS.items() for unit in units}


def unit_named(name: str) -> tuple[Kind, Unit]:
    """Kind and unit of a canonical name; UnitError when there is no such name."""
    found = _by_name().get(name)
    if found is None:
        raise UnitError(name, "unit", "not one of our unit names", tuple(_by_name()))
    return found


def kind_of(name: str) -> Kind:
    """Kind of a canonical unit name."""
    return unit_named(name)[0]


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # here, because loading the registry takes longer than most commands

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@lru_cache(maxsize=64)
def _factor(name: str) -> float:
    """SI value of one unit (multiplicative units only)."""
    _, unit = unit_named(name)
    return float(_registry().Quantity(1.0, unit.registry).to_base_units().magnitude)


def to_si(value: float, unit: str, kind: Kind) -> float:
    """SI value of `value` in `unit` (any accepted spelling)."""
    name = canonical_unit(unit, kind)
    if kind == "temperature":
        return float(_registry().Quantity(value, unit_named(name)[1].registry).to("kelvin").magnitude)
    return value * _factor(name)


def from_si(si: float, unit: str) -> float:
    """Value in `unit` (a canonical name, which also tells the kind) of an SI value."""
    kind, found = unit_named(unit)
    if kind == "temperature":
        return float(_registry().Quantity(si, "kelvin").to(found.registry).magnitude)
    return si / _factor(unit)
