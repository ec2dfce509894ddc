"""Tables of Shigley's chapter 8: endurance strengths of bolts, and metric strengths as the textbook rounds them. SI."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from evenpull.catalogue.tables import table
from evenpull.quantities import to_si

_TINY = 1e-6  # of the size: 16 mm is 16 mm


@dataclass(frozen=True, slots=True)
class EnduranceRow:
    """Fully corrected endurance strength S_e (Pa) of one class for d_from <= d <= d_to (m)."""

    designation: str
    d_from: float
    d_to: float
    S_e: float
    source: str
    status: str

    def holds_for(self, d: float) -> bool:
        return self.d_from * (1 - _TINY) <= d <= self.d_to * (1 + _TINY)


@dataclass(frozen=True, slots=True)
class TextbookStrength:
    """Minimum strengths (Pa) of one metric class for d_from <= d <= d_to (m), as the textbook prints them."""

    designation: str
    d_from: float
    d_to: float
    S_p: float
    S_ut: float
    S_y: float
    source: str
    status: str


@lru_cache(maxsize=1)
def endurance_rows() -> tuple[EnduranceRow, ...]:
    """Shigley Table 8-17."""
    data = table("textbook")["endurance"]
    return tuple(
        EnduranceRow(
            row["class"], to_si(row["from"], row["size_unit"], "length"), to_si(row["to"], row["size_unit"], "length"),
            to_si(row["S_e"], row["unit"], "stress"), data["source"], row["status"],
        )
        for row in data["rows"]
    )


@lru_cache(maxsize=1)
def textbook_strengths() -> tuple[TextbookStrength, ...]:
    """Shigley Table 8-11."""
    data = table("textbook")["metric_strength"]
    size, unit = data["size_unit"], data["unit"]
    return tuple(
        TextbookStrength(
            row["class"], to_si(row["from"], size, "length"), to_si(row["to"], size, "length"),
            to_si(row["S_p"], unit, "stress"), to_si(row["S_ut"], unit, "stress"), to_si(row["S_y"], unit, "stress"),
            data["source"], data["status"],
        )
        for row in data["rows"]
    )
