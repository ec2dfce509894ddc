"""Tables of preloaded structural bolting, US and European. Newton, pascal and radian in what is returned."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evenpull.catalogue.tables import NotInCatalogue, table
from evenpull.catalogue.threads import size_in_inch
from evenpull.quantities import to_si

EDITIONS = ("2005", "2010", "2014", "2016", "2020", "2022")  # years of the US documents that are told apart


@dataclass(frozen=True, slots=True)
class Pretension:
    """Least pretension (N) of one US structural bolt and the tensile strength (Pa) it was rounded from."""

    bolt: str
    edition: str  # "2005": up to the 2010 text; "2016": from the 2016 text on; "any"
    size: str
    value: float
    F_u: float
    unit: str  # to whole ones of which the table is rounded
    source: str
    status: str


@lru_cache(maxsize=1)
def pretensions() -> tuple[Pretension, ...]:
    """All least pretensions of the US tables."""
    data = table("structural")["pretension"]
    found = []
    for rows in data["tables"]:
        for size, value in rows["values"].items():
            large = rows["system"] == "inch" and size_in_inch(size) > 1
            strength = rows["F_u_over_1_in"] if large else rows["F_u"]
            found.append(Pretension(
                rows["bolt"], rows["edition"], size, to_si(value, rows["unit"], "force"),
                to_si(strength, rows["F_u_unit"], "stress"), rows["unit"], data["source"], rows["status"],
            ))
    return tuple(found)


def structural_bolts() -> tuple[str, ...]:
    """The bolts of the US tables."""
    return tuple(dict.fromkeys(row.bolt for row in pretensions()))


def pretension(bolt: str, size: str, edition: str = "") -> Pretension:
    """Least pretension of "A325", "A490", "F3148", "A325M" or "A490M" in this size ("3/4", "M24").

    `edition` is the year of the document, needed only where the editions differ. NotInCatalogue otherwise.
    """
    of_bolt = [row for row in pretensions() if row.bolt == bolt]
    if not of_bolt:
        raise NotInCatalogue("structural bolt", bolt, structural_bolts())
    of_size = [row for row in of_bolt if row.size == size]
    if not of_size:
        raise NotInCatalogue(f"size of {bolt} bolts", size, tuple(dict.fromkeys(row.size for row in of_bolt)),
                             of_bolt[0].source)
    if edition and edition not in EDITIONS:
        raise NotInCatalogue("edition", edition, EDITIONS, "the year of the AISC or RCSC document")
    if len({row.value for row in of_size}) == 1:
        return of_size[0]
    if not edition:
        values = tuple(f"{row.edition}: F_u {row.F_u / 1e6:.0f} MPa" for row in of_size)
        raise NotInCatalogue(f"edition for {bolt} {size}", edition, values,
                             "the editions differ for this size: state the year of the document")
    wanted = "2016" if int(edition) >= 2016 else "2005"
    return next(row for row in of_size if row.edition == wanted)


FACES = ("both normal", "one sloped", "both sloped")


@dataclass(frozen=True, slots=True)
class Turn:
    """Rotation of the nut from snug (rad) and its tolerance below and above (rad)."""

    angle: float
    below: float
    above: float
    source: str
    status: str
    tolerance_source: str
    tolerance_status: str


def turn_of_nut(length_over_d: float, faces: str, edition: str = "2014") -> Turn:
    """Turn of the nut for a bolt of this length (underside of head to end) over its diameter.

    NotInCatalogue beyond 12 diameters (the document asks for a test), for unknown faces and editions.
    """
    data = table("structural")["turn_of_nut"]
    if faces not in FACES:
        raise NotInCatalogue("kind of faces", faces, FACES)
    if edition not in EDITIONS:
        raise NotInCatalogue("edition", edition, EDITIONS)
    if not 0 < length_over_d <= data["longest"] * (1 + 1e-9):
        raise NotInCatalogue(
            "bolt length", f"{length_over_d:.3g} d", tuple(f"up to {row['up_to']} d" for row in data["rows"]),
            f"beyond {data['longest']} d the rotation is found by a test of the real plates and bolts",
        )
    row = next(row for row in data["rows"] if length_over_d <= row["up_to"] * (1 + 1e-9))
    sixths = row["sixths"][faces]
    kept = data["tolerance"]["2020" if int(edition) >= 2020 else "2014"]
    below, above = kept["half_turn_and_less" if sixths <= 3 else "two_thirds_and_more"]
    return Turn(sixths * math.pi / 3, math.radians(below), math.radians(above), data["source"], data["status"],
                kept["source"], data["tolerance"]["status"])


def verification() -> dict[str, Any]:
    """Factor, number of assemblies, source and status of the pre-installation verification (RCSC)."""
    return dict(table("structural")["verification"])


def slip_us() -> dict[str, Any]:
    """D_u and the factors phi by kind of hole, source and status (AISC 360 J3)."""
    return dict(table("structural")["slip_us"])


def en() -> dict[str, Any]:
    """The numbers of EN 1993-1-8 and EN 1090-2 on preloaded bolts, as the table file names them."""
    return dict(table("structural")["en"])


def en_strength(bolt_class: str) -> tuple[float, float]:
    """Nominal f_ub and f_yb (Pa) of a class for preloading. NotInCatalogue for other classes than 8.8 and 10.9."""
    data = en()
    if bolt_class not in data["f_ub"]:
        raise NotInCatalogue("class of bolts for preloading", bolt_class, tuple(data["f_ub"]), data["source"])
    return data["f_ub"][bolt_class] * 1e6, data["f_yb"][bolt_class] * 1e6


def en_national_preload(bolt_class: str, size: str) -> float:
    """Rounded F_p,C* in N of the national table. NotInCatalogue for classes and sizes that it does not hold."""
    data = en()["national"]
    known = tuple(name for name in data if name not in ("source", "status"))
    if bolt_class not in known:
        raise NotInCatalogue("class with F_p,C*", bolt_class, known, data["source"])
    if size not in data[bolt_class]:
        raise NotInCatalogue("size with F_p,C*", size, tuple(data[bolt_class]), data["source"])
    return float(data[bolt_class][size]) * 1e3


def combined_rotation(t_over_d: float) -> float:
    """Further rotation (rad) in the second step of the combined method for the clamped thickness over the diameter.

    NotInCatalogue beyond 10 d, for which the document asks for a test.
    """
    data = en()["combined"]
    for row in data["rows"]:
        if row["from"] <= t_over_d < row.get("below", 0) or row["from"] <= t_over_d <= row.get("up_to", 0) * (1 + 1e-9):
            return math.radians(row["degrees"])
    raise NotInCatalogue("clamped thickness", f"{t_over_d:.3g} d", ("up to 10 d",),
                         f"{data['source']}; beyond it the rotation is found by a test")


K_CLASSES = ("K0", "K1", "K2")


def k_limits(k_class: str, what: str) -> tuple[float, float]:
    """Limits of "individual" k_i (K1), of the "mean" k_m (K2) or of its "variation" V_k (K2, from 0)."""
    classes = en()["k_classes"]
    if k_class not in K_CLASSES:
        raise NotInCatalogue("k-class", k_class, K_CLASSES)
    if what not in classes[k_class]:
        known = tuple(name for name in classes[k_class] if name != "note")
        raise NotInCatalogue(f"limit of class {k_class}", what, known, classes[k_class].get("note", classes["source"]))
    limit = classes[k_class][what]
    return (limit[0], limit[1]) if isinstance(limit, list) else (0.0, limit)
