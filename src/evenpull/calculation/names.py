"""Names of a calculation file looked up in the tables: thread, strength, bearing faces, holes, materials, nut classes.

Each look-up gives the value with its source, or notes a fault in the file and gives None.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.calculation.schema import MaterialTable
from evenpull.catalogue.heads import HOLE_SERIES, Dimension, bearing_diameter, clearance_hole
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import Material
from evenpull.joint.parts.materials import material
from evenpull.joint.parts.strengths import nut_row, strength
from evenpull.joint.parts.threads import thread
from evenpull.joint.target import Strength, ThreadSize
from evenpull.plan.locate import Path as Place
from evenpull.plan.toml_text import Known, Source
from evenpull.plan.values import shown
from evenpull.quantities import UnitError, parse

FROM_MEMORY = " (from memory)"


def origin(source: str, status: str) -> str:
    """The source with a word when its value was recalled and not re-read."""
    return source + (FROM_MEMORY if status == "memory" and FROM_MEMORY not in source else "")


def _refuse(source: Source, place: Place, given: object, error: NotInCatalogue, way: str = "") -> None:
    allowed = ", ".join(error.allowed) + (f" ({error.hint})" if error.hint else "")
    near = f"; {way}" if way else ""
    article = "an" if error.what[:1] in "aeiou" else "a"
    source.fault(place, given, f"{shown(given)} is not {article} {error.what} of the tables{near}", allowed)


def find_thread(source: Source, name: str | None) -> ThreadSize | None:
    if name is None:
        return None
    try:
        return thread(name)
    except NotInCatalogue as error:
        _refuse(source, ("bolt", "thread"), name, error)
        return None


def find_strength(source: Source, bolt: Known, size: ThreadSize | None) -> Strength | None:
    """By class, or as stated: R_m with R_p02. Both, or neither, is a fault."""
    stated = [name for name in ("R_m", "R_p02", "S_p") if bolt.has(name)]
    if bolt.has("strength_class"):
        if stated:
            source.fault(("bolt", stated[0]), getattr(bolt, stated[0]), f"{stated[0]} and class are both given",
                         "a class, or R_m with R_p02")
        if bolt.strength_class is None or size is None:
            return None
        try:
            return strength(bolt.strength_class, size)
        except NotInCatalogue as error:
            _refuse(source, ("bolt", "class"), bolt.strength_class, error, "state R_m and R_p02 where you know them")
            return None
    if not (bolt.has("R_m") and bolt.has("R_p02")):
        source.fault(("bolt", "class"), None, "the strength of the bolt is missing", "a class, or R_m with R_p02")
        return None
    R_m, R_p02, S_p = bolt.R_m, bolt.R_p02, bolt.S_p
    if R_m is None or R_p02 is None:
        return None
    if R_p02 >= R_m:
        source.fault(("bolt", "R_p02"), R_p02, "the yield strength is not below the tensile strength", "less than R_m")
        return None
    if S_p is not None and S_p > R_p02:
        source.fault(("bolt", "S_p"), S_p, "the proof stress is above the yield strength", "at most R_p02")
        return None
    return Strength("the strengths stated", R_m, R_p02, S_p, bolt.basis or "stated in the calculation", "stated")


def face(source: Source, place: Place, form: str | None, stated: float | None, size: ThreadSize | None,
         right: bool) -> Dimension | None:
    """Bearing face of a head or nut: stated, or by the name of its form. `right`: the stated key, if any, is right."""
    if stated is not None:
        return Dimension(stated, "stated", "stated")
    if form is None or size is None or not right:
        return None
    try:
        return bearing_diameter(form, size.d, size.system)
    except NotInCatalogue as error:
        _refuse(source, place, form, error, "state d_w")
        return None


def hole(source: Source, place: Place, text: str | None, size: ThreadSize | None) -> Dimension | None:
    """Diameter of a clearance hole: a series, or a length."""
    if text is None or size is None:
        return None
    if text.strip() in HOLE_SERIES:
        try:
            return clearance_hole(text.strip(), size.d, size.system)
        except NotInCatalogue as error:
            _refuse(source, place, text, error, "state the diameter")
            return None
    try:
        found = parse(text, "length").si
    except UnitError as error:
        source.fault(place, text, f"{shown(text)} is neither a series nor a length: {error.reason}",
                     f"{', '.join(HOLE_SERIES)}, or a diameter such as \"26 mm\"")
        return None
    if not size.d < found < 4 * size.d:
        source.fault(place, text, f"a hole of {text} does not take {size.designation}",
                     f"more than {size.d * 1e3:g} mm and less than {size.d * 4e3:g} mm")
        return None
    return Dimension(found, "stated", "stated")


@dataclass
class Materials:
    """Materials by name: those of the file first, then those of the catalogue."""

    own: dict[str, Material]

    @classmethod
    def of(cls, source: Source) -> Materials:
        raw = source.data.get("material")
        own: dict[str, Material] = {}
        for index, item in enumerate(raw if isinstance(raw, list) else []):
            known = Known(MaterialTable, item)
            if known.name is None:
                continue
            if known.name in own:
                source.fault(("material", index, "name"), known.name, f"{known.name!r} is described twice", "each once")
            own[known.name] = Material(
                known.name, known.E, known.alpha, known.R_m, known.R_p02, known.p_G, known.tau_B,
                known.basis or "stated", "stated",
            )
        return cls(own)

    def find(self, source: Source, place: Place, name: str | None) -> Material | None:
        if name is None:
            return None
        if name in self.own:
            return self.own[name]
        way = "describe it in a [[material]] of this file"
        try:
            return material(name)
        except NotInCatalogue as error:
            _refuse(source, place, name, error, way)
            return None


def nut_proof_stress(source: Source, nut_class: str | None, size: ThreadSize | None) -> Dimension | None:
    """Proof stress of a metric nut by its class (Pa), with its source."""
    if nut_class is None or size is None:
        return None
    try:
        row = nut_row(size, nut_class)
    except NotInCatalogue as error:
        _refuse(source, ("counterpart", "class"), nut_class, error, "state nut_proof_stress")
        return None
    return Dimension(row.S_p, row.source, row.status)
