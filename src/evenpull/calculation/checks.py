"""What the values of a calculation file say together: contradictions, sizes that cannot be, names no table knows.

Values that are missing or wrong in themselves are None here and were noted before, so every check works with what is
left; one reading shows every fault.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from evenpull.calculation.names import Materials, face, find_strength, find_thread, hole, nut_proof_stress, origin
from evenpull.calculation.schema import (
    BoltTable,
    CalculationTable,
    CounterpartTable,
    FrictionTable,
    GasketTable,
    LayerTable,
    LoadsTable,
    MaterialTable,
    SectionTable,
    TighteningTable,
)
from evenpull.catalogue.friction import lubricant
from evenpull.catalogue.heads import Dimension
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import Friction, Material
from evenpull.joint.rules import rule_sets
from evenpull.joint.target import Strength, ThreadSize
from evenpull.joint.traced import Band
from evenpull.plan.toml_text import Known, Source
from evenpull.plan.values import shown
from evenpull.quantities import show

NUT_OF_HEAD = {"heavy hexagon": "heavy hexagon", "structural hexagon": "structural hexagon"}
LONGEST_GRIP = 5.0  # m
STEEPEST = 0.2  # strength over modulus of elasticity: no material that is clamped or clamps reaches it
# What a rule set cannot do without, beside the tables that every file has.
TABLE_OF_RULE = {"flange": "flange", "structural_us": "structural", "structural_eu": "structural", "nasa5020": "space",
                 "aviation": "aviation"}


@dataclass
class Found:
    """What the names of the file mean. None: it was noted as a fault, or there is none (nut face of a tapped hole)."""

    size: ThreadSize | None = None
    strength: Strength | None = None
    head_face: Dimension | None = None
    nut_face: Dimension | None = None
    nut_proof: Dimension | None = None
    friction: Friction | None = None
    materials: dict[str, Material] = field(default_factory=dict)  # "bolt", "counterpart", "layer 0", ...
    holes: dict[int, Dimension] = field(default_factory=dict)


def check_together(source: Source) -> Found:
    """Note everything that is wrong between the keys, and give what the names mean."""
    data = source.data
    bolt, counterpart = Known(BoltTable, data.get("bolt")), Known(CounterpartTable, data.get("counterpart"))
    found = Found(size=find_thread(source, bolt.thread))
    _rules(source, Known(CalculationTable, data.get("calculation")))
    if "bolt" in data:
        found.strength = find_strength(source, bolt, found.size)
    materials = Materials.of(source)
    for name, table in (("bolt", bolt), ("counterpart", counterpart)):
        stuff = materials.find(source, (name, "material"), table.material)
        if stuff is not None:
            found.materials[name] = stuff
    found.head_face = face(source, ("bolt", "head"), bolt.head, bolt.d_w, found.size,
                           not (bolt.has("d_w") and bolt.d_w is None))
    _counterpart(source, bolt, counterpart, found)
    grip = _layers(source, materials, found)
    _sections(source, grip, found.size)
    _length(source, bolt, grip)
    _moduli(source)
    _gasket(source)
    found.friction = _friction(source, Known(FrictionTable, data.get("friction")))
    _loads(source, Known(LoadsTable, data.get("loads")))
    _tightening(source, Known(TighteningTable, data.get("tightening")))
    _faces(source, bolt, counterpart, found)
    return found


def _rules(source: Source, calculation: Known) -> None:
    known = {rule.key: rule.title for rule in rule_sets()}
    for name in calculation.rules or ():
        if name not in known:
            source.fault(("calculation", "rules"), name, f"{shown(name)} is not a rule set",
                         ", ".join(f"{key} ({title})" for key, title in known.items()))
        table = TABLE_OF_RULE.get(name)
        if table is not None and table not in source.data:
            source.fault(("calculation", "rules"), name, f"the rule set {name} needs the table [{table}], and the file "
                         "has none", f"[{table}] with its keys (evenpull calculate --new shows them), or rules without "
                         f"{name}")


def _counterpart(source: Source, bolt: Known, c: Known, found: Found) -> None:
    if c.kind == "tapped hole":
        for name, key in (("form", "form"), ("d_w", "d_w"), ("nut_class", "class"),
                          ("nut_proof_stress", "nut_proof_stress")):
            if c.has(name):
                source.fault(("counterpart", key), getattr(c, name), f"{key} belongs to a nut, and the thread goes "
                             "into a tapped hole", "leave the key out, or kind = \"nut\"")
    if c.kind != "nut":
        return
    if c.has("nut_class") and c.has("nut_proof_stress"):
        source.fault(("counterpart", "nut_proof_stress"), c.nut_proof_stress, "the nut has a class and a proof stress",
                     "one of the two")
    form = c.form if c.has("form") else NUT_OF_HEAD.get(bolt.head or "", "hexagon nut")
    found.nut_face = face(source, ("counterpart", "form"), form, c.d_w, found.size,
                          not (c.has("d_w") and c.d_w is None))
    if c.nut_proof_stress is not None:
        found.nut_proof = Dimension(c.nut_proof_stress, c.basis or "stated", "stated")
    else:
        found.nut_proof = nut_proof_stress(source, c.nut_class, found.size)


def _layers(source: Source, materials: Materials, found: Found) -> float | None:
    """Sum of the thicknesses (m), None when one is not known."""
    raw = source.data.get("layer")
    grip: float | None = 0.0
    for index, item in enumerate(raw if isinstance(raw, list) else []):
        layer = Known(LayerTable, item)
        place = ("layer", index)
        grip = None if grip is None or layer.thickness is None else grip + layer.thickness
        stuff = materials.find(source, (*place, "material"), layer.material)
        if stuff is not None:
            found.materials[f"layer {index}"] = stuff
        d_h = hole(source, (*place, "hole"), layer.hole, found.size)
        if d_h is None:
            continue
        found.holes[index] = d_h
        for name, what in (("D_A", "an outside diameter"), ("chamfer", "a chamfer"), ("slot_length", "a slot")):
            value = getattr(layer, name)
            if value is not None and value <= d_h.value:
                source.fault((*place, name), item[name], f"{what} of {show(value, 'mm')} is not larger than the hole "
                             f"of {show(d_h.value, 'mm')}", f"more than {show(d_h.value, 'mm')}")
    if grip is not None and grip > LONGEST_GRIP:
        source.fault(("layer",), None, f"the parts add up to a grip of {show(grip, 'mm')}",
                     f"at most {show(LONGEST_GRIP, 'm')}")
    return grip


def _sections(source: Source, grip: float | None, size: ThreadSize | None) -> None:
    raw = source.data.get("section")
    total = 0.0
    for index, item in enumerate(raw if isinstance(raw, list) else []):
        section = Known(SectionTable, item)
        total += section.length or 0.0
        if section.d is None:
            continue
        if section.d_i is not None and section.d_i >= section.d:
            source.fault(("section", index, "d_i"), item["d_i"], f"the bore of {show(section.d_i, 'mm')} leaves "
                         f"nothing of a diameter of {show(section.d, 'mm')}", f"less than {show(section.d, 'mm')}")
        if size is not None and section.d > 2 * size.d:
            source.fault(("section", index, "d"), item["d"], f"a shank of {show(section.d, 'mm')} does not belong to "
                         f"{size.designation}", f"at most {show(2 * size.d, 'mm')}")
    gasket = Known(GasketTable, source.data.get("gasket")).thickness or 0.0
    if grip is not None and total > grip + gasket + 1e-9:
        source.fault(("section",), None, f"the pieces without thread add up to {show(total, 'mm')}, the grip is "
                     f"{show(grip + gasket, 'mm')}", "pieces inside the grip only; the rest of it is free thread")


def _length(source: Source, bolt: Known, grip: float | None) -> None:
    """A bolt that is stated reaches through what it clamps."""
    gasket = Known(GasketTable, source.data.get("gasket")).thickness or 0.0
    if bolt.length is not None and grip is not None and bolt.length <= grip + gasket:
        source.fault(("bolt", "length"), source.data["bolt"]["length"], f"a bolt of {show(bolt.length, 'mm')} does not "
                     f"reach through the {show(grip + gasket, 'mm')} that it clamps",
                     f"more than {show(grip + gasket, 'mm')} and the thread engaged")


def _moduli(source: Source) -> None:
    """A modulus of the order of the strength is a slip of its unit."""
    raw = source.data.get("material")
    for index, item in enumerate(raw if isinstance(raw, list) else []):
        stuff = Known(MaterialTable, item)
        strength = max(stuff.R_m or 0.0, stuff.R_p02 or 0.0)
        if stuff.E is not None and strength > STEEPEST * stuff.E:
            source.fault(("material", index, "E"), item["E"], f"a modulus of {show(stuff.E, 'MPa')} with a strength "
                         f"of {show(strength, 'MPa')}: is the unit right?", "steel about 205 GPa, aluminium 70 GPa; "
                         f"more than {show(strength / STEEPEST, 'MPa')} for this strength")


def _gasket(source: Source) -> None:
    if "gasket" not in source.data:
        return
    gasket = Known(GasketTable, source.data["gasket"])
    by_size = [name for name in ("thickness", "E", "area") if gasket.has(name)]
    if not gasket.has("stiffness") and len(by_size) < 3:
        source.fault(("gasket", "stiffness"), None, "the stiffness of the gasket is missing",
                     "stiffness, or thickness with E and area")
    if gasket.has("stiffness") and (gasket.has("E") or gasket.has("area")):
        source.fault(("gasket", "stiffness"), gasket.stiffness, "the stiffness is stated, and E or area as well",
                     "stiffness with or without thickness, or thickness with E and area")


def _friction(source: Source, f: Known) -> Friction | None:
    """Stated bands first, else those of the catalogue. mu_G and mu_K come together."""
    if "friction" not in source.data:
        return None
    bands = [name for name in ("mu_G", "mu_K") if f.has(name)]
    if len(bands) == 1:
        other = "mu_K" if bands == ["mu_G"] else "mu_G"
        source.fault(("friction", other), None, f"{bands[0]} is stated, {other} is not", "both, or a lubricant")
        return None
    if (bands or f.has("K")) and not f.has("basis"):
        source.fault(("friction", "basis"), None, "friction is stated without saying on what it rests",
                     "the test, specification or table that the values come from")
    K = f.K
    if bands:
        if f.mu_G is None or f.mu_K is None:
            return None
        return Friction(mu_G=f.mu_G, mu_K=f.mu_K, K=K, lubricant=f.lubricant or "", source=f.basis or "stated")
    if f.lubricant is None:
        if not f.has("lubricant"):
            source.fault(("friction", "lubricant"), None, "the friction is missing", "a lubricant of the catalogue, "
                         "or mu_G, mu_K and basis")
        return None
    try:
        row = lubricant(f.lubricant)
    except NotInCatalogue as error:
        source.fault(("friction", "lubricant"), f.lubricant, f"{shown(f.lubricant)} is not a lubricant of the "
                     "catalogue; state mu_G, mu_K and basis for it", ", ".join(error.allowed))
        return None
    if K is None and row.K is not None:
        K = Band(*row.K)
    said = origin(f"catalogue, {row.source}", row.status) + (f"; {row.note}" if row.note else "")
    return Friction(mu_G=Band(*row.mu_G), mu_K=Band(*row.mu_K), K=K, lubricant=row.name, source=said, status=row.status)


def _loads(source: Source, loads: Known) -> None:
    if loads.F_A_max is not None and loads.F_A_min is not None and loads.F_A_min > loads.F_A_max:
        raw = source.data["loads"]
        source.fault(("loads", "F_A_min"), raw.get("F_A_min"), "the least axial load is above the largest one",
                     f"at most {show(loads.F_A_max, 'kN')}")
    if bool(loads.sealing_pressure) != bool(loads.sealing_area):
        lacking = "sealing_area" if loads.sealing_pressure else "sealing_pressure"
        source.fault(("loads", lacking), None, f"{lacking} is missing: pressure and area go together",
                     "both, or neither")


def _tightening(source: Source, t: Known) -> None:
    if t.torque is not None and t.preload is not None:
        source.fault(("tightening", "preload"), source.data["tightening"]["preload"], "a torque and a preload are both "
                     "wished", "one of the two; the other follows from the friction")
    if t.transfer_loss is not None and t.method != "tension":
        source.fault(("tightening", "transfer_loss"), source.data["tightening"]["transfer_loss"],
                     "transfer_loss belongs to tightening by a tensioner", 'method = "tension", or leave it out')


    if t.angle is not None and t.method != "torque and angle":
        source.fault(("tightening", "angle"), source.data["tightening"]["angle"],
                     f"an angle is asked, and the method is {t.method}",
                     'method = "torque and angle", or leave the angle out')
    if t.torque is not None and t.method in ("stretch", "tension"):
        source.fault(("tightening", "torque"), source.data["tightening"]["torque"],
                     f"a torque is wished, and the method is {t.method}, which goes by load",
                     'preload = "..." instead, or method = "torque"')


def _faces(source: Source, bolt: Known, counterpart: Known, found: Found) -> None:
    """A bearing face must be larger than the hole it stands on."""
    last = max(found.holes, default=None)
    ends = [("bolt", bolt, found.head_face, found.holes.get(0))]
    if last is not None:
        ends.append(("counterpart", counterpart, found.nut_face, found.holes.get(last)))
    for name, table, seat, d_h in ends:
        if seat is not None and d_h is not None and seat.value <= d_h.value:
            key = "d_w" if table.has("d_w") else ("head" if name == "bolt" else "form")
            source.fault((name, key), show(seat.value, "mm"), f"a bearing face of {show(seat.value, 'mm')} falls "
                         f"through the hole of {show(d_h.value, 'mm')}", "a larger face, a smaller hole or a washer")
