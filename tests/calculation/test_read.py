"""Reading a calculation file: every field of the case can be reached, every fault is named with line and way out."""

from __future__ import annotations

from dataclasses import fields

import pytest

from evenpull.calculation import calculation_help, calculation_template, read_calculation
from evenpull.calculation import schema as files
from evenpull.calculation.values import KELVIN
from evenpull.joint import case
from evenpull.joint.traced import Band
from evenpull.plan import SpecificationError
from tests.calculation.files import changed, demo, plain

# (type of the case, table of the file, fields of the case that other keys give)
TABLES = [
    (case.Bolt, files.BoltTable, {"strength": "class or R_m with R_p02", "sections": "[[section]]"}),
    (case.Section, files.SectionTable, {}),
    (case.Counterpart, files.CounterpartTable, {}),
    (case.Layer, files.LayerTable, {"name": "part", "length": "thickness", "d_h": "hole"}),
    (case.Material, files.MaterialTable, {"source": "basis", "status": "stated"}),
    (case.Gasket, files.GasketTable, {"source": "basis"}),
    (case.Friction, files.FrictionTable, {"source": "basis", "status": "stated or of the catalogue"}),
    (case.Tightening, files.TighteningTable, {"source": "basis"}),
    (case.Loads, files.LoadsTable, {}), (case.Service, files.ServiceTable, {}),
    (case.Embedding, files.EmbeddingTable, {}), (case.Eccentricity, files.EccentricityTable, {}),
    (case.StructuralInput, files.StructuralTable, {}), (case.SpaceInput, files.SpaceTable, {}),
    (case.FlangeInput, files.FlangeTable, {}), (case.AviationInput, files.AviationTable, {}),
    (case.Limits, files.LimitsTable, {}),
]  # fmt: skip


@pytest.mark.parametrize(("of_case", "table", "elsewhere"), TABLES, ids=lambda item: getattr(item, "__name__", ""))
def test_every_field_of_the_case_can_be_reached(of_case: type, table: type, elsewhere: dict[str, str]) -> None:
    missing = {field.name for field in fields(of_case)} - set(table.model_fields)
    assert missing == set(elsewhere)


@pytest.mark.parametrize(("of_case", "table", "elsewhere"), TABLES, ids=lambda item: getattr(item, "__name__", ""))
def test_defaults_of_the_file_are_those_of_the_case(of_case: type, table: type, elsewhere: dict[str, str]) -> None:
    for field in fields(of_case):
        info = table.model_fields.get(field.name)
        if info is not None and not info.is_required() and info.default is not None:
            assert info.default == field.default, field.name


def test_every_table_of_the_case_is_in_the_file() -> None:
    names = {"layers": "layer", "name": "calculation", "elastic_interaction": "tightening", "sources": "basis"}
    for field in fields(case.JointCase):
        assert names.get(field.name, field.name) in {*files.CalculationFile.model_fields, "basis"}


def test_values_arrive_in_si() -> None:
    c = read_calculation(plain(), "t.toml").case
    assert (c.bolt.thread.designation, c.bolt.strength.R_m, c.bolt.strength.S_p) == ("M12", 800e6, 580e6)
    assert c.bolt.d_w == pytest.approx(16.63e-3)  # ISO 4014 Table 1, d_w min (from memory, not re-read)
    assert c.bolt.sections[0].length == pytest.approx(0.018) and c.l_K == pytest.approx(0.040)
    assert [layer.d_h for layer in c.layers] == pytest.approx([13.5e-3, 13.5e-3])  # ISO 273 medium for M12: 13.5 mm
    assert c.layers[0].material.E == 205e9 and c.layers[0].material.p_G == 490e6
    assert (c.tightening.torque, c.tightening.tool_scatter, c.loads.F_A_max) == (70.0, 0.05, 6000.0)
    assert c.embedding.f_Z == pytest.approx(11e-6) and c.friction.mu_G == Band(0.10, 0.12, 0.14)
    assert c.counterpart.nut_proof_stress == pytest.approx(880e6)  # ISO 898-2, class 8, M12 to M16
    assert c.sources["friction.mu_G"] == "T-TEST 3" and c.sources["loads.F_A_max"] == "T-LOAD 4"
    assert c.sources["tightening.torque"] == "T-SPEC 1"


def test_other_units_mean_the_same() -> None:
    text = changed(plain(), 'torque = "70 N.m"', 'torque = "51.629 lbf.ft"')
    text = changed(text, 'F_A_max = "6 kN"', 'F_A_max = "1348.85 lbf"')
    text = changed(text, 'thickness = "20 mm"', 'thickness = "0.7874 in"')
    c = read_calculation(text, "t.toml").case
    assert c.tightening.torque == pytest.approx(70, rel=1e-4) and c.loads.F_A_max == pytest.approx(6000, rel=1e-4)
    assert c.layers[0].length == pytest.approx(0.02, rel=1e-4)


def test_special_values() -> None:
    text = plain() + (
        '[service]\nT_S = "212 degF"\nT_P = "293.15 K"\n[gasket]\nstiffness = "900 kN/mm"\nbasis = "x"\n'
        '[eccentricity]\ns_sym = "-2 mm"\na = "10 mm"\nI_Bers = "1.8 cm4"\nI_BT = "20000 mm4"\nA_D = "800 mm2"\n'
        'u = "15 mm"\n'
    )
    text = changed(text, 'torque = "70 N.m"', 'torque = "70 N.m"\nprevailing = ["3 N.m", "5 N.m", "9 N.m"]')
    c = read_calculation(text, "t.toml").case
    assert pytest.approx(100) == c.service.T_S and pytest.approx(293.15 - KELVIN) == c.service.T_P
    assert c.gasket is not None and c.gasket.stiffness == pytest.approx(9e8)
    assert c.eccentricity is not None and c.eccentricity.I_Bers == pytest.approx(1.8e-8)
    assert c.eccentricity.s_sym == pytest.approx(-0.002) and c.tightening.prevailing == Band(3, 5, 9)


FAULTS = [
    ('thread = "M12"', 'thread = "M13"', "bolt.thread", "M12"),
    ('class = "8.8"', 'class = "8.7"', "bolt.class", "8.8"),
    ('class = "8.8"', 'class = "8.8"\nR_m = "800 MPa"', "bolt.R_m", "or"),
    ('class = "8.8"', "", "bolt.class", "R_m with R_p02"),
    ('class = "8.8"', 'R_m = "600 MPa"\nR_p02 = "640 MPa"', "bolt.R_p02", "less than R_m"),
    ('class = "8.8"', 'R_m = "800 MPa"\nR_p02 = "640 MPa"\nS_p = "700 MPa"', "bolt.S_p", "at most R_p02"),
    ('head = "hexagon"', 'head = "wing"', "bolt.head", "hexagon"),
    ('head = "hexagon"', 'head = "hexagon"\nd_w = "13 mm"', "bolt.d_w", "larger face"),
    ('material = "part steel"', 'material = "unobtainium"', "layer.0.material", ""),
    ('hole = "medium"', 'hole = "wide"', "layer.0.hole", "diameter"),
    ('hole = "medium"', 'hole = "11 mm"', "layer.0.hole", "more than 12 mm"),
    ('D_A = "40 mm"', 'D_A = "12 mm"', "layer.0.D_A", "more than"),
    ('thickness = "20 mm"', 'thickness = "-20 mm"', "layer.0.thickness", "length"),
    ('thickness = "20 mm"', "thickness = 20", "layer.0.thickness", "unit"),
    ('thickness = "20 mm"', 'thickness = "20 N.m"', "layer.0.thickness", "length"),
    ('length = "18 mm"', 'length = "55 mm"', "section", "inside the grip"),
    ('d = "12 mm"', 'd = "12 mm"\nd_i = "12 mm"', "section.0.d_i", "less than"),
    ('kind = "nut"', 'kind = "tapped hole"', "counterpart.class", "leave the key out"),
    ("mu_K = [0.10, 0.12, 0.14]", "", "friction.mu_K", "both"),
    ('basis = "T-TEST 3"', "", "friction.basis", "test"),
    ("mu_G = [0.10, 0.12, 0.14]", "mu_G = [0.14, 0.12, 0.10]", "friction.mu_G", "rising"),
    ("mu_G = [0.10, 0.12, 0.14]", "mu_G = [0.0, 0.12, 0.14]", "friction.mu_G", "0.01"),
    ("mu_G = [0.10, 0.12, 0.14]", "mu_G = [nan, 0.12, 0.14]", "friction.mu_G", ""),
    ('torque = "70 N.m"', 'torque = "70 N.m"\npreload = "30 kN"', "tightening.preload", "one of the two"),
    ('torque = "70 N.m"', 'torque = "70 N.m"\ntransfer_loss = "10 %"', "tightening.transfer_loss", "tension"),
    ("alpha_A = 1.6", "alpha_A = inf", "tightening.alpha_A", "number"),
    ("alpha_A = 1.6", "alpha_A = 0.9", "tightening.alpha_A", "1 to 6"),
    ('F_A_max = "6 kN"', 'F_A_max = "6 kN"\nF_A_min = "7 kN"', "loads.F_A_min", "at most 6 kN"),
    ('F_A_max = "6 kN"', 'F_A_max = "6 kN"\nsealing_pressure = "1 MPa"', "loads.sealing_area", "both"),
    ("n = 0.5", "n = 0", "loads.n", "0.01 to 1"),
    ('f_Z = "11 um"', 'f_Z = "11 mm"', "embedding.f_Z", "unit"),
    ('E = "205 GPa"', 'E = "205 N"', "material.0.E", "stress"),
    ('alpha = "11.5e-6 1/K"', 'alpha = "11.5 1/K"', "material.0.alpha", "1e-7"),
    ('name = "part steel"', 'name = "bolt steel"', "material.1.name", "each once"),
    ('rules = ["shigley"]', 'rules = ["shigly"]', "calculation.rules", "shigley"),
    ('rules = ["shigley"]', "rules = []", "calculation.rules", "list"),
    ('rules = ["shigley"]', 'rules = ["shigley", "shigley"]', "calculation.rules", ""),
    ('rules = ["shigley"]', 'rules = ["shigley", "flange"]', "calculation.rules", "[flange]"),
    ('rules = ["shigley"]', 'rules = ["structural_eu"]', "calculation.rules", "[structural]"),
    ('rules = ["shigley"]', 'rules = ["nasa5020"]', "calculation.rules", "[space]"),
    ('length = "60 mm"', 'length = "40 mm"', "bolt.length", "more than 40 mm"),
    ('E = "205 GPa"\nalpha = "11.5e-6 1/K"\nR_m', 'E = "205 MPa"\nalpha = "11.5e-6 1/K"\nR_m', "material.1.E", "unit"),
    ('tool_scatter = "5 %"', 'tool_scatter = "0.05 %"', "tightening.tool_scatter", "%"),
    ('tool_scatter = "5 %"', "tool_scatter = 5", "tightening.tool_scatter", "0.05"),
    ('torque = "70 N.m"', 'torque = "70 N.m"\nangle = "60 deg"', "tightening.angle", "torque and angle"),
    ('torque = "70 N.m"', 'torque = "70 N.m"\nmethod = "tension"', "tightening.torque", "preload"),
    ("[loads]", "[lods]", "lods", "loads"),
    ('revision = "A"', "", "calculation.revision", "revision"),
]


@pytest.mark.parametrize(("old", "new", "field", "way"), FAULTS, ids=[f"{n} {f[2]}" for n, f in enumerate(FAULTS)])
def test_faults_name_file_line_field_and_way_out(old: str, new: str, field: str, way: str) -> None:
    with pytest.raises(SpecificationError) as caught:
        read_calculation(changed(plain(), old, new), "my.toml")
    faults = [fault for fault in caught.value.errors if fault.field == field]
    assert faults, str(caught.value)
    assert faults[0].file == "my.toml" and faults[0].line is not None
    assert way in f"{faults[0].message} {faults[0].allowed}"


def test_all_faults_come_at_once() -> None:
    text = plain()
    for old, new, *_ in (FAULTS[0], FAULTS[9], FAULTS[18], FAULTS[29]):
        text = changed(text, old, new)
    with pytest.raises(SpecificationError) as caught:
        read_calculation(text, "my.toml")
    assert {"bolt.thread", "friction.mu_K", "loads.n"} <= {fault.field for fault in caught.value.errors}


def test_layers_that_are_all_wrong_are_not_said_to_be_missing() -> None:
    with pytest.raises(SpecificationError) as caught:
        read_calculation(plain().replace('thickness = "20 mm"', 'thickness = "-20 mm"'), "my.toml")
    assert {fault.field for fault in caught.value.errors} == {"layer.0.thickness", "layer.1.thickness"}


@pytest.mark.parametrize("text", ["", "form = ", "form = \"evenpull joint 1\"\n", "x = 1\n" * 30_000, "[" * 3000])
def test_what_is_no_calculation_file_is_refused(text: str) -> None:
    with pytest.raises(SpecificationError):
        read_calculation(text, "my.toml")


def test_a_tapped_hole_has_no_nut() -> None:
    text = changed(plain(), 'kind = "nut"', 'kind = "tapped hole"\nengagement = "15 mm"')
    text = changed(text, 'material = "bolt steel"\nclass = "8"\n', 'material = "bolt steel"\n')
    c = read_calculation(text, "t.toml").case
    assert c.counterpart.d_w is None and not c.through_bolt


def test_friction_of_the_catalogue_says_that_it_is_from_memory() -> None:
    start = plain().index("[friction]")
    end = plain().index("[tightening]")
    text = plain()[:start] + '[friction]\nlubricant = "oil film"\n' + plain()[end:]
    found = read_calculation(text, "t.toml").case.friction
    assert "from memory" in found.source and found.mu_G.low < found.mu_G.high


def test_a_class_without_a_proof_stress_gets_none() -> None:
    # ISO 3506-1 gives no proof stress for austenitic bolts: it is not invented.
    text = changed(plain(), 'class = "8.8"', 'class = "A4-70"')
    read = read_calculation(text, "t.toml")
    assert read.case.bolt.strength.S_p is None
    assert "the standard gives none" in [row.written for row in read.inputs if row.field == "bolt.S_p"]


def test_inputs_are_listed_as_written_with_their_source() -> None:
    rows = {row.field: row for row in demo("kn-cw-014-c1").inputs}
    assert rows["tightening.torque"].written == "520 N.m" and "KN-SPEC-0114" in rows["tightening.torque"].source
    assert rows["loads.F_A_max"].source.startswith("load sheet KN-L-22")
    assert "d_h 26 mm" in rows["layer 2"].written and "ISO 273" in rows["layer 2"].source
    assert "E 205 GPa" in rows["material 1"].written and "KN-M-021" in rows["material 1"].source


def test_the_template_reads_and_explains_every_key() -> None:
    text = calculation_template()
    read = read_calculation(text, "new.toml")
    assert read.id == "NEW-CALCULATION" and "not for work" in read.notes
    for row in calculation_help():
        assert row.meaning in text and row.example, row.field
