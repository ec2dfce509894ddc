"""Bearing faces of heads and nuts, and clearance holes. Metres in what is returned."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.catalogue.tables import NotInCatalogue, table
from evenpull.catalogue.threads import size_in_inch
from evenpull.quantities import to_si

HOLE_SERIES = ("fine", "medium", "coarse")


@dataclass(frozen=True, slots=True)
class Dimension:
    """One length (m) from a table with its source and status."""

    value: float
    source: str
    status: str


def heads(system: str) -> tuple[str, ...]:
    """Kinds of head and nut whose bearing face is known, "metric" or "inch"."""
    return tuple(table("heads")[system])


def size_key(sizes: dict[str, float], d: float, system: str) -> str | None:
    """The key of the size with nominal diameter d (m)."""
    for key in sizes:
        nominal = float(key) * 1e-3 if system == "metric" else to_si(size_in_inch(key), "in", "length")
        if abs(nominal - d) < 1e-6:
            return key
    return None


def bearing_diameter(head: str, d: float, system: str) -> Dimension:
    """Outside diameter d_w of the bearing face for nominal diameter d (m). NotInCatalogue for what is not tabled."""
    kinds = table("heads")[system]
    if head not in kinds:
        raise NotInCatalogue(f"{system} head", head, tuple(kinds))
    data = kinds[head]
    sizes = data["d_w"] if system == "metric" else data["across"]
    key = size_key(sizes, d, system)
    if key is None:
        raise NotInCatalogue(f"size of {data['what']}", f"{d * 1e3:g} mm", tuple(sizes), data["source"])
    status = "read" if key in data.get("read", ()) else data["status"]
    if system == "metric":
        return Dimension(to_si(sizes[key], "mm", "length"), data["source"], status)
    return Dimension(to_si(sizes[key] * data["share"], "in", "length"),
                     f"{data['source']}; taken as {data['share']:.0%} of it", status)


def clearance_hole(series: str, d: float, system: str) -> Dimension:
    """Clearance hole "fine", "medium" or "coarse" (inch: close, normal, loose) for nominal diameter d (m)."""
    if series not in HOLE_SERIES:
        raise NotInCatalogue("hole series", series, HOLE_SERIES)
    data = table("holes")[system]
    key = size_key(data["holes"], d, system)
    if key is None:
        raise NotInCatalogue("size with a clearance hole", f"{d * 1e3:g} mm", tuple(data["holes"]), data["source"])
    value = data["holes"][key][HOLE_SERIES.index(series)]
    return Dimension(to_si(value, data["unit"], "length"), data["source"], data["status"])
