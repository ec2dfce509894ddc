"""Proof stress of inch nuts as the standards list it. Pascal and metres in what is returned."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from evenpull.catalogue.tables import table
from evenpull.quantities import to_si

SHAPES = ("hexagon", "heavy hexagon")


@dataclass(frozen=True, slots=True)
class InchNutRow:
    """Proof stress (Pa) of one grade, shape and series for over < d <= up_to (m). `zinc`: of nuts tapped oversize for
    hot-dip galvanising, None where the standard gives none. `standard_shape`: the shape meant where none is named.
    """

    grade: str
    shape: str
    series: str  # "coarse", "fine" or "any"
    over: float
    up_to: float
    S_p: float
    zinc: float | None
    standard_shape: str
    source: str
    status: str


@lru_cache(maxsize=1)
def inch_nut_rows() -> tuple[InchNutRow, ...]:
    """All rows in the order of the tables."""
    return tuple(
        InchNutRow(
            row["grade"], row["shape"], row["series"], to_si(row.get("over", 0.0), "in", "length"),
            to_si(row["up_to"], "in", "length"), to_si(row["S_p"], "ksi", "stress"),
            to_si(row["zinc"], "ksi", "stress") if "zinc" in row else None, data["shape"], data["source"],
            data["status"],
        )
        for data in table("nuts_inch").values() for row in data["rows"]
    )
