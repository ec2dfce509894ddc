"""What the values of a ring file say together: names that no table knows, keys that do not go with each other.

Values that are missing or wrong in themselves are None here and were noted before, so every check works with what is
left; one reading shows every fault. What the sizes of the ring say together is checked in `ring.sane`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from evenpull.calculation.names import Materials, face, find_strength, find_thread, hole
from evenpull.catalogue.heads import Dimension
from evenpull.joint.case import Material
from evenpull.joint.target import Strength, ThreadSize
from evenpull.plan.bearing import NUT_OF_HEAD
from evenpull.plan.toml_text import Known, Source
from evenpull.plan.values import shown
from evenpull.prediction.procedures import Asked, ProcedureError, RingProcedure, make_procedure
from evenpull.prediction.schema import (
    FacingTable,
    RingBoltTable,
    RingCounterpartTable,
    RingFlangeTable,
    RingProcedureTable,
    RingTable,
    RingTargetTable,
    ScatterTable,
)
from evenpull.quantities import show
from evenpull.ring.sane import curve_contradictions

TAPPED = "tapped hole"


@dataclass
class Found:
    """What the names of the file mean. None or missing: it was noted as a fault, or there is none."""

    size: ThreadSize | None = None
    strength: Strength | None = None
    bolt_material: Material | None = None
    nut_material: Material | None = None
    head_face: Dimension | None = None
    nut_face: Dimension | None = None
    flange_materials: dict[str, Material] = field(default_factory=dict)  # by table: "flange", "second_flange"
    holes: dict[str, Dimension] = field(default_factory=dict)
    procedures: list[RingProcedure] = field(default_factory=list)


def check_together(source: Source) -> Found:
    """Note everything that is wrong between the keys, and give what the names mean."""
    data = source.data
    bolt, counterpart = Known(RingBoltTable, data.get("bolt")), Known(RingCounterpartTable, data.get("counterpart"))
    found = Found(size=find_thread(source, bolt.thread))
    if "bolt" in data:
        found.strength = find_strength(source, bolt, found.size)
    materials = Materials.of(source)
    found.bolt_material = _material(source, materials, ("bolt", "material"), bolt.material)
    found.nut_material = found.bolt_material
    if counterpart.material is not None:
        found.nut_material = _material(source, materials, ("counterpart", "material"), counterpart.material)
    found.head_face = face(
        source, ("bolt", "head"), bolt.head, bolt.d_w, found.size, not (bolt.has("d_w") and bolt.d_w is None)
    )
    _counterpart(source, bolt, counterpart, found)
    _washer(source, bolt, found)
    _flanges(source, materials, found)
    _facing(source)
    _target(source)
    _scatter(source)
    _procedures(source, bolt.count, found)
    return found


def _material(source: Source, materials: Materials, place: tuple[str, ...], name: str | None) -> Material | None:
    stuff = materials.find(source, place, name)
    if stuff is not None and stuff.E is None:
        source.fault(place, name, f"the material {name!r} states no modulus of elasticity", "a material with E")
        return None
    return stuff


def _only_with(source: Source, table: Known, place: str, names: tuple[str, ...], what: str, way: str) -> None:
    for name in names:
        if table.has(name):
            source.fault((place, name), source.data[place][name], f"{name} {what}", f"leave {name} out, or {way}")


def _counterpart(source: Source, bolt: Known, c: Known, found: Found) -> None:
    if c.kind == TAPPED:
        _only_with(source, c, "counterpart", ("form", "d_w", "material"), "belongs to a nut, and the thread goes into "
                   "the second flange", 'kind = "nut"')  # fmt: skip
        if not c.has("engagement"):
            source.fault(("counterpart", "engagement"), None, "the length of thread engaged is missing",
                         'a length: engagement = "30 mm"')  # fmt: skip
    elif c.kind == "nut":
        _only_with(source, c, "counterpart", ("engagement", "counterbore"), "belongs to a tapped hole",
                   f'kind = "{TAPPED}"')  # fmt: skip
        form = c.form if c.has("form") else NUT_OF_HEAD.get(bolt.head or "", "hexagon nut")
        right = not (c.has("d_w") and c.d_w is None)
        found.nut_face = face(source, ("counterpart", "form"), form, c.d_w, found.size, right)


def _washer(source: Source, bolt: Known, found: Found) -> None:
    if bolt.has("washer_thickness") != bolt.has("washer_diameter"):
        lacking = "washer_diameter" if bolt.has("washer_thickness") else "washer_thickness"
        source.fault(("bolt", lacking), None, f"{lacking} is missing: thickness and diameter of the washer go together",
                     "both, or neither")  # fmt: skip
    faces = [seat.value for seat in (found.head_face, found.nut_face) if seat is not None]
    if faces and bolt.washer_diameter is not None and bolt.washer_diameter < max(faces):
        source.fault(("bolt", "washer_diameter"), source.data["bolt"]["washer_diameter"], f"a washer of "
                     f"{show(bolt.washer_diameter, 'mm')} is smaller than the bearing face of {show(max(faces), 'mm')}",
                     f"at least {show(max(faces), 'mm')}")  # fmt: skip


def _flanges(source: Source, materials: Materials, found: Found) -> None:
    ring = Known(RingTable, source.data.get("ring"))
    stated = "second_flange" in source.data
    if ring.second_flange == "stated" and not stated:
        source.fault(("second_flange",), None, "the second flange is to be stated, and the table [second_flange] is "
                     "missing", '[second_flange] with its keys, or second_flange = "same" in [ring]')  # fmt: skip
    if ring.second_flange == "same" and stated:
        source.fault(("second_flange",), None, "the second flange is said to be the same, and stated as well",
                     'second_flange = "stated" in [ring], or no table [second_flange]')  # fmt: skip
    for table in ("flange", "second_flange"):
        if table in source.data:
            flange = Known(RingFlangeTable, source.data[table])
            stuff = _material(source, materials, (table, "material"), flange.material)
            if stuff is not None:
                found.flange_materials[table] = stuff
            d_h = hole(source, (table, "hole"), flange.hole, found.size)
            if d_h is not None:
                found.holes[table] = d_h


def _facing(source: Source) -> None:
    facing = Known(FacingTable, source.data.get("facing"))
    if facing.law is None:
        return
    curved = facing.law == "loading curve"
    needed = ("curve", "unloading") if curved else ("stiffness",)
    for name in needed:
        if not facing.has(name):
            source.fault(("facing", name), None, f'the law "{facing.law}" needs {name}, which is missing',
                         str(_example(name)))  # fmt: skip
    others = ("stiffness",) if curved else ("curve", "unloading")
    _only_with(source, facing, "facing", others, f'does not go with the law "{facing.law}"', "another law")
    if facing.law == "metal to metal":
        _only_with(source, facing, "facing", ("thickness",), "belongs to a gasket, and the faces touch", "another law")
    elif not facing.has("thickness"):
        source.fault(("facing", "thickness"), None, "the thickness is missing: it is part of the grip",
                     'a length: thickness = "3 mm"')  # fmt: skip
    if curved and facing.curve is not None and facing.unloading is not None:
        raw = source.data["facing"]
        for wrong in curve_contradictions(facing.curve, facing.unloading):
            place = ("facing", *wrong.field[2:])
            source.fault(place, raw.get(place[1]), wrong.message, wrong.allowed)


def _example(name: str) -> object:
    extra: Any = FacingTable.model_fields[name].json_schema_extra
    return f"for example {name} = {extra['example']}"


def _target(source: Source) -> None:
    if "target" not in source.data:
        return
    target = Known(RingTargetTable, source.data["target"])
    if target.has("load") == target.has("torque"):
        many = "both stated" if target.has("load") else "both missing"
        source.fault(("target", "load"), target.load, f"load and torque are {many}", "exactly one of the two")
    if target.has("torque") and not target.has("K"):
        source.fault(("target", "K"), None, "a torque is wanted, and the nut factor that gives the load is missing",
                     "K with its basis, or the load itself")  # fmt: skip


def _scatter(source: Source) -> None:
    if "scatter" not in source.data:
        return
    scatter = Known(ScatterTable, source.data["scatter"])
    if not Known(RingTargetTable, source.data.get("target")).has("K"):
        source.fault(("target", "K"), None, "scatter of the friction is stated, and the nut factor that scatters is "
                     "missing", "K with its basis, or no [scatter]")  # fmt: skip
    if scatter.has("residual") != scatter.has("rig"):
        lacking = "rig" if scatter.has("residual") else "residual"
        source.fault(("scatter", lacking), None, f"{lacking} is missing: what a gasket keeps depends on the rig",
                     "residual and rig, or creep")  # fmt: skip
    if scatter.has("creep") and scatter.has("residual"):
        source.fault(("scatter", "residual"), scatter.residual, "creep and residual both say how the gasket creeps",
                     "one of the two")  # fmt: skip
    creeps = scatter.has("creep") or scatter.has("residual")
    timed = any(scatter.has(name) for name in ("between_pulls", "between_passes", "wait"))
    if timed and not creeps:
        source.fault(("scatter", "creep"), None, "times are stated, and nothing that changes with time",
                     "creep or residual, or no times")  # fmt: skip
    if creeps and not timed:
        source.fault(("scatter", "wait"), None, "creep is stated, and no time in which it acts",
                     "between_pulls, between_passes or wait")  # fmt: skip
    law = Known(FacingTable, source.data.get("facing")).law
    if creeps and law == "metal to metal":
        source.fault(("scatter", "creep"), scatter.creep, "a gasket is said to creep, and there is none",
                     "no creep with metal to metal")  # fmt: skip


def _procedures(source: Source, count: int | None, found: Found) -> None:
    raw = source.data.get("procedure")
    names: list[str] = []
    for index, item in enumerate(raw if isinstance(raw, list) else []):
        known = Known(RingProcedureTable, item)
        if known.name is not None and known.name in names:
            source.fault(("procedure", index, "name"), known.name, f"{shown(known.name)} is the name of two procedures",
                         "each name once")  # fmt: skip
        names.append(known.name or "")
        wrong = [name for name in RingProcedureTable.model_fields if known.has(name) and getattr(known, name) is None]
        if count is None or known.name is None or wrong:
            continue
        values = {name: getattr(known, name) for name in RingProcedureTable.model_fields}
        try:
            found.procedures.append(make_procedure(Asked(**{k: v for k, v in values.items() if v is not None}), count))
        except ProcedureError as error:
            source.fault(("procedure", index, error.key), item.get(error.key), error.message, error.allowed)
