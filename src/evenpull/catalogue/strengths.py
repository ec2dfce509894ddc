"""Minimum strengths of bolts and nuts as the standards list them. Pascal and metres in what is returned."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from evenpull.catalogue.tables import table
from evenpull.quantities import to_si

GROUPS = ("iso898", "stainless", "sae_j429", "astm_a193_a320", "astm_other", "aviation")


@dataclass(frozen=True, slots=True)
class StrengthRow:
    """One row: over < d <= up_to (m); stresses in Pa; None where the standard gives no such value.

    Above `agreed_over` (m) the values need agreement with the maker.
    """

    designation: str
    group: str
    over: float
    up_to: float
    R_m: float
    R_p02: float | None
    S_p: float | None
    agreed_over: float | None
    source: str
    status: str
    note: str
    beyond: str = ""  # what holds for sizes outside the standard


@lru_cache(maxsize=1)
def strength_rows() -> tuple[StrengthRow, ...]:
    """All rows in the order of the tables."""
    found = []
    for group in GROUPS:
        data = table("strength")[group]
        unit, size = data["unit"], data["size_unit"]
        for row in data["rows"]:
            def stress(name: str, row: dict[str, float] = row, unit: str = unit) -> float | None:
                return to_si(row[name], unit, "stress") if name in row else None

            # "from" is a lowest size that still belongs to the row, "over" one that no longer does
            over = row["from"] * (1 - 1e-9) if "from" in row else row.get("over", 0.0)
            agreed = row.get("agreed_over")
            found.append(
                StrengthRow(
                    row["class"], group, to_si(over, size, "length"), to_si(row["up_to"], size, "length"),
                    to_si(row["R_m"], unit, "stress"), stress("R_p02"), stress("S_p"),
                    None if agreed is None else to_si(agreed, size, "length"),
                    data["source"], row["status"], data.get("note", ""), data.get("beyond", ""),
                )
            )
    return tuple(found)


def structural_tensile_strength(designation: str, d: float) -> float | None:
    """R_m in Pa behind the ultimate load of a bolt for structural bolting, where ISO 898-1 prints another one for the
    diameter d (m); None for other classes and sizes, whose loads are the ordinary ones.
    """
    data = table("strength")["iso898_structural"]
    if designation == data["class"] and data["from_mm"] * (1 - 1e-9) <= d * 1e3 <= data["up_to_mm"] * (1 + 1e-9):
        return float(data["R_m_MPa"]) * 1e6
    return None


@dataclass(frozen=True, slots=True)
class NutRow:
    """Stress under proof load of nuts of one class and style in one range of diameters (m), Pa."""

    nut_class: str
    style: str  # "style 1", "style 2", "thin"
    thread: str  # "coarse", "fine", or "any" for stainless nuts
    over: float
    up_to: float
    S_p: float
    source: str
    status: str


@lru_cache(maxsize=1)
def nut_rows() -> tuple[NutRow, ...]:
    """All rows of the nut tables."""
    found = []
    for group, data in table("nuts").items():
        for style_key, style in (("style1", "style 1"), ("style2", "style 2"), ("thin", "thin")):
            for nut_class, stresses in data.get(style_key, {}).items():
                for (over, up_to), stress in zip(data["sizes"], stresses, strict=True):
                    if stress != "":
                        found.append(
                            NutRow(
                                nut_class, style, "any" if group == "stainless" else group, over * 1e-3, up_to * 1e-3,
                                to_si(stress, "MPa", "stress"), data["source"], data["status"],
                            )
                        )
    return tuple(found)


def oversize_areas() -> tuple[dict[str, float], float, str]:
    """Reduced stress areas (m2) by designation of coarse threads with oversize-tapped nuts, the diameter (m) from which
    nothing is reduced, and the source.
    """
    data = table("strength")["oversize_tapped"]
    areas = {name: area * 1e-6 for name, area in data["areas"].items()}
    return areas, data["from"] * 1e-3, data["source"]
