"""Further fields of a record: texts kept, quantities in SI, and nothing that costs the record."""

from __future__ import annotations

import pytest

from evenpull.intake import MappingError, Reading, read_bytes, read_mapping
from evenpull.intake.record import Particular
from tests.intake.samples import SEMICOLON as YARD
from tests.intake.samples import SHEET, SHEET_HEAD, changed, rows, workbook

HEAD = "No;Wrench;Tag;Uhr;Joint;Bolt;Pass;Torque;Unit;Angle;Hand;End;By;Lot;Drag;Drag unit;Aim"
GOOD = "41;TW-1;17.03.2026;09:12:00;KN-1;3;2;90,5;Nm;28,0;R;signal;J. Mwangale"
MORE = """
[[particular]]
name = "bolt_lot"
column = "Lot"
pattern = "^lot (.+)$"
[[particular]]
name = "drag"
column = "Drag"
unit_column = "Drag unit"
[[particular]]
name = "target"
column = "Aim"
"""


def read(*cells: str, more: str = MORE) -> Reading:
    return read_bytes(rows(";".join((GOOD, *cells)), head=HEAD), read_mapping(YARD + more, "m.toml"), "yard.csv")


def test_text_quantity_by_column_and_unit_in_the_cell() -> None:
    record = read("lot H-77", "4,5", "lbf.ft", "90 Nm").tightenings[0]
    assert record.particulars["bolt_lot"] == Particular("H-77")
    drag = record.particulars["drag"]
    assert (drag.text, drag.unit) == ("4,5", "lbf.ft")
    # 1 lbf.ft = 4.4482216152605 N x 0.3048 m exactly (NIST SP 811, appendix B; both factors are definitions)
    assert drag.si == pytest.approx(4.5 * 4.4482216152605 * 0.3048, rel=1e-12)
    assert record.particulars["target"] == Particular("90 Nm", "N.m", 90.0)
    assert record.remarks == ()


def test_empty_cells_state_nothing() -> None:
    assert read("", "", "", "").tightenings[0].particulars == {}


@pytest.mark.parametrize(("cells", "name", "said"), [
    (("H-77", "", "", ""), "bolt_lot", "does not match the pattern"),
    (("", "stiff", "N.m", ""), "drag", "is not a number"),
    (("", "4,5", "kN", ""), "drag", "is a unit of force"),
    (("", "4,5", "", ""), "drag", "the unit is missing"),
    (("", "", "", "90"), "target", "the unit is missing"),
])
def test_what_cannot_be_read_keeps_its_text_and_says_so(cells: tuple[str, ...], name: str, said: str) -> None:
    record = read(*cells).tightenings[0]
    assert record.particulars[name].text == next(cell for cell in cells if cell)
    assert record.particulars[name].si is None
    assert any(remark.startswith(f"{name}: ") and said in remark for remark in record.remarks)


def test_an_error_cell_of_a_particular_does_not_cost_the_record() -> None:
    def spoil(book: object) -> None:
        book["Data"]["G2"] = "#N/A"  # type: ignore[index]
        book["Data"]["G2"].data_type = "e"  # type: ignore[index]

    data = workbook([[*SHEET_HEAD, "Lot"], [1, "TW-1", "2026-03-17 09:12:00", "KN-1", 3, 90.5, "x"]], spoil)
    found = read_bytes(data, changed(SHEET + '[[particular]]\nname = "bolt_lot"\ncolumn = "Lot"\n'), "a.xlsx")
    assert not found.unread
    record = found.tightenings[0]
    assert record.torque == 90.5
    assert any("holds the error #N/A" in remark for remark in record.remarks)


@pytest.mark.parametrize(("more", "said"), [
    ('[[particular]]\nname = "bolt lott"\ncolumn = "Lot"\n', "did you mean bolt_lot"),
    ('[[particular]]\nname = "bolt_lot"\ncolumn = "Lot"\nunit = "N.m"\n', "is a text and has no unit"),
    ('[[particular]]\nname = "bolt_lot"\ncolumn = "Lot"\nunit_column = "Drag unit"\n', "is a text and has no unit"),
    ('[[particular]]\nname = "drag"\ncolumn = "Drag"\nunit_column = "Drag unit"\nunit = "N.m"\n', "in two ways"),
    ('[[particular]]\nname = "drag"\ncolumn = "Drag"\nunit = "kN"\n', "is a unit of force"),
    ('[[particular]]\nname = "drag"\ncolumn = "Drag"\n' * 2, "stands here twice"),
    ('[[particular]]\nname = "bolt_lot"\ncolumn = "Lot"\npattern = "lot"\n', "has 0 groups"),
])
def test_faults_of_the_mapping_are_named(more: str, said: str) -> None:
    with pytest.raises(MappingError, match=said):
        read_mapping(YARD + more, "m.toml")
