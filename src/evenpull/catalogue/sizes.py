"""Sizes of heads, nuts, washers, countersunk heads and slotted holes by nominal diameter. Metres and radians."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from evenpull.catalogue.heads import Dimension, size_key
from evenpull.catalogue.tables import NotInCatalogue, table
from evenpull.quantities import to_si

SLOTS = ("short", "long")


@dataclass(frozen=True, slots=True)
class Washer:
    """Hole (smallest), outside diameter (largest) and thickness (nominal) in m."""

    d_h: float
    d_outer: float
    h: float
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Countersunk:
    """Largest diameter of the cone (sharp edge) and height of the head in m, included angle in rad."""

    d_k: float
    k: float
    angle: float
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Slot:
    """Width and overall length of a slotted hole in m; both the diameter of a round one."""

    width: float
    length: float
    source: str
    status: str


def _found(data: dict[str, Any], d: float, system: str) -> Any:
    key = size_key(data["size"], d, system)
    if key is None:
        raise NotInCatalogue(f"size of {data['what']}", f"{d * 1e3:g} mm", tuple(data["size"]), data["source"])
    return data["size"][key]


def _kind(what: str, kind: str, kinds: dict[str, Any]) -> dict[str, Any]:
    if kind not in kinds:
        raise NotInCatalogue(what, kind, tuple(kinds))
    found: dict[str, Any] = kinds[kind]
    return found


def height(kind: str, d: float, system: str) -> Dimension:
    """Height of a head or nut for nominal diameter d (m): "hexagon", "socket cap", "hexagon nut", "thin nut", ...

    `system` "metric" or "inch". NotInCatalogue for kinds and sizes that are not tabled.
    """
    data = _kind(f"{system} head or nut with a height", kind, table("sizes")["height"][system])
    return Dimension(to_si(_found(data, d, system), data["unit"], "length"), data["source"], data["status"])


def across_flats(kind: str, d: float, system: str) -> Dimension:
    """Width across flats for nominal diameter d (m): "hexagon", "structural hexagon"; inch also "heavy hexagon" and
    "hexagon nut". NotInCatalogue for kinds and sizes that are not tabled.
    """
    if system == "metric":
        data = _kind("metric hexagon", kind, table("sizes")["across"]["metric"])
        return Dimension(to_si(_found(data, d, system), data["unit"], "length"), data["source"], data["status"])
    flats = {name: data for name, data in table("heads")["inch"].items() if "hexagon" in name}
    data = _kind("inch hexagon", kind, flats)
    value = _found({**data, "size": data["across"]}, d, system)
    return Dimension(to_si(value, "in", "length"), data["source"], data["status"])


def washer(d: float, series: str = "normal") -> Washer:
    """Plain washer for nominal diameter d (m): "normal" (ISO 7089), "large" (ISO 7093), "structural" (EN 14399-6)."""
    data = _kind("series of washers", series, table("sizes")["washer"])
    d_h, d_outer, h = (to_si(value, data["unit"], "length") for value in _found(data, d, "metric"))
    return Washer(d_h, d_outer, h, data["source"], data["status"])


def countersunk_head(d: float) -> Countersunk:
    """Countersunk head of a metric screw of nominal diameter d (m)."""
    data = table("sizes")["countersunk"]["metric"]
    d_k, k = (to_si(value, data["unit"], "length") for value in _found(data, d, "metric"))
    return Countersunk(d_k, k, math.radians(data["angle"]), data["source"], data["status"])


def slotted_hole(kind: str, d: float, system: str) -> Slot:
    """Slotted hole "short" or "long" of structural bolting for nominal diameter d (m).

    Metric from M12 to M36 (EN 1090-2), inch from 1/2 to 1-1/2 (RCSC). NotInCatalogue outside.
    """
    if kind not in SLOTS:
        raise NotInCatalogue("kind of slotted hole", kind, SLOTS)
    data = table("sizes")["slot"][system]
    if system == "inch":
        width, length = (to_si(one, "in", "length") for one in _found(
            {"what": "slotted holes", "source": data["source"], "size": data["rows"]}, d, system))
        return Slot(width, length if kind == "short" else 2.5 * d, data["source"], data["status"])
    _, normal, _, short = _structural(d)
    return Slot(d + normal, d + short if kind == "short" else 2.5 * d, data["source"], data["status"])


def oversize_hole(d: float) -> Slot:
    """Oversize round hole of structural bolting (EN 1090-2), M12 to M36."""
    data = table("sizes")["slot"]["metric"]
    width = d + _structural(d)[2]
    return Slot(width, width, data["source"], data["status"])


def _structural(d: float) -> tuple[float, float, float, float]:
    data = table("sizes")["slot"]["metric"]
    row = next((row for row in data["rows"] if 12e-3 * (1 - 1e-9) <= d <= row[0] * 1e-3 * (1 + 1e-9)), None)
    if row is None:
        raise NotInCatalogue("size of structural holes", f"{d * 1e3:g} mm", ("M12 to M36",), data["source"])
    up_to, normal, oversize, short = (to_si(value, "mm", "length") for value in row)
    return up_to, normal, oversize, short
