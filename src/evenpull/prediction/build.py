"""From checked tables and the names found for them to the ring case, its limits and the rows of inputs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from evenpull.calculation.model import InputRow
from evenpull.calculation.names import origin
from evenpull.joint.case import CaseError, Material, Section
from evenpull.joint.parts.bearing import washer_spread
from evenpull.joint.parts.strengths import proof_load, yield_load
from evenpull.plan.toml_text import Source
from evenpull.prediction.checks import TAPPED, Found
from evenpull.prediction.inputs import input_rows
from evenpull.prediction.model import Evenness, Prediction, RingLimits, ScatterInput
from evenpull.prediction.schema import RingFile, RingFlangeTable
from evenpull.prediction.springs import SOURCE as SPRING_SOURCE
from evenpull.prediction.springs import BoltSpring, Grip, bolt_spring
from evenpull.quantities import show
from evenpull.ring.case import BearingFace, Facing, Flange, Neck, RaisedFace, RingBolts, RingCase, TappedHole
from evenpull.ring.laws import GasketLaw, LinearLaw
from evenpull.ring.sane import Field, contradictions

YIELD_SHARE = 0.9  # of the yield load where the standard of the bolt gives no proof stress (common practice, no source)
TOUCH = 1e-5  # m: a contact law is a straight line, this is only the second point it is drawn through
DIED_AWAY = 2.5  # times sqrt(r s): bending of a shell at its edge (from memory of shell theory, not re-read)


def built(source: Source, read: RingFile, found: Found) -> Prediction | None:
    """The prediction; None with faults noted in `source` when the sizes contradict each other."""
    assert found.size and found.strength  # a file without them was refused
    derived: list[InputRow] = []
    case = _case(source, read, found, derived)
    if case is None:
        return None
    for place, message, allowed in _placed(read, case):
        source.fault(place, _raw(source, place), message, allowed)
    if source.faults:
        return None
    ring, limits = read.ring, read.limits
    return Prediction(
        id=ring.id,
        name=ring.name,
        revision=ring.revision,
        joint=ring.joint or "",
        basis=ring.basis,
        notes=ring.notes or "",
        case=case,
        limits=RingLimits(
            least_pressure=limits.least_pressure,
            largest_pressure=limits.largest_pressure,
            tilt=limits.tilt,
            rotation=limits.rotation,
        ),
        procedures=tuple(found.procedures),
        evenness=Evenness(read.evenness.least, read.evenness.spread) if read.evenness else None,
        scatter=ScatterInput(**read.scatter.model_dump()) if read.scatter else None,
        K=read.target.K,
        inputs=(*input_rows(source.data), *derived),
        text=source.text,
        file=source.file,
    )


def _case(source: Source, read: RingFile, found: Found, derived: list[InputRow]) -> RingCase | None:
    flanges = _flanges(read, found, derived)
    spring = _spring(source, read, found, flanges, derived)
    if spring is None:
        return None
    assert found.size and found.strength
    bolt, target = read.bolt, read.target
    load = target.load
    if load is None:
        assert target.torque and target.K  # checked together
        load = target.torque / (target.K * found.size.d)
        derived.append(
            InputRow("target.load", "load = torque / (K d)", show(load, "kN"), target.basis or read.ring.basis)
        )
    limit = read.limits.bolt_load
    if limit is None:
        limit, why = proof_load(found.size, found.strength), "proof load of the bolt"
        if limit is None:
            limit, why = (
                YIELD_SHARE * yield_load(found.size, found.strength),
                (f"{YIELD_SHARE:.0%} of the yield load (common practice, no source): no proof stress is stated"),
            )
        source_of = origin(found.strength.source, found.strength.status)
        derived.append(InputRow("limits.bolt_load", why, show(limit, "kN"), source_of))
    return RingCase(
        name=read.ring.name,
        bolts=RingBolts(
            count=bolt.count,
            bolt_circle=bolt.circle,
            d=found.size.d,
            stiffness=spring.stiffness,
            bending=spring.bending,
            target=load,
            P=found.size.P,
            limit=limit,
        ),
        flanges=flanges,
        facing=_facing(read),
    )


def _flanges(read: RingFile, found: Found, derived: list[InputRow]) -> tuple[Flange, Flange]:
    second = read.second_flange or read.flange
    second_table = "second_flange" if read.second_flange else "flange"
    assert found.size and found.head_face
    first = _flange(
        read.flange, found.flange_materials["flange"], _face(read, found, "flange", head=True, rows=derived)
    )
    end: BearingFace | TappedHole
    if read.counterpart.kind == TAPPED:
        assert read.counterpart.engagement  # checked together
        end = TappedHole(d=found.size.d, engagement=read.counterpart.engagement, depth=read.counterpart.counterbore)
    else:
        end = _face(read, found, second_table, head=False, rows=derived)
    return first, _flange(second, found.flange_materials[second_table], end)


def _face(read: RingFile, found: Found, table: str, *, head: bool, rows: list[InputRow]) -> BearingFace:
    """Bearing face of head or nut; a hard washer widens it (VDI 2230-1 R10, from memory)."""
    seat = found.head_face if head else found.nut_face
    assert seat
    d_w, source = seat.value, origin(seat.source, seat.status)
    if read.bolt.washer_thickness is not None and read.bolt.washer_diameter is not None:
        d_w = float(washer_spread(d_w, read.bolt.washer_thickness, read.bolt.washer_diameter))
        source += "; widened by the washer, VDI 2230-1 R10 (from memory, not re-read)"
    d_h = found.holes[table]
    where = "under the head" if head else "of the nut"
    rows.append(InputRow("bolt.d_w" if head else "counterpart.d_w", f"bearing face {where}", show(d_w, "mm"), source))
    if d_h.status != "stated" and all(row.field != f"{table}.hole" for row in rows):
        rows.append(
            InputRow(f"{table}.hole", "diameter of the hole", show(d_h.value, "mm"), origin(d_h.source, d_h.status))
        )
    return BearingFace(d_w=d_w, d_h=d_h.value)


def _flange(table: RingFlangeTable, material: Material, end: BearingFace | TappedHole) -> Flange:
    assert material.E
    face, neck = table.raised_face, table.neck
    return Flange(
        bore=table.bore,
        outside_diameter=table.outside_diameter,
        thickness=table.thickness,
        end=end,
        raised_face=RaisedFace(**face.model_dump()) if face else None,
        neck=Neck(
            at_back=neck.at_back,
            wall=neck.wall,
            length=neck.length,
            pipe_length=_dies_away(table) if neck.pipe_length is None else neck.pipe_length,
            side=neck.side,  # type: ignore[arg-type]  # the schema has checked the word
        )
        if neck
        else None,
        E=material.E,
        nu=table.nu,
    )


def _dies_away(table: RingFlangeTable) -> float:
    """2.5 sqrt(r s), r the mean radius of the pipe or shell: what lies beyond no longer bends with its edge."""
    assert table.neck
    inside = table.neck.side == "inside"
    r = (table.bore + table.neck.wall if inside else table.outside_diameter - table.neck.wall) / 2
    return DIED_AWAY * math.sqrt(max(r, table.neck.wall) * table.neck.wall)


def _spring(
    source: Source, read: RingFile, found: Found, flanges: tuple[Flange, Flange], derived: list[InputRow]
) -> BoltSpring | None:
    bolt = read.bolt
    if bolt.stiffness is not None and bolt.bending is not None:
        return BoltSpring(bolt.stiffness, bolt.bending)
    assert found.size and found.strength and found.bolt_material and found.nut_material
    tapped = read.counterpart.kind == TAPPED
    washer = bolt.washer_thickness
    beyond = read.counterpart.counterbore if tapped else flanges[1].back
    grip = Grip(
        washers=() if washer is None else (washer,) * (1 if tapped else 2),
        flanges=(flanges[0].back, beyond) if beyond else (flanges[0].back,),
        gasket=read.facing.thickness or 0.0,
    )
    second = found.flange_materials["second_flange" if read.second_flange else "flange"]
    try:
        made = bolt_spring(
            thread=found.size, strength=found.strength, material=found.bolt_material, head=bolt.head,
            sections=tuple(Section(s.length, s.d, s.d_i) for s in read.section), tapped=tapped,
            counterpart=second if tapped else found.nut_material, grip=grip,
        )  # fmt: skip
    except CaseError as error:
        name = "section" if "sections" in str(error) else "head"
        place = (name,) if name == "section" else ("bolt", name)
        source.fault(place, None, str(error), "sizes that fit the grip, or stiffness and bending stated in [bolt]")
        return None
    derived.append(InputRow("bolt.grip", "clamped length of the bolt", show(grip.length, "mm"), "from the sizes above"))
    if bolt.stiffness is None:
        text = f"{made.stiffness / 1e6:.4g} kN/mm"
        derived.append(InputRow("bolt.stiffness", "axial stiffness of the whole bolt", text, SPRING_SOURCE))
    if bolt.bending is None:
        text = f"{made.bending:.4g} N.m/rad"
        derived.append(InputRow("bolt.bending", "bending stiffness of the whole bolt", text, SPRING_SOURCE))
    return BoltSpring(bolt.stiffness or made.stiffness, bolt.bending or made.bending)


def _facing(read: RingFile) -> Facing:
    facing, metal = read.facing, read.facing.law == "metal to metal"
    law: GasketLaw | LinearLaw
    if facing.law == "loading curve":
        assert facing.curve and facing.unloading  # checked together
        law = GasketLaw(facing.curve, facing.unloading)
    else:
        assert facing.stiffness
        law = LinearLaw(facing.stiffness)
        if metal:  # faces that touch push and never pull
            law = GasketLaw(((0.0, 0.0), (TOUCH, TOUCH * facing.stiffness)), facing.stiffness * (1 + 1e-12))
    return Facing(
        inside_diameter=facing.inside_diameter, outside_diameter=facing.outside_diameter, law=law, metal=metal
    )


def _placed(read: RingFile, case: RingCase) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """What contradicts each other in the case, at the place of the file where it is written; each once."""
    seen = set()
    for wrong in contradictions(case):
        place = _place(read, wrong.field)
        # of two sides that are the same, one complaint is enough
        told = (place, wrong.message if read.second_flange else "")
        if told not in seen:
            seen.add(told)
            yield place, wrong.message, wrong.allowed


_OF_BOLTS = {"count": "count", "bolt_circle": "circle", "d": "thread", "P": "thread"}


def _place(read: RingFile, field: Field) -> tuple[str | int, ...]:
    if field[0] == "bolts":
        if field[1] == "target":
            return ("target", "load" if read.target.load is not None else "torque")
        if field[1] == "limit":
            return ("limits", "bolt_load")
        return ("bolt", _OF_BOLTS.get(str(field[1]), field[1]))
    if field[0] == "facing":
        return ("facing", *field[2:]) if field[1] == "law" else tuple(field)
    side = field[1]
    table = "second_flange" if side == 1 and read.second_flange else "flange"
    if field[2] != "end":
        return (table, *("nu" if part == "nu" else "material" if part == "E" else part for part in field[2:]))
    if field[-1] == "d_h":
        return (table, "hole")
    if field[-1] in ("engagement", "depth"):
        return ("counterpart", "counterbore" if field[-1] == "depth" else "engagement")
    if field[-1] == "d":
        return ("bolt", "thread")
    if read.bolt.washer_diameter is not None:
        return ("bolt", "washer_diameter")
    if side == 0:
        return ("bolt", "head" if read.bolt.d_w is None else "d_w")
    return ("counterpart", "form" if read.counterpart.d_w is None else "d_w")


def _raw(source: Source, place: tuple[str | int, ...]) -> Any:
    value: Any = source.data
    for part in place:
        if isinstance(value, dict):
            value = value.get(part)
        elif isinstance(value, list) and isinstance(part, int) and part < len(value):
            value = value[part]
        else:
            return None
    return value
