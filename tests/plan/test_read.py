"""Reading joint files: right ones become specifications, wrong ones name every fault with its line and field."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.plan import SpecificationError, make_plan, read_specification, read_specification_file
from evenpull.plan.guide import schema_help
from tests.plan.files import JOINT, STATED, changed, faults, line_of, tapped


def test_a_right_file_is_read_as_it_says() -> None:
    spec = read_specification(JOINT, "joint.toml")
    assert (spec.id, spec.kind, spec.joint_class, spec.numbering) == ("KN-CW-014", "gasketed flange", "B", "clockwise")
    assert spec.source.in_force_from == date(2026, 2, 2)
    assert (spec.fasteners.count, spec.fasteners.thread, spec.fasteners.strength_class) == (16, "M24", "8.8")
    assert spec.fasteners.length.si == pytest.approx(0.110) and spec.fasteners.length.text == "110 mm"
    assert [part.thickness.si for part in spec.clamped] == pytest.approx([0.030, 0.033])
    assert spec.friction.mu_G.low == 0.10 and not spec.friction.K_given
    assert spec.target.torque is not None and spec.target.torque.si == 520
    assert (spec.target.tolerance, spec.target.utilisation_limit) == (0.05, 0.9)
    assert spec.procedure.passes == (30, 70, 100) and spec.procedure.strict_passes and not spec.procedure.strict_order
    assert spec.tools_allowed == ("TW-0219", "TW-0252") and spec.series is None and spec.text == JOINT


def test_implied_nut_factor_by_hand() -> None:
    # K d = 0.16 P + 0.58 d2 mu_G + (d_w + d_h)/4 mu_K (VDI 2230-1 R13); M24: P 3, d2 22.051, nut d_w 33.3, hole 26 mm
    by_hand = (0.16 * 3 + 0.58 * 22.051 * 0.12 + (33.3 + 26) / 4 * 0.12) / 24
    assert read_specification(JOINT, "j").friction.K.nominal == pytest.approx(by_hand, rel=1e-3)


# (change, field, line begins with (None: the line of the table before), part of the message)
ONE_FAULT = [
    (('count = 16', 'cuont = 16'), "fasteners.cuont", "cuont", "did you mean 'count'"),
    (('lot = "KL-7731"', 'tolerance = "5 %"'), "fasteners.tolerance", None, "belongs to [target]"),
    (("count = 16", "count = 0"), "fasteners.count", "count", "0"),
    (("count = 16", "count = 201"), "fasteners.count", "count", "201"),
    (("count = 16", "count = 16.0"), "fasteners.count", "count", "whole number"),
    (("count = 16", 'count = "16"'), "fasteners.count", "count", "whole number"),
    (("count = 16", "count = true"), "fasteners.count", "count", "whole number"),
    (('thread = "M24"', 'thread = "M23"'), "fasteners.thread", "thread", "M24"),
    (('thread = "M24"', 'thread = "M24x7"'), "fasteners.thread", "thread", "M24x3"),
    (('thread = "M24"', 'thread = "big"'), "fasteners.thread", "thread", "standard thread"),
    (('class = "8.8"', 'class = "8.7"'), "fasteners.class", 'class = "8.7"', "8.7"),
    (('class = "8.8"', 'class = "SAE J429 grade 5"'), "fasteners.class", 'class = "SAE', "inch threads"),
    (('length = "110 mm"', "length = 110"), "fasteners.length", "length", "no unit"),
    (('length = "110 mm"', 'length = "110"'), "fasteners.length", "length", "unit is missing"),
    (('length = "110 mm"', 'length = "110 N.m"'), "fasteners.length", "length", "unit of torque"),
    (('length = "110 mm"', 'length = "110 furlongs"'), "fasteners.length", "length", "not known"),
    (('length = "110 mm"', 'length = "-110 mm"'), "fasteners.length", "length", "more than zero"),
    (('length = "110 mm"', 'length = "nan mm"'), "fasteners.length", "length", "number"),
    (('length = "110 mm"', 'length = "1e400 mm"'), "fasteners.length", "length", "large"),
    (('length = "110 mm"', 'length = "110 m"'), "fasteners.length", "length", "is the unit right"),
    (('length = "110 mm"', 'length = "80 mm"'), "fasteners.length", "length", "too short"),
    (('head = "hexagon"', 'head = "hexogon"'), "fasteners.head", "head", "did you mean 'hexagon'"),
    (('head = "hexagon"', "head = 6"), "fasteners.head", "head", "not one of the words"),
    (("washer_under_head = true", 'washer_under_head = "yes"'), "fasteners.washer_under_head", "washer_under_head",
     "neither true nor false"),
    (('hole = "medium"', 'hole = "20 mm"'), "fasteners.hole", "hole", "not larger than the thread"),
    (('hole = "medium"', 'hole = "40 mm"'), "fasteners.hole", "hole", "leaves no bearing face"),
    (('hole = "medium"', 'hole = "meduim"'), "fasteners.hole", "hole", "did you mean 'medium'"),
    (('circle = "470 mm"', "grid = [3, 4]"), "fasteners.grid", "grid", "12 places, but count is 16"),
    (('circle = "470 mm"', 'circle = "470 mm"\ngrid = [4, 4]'), "fasteners.grid", "grid", "contradict"),
    (('circle = "470 mm"', 'circle = "100 mm"'), "fasteners.circle", "circle", "do not fit on a circle"),
    (('counterpart = "nut"', 'counterpart = "nut"\nengagement = "20 mm"'), "fasteners.engagement", "engagement",
     "tapped hole"),
    (('nut_class = "8"\n', ""), "fasteners.nut_class", "[fasteners]", "missing"),
    (("in_force_from = 2026-02-02", 'in_force_from = "2026-02-02"'), "source.in_force_from", "in_force_from",
     "not a date"),
    (("in_force_from = 2026-02-02", "in_force_from = 2026-02-02T10:00:00"), "source.in_force_from", "in_force_from",
     "not a date"),
    (("in_force_from = 2026-02-02", "in_force_from = 0226-02-02"), "source.in_force_from", "in_force_from",
     "no such year"),
    (('revision = "C"\n', ""), "source.revision", "[source]", "missing"),
    (('revision = "C"', 'revision = " "'), "source.revision", "revision", "empty"),
    (('id = "KN-CW-014"', 'id = "K"'), "joint.id", "id", "does not fit"),
    (('id = "KN-CW-014"', 'id = "KN CW/014"'), "joint.id", "id", "does not fit"),
    (('name = "Pump discharge flange"', 'name = "a\\u0007b"'), "joint.name", "name", "U+0007"),
    (('name = "Pump discharge flange"', 'name = "a\\u202eb"'), "joint.name", "name", "U+202E"),
    (("mu_G = [0.10, 0.12, 0.14]\n", ""), "friction.mu_G", "[friction]", "mu_K is stated but mu_G is not"),
    (("mu_K = [0.10, 0.12, 0.14]", "mu_K = [0.14, 0.12, 0.10]"), "friction.mu_K", "mu_K", "does not rise"),
    (("mu_K = [0.10, 0.12, 0.14]", "mu_K = [0.10, nan, 0.14]"), "friction.mu_K", "mu_K", "not a finite number"),
    (("mu_K = [0.10, 0.12, 0.14]", "mu_K = [0.10, 0.12, 14]"), "friction.mu_K", "mu_K", "outside 0.01 to 1"),
    (("mu_K = [0.10, 0.12, 0.14]", "mu_K = 0.12"), "friction.mu_K", "mu_K", "not a band"),
    (('torque = "520 N.m"', 'torque = "520 N.m"\npreload = "140 kN"'), "target.preload", "preload", "2 targets"),
    (('torque = "520 N.m"\n', ""), "target", "[target]", "there is no target"),
    (('torque = "520 N.m"', 'torque = "20000 N.m"'), "target.torque", "torque", "far above"),
    (('torque = "520 N.m"', "torque = inf"), "target.torque", "torque", "no unit"),
    (('torque = "520 N.m"', 'torque = "1 N.m"'), "target.torque", "torque", "far below"),
    (('torque = "520 N.m"', 'torque = "520 kN"'), "target.torque", "torque", "unit of force"),
    (('torque = "520 N.m"', 'preload = "90000 kN"'), "target.preload", "preload", "far above the load"),
    (('torque = "520 N.m"', 'preload = "90 kN"'), "target.required_preload", "required_preload", "below"),
    (('torque = "520 N.m"', "utilisation = 0.95"), "target.utilisation", "utilisation", "above utilisation_limit"),
    (('torque = "520 N.m"', 'torque = "520 N.m"\nprevailing_torque = "600 N.m"'), "target.prevailing_torque",
     "prevailing_torque", "not less than the target"),
    (('tolerance = "5 %"', "tolerance = 5"), "target.tolerance", "tolerance", "it means 500 %"),
    (('tolerance = "5 %"', 'tolerance = "50 %"'), "target.tolerance", "tolerance", "not a share this can be"),
    (('tolerance = "5 %"', 'tolerance = "5 mm"'), "target.tolerance", "tolerance", "not a tolerance"),
    (('tolerance = "5 %"', 'tolerance = "300 N.m"'), "target.tolerance", "tolerance", "58 % of the target"),
    (('method = "torque"', 'method = "torque"\nangle = "60 deg"'), "target.angle", "angle", "torque and angle"),
    (("passes = [30, 70, 100]", "passes = [30, 30, 100]"), "procedure.passes", "passes", "does not rise"),
    (("passes = [30, 70, 100]", "passes = [30, 70]"), "procedure.passes", "passes", "ends at 70 %"),
    (("passes = [30, 70, 100]", "passes = [0, 100]"), "procedure.passes", "passes", "not more than 0"),
    (("passes = [30, 70, 100]", "passes = []"), "procedure.passes", "passes", "not a list of passes"),
    (("tools_at_once = 1", "tools_at_once = 17"), "procedure.tools_at_once", "tools_at_once", "17"),
    (('order = "star"', 'order = "grouped"\ngroups = [[1, 2, 3], [4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 15, 17]]'),
     "procedure.groups", "groups", "left out: 16; more than once: 15; no such fastener: 17"),
    (('order = "star"', 'order = "listed"'), "procedure.listed", "[procedure]", "the list is missing"),
    (('order = "star"', 'order = "listed"\nlisted = [1, 2]'), "procedure.listed", "listed", "left out: 3, 4"),
    (('order = "star"', 'order = "star"\nlisted = [1, 2]'), "procedure.listed", "listed", "goes with order"),
    (('allowed = ["TW-0219", "TW-0252"]', "allowed = []"), "tools.allowed", "allowed", "no tool is allowed"),
    (('allowed = ["TW-0219", "TW-0252"]', 'allowed = ["T", "T"]'), "tools.allowed", "allowed", "more than once"),
    (('form = "evenpull joint 1"', 'form = "evenpull tools 1"'), "form", "form", "not one of the words"),
    (("[procedure]", "[procedures]"), "procedure", None, "the table [procedure] is missing"),
    (("[tools]", "[friction.x]\n[tools]"), "friction.x", "[friction.x]", "not a key of [friction]"),
]


@pytest.mark.parametrize(("change", "field", "line", "says"), ONE_FAULT)
def test_a_fault_is_named_with_line_and_field(
    change: tuple[str, str], field: str, line: str | None, says: str
) -> None:
    assert change[0] in JOINT
    text = JOINT.replace(*change, 1)
    found = [fault for fault in faults(text) if fault.field == field]
    assert found, faults(text)
    assert says in found[0].message or says in found[0].allowed
    if line is not None:
        assert found[0].line == line_of(text, line)
    assert found[0].allowed


@pytest.mark.parametrize("change", [row[0] for row in ONE_FAULT if row[1] not in ("friction.x", "procedure")])
def test_one_fault_is_reported_once(change: tuple[str, str]) -> None:
    text = JOINT.replace(*change, 1)
    places = [fault.field for fault in faults(text)]
    assert len(places) == len(set(places))
    assert len(places) <= 2  # a wrong thread may make a second key fit no longer


def test_all_faults_come_at_once_in_the_order_of_the_file() -> None:
    text = changed(
        JOINT, ('id = "KN-CW-014"', 'id = "?"'), ("count = 16", "count = 0"), ('thread = "M24"', 'thread = "M23"'),
        ('torque = "520 N.m"', 'torque = "520"'), ("passes = [30, 70, 100]", "passes = [100, 30]"),
        ('lot = "KL-7731"', 'colour = "red"'),
    )
    found = faults(text)
    assert [fault.field for fault in found] == [
        "joint.id", "fasteners.count", "fasteners.thread", "fasteners.colour", "target.torque", "procedure.passes"]
    assert [fault.line for fault in found] == sorted(fault.line or 0 for fault in found)
    assert all(fault.file == "joint.toml" for fault in found)


def test_message_names_file_line_field_and_what_is_allowed() -> None:
    with pytest.raises(SpecificationError) as caught:
        read_specification(changed(JOINT, ('thread = "M24"', 'thread = "M23"')), "kn.toml")
    assert str(caught.value).startswith("kn.toml:22: fasteners.thread: 'M23' is not a standard thread")
    assert "; allowed: " in str(caught.value)


def test_faults_inside_a_list_of_tables_name_the_item() -> None:
    text = changed(JOINT, ('thickness = "33 mm"', 'thickness = "33"'))
    (fault,) = faults(text)
    assert fault.field == "clamped.1.thickness"
    assert fault.line == line_of(text, 'thickness = "33"')


def test_tapped_hole() -> None:
    spec = read_specification(tapped(), "j")
    assert spec.fasteners.counterpart == "tapped hole" and spec.fasteners.engagement is not None
    for change, field in [
        (('engagement = "36 mm"', 'engagement = "36 mm"\nnut_class = "8"'), "fasteners.nut_class"),
        (('engagement = "36 mm"', 'engagement = "36 mm"\nwasher_under_nut = true'), "fasteners.washer_under_nut"),
        (('turned = "head"', 'turned = "nut"'), "fasteners.turned"),
        (('engagement = "36 mm"\n', ""), "fasteners.engagement"),
        (('engagement = "36 mm"', 'engagement = "120 mm"'), "fasteners.engagement"),
        (('engagement = "36 mm"', 'engagement = "50 mm"'), "fasteners.length"),
        (('tapped_material = "steel S355"\n', ""), "fasteners.tapped_material"),
    ]:
        assert [fault.field for fault in faults(changed(tapped(), change))] == [field]


def test_stud_in_a_tapped_hole_has_a_nut_and_no_head() -> None:
    stud = changed(tapped(), ('head = "hexagon"', 'head = "stud"'),
                   ('turned = "head"', 'turned = "nut"\nnut_class = "8"'))
    assert read_specification(stud, "j").fasteners.nut_class == "8"
    turned_head = changed(stud, ('turned = "nut"', 'turned = "head"'))
    assert [fault.field for fault in faults(turned_head)] == ["fasteners.turned"]


def test_inch_threads_need_inch_grades() -> None:
    inch = changed(JOINT, ('thread = "M24"', 'thread = "3/4-10 UNC"'), ('torque = "520 N.m"', 'torque = "150 lbf.ft"'),
                   ('nut_class = "8"', 'nut_class = "SAE J995 grade 5"'), ('required_preload = "95 kN"\n', ""))
    assert [fault.field for fault in faults(inch)] == ["fasteners.class"]
    good = changed(inch, ('class = "8.8"', 'class = "SAE J429 grade 5"'))
    spec = read_specification(good, "j")
    assert spec.target.torque is not None and spec.target.torque.si == pytest.approx(203.4, abs=0.1)


def test_unit_slip_is_proposed_where_it_explains_an_absurd_torque() -> None:
    m10 = changed(JOINT, ('thread = "M24"', 'thread = "M6"'), ('torque = "520 N.m"', 'torque = "900 N.m"'),
                  ('required_preload = "95 kN"\n', ""))
    (fault,) = faults(m10)
    assert "N·cm" in fault.message  # 900 N.cm is what M6 takes


def test_tolerance_in_torque_gives_the_window_as_said() -> None:
    text = changed(JOINT, ('tolerance = "5 %"', 'tolerance = "26 N.m"'))
    spec = read_specification(text, "j")
    assert spec.target.tolerance == pytest.approx(0.05)
    last = make_plan(spec, (), date(2026, 3, 1)).passes[2]
    assert (last.lower, last.upper) == (494, 546)


def test_catalogue_lubricant_gives_its_bands_and_an_unknown_one_its_neighbours() -> None:
    plain = changed(JOINT, (STATED, ""), ("paste of the store", "oil film"))
    spec = read_specification(plain, "j")
    assert spec.friction.basis.startswith("catalogue") and spec.friction.mu_G.low < spec.friction.mu_G.high
    (fault,) = faults(changed(plain, ("oil film", "oil fillm")))
    assert fault.field == "friction.lubricant" and "did you mean 'oil film'" in fault.message
    stated_K = changed(plain, ('lubricant = "oil film"', 'lubricant = "oil film"\nK = [0.14, 0.16, 0.18]'))
    assert [fault.field for fault in faults(stated_K)] == ["friction.basis"]
    with_basis = read_specification(changed(stated_K, ("K = [", 'basis = "test 7"\nK = [')), "j")
    assert with_basis.friction.K.nominal == 0.16 and with_basis.friction.K_given
    assert "test 7" in with_basis.friction.basis and "catalogue" in with_basis.friction.basis


def test_face_that_no_table_has_can_be_stated() -> None:
    large = changed(JOINT, ('thread = "M24"', 'thread = "M80x6"'), ('length = "110 mm"', 'length = "300 mm"'),
                    ('circle = "470 mm"', 'circle = "1900 mm"'), ('torque = "520 N.m"', 'torque = "9000 N.m"'),
                    ('class = "8.8"', 'class = "A193 B7"'), ('nut_class = "8"', 'nut_class = "2H"'))
    (fault,) = faults(large)
    assert fault.field == "fasteners.head" and "bearing_face" in fault.allowed
    stated = changed(large, ('hole = "medium"', 'hole = "medium"\nbearing_face = "110 mm"'))
    assert make_plan(read_specification(stated, "j"), (), date(2026, 3, 1)).target.torque == 9000


def test_unknown_caution_is_refused_with_its_neighbour() -> None:
    (fault,) = faults(JOINT + '\n[notes]\ncautions = ["hydrogn"]\n')
    assert "did you mean 'hydrogen'" in fault.message
    assert read_specification(JOINT + '\n[notes]\ncautions = ["hydrogen"]\n', "j").cautions == ("hydrogen",)


def test_groups_are_made_when_none_are_stated() -> None:
    spec = read_specification(changed(JOINT, ('order = "star"', 'order = "grouped"')), "j")
    assert spec.procedure.groups[0] == (1, 2, 3, 4)


@pytest.mark.parametrize(
    ("text", "says", "line"),
    [
        ("", "empty", None),
        ("\ufeff \n", "empty", None),
        ("count = \n", "no TOML", 1),
        ('form = "evenpull joint 1"\n[joint]\nid = "x\n', "no TOML", 3),
        ("a = 2026-13-01", "no TOML", 1),
        ("a = 1\na = 2\n", "no TOML", 2),
        ("[" * 5000, "no", 1),
        ("a = " + "[" * 50_000, "nested too deeply", None),
        ("a = " + "9" * 50_000, "no TOML that can be used", None),
        ("a." * 40_000 + "b = 1", "many parts", 1),
        ("x" * 1_000_000, "1000000 characters", None),
        ("a = 1\n\x00", "no TOML", 2),
        ("a = 1\nb = '\ud800'", "broken character", 2),
    ],
)
def test_what_is_no_joint_file_at_all(text: str, says: str, line: int | None) -> None:
    (fault,) = faults(text)
    assert says in fault.message
    if line is not None:
        assert fault.line == line


def test_tables_in_the_place_of_values_and_values_in_the_place_of_tables() -> None:
    for text in ("joint = 1", "[[joint]]\nid = 1", "clamped = 3", "clamped = [1, 2]", "[clamped]\npart = 1",
                 "[fasteners]\ncount = {a = 1}\nlength = [[1], [2]]"):
        found = faults(f'form = "evenpull joint 1"\n{text}\n')
        assert found and all(fault.message for fault in found)


def test_a_thousand_unknown_keys_are_counted_not_listed() -> None:
    found = faults("".join(f"key{n} = 1\n" for n in range(3000)))
    assert len(found) <= 101 and "more faults" in found[-1].message


def test_a_list_of_very_many_numbers_is_refused_at_once() -> None:
    listed = "listed = [" + "1, " * 30_000 + "2]"
    (fault,) = faults(changed(JOINT, ('order = "star"', f'order = "listed"\n{listed}')))
    assert fault.field == "procedure.listed"
    assert fault.message.startswith("left out: 3, 4") and "more than once: 1" in fault.message
    assert len(fault.message) < 300


def test_byte_order_mark_and_windows_lines_are_read() -> None:
    text = "\ufeff" + JOINT.replace("\n", "\r\n")
    assert read_specification(text, "j").text == text
    assert faults(text.replace("M24", "M23"))[0].line == line_of(JOINT, "thread")


@pytest.mark.parametrize(
    ("raw", "says"),
    [(JOINT.encode("utf-16"), "UTF-16"), (b"%PDF-1.7\n\xff\xfe", "a PDF"), (b"a = 1\nb = '\xff'", "not UTF-8"),
     (b"a" * 500_000, "500000 bytes")],
)
def test_files_that_are_no_utf8_text(tmp_path: Path, raw: bytes, says: str) -> None:
    path = tmp_path / "joint.toml"
    path.write_bytes(raw)
    with pytest.raises(SpecificationError, match=says) as caught:
        read_specification_file(path)
    assert caught.value.errors[0].file == str(path)


def test_file_is_read_as_its_text(tmp_path: Path) -> None:
    path = tmp_path / "joint.toml"
    path.write_text(JOINT, encoding="utf-8")
    assert read_specification_file(path).id == "KN-CW-014"


@given(st.text(max_size=300))
def test_garbage_never_ends_in_anything_but_faults(text: str) -> None:
    assert faults(text)


ODD = st.sampled_from([
    "0", "-1", "1e308", "nan", "-inf", "true", '""', '"x"', "[]", "{}", "[[1]]", "[1, 2, 3]", '"0 mm"', '"1e9 N.m"',
    '"1 in"',
    '"5 %"', "2026-09-01", "0.5", "1", "200", '"M3"', '"M100x6"', '"1-8 UNC"', '"A4-80"', '"12.9"', '"90 deg"',
    '"1 N.m"',
    '"stud"', '"socket cap"', '"head"', '"tapped hole"', '"coarse"', '"nut factor"', '"30 mm"', '"300 mm"', '"grouped"',
    "2",
])


@settings(max_examples=300)
@given(st.lists(st.tuples(st.sampled_from([row.field for row in schema_help()]), ODD), min_size=1, max_size=4))
def test_whatever_is_read_can_be_planned(changes: list[tuple[str, str]]) -> None:
    """Change keys to odd values: either faults, or a specification from which a plan with finite numbers follows."""
    lines = JOINT.split("\n")
    for field, value in changes:
        table, _, key = field.rpartition(".")
        header = next((n for n, line in enumerate(lines) if line.strip("[]") == table), None)
        if header is None:
            lines += [f"[{table}]"]
            header = len(lines) - 1
        end = next((n for n in range(header + 1, len(lines)) if lines[n].startswith("[")), len(lines))
        lines[header + 1 : end] = [line for line in lines[header + 1 : end] if not line.startswith(f"{key} =")]
        lines.insert(header + 1, f"{key} = {value}")
    text = "\n".join(lines)
    try:
        spec = read_specification(text, "j")
    except SpecificationError as error:
        assert all(fault.message for fault in error.errors)
        return
    plan = make_plan(spec, (), date(2026, 3, 1))
    assert math.isfinite(plan.target.torque) and plan.target.torque > 0
