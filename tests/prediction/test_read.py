"""Reading a ring file: values arrive in SI, what is left out has a source, every fault has its line and way out."""

from __future__ import annotations

import math

import pytest

from evenpull.demo import scenario
from evenpull.plan import SpecificationError
from evenpull.prediction import read_prediction
from evenpull.prediction.guide import ring_help, ring_template
from evenpull.ring.case import BearingFace, RaisedFace, TappedHole
from evenpull.ring.laws import GasketLaw, LinearLaw
from tests.prediction.files import PLAIN, changed, line_of

TAPPED = changed(PLAIN, 'kind = "nut"', 'kind = "tapped hole"\nengagement = "20 mm"\ncounterbore = "4 mm"')
FACED = changed(
    PLAIN,
    'law = "loading curve"',
    'law = "metal to metal"',
)


OUTSIDE = changed(changed(PLAIN, '"215 mm"', '"300 mm"'), '"245 mm"', '"330 mm"')


def faults(text: str) -> list[tuple[int | None, str, str, str]]:
    with pytest.raises(SpecificationError) as caught:
        read_prediction(text, "t.toml")
    return [(fault.line, fault.field, fault.message, fault.allowed) for fault in caught.value.faults]


def without(text: str, *starts: str) -> str:
    return "".join(line + "\n" for line in text.splitlines() if not line.startswith(starts))


METAL = without(FACED, "curve", "unloading", 'thickness = "2 mm"')
METAL = changed(METAL, 'basis = "T-SHEET 2"', 'stiffness = "20000 MPa/mm"\nbasis = "common practice, no source"')


def test_values_arrive_in_si() -> None:
    found = read_prediction(PLAIN, "t.toml")
    first, second = found.case.flanges
    assert first.bore == pytest.approx(0.2) and first.back == pytest.approx(0.028) and first.E == 205e9
    assert first.raised_face == RaisedFace(outside_diameter=0.255, height=0.002)
    # d_w min for M20 (from memory, not re-read): ISO 4014 grade A 28.19 mm, ISO 4032 27.7 mm
    assert first.end == BearingFace(d_w=pytest.approx(28.19e-3), d_h=0.022)
    assert second.end == BearingFace(d_w=pytest.approx(27.7e-3), d_h=0.022)
    bolts = found.case.bolts
    assert (bolts.count, bolts.bolt_circle, bolts.d, bolts.P, bolts.target) == pytest.approx(
        (8, 0.29, 0.02, 0.0025, 98e3)
    )
    law = found.case.facing.law
    assert isinstance(law, GasketLaw) and law.curve[2] == pytest.approx((0.3e-3, 60e6)) and law.unloading == 1.2e12
    assert found.limits.largest_pressure == pytest.approx(200e6) and found.limits.tilt is None
    assert found.K is None and found.torque is None and found.scatter is None


def test_stiffness_of_the_bolt_follows_from_its_pieces() -> None:
    """VDI 2230-1 section 5.1.1 (from memory): bars of l / (E A). M20: A_N = 314.159, A_d3 of d3 = 16.933 mm = 225.19
    mm2 (from memory, not re-read); grip 2 x 28 + 2 = 58 mm of which 20 mm are shank."""
    bolts = read_prediction(PLAIN, "t.toml").case.bolts
    A_N, A_3 = math.pi / 4 * 20**2, math.pi / 4 * 16.933**2
    pieces = [(0.5 * 20, A_N), (20, A_N), (38, A_3), (0.5 * 20, A_3), (0.4 * 20, A_N)]
    compliance = sum(length / (205e3 * area) for length, area in pieces)  # mm/N
    assert bolts.stiffness == pytest.approx(1e3 / compliance, rel=1e-3)
    bend = sum(length / (205e3 * area**2 / (4 * math.pi)) for length, area in pieces)  # 1/(N.mm)
    assert bolts.bending == pytest.approx(1e-3 / bend, rel=1e-3)


def test_stated_stiffness_goes_before_the_pieces() -> None:
    text = changed(PLAIN, 'head = "hexagon"', 'head = "hexagon"\nstiffness = "700 kN/mm"\nbending = "9000 N.m/rad"')
    bolts = read_prediction(text, "t.toml").case.bolts
    assert (bolts.stiffness, bolts.bending) == pytest.approx((7e8, 9000.0))


def test_target_as_torque_needs_the_nut_factor() -> None:
    text = changed(PLAIN, 'load = "98 kN"', 'torque = "320 N.m"\nK = 0.16')
    found = read_prediction(text, "t.toml")
    assert found.case.bolts.target == pytest.approx(320 / (0.16 * 0.020)) and found.torque == pytest.approx(320)
    ((_, field, message, _),) = faults(changed(PLAIN, 'load = "98 kN"', 'torque = "320 N.m"'))
    assert field == "target.K" and "nut factor" in message


def test_limit_is_the_proof_load_or_a_share_of_yield() -> None:
    """ISO 898-1: S_p of 8.8 above M16 is 600 MPa, A_s of M20 is 245 mm2 (from memory, not re-read)."""
    found = read_prediction(PLAIN, "t.toml")
    assert found.case.bolts.limit == pytest.approx(600e6 * 245e-6, rel=2e-3)
    (row,) = [row for row in found.inputs if row.field == "limits.bolt_load"]
    assert "proof load" in row.meaning and "ISO 898-1" in row.source
    text = changed(PLAIN, 'class = "8.8"', 'R_m = "830 MPa"\nR_p02 = "660 MPa"')
    found = read_prediction(text, "t.toml")
    assert found.case.bolts.limit == pytest.approx(0.9 * 660e6 * 245e-6, rel=2e-3)
    (row,) = [row for row in found.inputs if row.field == "limits.bolt_load"]
    assert "common practice, no source" in row.meaning
    text = changed(PLAIN, "[limits]", '[limits]\nbolt_load = "120 kN"')
    assert read_prediction(text, "t.toml").case.bolts.limit == pytest.approx(120e3)


def test_pipe_takes_part_as_far_as_it_bends() -> None:
    neck = read_prediction(without(PLAIN, "pipe_length"), "t.toml").case.flanges[0].neck
    assert neck is not None and neck.pipe_length == pytest.approx(2.5 * math.sqrt(0.1035 * 0.007))


def test_washers_widen_the_face_and_lengthen_the_grip() -> None:
    text = changed(PLAIN, 'head = "hexagon"', 'head = "hexagon"\nwasher_thickness = "3 mm"\nwasher_diameter = "37 mm"')
    found = read_prediction(text, "t.toml")
    end = found.case.flanges[0].end
    assert isinstance(end, BearingFace) and end.d_w == pytest.approx(28.19e-3 + 1.6 * 3e-3)
    (row,) = [row for row in found.inputs if row.field == "bolt.grip"]
    assert row.written.startswith("64")
    assert found.case.bolts.stiffness < read_prediction(PLAIN, "t.toml").case.bolts.stiffness


def test_tapped_hole_in_the_second_flange() -> None:
    found = read_prediction(TAPPED, "t.toml")
    first, second = found.case.flanges
    assert isinstance(first.end, BearingFace) and second.end == TappedHole(d=0.020, engagement=0.02, depth=0.004)
    (row,) = [row for row in found.inputs if row.field == "bolt.grip"]
    assert row.written.startswith("34")  # 28 + 2 + counterbore 4


def test_second_flange_stated() -> None:
    head, _, _ = PLAIN.partition("[flange.raised_face]")
    flange = head[head.index("[flange]") :].replace("[flange]", "[second_flange]").replace("26 mm", "40 mm")
    text = changed(PLAIN, 'second_flange = "same"', 'second_flange = "stated"') + flange
    first, second = read_prediction(text, "t.toml").case.flanges
    assert (first.thickness, second.thickness) == pytest.approx((0.026, 0.040)) and second.neck is None
    assert [field for _, field, _, _ in faults(PLAIN + flange)] == ["second_flange"]
    lacking = changed(PLAIN, 'second_flange = "same"', 'second_flange = "stated"')
    ((_, field, message, way),) = faults(lacking)
    assert field == "second_flange" and "missing" in message and 'second_flange = "same"' in way


def test_faces_that_touch_push_and_do_not_pull() -> None:
    facing = read_prediction(METAL, "t.toml").case.facing
    law = facing.law
    assert facing.metal and isinstance(law, GasketLaw) and law.curve[1][1] == pytest.approx(2e13 * law.curve[1][0])
    linear = changed(METAL, 'law = "metal to metal"', 'law = "linear"\nthickness = "2 mm"')
    facing = read_prediction(linear, "t.toml").case.facing
    assert not facing.metal and facing.law == LinearLaw(2e13)


SCATTER = """[scatter]
K_nut = "8 %"
creep = "0.3 um/MPa"
between_pulls = "2 min"
wait = "4 h"
basis = "T-TEST 3"
"""
WITH_K = changed(PLAIN, 'load = "98 kN"', 'load = "98 kN"\nK = 0.16') + SCATTER


def test_scatter_is_read() -> None:
    scatter = read_prediction(WITH_K, "t.toml").scatter
    assert scatter is not None
    assert (scatter.K_nut, scatter.wait, scatter.between_pulls) == (0.08, 14400.0, 120.0)
    assert scatter.creep == pytest.approx(0.3e-12)


@pytest.mark.parametrize(
    ("old", "new", "field", "message"),
    [
        ("K = 0.16\n", "", "target.K", "nut factor that scatters"),
        ('creep = "0.3 um/MPa"', 'residual = "85 %"', "scatter.rig", "depends on the rig"),
        (
            'creep = "0.3 um/MPa"',
            'creep = "0.3 um/MPa"\nresidual = "85 %"\nrig = "500 MPa/mm"',
            "scatter.residual",
            "both",
        ),
        ('creep = "0.3 um/MPa"\n', "", "scatter.creep", "nothing that changes with time"),
        ('between_pulls = "2 min"\nwait = "4 h"\n', "", "scatter.wait", "no time in which it acts"),
        ('"2 min"', '"2 weeks"', "scatter.between_pulls", "not a time"),
        ('"0.3 um/MPa"', '"0.3 um"', "scatter.creep", "not a thinning"),
    ],
)
def test_scatter_that_does_not_fit_together(old: str, new: str, field: str, message: str) -> None:
    ((_, at, said, _),) = faults(changed(WITH_K, old, new))
    assert at == field and message in said


@pytest.mark.parametrize("name", scenario.RINGS)
def test_rings_of_the_scenario_read_and_fit_their_joints(name: str) -> None:
    from evenpull.plan import read_specification

    found = read_prediction(scenario.ring_text(name), name)
    joint = read_specification(scenario.joint_text(found.joint.lower()), "joint")
    fasteners = joint.fasteners
    assert found.case.bolts.count == fasteners.count and fasteners.circle is not None
    assert found.case.bolts.bolt_circle == pytest.approx(fasteners.circle.si)
    assert joint.target.torque is not None and found.torque == pytest.approx(joint.target.torque.si)


def test_template_reads_and_explains_every_key() -> None:
    text = ring_template()
    assert read_prediction(text, "t.toml").id == "NEW-RING"
    for row in ring_help():
        assert row.meaning and row.example and row.allowed, row.field
        assert f"{row.field.rpartition('.')[2]} = " in text


@pytest.mark.parametrize("row", [row for row in ring_help() if row.field.count(".") == 1], ids=lambda row: row.field)
def test_every_example_of_the_help_is_a_right_value(row: object) -> None:
    import tomllib

    from pydantic import BaseModel

    from evenpull.plan.toml_text import model_at
    from evenpull.prediction.schema import RingFile

    table, name = row.field.split(".")  # type: ignore[attr-defined]
    model = model_at(RingFile, [table])
    assert model is not None and issubclass(model, BaseModel)
    field = next(n for n, info in model.model_fields.items() if (info.alias or n) == name)
    value = tomllib.loads(f"k = {row.example}")["k"]  # type: ignore[attr-defined]
    model.__pydantic_validator__.validate_assignment(model.model_construct(), field, value)


# text, field of the fault, what its message holds, what its way out holds, line where it stands
SLIPS = {
    "two bolts": (changed(PLAIN, "count = 8", "count = 2"), "bolt.count", "flanges parallel", "3 to 200"),
    "201 bolts": (changed(PLAIN, "count = 8", "count = 201"), "bolt.count", "201", "3 to 200"),
    "hub past the bolts": (changed(PLAIN, '"15 mm"', '"50 mm"'), "flange.neck.at_back", "past the bolt circle", "mm"),
    "hub into the face": (changed(PLAIN, '"15 mm"', '"40 mm"'), "flange.neck.at_back", "bearing face", "30.905 mm"),
    "gasket outside": (
        without(OUTSIDE, "[flange.r", 'outside_diameter = "255', "height"),
        "facing.inside_diameter",
        "outside the bolts",
        "less than 290 mm",
    ),
    "gasket over raised face": (
        changed(PLAIN, '"245 mm"', '"260 mm"'),
        "facing.outside_diameter",
        "raised face",
        "255 mm",
    ),
    "stiffness nought": (
        changed(PLAIN, 'head = "hexagon"', 'head = "hexagon"\nstiffness = "0 kN/mm"'),
        "bolt.stiffness",
        "0 kN/mm",
        "",
    ),
    "contact nought": (changed(METAL, '"20000 MPa/mm"', '"0 MPa/mm"'), "facing.stiffness", "more than zero", ""),
    "curve falls": (changed(PLAIN, '"60 MPa"', '"6 MPa"'), "facing.curve.2", "falls", "more than 8 MPa"),
    "curve not from nought": (
        changed(PLAIN, '["0 mm", "0 MPa"]', '["0 mm", "1 MPa"]'),
        "facing.curve.0",
        "begins",
        "0 and 0",
    ),
    "equal compressions": (changed(PLAIN, '["0.3 mm"', '["0.1 mm"'), "facing.curve.2", "compression", "larger"),
    "soft unloading": (changed(PLAIN, "1200 MPa/mm", "200 MPa/mm"), "facing.unloading", "steepest", "260 MPa/mm"),
    "curve nan": (changed(PLAIN, '"60 MPa"', '"nan MPa"'), "facing.curve", "nan", ""),
    "bare number": (changed(PLAIN, '"60 MPa"', "60.0"), "facing.curve", "no unit", "mm"),
    "neighbours overlap": (changed(PLAIN, "count = 8", "count = 40"), "bolt.count", "overlap", "at most 32"),
    "over the edge": (
        changed(PLAIN, 'head = "hexagon"', 'head = "hexagon"\nd_w = "54 mm"'),
        "bolt.d_w",
        "over the edge",
        "50 mm",
    ),
    "tapped too long": (
        changed(TAPPED, '"20 mm"\ncounter', '"30 mm"\ncounter'),
        "counterpart.engagement",
        "28 mm",
        "24 mm",
    ),
    "unit": (changed(PLAIN, '"26 mm"', "26"), "flange.thickness", "no unit", "mm"),
    "unknown material": (
        changed(PLAIN, 'hole = "22 mm"\nmaterial = "steel"', 'hole = "22 mm"\nmaterial = "stele"'),
        "flange.material",
        "stele",
        "",
    ),
    "share in per cent": (
        changed(PLAIN, "passes = [0.5, 1.0]", "passes = [50, 100]"),
        "procedure.0.passes",
        "per cent",
        "0.7",
    ),
    "passes fall": (changed(PLAIN, "passes = [0.5, 1.0]", "passes = [1.0, 0.5]"), "procedure.0.passes", "falls", "0.3"),
    "leaves one out": (
        changed(PLAIN, 'order = "star"\npasses = [0.5, 1.0]', "steps = [[[1, 2, 3, 4, 5, 6, 7], 1.0]]"),
        "procedure.0.steps",
        "bolt 8 of 8 would never",
        "every bolt",
    ),
    "two targets": (
        changed(PLAIN, 'load = "98 kN"', 'load = "98 kN"\ntorque = "300 N.m"\nK = 0.2'),
        "target.load",
        "both",
        "exactly one",
    ),
    "target above limit": (changed(PLAIN, '"98 kN"', '"180 kN"'), "target.load", "above the limit", "at most 14"),
    "washer half": (
        changed(PLAIN, 'head = "hexagon"', 'head = "hexagon"\nwasher_thickness = "3 mm"'),
        "bolt.washer_diameter",
        "together",
        "both",
    ),
    "washer too small": (
        changed(PLAIN, 'head = "hexagon"', 'head = "hexagon"\nwasher_thickness = "3 mm"\nwasher_diameter = "25 mm"'),
        "bolt.washer_diameter",
        "smaller than the bearing face",
        "28.19 mm",
    ),
    "shank too long": (changed(PLAIN, 'length = "20 mm"', 'length = "70 mm"'), "section", "sections", "fit the grip"),
    "head unknown to the guideline": (
        changed(PLAIN, 'head = "hexagon"', 'head = "countersunk"\nd_w = "30 mm"'),
        "bolt.head",
        "countersunk",
        "stiffness",
    ),
    "metal with thickness": (
        METAL.replace("[target]", 'thickness = "2 mm"\n[target]'),
        "facing.thickness",
        "touch",
        "leave",
    ),
}


@pytest.mark.parametrize("what", SLIPS)
def test_slips_are_named_with_line_and_way_out(what: str) -> None:
    text, field, message, way = SLIPS[what]
    found = faults(text)
    ((line, at, said, allowed),) = found
    assert at == field and message in said and way in allowed
    assert line is not None and line <= text.count("\n")
    keyed = field.rpartition(".")[2] if not field[-1].isdigit() else field.split(".")[-2]
    stands = text.splitlines()[line - 1]
    assert keyed in stands or stands.startswith("["), stands


def test_all_faults_come_at_once() -> None:
    text = changed(changed(changed(PLAIN, "count = 8", "count = 2"), '"60 MPa"', '"6 MPa"'), '"98 kN"', '"98 km"')
    assert [(line, field) for line, field, _, _ in faults(text)] == [
        (line_of(text, "count = 2"), "bolt.count"), (line_of(text, "curve = "), "facing.curve.2"),
        (line_of(text, '"98 km"'), "target.load")]  # fmt: skip


def test_two_procedures_of_one_name() -> None:
    text = PLAIN + '[[procedure]]\nname = "star"\norder = "circular"\npasses = [1.0]\n'
    ((line, field, message, _),) = faults(text)
    assert field == "procedure.1.name" and "two procedures" in message and line == text.count("\n") - 2
