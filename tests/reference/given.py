"""What a reference row gives: its inputs by name and unit, each of which has to be used.

A key is a symbol with its unit, "T_lbf_in", "d_mm". Every key that a computation asks for is remembered; a key nobody
asked for is an error, so that a row is never computed with a part of it left out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from evenpull.quantities import Kind, UnitError, canonical_unit, from_si, to_si, units_for

_T = TypeVar("_T")
INCH = 0.0254
AS_PRINTED = 0.002  # two statements of one length, angle or number may differ by this share: a printed 0.312 for 5/16
AREA_AS_PRINTED = 0.006  # stress areas are printed with three figures, not always rounded to the nearest
KINDS: tuple[Kind, ...] = ("torque", "force", "stress", "length", "angle", "area", "mass", "temperature")


class NotEvaluatedError(LookupError, ValueError):
    """A topic, quantity or input that cannot be computed as it stands; the message names what is known."""


@dataclass(frozen=True, slots=True)
class Value:
    """One input: SI value and canonical unit; a bare number has the unit None and is kept as it is."""

    si: float
    unit: str | None
    key: str


def agree(one: float, other: float, share: float = AS_PRINTED) -> bool:
    """Both state the same value, within the rounding of printed tables."""
    return abs(one - other) <= share * max(abs(one), abs(other)) + 1e-12


def _unit(text: str, kind: Kind) -> str | None:
    try:
        return canonical_unit(text, kind)
    except UnitError:
        return None


@dataclass(slots=True)
class Given:
    """Quantity and inputs of one row."""

    topic: str
    quantity: str
    inputs: Mapping[str, Any]
    used: set[str] = field(default_factory=set)
    known: dict[str, None] = field(default_factory=dict)

    @property
    def q(self) -> str:
        """The quantity in small letters."""
        return self.quantity.casefold()

    def says(self, *patterns: str) -> bool:
        """Whether the quantity has one of these words (patterns, whole words, any case)."""
        return any(re.search(rf"(?<!\w)(?:{pattern})(?!\w)", self.q) for pattern in patterns)

    def first_said(self, patterns: Mapping[str, str]) -> str | None:
        """The name whose pattern comes first in the quantity; the case of the letters counts."""
        found = [(match.start(), name) for name, pattern in patterns.items()
                 if (match := re.search(pattern, self.quantity))]
        return min(found)[1] if found else None

    # errors ------------------------------------------------------------------------------------------------------

    def error(self, reason: str) -> NotEvaluatedError:
        keys = ", ".join(self.known) or "none"
        given = ", ".join(map(str, self.inputs)) or "none"
        return NotEvaluatedError(
            f"{self.topic}: {reason}; quantity {self.quantity!r}; keys known: {keys} (behind the symbol any unit of "
            f"the same kind); keys given: {given}"
        )

    def unknown(self) -> NotEvaluatedError:
        return self.error("this quantity with these inputs is not covered")

    def require_all_used(self) -> None:
        unused = [str(key) for key in self.inputs if key not in self.used]
        if unused:
            raise self.error(f"input {', '.join(map(repr, unused))} is not used")

    # inputs ------------------------------------------------------------------------------------------------------

    def _take(self, *names: str) -> list[tuple[str, Any]]:
        self.known.update(dict.fromkeys(names))
        found = [(name, self.inputs[name]) for name in names if name in self.inputs]
        self.used.update(name for name, _ in found)
        return found

    def _checked(self, key: str, value: Any, positive: bool) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise self.error(f"input {key!r} has to be a finite number, not {value!r}")
        if positive and not value > 0:
            raise self.error(f"input {key!r} has to be greater than zero, not {value!r}")
        return float(value)

    def _one(self, found: list[Value], share: float) -> Value | None:
        for other in found[1:]:
            if (other.unit is None) != (found[0].unit is None) or not agree(found[0].si, other.si, share):
                raise self.error(f"inputs {found[0].key!r} and {other.key!r} do not agree")
        return found[0] if found else None

    def _keys_with_unit(self, kind: Kind, symbols: tuple[str, ...]) -> list[tuple[str, str]]:
        """Keys "symbol_unit" with the canonical unit."""
        usual = units_for(kind)[0].replace(".", "")
        self.known.update(dict.fromkeys(f"{symbol}_{usual}" for symbol in symbols))
        found = []
        for key in self.inputs:
            for symbol in symbols:
                rest = str(key).removeprefix(f"{symbol}_")
                if rest != key and (unit := _unit(rest, kind)) is not None:
                    found.append((key, unit))
        return found

    def measure(self, kind: Kind, *symbols: str, bare: bool = False, positive: bool = True) -> Value | None:
        """The input "symbol_unit" of this kind, or the bare symbol when allowed; several have to agree."""
        found = []
        for key, unit in self._keys_with_unit(kind, symbols):
            self.used.add(key)
            number = self._checked(key, self.inputs[key], positive)
            found.append(Value(to_si(number, unit, kind), unit, key))
        if bare:
            found += [Value(self._checked(key, raw, positive), None, key) for key, raw in self._take(*symbols)]
        return self._one(found, AREA_AS_PRINTED if kind == "area" else AS_PRINTED)

    def si(self, kind: Kind, *symbols: str) -> float | None:
        """SI value of `measure`."""
        found = self.measure(kind, *symbols)
        return None if found is None else found.si

    def number(self, *names: str, below: float = math.inf) -> float | None:
        """A number without unit, greater than zero and less than `below`."""
        found = [Value(self._checked(key, raw, True), None, key) for key, raw in self._take(*names)]
        for value in found:
            if not value.si < below:
                raise self.error(f"input {value.key!r} has to be less than {below:g}, not {value.si:g}")
        one = self._one(found, 1e-9)
        return None if one is None else one.si

    def texts(self, *names: str) -> list[str]:
        """The inputs of these names as text; a class or grade may be written as a number."""
        found = []
        for key, raw in self._take(*names):
            if isinstance(raw, str) and raw.strip():
                found.append(raw.strip())
            elif isinstance(raw, (int, float)) and not isinstance(raw, bool):
                found.append(f"{raw:g}")
            else:
                raise self.error(f"input {key!r} has to be a text, not {raw!r}")
        return found

    def text(self, *names: str) -> str | None:
        found = self.texts(*names)
        if len(set(found)) > 1:
            raise self.error(f"inputs {' and '.join(names)} do not agree: {', '.join(map(repr, found))}")
        return found[0] if found else None

    def flag(self, *names: str) -> bool | None:
        """An input that is true or false; None when it is not given."""
        found = self._take(*names)
        for key, raw in found:
            if not isinstance(raw, bool):
                raise self.error(f"input {key!r} has to be true or false, not {raw!r}")
        if len({raw for _, raw in found}) > 1:
            raise self.error(f"inputs {' and '.join(names)} do not agree")
        return found[0][1] if found else None

    def raw(self, name: str) -> Any:
        """The input as it stands, None when it is not given."""
        found = self._take(name)
        return found[0][1] if found else None

    def need(self, value: _T | None, what: str) -> _T:
        """The value, or the error that this input is missing."""
        if value is None:
            raise self.error(f"{what} is missing")
        return value

    def series(self, kind: Kind, *symbols: str) -> tuple[list[float], str] | None:
        """A list of readings "symbol_unit" as they stand, with their unit."""
        found = [(key, unit) for key, unit in self._keys_with_unit(kind, symbols)
                 if isinstance(self.inputs[key], (list, tuple))]
        if len(found) > 1:
            raise self.error(f"there is more than one list of {kind}")
        if not found:
            return None
        key, unit = found[0]
        self.used.add(key)
        return [self._checked(key, raw, False) for raw in self.inputs[key]], unit

    # result ------------------------------------------------------------------------------------------------------

    def named_unit(self, kind: Kind) -> str | None:
        """The unit that the quantity asks for: "torque in lbf.in", "torque (lbf.in)", "torque, lbf.in"."""
        texts = re.findall(r"[\[(]([^()\[\]]+)[\])]", self.quantity)
        texts += re.findall(r",\s*([^,()\[\]]+)$", self.quantity)
        texts += re.findall(r"(?<=[^\s\d])\s(\S+)$", self.quantity)  # but not "... to 90 N.m"
        for pair in re.findall(r"(?<![\w.])in\s+(\S+)(?:\s+(\S+))?", self.quantity):
            both, one = " ".join(pair).strip(" ,;()"), pair[0].strip(" ,;()")
            texts.append(both if any(_unit(both, other) for other in KINDS) else one)
        asked = set()
        for text in texts:
            if (unit := _unit(text, kind)) is not None and (len(text) > 1 or text == unit):
                asked.add(unit)
            elif len(text) > 1 and any(_unit(text, other) for other in KINDS):
                raise self.error(f"{text!r} is not a unit of {kind}")
        if len(asked) > 1:
            raise self.error(f"more than one unit is named: {', '.join(sorted(asked))}")
        return asked.pop() if asked else None

    def out(self, si: float, kind: Kind, usual: str) -> float:
        """The result in the unit that the quantity names, else in the usual one of the topic."""
        return from_si(si, self.named_unit(kind) or usual)
