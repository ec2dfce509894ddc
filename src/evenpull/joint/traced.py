"""A number that knows where it came from.

Every result that a person may have to defend is a `Traced`: its value in SI, the symbol of the field, the formula as
text, the source (standard and clause, textbook equation) and the numbers that went in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Traced:
    """`value` in SI (`unit` names it: "N", "m", "Pa", "N.m", "m2", "1"); `status` is read, memory,
    computed, stated (given by the specification) or common practice."""

    symbol: str
    name: str
    value: float
    unit: str
    formula: str
    source: str
    status: str = "computed"
    inputs: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Band:
    """Minimum, nominal and maximum of one quantity in SI."""

    low: float
    nominal: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.nominal <= self.high:
            raise ValueError(f"a band must rise: {self.low} <= {self.nominal} <= {self.high}")
