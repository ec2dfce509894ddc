"""Certificates from tables: what comes out under a mapping, and every fault with row and column."""

from __future__ import annotations

import io
import json
from datetime import date, datetime

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenpull.equipment import read_certificate_mapping, read_certificate_table, read_certificates
from evenpull.equipment.plain import from_json, to_json
from evenpull.equipment.write import certificate_text, form_text
from evenpull.intake import IntakeError
from evenpull.plan import SpecificationError
from evenpull.plan.errors import Fault
from tests.equipment.files import CERTIFICATES, GIVEN, HYDRAULIC, MAPPING, TABLE, WITH_READINGS
from tests.plan.files import changed

MAP = read_certificate_mapping(MAPPING, "mapping.toml")


def faults(table: str, mapping: str = MAPPING, given: dict[str, str] | None = None) -> tuple[Fault, ...]:
    with pytest.raises(SpecificationError) as caught:
        read_certificate_table(table.encode(), read_certificate_mapping(mapping, "m.toml"), "t.csv",
                               GIVEN if given is None else given)
    return caught.value.errors


def test_a_table_as_it_says() -> None:
    found = read_certificate_table(TABLE.encode(), MAP, "tdm4410.csv", GIVEN)
    (one,) = found.calibrations
    assert (one.serial, one.number, one.laboratory, one.unit) == ("TW-0301", "TDM 4410", "Tidewater Metrology", "N.m")
    assert one.certificate.calibrated == date(2026, 3, 2) and one.certificate.valid_until == date(2027, 3, 1)
    assert one.certificate.standards == ("RS-0001", "RS-0002") and one.permissible == 0.04
    assert one.rule.name == "guard band of U"
    assert [(p.stage, p.reference) for p in one.certificate.points] == [
        ("as found", 39.2), ("as found", 117.6), ("as found", 196.0),
        ("as left", 39.8), ("as left", 119.4), ("as left", 199.0)]
    assert one.certificate.points[0].w == pytest.approx(0.006) and one.k == 2.0
    assert found.rows["TW-0301", "TDM 4410"] == (7, 8, 9, 10, 11, 12)
    assert (13, "footer (End)") in found.aside


def test_the_same_table_as_a_spreadsheet() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for number, line in enumerate(TABLE.splitlines(), start=1):
        for at, cell in enumerate(line.split(";"), start=1):
            value: object = cell
            if cell.replace(",", "", 1).isdigit():
                value = float(cell.replace(",", "."))
            if cell == "02.03.2026":
                value = datetime(2026, 3, 2)
            if cell:
                sheet.cell(number, at, value)  # type: ignore[arg-type]
    out = io.BytesIO()
    book.save(out)
    text = changed(MAPPING, ('kind = "csv"\ndelimiter = ";"', 'kind = "xlsx"'))
    found = read_certificate_table(out.getvalue(), read_certificate_mapping(text, "m.toml"), "tdm4410.xlsx", GIVEN)
    plain = read_certificate_table(TABLE.encode(), MAP, "tdm4410.xlsx", GIVEN)
    assert found.calibrations == plain.calibrations and found.rows == plain.rows


def test_several_certificates_in_one_file_by_columns() -> None:
    lines = TABLE.splitlines()
    rows = [f"{line};{'TW-0301' if n < 3 else 'TW-0302'}" for n, line in enumerate(lines[6:12])]
    table = "\n".join([*lines[:5], lines[5] + ";Tool", *rows]) + "\n"
    text = changed(MAPPING, ('serial = { cell = "B1" }', 'serial = { column = "Tool" }'))
    found = read_certificate_table(table.encode(), read_certificate_mapping(text, "m.toml"), "t.csv", GIVEN)
    assert [(one.serial, len(one.certificate.points)) for one in found.calibrations] == [("TW-0301", 3), ("TW-0302", 3)]


@pytest.mark.parametrize(("change", "row", "column", "says"), [
    (("117,6", "117.6"), 8, "column 'Reference'", "decimal sign"),
    (("117,6", ""), 8, "column 'Reference'", "no number"),
    (("117,6", "-117,6"), 8, "column 'Reference'", "different signs"),
    (("120;120;117,6", "20;120;117,6"), 8, "column 'Nominal'", "out of order: row 7"),
    (("120;120;117,6", "40;120;117,6"), 8, "column 'Nominal'", "it is row 7"),
    (("120;120;117,6;CW", "120;120;117,6;right"), 8, "column 'Hand'", "no meaning as direction"),
    (("CW;AF;1,2", "CW;;1,2"), 7, "column 'State'", "missing"),
    (("CW;AF;1,2", "CW;AF;"), 7, "column 'W (%)'", "uncertainty is missing"),
    (("CW;AF;1,2", "CW;AF;120"), 7, "column 'W (%)'", "no uncertainty of"),
    (("02.03.2026", "2026-03-02"), 3, "calibrated (cell B3)", "no day written as"),
    (("Number;TDM 4410", "Number;"), None, "number", "is missing: nothing stands in cell B2"),
    (("CW;AF;1,2", '"CW;AF;1,2'), 7, "", "quotation mark"),
])
def test_a_fault_names_row_and_column(change: tuple[str, str], row: int | None, column: str, says: str) -> None:
    table = TABLE.replace(*change, 1)
    assert table != TABLE
    found = faults(table)
    first = next((one for one in found if one.field == column), None)
    assert first is not None, found
    assert first.line == row and says in first.message and first.allowed and first.file == "t.csv"


def test_all_faults_of_a_table_at_once() -> None:
    table = TABLE.replace("117,6", "x").replace("CCW", "?").replace("199,0", "-199,0")
    assert {(one.line, one.field) for one in faults(table)} >= {(8, "column 'Reference'"), (12, "column 'Reference'")}


def test_what_is_open_is_asked_and_must_not_differ() -> None:
    (missing,) = faults(TABLE, given={})
    assert missing.field == "valid_until" and "nothing was entered" in missing.message
    (differs,) = faults(TABLE, given={**GIVEN, "serial": "TW-9999"})
    assert differs.field == "serial (cell B1)" and "'TW-9999' was entered" in differs.message
    assert any("nothing that a certificate has" in one.message for one in faults(TABLE, given={**GIVEN, "colour": "x"}))
    assert any("no day that occurs" in one.message for one in faults(TABLE, given={"valid_until": "next year"}))


@pytest.mark.parametrize(("values", "cell", "W"), [
    ("percent", "1,2", 0.012), ("percent", "1,2 %", 0.012), ("share", "0,012", 0.012), ("value", "0,4704", 0.012)])
def test_ways_to_write_the_uncertainty(values: str, cell: str, W: float) -> None:
    text = changed(MAPPING, ('unit = "N.m"\n', f'unit = "N.m"\nuncertainty = "{values}"\n'))
    table = "\n".join([*TABLE.splitlines()[:6], f"40;40;39,2;CW;AF;{cell}"]) + "\n"
    found = read_certificate_table(table.encode(), read_certificate_mapping(text, "m.toml"), "t.csv", GIVEN)
    assert found.calibrations[0].certificate.points[0].w == pytest.approx(W / 2, rel=1e-9)


def test_files_that_are_no_such_table() -> None:
    for data, says in ((b"", "empty"), (b"a;b\n", "looks for the heading in row 6"), (b"%PDF-1.7", "PDF"),
                       (TABLE.replace("Nominal;", "Nominell;").encode(), "lacks columns"),
                       (TABLE.replace("Set;", "Nominal;").encode(), "lacks columns"),
                       (TABLE.encode("utf-16-le"), "UTF-16")):
        with pytest.raises(IntakeError, match=says):
            read_certificate_table(data, MAP, "t.csv", GIVEN)
    assert "no points" in faults("\n".join(TABLE.splitlines()[:6]) + "\n")[0].message


@pytest.mark.parametrize(("change", "field", "says"), [
    (('unit = "N.m"', 'unit = "clicks"'), "values.unit", "not known"),
    (('dates = "%d.%m.%Y"', 'dates = "%d.%m"'), "dates", "no format of a day"),
    (('dates = "%d.%m.%Y"', 'dates = "unix seconds"'), "dates", "no format of a day"),
    (('stage = "State"\n', ""), "columns.stage", "stated nowhere"),
    (("[head]", '[constant]\nstage = "as left"\n\n[head]'), "constant.stage", "stated twice"),
    (('serial = { cell = "B1" }', 'serial = { cell = "first" }'), "head.serial", "no cell"),
    (('serial = { cell = "B1" }', 'serial = "B1"'), "head.serial", "does not say where"),
    (('delimiter = ";"\n', ""), "file.delimiter", "needs its delimiter"),
    (('anticlockwise = ["CCW"]', 'anticlockwise = ["cw"]'), "meaning.direction.anticlockwise", "stands under"),
    (('nominal = "Nominal"\n', ""), "columns.nominal", "missing"),
])
def test_a_fault_of_a_mapping_is_named(change: tuple[str, str], field: str, says: str) -> None:
    with pytest.raises(SpecificationError) as caught:
        read_certificate_mapping(changed(MAPPING, change), "m.toml")
    (fault,) = [one for one in caught.value.errors if one.field == field]
    assert says in fault.message and fault.line is not None and fault.allowed


CELLS = st.sampled_from(["", "0", "-1", "1e999", "nan", "40", "39,2", "1,2", "CW", "AF", '"', "x" * 300, "\0", "٣",
                         "=1", "12 N.m", "2 %", "02.03.2026", "\u2028"])


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.lists(CELLS, max_size=8), max_size=8), st.lists(st.lists(CELLS, min_size=1, max_size=3), max_size=5))
def test_any_cells_end_in_a_reading_or_in_faults(rows: list[list[str]], head: list[list[str]]) -> None:
    """Every row of points is in a calibration or set aside; nothing else comes out of it than the two errors."""
    lines = [";".join(row) for row in head] + [""] * (5 - len(head))
    table = "\n".join([*lines, TABLE.splitlines()[5], *(";".join(row) for row in rows)]) + "\n"
    try:
        found = read_certificate_table(table.encode(), MAP, "t.csv", {
            **GIVEN, "serial": "TW-0301", "number": "N", "calibrated": "2026-03-02", "standards": "RS"})
    except (IntakeError, SpecificationError) as error:
        assert str(error)
        return
    read = [row for some in found.rows.values() for row in some]
    assert sorted([*read, *(row for row, _ in found.aside)]) == list(range(7, 7 + len(table.splitlines()) - 6))


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.binary(max_size=300), st.sampled_from(["csv", "xlsx"]))
def test_any_bytes(data: bytes, kind: str) -> None:
    text = MAPPING if kind == "csv" else changed(MAPPING, ('kind = "csv"\ndelimiter = ";"', 'kind = "xlsx"'))
    try:
        read_certificate_table(data, read_certificate_mapping(text, "m.toml"), "t", GIVEN)
    except (IntakeError, SpecificationError) as error:
        assert str(error)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 999), st.integers(-50, 50)), min_size=1, max_size=12,
                unique_by=lambda one: one[0]))
def test_what_is_written_is_read_back(points: list[tuple[int, int]]) -> None:
    """Nominal values in tenths, deviations in tenths of a percent."""
    rows = [(n / 10, n / 10 / (1 + d / 1000)) for n, d in sorted(points)]
    lines = [f"{n};{n};{r!r};CW;AF;1,2".replace(".", ",") for n, r in rows]
    table = "\n".join([*TABLE.splitlines()[:6], *lines]) + "\n"
    (one,) = read_certificate_table(table.encode(), MAP, "t.csv", GIVEN).calibrations
    assert [(p.nominal, p.reference) for p in one.certificate.points] == rows


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 99_999), st.integers(-80, 80), st.integers(1, 290)), min_size=1, max_size=9,
                unique_by=lambda one: one[0]), st.sampled_from(["N.m", "lbf.ft", "kgf.cm", "bar", "deg", "mm"]))
def test_a_table_written_as_a_typed_certificate_is_the_same(points: list[tuple[int, int, int]], unit: str) -> None:
    rows = [(n / 100, n / 100 / (1 + d / 1000), w / 10) for n, d, w in sorted(points)]
    lines = [f"{n};{n};{r!r};CW;AF;{w}".replace(".", ",") for n, r, w in rows]
    table = "\n".join([*TABLE.splitlines()[:6], *lines]) + "\n"
    mapping = read_certificate_mapping(changed(MAPPING, ('unit = "N.m"', f'unit = "{unit}"')), "m.toml")
    (one,) = read_certificate_table(table.encode(), mapping, "t.csv", GIVEN).calibrations
    assert read_certificates(certificate_text(one), "t.csv") == (one,)


@pytest.mark.parametrize("text", [CERTIFICATES, WITH_READINGS, 'form = "evenpull certificates 1"\n' + HYDRAULIC])
def test_a_typed_certificate_written_again_is_the_same(text: str) -> None:
    for one in read_certificates(text, "c.toml"):
        assert read_certificates(certificate_text(one), "c.toml") == (one,)
        assert from_json(json.loads(json.dumps(to_json(one), allow_nan=False))) == one


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_plain_values_of_a_calibration_and_nothing_else(data: st.DataObject) -> None:
    (one,) = read_certificates(WITH_READINGS, "c.toml")
    said = to_json(one)
    junk = st.none() | st.booleans() | st.floats() | st.text(max_size=4) | st.lists(st.integers(), max_size=3) | (
        st.dictionaries(st.text(max_size=3), st.integers(), max_size=2))
    key = data.draw(st.sampled_from(sorted(said)))
    said[key] = data.draw(junk)
    if data.draw(st.booleans()):
        del said[data.draw(st.sampled_from(sorted(said)))]
    try:
        from_json(said)
    except ValueError as error:
        assert str(error)
    with pytest.raises(ValueError, match="not a calibration"):
        from_json(data.draw(junk))


def test_what_is_filled_in_on_a_page() -> None:
    head = {"serial": "TW-0301", "number": "N 1", "calibrated": "2026-03-02", "valid_until": "2027-03-01",
            "laboratory": "Tidewater", "standards": "RS-1, RS-2", "unit": "N.m", "permissible": "4", "counter": "12",
            "rule": "simple acceptance", "note": ""}
    rows = [{"stage": "as found", "direction": "clockwise", "nominal": "40", "reference": "39,2", "uncertainty": "1,2"},
            {"stage": "as found", "direction": "clockwise", "nominal": "100", "readings": "97,2 97,6 98 98,4 98,8"}]
    budget = {"resolution": "0,5", "b_rep": "0,6", "b_od": "0,4", "b_int": "0,3", "b_l": "0,8", "W_md": "1"}
    text = form_text(head, rows, [{"symbol": "w_md", "value": "0,005", "distribution": "standard"}],
                     [{"range": "40 N.m; 90 N.m", "reason": "worn"}], {"months": "12", "source": "x"}, budget)
    (one,) = read_certificates(text, "typed")
    assert one.certificate.standards == ("RS-1", "RS-2") and one.permissible == 0.04 and one.counter == 12
    assert [p.reference for p in one.certificate.points] == [39.2, pytest.approx(98.0)]
    assert one.certificate.points[1].w == pytest.approx(0.01361547 / 2, abs=1e-8)
    assert one.limits[0].upper == 90 and one.interval is not None and len(one.contributions) == 1
    with pytest.raises(SpecificationError, match=r"certificate\.0\.point\.0\.nominal"):
        read_certificates(form_text(head, [{**rows[0], "nominal": "forty"}]), "typed")
