"""Materials of bolts and clamped parts, and what temperature does to them. Pascal, 1/K and degC in what is returned."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evenpull.catalogue.tables import NotInCatalogue, table
from evenpull.quantities import to_si


@dataclass(frozen=True, slots=True)
class MaterialRow:
    """One material at 20 degC; None where the source gives no value. `p_G_editions`: limiting surface pressure by
    edition of VDI 2230, where more than one is known.
    """

    name: str
    aliases: tuple[str, ...]
    group: str
    E: float
    alpha: float
    R_m: float | None
    R_p02: float | None
    tau_B: float | None
    p_G: float | None
    p_G_read: bool
    p_G_editions: dict[str, float]
    curve: str | None  # name of the curve of the modulus over temperature
    source: str


@dataclass(frozen=True, slots=True)
class TemperatureCurve:
    """Ratio to the value at room temperature at the points (degC, ratio) of a table, in rising temperature."""

    name: str
    points: tuple[tuple[float, float], ...]
    classes: tuple[str, ...]  # strength classes it is stated for, where the name is not itself one
    source: str
    status: str


def plain_name(text: str) -> str:
    """A name without what people write differently: case, blanks, hyphens, "EN" in front, decimal comma."""
    bare = re.sub(r"[\s\-_/()+]+", "", text.casefold().replace(",", "."))
    return re.sub(r"^en(?=aw|ac|gj)", "", bare)


@lru_cache(maxsize=1)
def material_rows() -> tuple[MaterialRow, ...]:
    """All materials in the order of the table."""
    data = table("materials")
    return tuple(_row(row, data["sources"][row["source"]]) for row in data["table"]["rows"])


def _row(row: dict[str, Any], source: str) -> MaterialRow:
    def stress(key: str) -> float | None:
        return to_si(row[key], "MPa", "stress") if key in row else None

    editions: dict[str, float] = {}
    if row["source"] == "vdi1986":
        editions["1986"] = to_si(row["p_G"], "MPa", "stress")
    elif row["source"] == "vdi2003":
        editions["2003"] = to_si(row["p_G"], "MPa", "stress")
    elif row["source"] == "later":
        editions["2015"] = to_si(row["p_G"], "MPa", "stress")
    if "p_G_1986" in row:
        editions["1986"] = to_si(row["p_G_1986"], "MPa", "stress")
    return MaterialRow(
        row["name"], tuple(row.get("aliases", ())), row["group"], row["E"] * 1e9, row["alpha"] * 1e-6, stress("R_m"),
        stress("R_p02"), stress("tau_B"), stress("p_G"), row.get("p_G_read", False), editions, row.get("curve"),
        source,
    )


def materials_named(name: str) -> tuple[MaterialRow, ...]:
    """All rows that the name or one of their other names means; one name may stand for several states of a material.

    "AW-6082 (AlMgSi1 F31)" names a material twice: both names have to mean the same row. NotInCatalogue when none does.
    """
    found = _matching(name)
    if not found and (match := re.fullmatch(r"\s*([^()]+?)\s*\(([^()]+)\)\s*", name)):
        second = _matching(match[2])
        found = tuple(row for row in _matching(match[1]) if row in second)
    if not found:
        raise NotInCatalogue("material", name, tuple(row.name for row in material_rows()), "or state its values")
    return found


def _matching(name: str) -> tuple[MaterialRow, ...]:
    wanted = plain_name(name)
    return tuple(
        row for row in material_rows() if wanted in {plain_name(text) for text in (row.name, *row.aliases)}
    )


@lru_cache(maxsize=2)
def temperature_curves(kind: str) -> dict[str, TemperatureCurve]:
    """Curves by name: `kind` "modulus" or "strength" (yield strength)."""
    found = {}
    for name, data in table("temperature")[kind].items():
        points = dict(data["points"])
        room = points[data["at_room"]]
        found[name] = TemperatureCurve(
            name, tuple((to_si(T, data["unit"], "temperature") - 273.15, value / room) for T, value in points.items()),
            tuple(data.get("classes", ())), data["source"], "memory",
        )
    return found
