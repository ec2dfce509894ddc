"""Reading equipment and certificates: what a file says, and every fault with file, line, field and way out."""

from __future__ import annotations

import math

import pytest

from evenpull.equipment import Holdings, read_certificates, read_equipment
from evenpull.plan import SpecificationError
from evenpull.plan.errors import Fault
from tests.equipment.files import BUDGET, CERTIFICATES, EQUIPMENT, READINGS, certificate, point, store
from tests.plan.files import changed, line_of


def equipment_faults(text: str, known: Holdings | None = None) -> tuple[Fault, ...]:
    with pytest.raises(SpecificationError) as caught:
        read_equipment(text, "equipment.toml", known)
    return caught.value.errors


def certificate_faults(text: str) -> tuple[Fault, ...]:
    with pytest.raises(SpecificationError) as caught:
        read_certificates(text, "certificates.toml")
    return caught.value.errors


def test_every_kind_is_read() -> None:
    items = {one.serial: one for one in read_equipment(EQUIPMENT, "e.toml").items}
    assert {one.kind for one in items.values()} == {
        "indicating", "multiplier", "adapter", "hydraulic", "pump", "gauge", "angle device", "stretch device",
        "check device", "reference standard"}
    wrench = items["TW-0301"]
    assert (wrench.type_class, wrench.drive, wrench.owner, wrench.serves) == (
        "type I class B", "12.5", "tool store 2", "A")
    assert wrench.interval is not None and wrench.interval.after == ("drop", "overload", "repair")
    assert wrench.directions == ("clockwise", "anticlockwise") and wrench.permissible == 0.04
    assert items["AG-0003"].scale is not None and items["AG-0003"].scale.upper == pytest.approx(2 * math.pi)
    assert items["UM-0002"].scale is not None and items["UM-0002"].scale.resolution == pytest.approx(1e-6)
    assert items["CD-0001"].part is None and items["AD-0007"].part is not None


def test_a_multiplier_by_its_gears() -> None:
    text = changed(EQUIPMENT, ("ratio = 13.2", "gear_ratio = 13.8\nefficiency = 0.956"))
    part = next(i.part for i in read_equipment(text, "e.toml").items if i.serial == "TM-0051")
    assert part is not None and part.ratio == pytest.approx(13.8 * 0.956)  # type: ignore[union-attr]


@pytest.mark.parametrize(("change", "field", "says"), [
    (('serial = "TM-0051"', 'serial = "TW-0301"'), "multiplier.0.serial", "a second time"),
    (('unit = "bar"', 'unit = "N.m"'), "gauge.0.unit", "not a unit of pressure"),
    (('range = ["0 bar", "700 bar"]', 'range = ["0 N.m", "700 N.m"]'), "gauge.0.range", "is a torque"),
    (('resolution = "5 bar"', 'resolution = "5"'), "gauge.0.resolution", "with a unit"),
    (('resolution = "1 deg"', 'resolution = "200 deg"'), "angle_device.0.resolution", "does not go with"),
    (('resolution = "0.001 mm"', 'resolution = "0 mm"'), "stretch_device.0.resolution", "more than zero"),
    (("ratio = 13.2", "ratio = 13.2\nefficiency = 0.9"), "multiplier.0.ratio", "two ways"),
    (("ratio = 13.2", "gear_ratio = 13.2"), "multiplier.0.efficiency", "missing"),
    (("ratio = 13.2\n", ""), "multiplier.0.ratio", "no way"),
    (('gives = ["2600 N.m", "650 bar"]', 'gives = ["650 bar", "2600 N.m"]'), "hydraulic_tool.0.gives", "not a torque"),
    (("months = 12\ncycles = 5000\n", ""), "torque_tool.0.interval.months", "never end"),
    (('after = ["drop", "overload", "repair"]', 'after = ["rain"]'), "torque_tool.0.interval.after", "not a list of"),
    (('directions = ["clockwise", "anticlockwise"]', 'directions = ["left"]'), "torque_tool.0.directions", "direction"),
    (('parts = ["TW-0301", "TM-0051"]', 'parts = ["CH-0007", "TM-0051"]'), "assembly.0.parts", "contains itself"),
    (('parts = ["TW-0301", "TM-0051"]', 'parts = ["CF-0007", "TW-0301"]'), "assembly.0.parts", "stands twice"),
])
def test_a_fault_is_named(change: tuple[str, str], field: str, says: str) -> None:
    text = changed(EQUIPMENT, change)
    found = [fault for fault in equipment_faults(text) if fault.field == field]
    assert found, equipment_faults(text)
    assert says in found[0].message + found[0].allowed
    assert found[0].line is not None and found[0].allowed


def test_the_line_is_that_of_the_key() -> None:
    text = changed(EQUIPMENT, ('unit = "bar"', 'unit = "clicks"'))
    assert equipment_faults(text)[0].line == line_of(text, 'unit = "clicks"')


def test_a_limit_outside_the_scale() -> None:
    limit = '\n[[torque_tool.limit]]\nrange = ["300 N.m", "400 N.m"]\nreason = "worn"\n'
    text = changed(EQUIPMENT, ("\n[[multiplier]]", limit + "\n[[multiplier]]"))
    (fault,) = equipment_faults(text)
    assert fault.field == "torque_tool.0.limit.0.range" and "leaves nothing" in fault.message


@pytest.mark.parametrize(("parts", "says"), [
    ('["TM-0051", "TW-0301"]', "cannot follow"), ('["TW-0301", "NX-1"]', "NX-1 is not in the register"),
    ('["TW-0301", "CD-0001"]', "no part of a chain"), ('["HG-0041", "HW-0041"]', "its pump and its gauge"),
])
def test_chains_that_make_no_instrument(parts: str, says: str) -> None:
    text = changed(EQUIPMENT, ('parts = ["TW-0301", "TM-0051"]', f"parts = {parts}"))
    read_equipment(text, "e.toml")  # alone it may lean on what the register holds
    found = equipment_faults(text, Holdings())
    assert says in found[0].message and found[0].field == "assembly.0.parts"


def test_an_item_that_would_break_a_chain_of_the_register() -> None:
    own = EQUIPMENT.split("[[multiplier]]")[0].replace('lever = "480 mm"\n', "")
    (fault,) = equipment_faults(own, store())
    assert "CF-0007" in fault.message and "lever" in fault.message and fault.field == "torque_tool.0"
    assert read_equipment(own.replace('kind = "ind', 'lever = "500 mm"\nkind = "ind'), "e.toml", store()).items


def test_a_serial_that_is_an_assembly_already() -> None:
    own = EQUIPMENT.split("[[multiplier]]")[0].replace("TW-0301", "CH-0007")
    assert any("is an assembly of the register" in one.message for one in equipment_faults(own, store()))


def test_nothing_in_it() -> None:
    assert "no equipment" in equipment_faults('form = "evenpull equipment 1"\n')[0].message


def test_a_certificate_as_it_says() -> None:
    one, other = read_certificates(CERTIFICATES, "c.toml")
    assert (one.serial, one.number, one.laboratory, one.counter) == (
        "TW-0301", "KNC-26-0412", "Tidewater Metrology", 1200)
    assert one.certificate.standards == ("RS-0001",) and one.rule.name == "simple acceptance"
    assert len(one.certificate.points) == 12 and one.certificate.points[0].a == pytest.approx(0.05)
    assert one.left == "as left" and other.left == "as found" and one.largest_w == pytest.approx(0.006)


def test_an_iso_6789_2_budget_from_the_readings() -> None:
    """The point worked by hand in tests/instrument/test_budget.py: W = 1.361547 %, nu_eff = 123.8, W' = 3.6024 %."""
    (one,) = read_certificates('form = "evenpull certificates 1"\n' + certificate(points=READINGS), "c.toml")
    (made,) = one.certificate.points
    assert made.w == pytest.approx(0.01361547 / 2, abs=1e-8) and made.reference == pytest.approx(98.0) and made.k == 2.0
    result = one.point_result(0)
    assert result is not None and result.budget.degrees == pytest.approx(123.8, abs=0.05)
    assert result.W_interval == pytest.approx(0.0360237, abs=1e-7)


def test_a_stated_budget_is_combined_by_the_gum() -> None:
    """JCGM 100:2008 G.4.2 (from memory): 0.25 % (9), 0.57 % (4), 0.82 % (14): u = 1.03 %, nu_eff = 19.0."""
    text = 'form = "evenpull certificates 1"\n' + certificate(points=BUDGET + point("as found", 100, 99))
    found = read_certificates(text, "c.toml")[0].budget()
    assert found is not None
    assert found.u == pytest.approx(0.0103, abs=5e-5) and found.degrees == pytest.approx(19.0, abs=0.05)


@pytest.mark.parametrize(("change", "field", "says"), [
    (("nominal = 120.0", "nominal = 20.0"), "certificate.0.point.1.nominal", "out of order"),
    (("reference = 38.095238095238095", "reference = -38.0"), "certificate.0.point.0.reference", "different signs"),
    (("nominal = 40.0", "nominal = 0"), "certificate.0.point.0.nominal", "zero"),
    (('direction = "clockwise"', 'direction = "right"'), "certificate.0.point.0.direction", "not one of"),
    (('uncertainty = "1.2 %"\n', ""), "certificate.0.point.0.uncertainty", "no readings"),
    (("valid_until = 2027-03-01", "valid_until = 2026-01-01"), "certificate.0.valid_until", "before its first day"),
    (("valid_until = 2027-03-01\n", ""), "certificate.0.valid_until", "neither"),
    (("calibrated = 2026-03-02", "calibrated = 2026-03-02\nvalid_from = 2026-03-01"), "certificate.0.valid_from",
     "before the calibration"),
    (('standards = ["RS-0001"]', "standards = []"), "certificate.0.standards", "no reference standard"),
    (('unit = "N.m"', 'unit = "clicks"'), "certificate.0.unit", "not known"),
    (('rule = "simple acceptance"', 'rule = "by eye"'), "certificate.0.rule", "not one of"),
    (('rule = "simple acceptance"', 'rule = "guard band of r U"'), "certificate.0.guard", "missing"),
    (('rule = "simple acceptance"', 'rule = "simple acceptance"\nguard = 0.5'), "certificate.0.guard", "no factor"),
    (('serial = "TM-0051"\nnumber = "KNC-26-0413"', 'serial = "TW-0301"\nnumber = "KNC-26-0412"'),
     "certificate.1.number", "second time"),
])
def test_a_fault_of_a_certificate_is_named(change: tuple[str, str], field: str, says: str) -> None:
    text = CERTIFICATES.replace(*change, 1)
    assert text != CERTIFICATES
    found = [fault for fault in certificate_faults(text) if fault.field == field]
    assert found, certificate_faults(text)
    assert says in found[0].message + found[0].allowed and found[0].line is not None and found[0].allowed


def test_all_faults_at_once() -> None:
    text = CERTIFICATES.replace("nominal = 120.0", "nominal = 20.0", 1).replace("reference = 2600", "reference = -1", 1)
    assert {fault.field for fault in certificate_faults(text)} == {
        "certificate.0.point.1.nominal", "certificate.1.point.1.reference"}


def test_points_that_can_be_read_are_checked_beside_those_that_cannot() -> None:
    """The second point cannot be read, the third is below the first: both are told, by their own numbers."""
    text = 'form = "evenpull certificates 1"\n' + certificate(
        points=point("as found", 100, 99).replace("100", '"x"', 1) + point("as found", 100, 99)
        + point("as found", 40, 39)).replace("valid_until = 2027-03-01", "valid_until = 2026-01-01")
    found = {fault.field: fault.message for fault in certificate_faults(text)}
    assert set(found) == {"certificate.0.point.0.nominal", "certificate.0.point.2.nominal", "certificate.0.valid_until"}
    assert "point 3: 40 is out of order: point 2 before it" in found["certificate.0.point.2.nominal"]


def test_the_interval_gives_the_last_day() -> None:
    more = '\n[certificate.interval]\nmonths = 12\nsource = "KN-Q-011"\n'
    text = 'form = "evenpull certificates 1"\n' + certificate(
        points=more + point("as found", 100, 99)).replace("valid_until = 2027-03-01\n", "")
    (one,) = read_certificates(text, "c.toml")
    assert str(one.certificate.valid_until) == "2027-03-01" and one.interval is not None


def test_what_belongs_to_readings_says_nothing_without_them() -> None:
    text = 'form = "evenpull certificates 1"\n' + certificate(points=point("as found", 100, 99) + "b_rep = 0.1\n")
    assert certificate_faults(text)[0].field == "certificate.0.point.0.b_rep"
    half = READINGS.replace('W_md = "1 %"\n', "")
    text = 'form = "evenpull certificates 1"\n' + certificate(points=half)
    assert certificate_faults(text)[0].field == "certificate.0.point.0.W_md"
