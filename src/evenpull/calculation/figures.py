"""Numbers as the sheet prints them: newton, millimetre and megapascal, coherent, so that a pocket calculator with the
printed numbers gives the printed result.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from evenpull.calculation.expression import ExpressionError, computable, recompute, symbols
from evenpull.joint.traced import Traced
from evenpull.quantities import show

DIGITS = 5
SAME = 1e-6  # relative: the coherent numbers give the same value as SI
_BASE = {"m": (1e3, "mm"), "N": (1.0, "N"), "Pa": (1e-6, "MPa"), "J": (1e3, "N·mm")}
_PART = re.compile(r"([A-Za-z%°]+|1)(?:\^?(-?\d))?")
# What a symbol usually is, for inputs that are no step of their own; the most special pattern first.
_USUAL = tuple((re.compile(pattern), unit) for pattern, unit in (
    (r"(mu|nu|Phi|alpha_A|K|w|q|c|C|Gamma|beta|y|phi|S_[A-Z]|n)(_|$)", "1"), (r"F(_|$)", "N"), (r"A(_|$)", "m2"),
    (r"(R|sigma|tau|E|S|p)(_|$)", "Pa"), (r"(M|T)(_|$)", "N.m"), (r"delta(_|$)", "m/N"), (r"k(_|$)", "N/m"),
    (r"I(_|$)", "m4"), (r"(d|D|l|L|P|h|m|b|s|t|r|e|f|a|u)(_|$)", "m"),
))
_CANDIDATES = ("1", "m", "N", "Pa", "N.m", "m2", "m/N", "N/m", "m3", "m4")


def coherent(unit: str) -> tuple[float, str]:
    """(factor, printed unit) from SI to N-mm-MPa: "m/N" gives (1000, "mm/N"). What has no length in it stays."""
    above, *below = unit.split("/")
    factor, named = _parts(above)
    words = "·".join(named)
    for piece in below:
        scale, names = _parts(piece)
        factor /= scale
        words = f"{words or '1'}/{'·'.join(names)}"
    return factor, words


def _parts(text: str) -> tuple[float, list[str]]:
    factor, names = 1.0, []
    for piece in re.split(r"[.·*]", text):
        match = _PART.fullmatch(piece)
        if match is None or piece == "1":
            names += [] if piece == "1" else [piece]
            continue
        power = int(match[2] or 1)
        scale, name = _BASE.get(match[1], (1.0, {"degC": "°C", "deg": "°"}.get(match[1], match[1])))
        factor *= scale**power
        names.append(name + {1: "", 2: "²", 3: "³", 4: "⁴"}.get(power, str(power)))
    return factor, names


def figure(value: float, digits: int = DIGITS) -> str:
    """A number as it is typed: five significant figures, no grouping; powers of ten only outside 1e-4 to 1e7."""
    if not math.isfinite(value):
        return "not finite"
    if value == 0:
        return "0"
    rounded = float(f"{value:.{digits - 1}e}")
    size = math.floor(math.log10(abs(rounded)))
    if size < -4 or size >= 8:
        mantissa = f"{rounded / 10.0**size:.{digits - 1}f}".rstrip("0").rstrip(".")
        text = f"{mantissa}·10^{size}"
    else:
        text = f"{rounded:.{max(digits - 1 - size, 0)}f}"
        if "." in text:
            text = text.rstrip("0").rstrip(".")
    return text.replace("-", "−")


def typed(text: str) -> float:
    """The number that `figure` printed, as a person types it."""
    return float(text.replace("−", "-").replace("·10^", "e"))


@dataclass(frozen=True, slots=True)
class Printed:
    """One step in printed numbers. `inputs`: number as text for each symbol of the formula; `system` is "N-mm-MPa", or
    "SI" where the formula holds constants of its own that have a unit; `checked`: the printed formula was computed
    again and gave the value (None: there is no formula).
    """

    value: str
    unit: str
    aside: str
    inputs: Mapping[str, str]
    system: str
    checked: bool | None


def printed(step: Traced, units: Mapping[str, str]) -> Printed:
    """A step in coherent numbers. `units`: SI unit of every symbol that is a step itself."""
    factor, unit = coherent(step.unit)
    value = step.value * factor
    aside = _aside(step)
    if not computable(step.formula):
        return Printed(figure(value), unit, aside, {}, "N-mm-MPa", None)
    used = {name: step.inputs[name] for name in symbols(step.formula) if name in step.inputs}
    scaled = _scaled(step, used, units, value)
    if scaled is not None:
        return Printed(figure(value), unit, aside, {n: figure(v) for n, v in scaled.items()}, "N-mm-MPa", True)
    inputs = {name: figure(number) for name, number in used.items()}
    spoken = aside or f"{figure(value)} {unit}".strip()
    return Printed(figure(step.value), _si(step.unit), spoken, inputs, "SI", _gives(step.formula, used, step.value))


def _si(unit: str) -> str:
    return "" if unit == "1" else unit.replace(".", "·").replace("m2", "m²").replace("m4", "m⁴")


def _gives(formula: str, inputs: Mapping[str, float], value: float) -> bool:
    try:
        found = recompute(formula, inputs)
    except ExpressionError:
        return False
    return math.isclose(found, value, rel_tol=SAME, abs_tol=1e-9 * abs(value) + 1e-300)


def _scaled(
    step: Traced, used: Mapping[str, float], units: Mapping[str, str], value: float
) -> dict[str, float] | None:
    """The inputs in coherent numbers when the formula then gives the coherent value; else None.

    The unit of an input that is no step is taken as usual for its symbol, or as the one with which the formula holds:
    nothing is printed that was not computed again.
    """
    open_names = [name for name in used if name not in units]
    choices = [_units_of(name) for name in open_names]
    for guess in itertools.islice(itertools.product(*choices), 1500):
        of = {**units, **dict(zip(open_names, guess, strict=True))}
        scaled = {name: number * coherent(of[name])[0] for name, number in used.items()}
        if _gives(step.formula, scaled, value):
            return scaled
    return None


def _units_of(name: str) -> tuple[str, ...]:
    usual = [unit for pattern, unit in _USUAL if pattern.match(name)]
    return tuple(dict.fromkeys([*usual, *_CANDIDATES]))


def _aside(step: Traced) -> str:
    """The value in the unit in which people speak of it, where that is another one."""
    if step.unit == "N" and abs(step.value) >= 1e3:
        return show(step.value, "kN")
    if step.unit == "N.m":
        return show(step.value, "N.m")
    if step.unit == "rad":
        return show(step.value, "deg")
    return ""
