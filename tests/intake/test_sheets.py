"""Spreadsheets: typed cells, formulas, merged and hidden parts, and files made to do harm."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from openpyxl import Workbook

from evenpull.intake import IntakeError, Reading, read_bytes
from evenpull.intake import workbook as workbook_module
from tests.intake.samples import SHEET, SHEET_HEAD, changed, mapping, workbook

WHEN = datetime(2026, 7, 1, 12, 0)
ROW = [7, "TW-1", WHEN, "KN-1", 3, 90.5]


def read(*data: list[object], change: Callable[[Workbook], None] | None = None, head: bool = True) -> Reading:
    table = ([SHEET_HEAD] if head else []) + list(data)
    return read_bytes(workbook(table, change), mapping(SHEET), "bench.xlsx")


def refused(data: bytes, text: str = SHEET) -> IntakeError:
    with pytest.raises(IntakeError) as caught:
        read_bytes(data, mapping(text), "bench.xlsx")
    return caught.value


def repacked(data: bytes, change: Callable[[str, bytes], bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out.getvalue()


def test_typed_cells() -> None:
    found = read(ROW, ["8", "TW-1", "2026-07-01 12:00:01", "KN-1", "4", "-90.5"], [9.0, 1, 46204.5, 7, 5, None])
    one, two, three = found.tightenings
    assert (one.row, one.counter, one.fastener, one.torque, one.torque_text) == (2, 7, 3, 90.5, "90.5")
    assert one.time == datetime(2026, 7, 1, 11, tzinfo=UTC)
    assert (two.fastener, two.torque, two.direction) == (4, 90.5, "loosen")
    assert two.time == datetime(2026, 7, 1, 11, 0, 1, tzinfo=UTC)
    assert (three.counter, three.tool, three.joint, three.torque) == (9, "1", "7", None)
    assert "no date" in three.time_doubt
    assert found.encoding == "xlsx"


def test_a_formula_without_a_stored_result_keeps_the_row_from_being_read() -> None:
    found = read(ROW, [8, "TW-1", WHEN, "KN-1", 4, "=80+10.5"], [9, "TW-1", WHEN, "KN-1", 5, 90.5, "=1+1"])
    assert [row.code for row in found.unread] == ["formula-without-value"]
    assert "cell F3" in found.unread[0].reason and found.unread[0].joint == "KN-1"
    assert [one.row for one in found.tightenings] == [2, 4], "a formula in a column that is not needed does no harm"
    assert any("2 formulas" in note and "no stored result: F3, G4" in note for note in found.notes)


def test_a_formula_with_a_stored_result_is_read_and_noted() -> None:
    data = repacked(
        workbook([SHEET_HEAD, [8, "TW-1", WHEN, "KN-1", 4, "=80+10.5"]]),
        lambda name, part: part.replace(b"<v />", b"<v>90.5</v>").replace(b"<v></v>", b"<v>90.5</v>"),
    )
    found = read_bytes(data, mapping(SHEET), "bench.xlsx")
    assert found.tightenings[0].torque == 90.5
    assert any("1 formulas; their stored results were read, nothing was computed" in note for note in found.notes)


def test_an_error_cell_is_said_and_not_taken_for_empty() -> None:
    def change(book: Workbook) -> None:
        cell = book["Data"]["F2"]
        cell.value, cell.data_type = "#DIV/0!", "e"

    found = read(ROW, change=change)
    assert found.unread[0].code == "error-cell" and "#DIV/0!" in found.unread[0].reason
    assert "#DIV/0!" in found.unread[0].raw


def test_merged_cells_are_never_filled_in() -> None:
    rows = [[number, "TW-1", WHEN, "KN-1" if number == 1 else None, number, 90.5] for number in (1, 2, 3)]
    found = read(*rows, change=lambda book: book["Data"].merge_cells("D2:D4"))
    assert [one.row for one in found.tightenings] == [2]
    assert [(row.row, row.code) for row in found.unread] == [(3, "merged-cell"), (4, "merged-cell")]
    assert "D3 is covered by the merged cells D2:D4" in found.unread[0].reason
    assert any("1 merged areas: D2:D4" in note for note in found.notes)
    beside = read(*[[n, "TW-1", WHEN, "KN-1", n, 90.5, "note"] for n in (1, 2)],
                  change=lambda book: book["Data"].merge_cells("G2:G3"))
    assert len(beside.tightenings) == 2, "a merged cell in a column that is not needed does no harm"


def test_nested_heading_with_merged_cells_and_footer() -> None:
    text = changed(
        SHEET, ("kind = \"xlsx\"", 'kind = "xlsx"\nheader_rows = [2, 3]\nstop_at = "Sum"'),
        ('"Joint"', '"Where / Joint"'),
        ('"Bolt"', '"Where / Bolt"'), ('"Torque"', '"Pull / Torque"'), ('"Wrench"', '"Tool"'), ('"No"', '"Tool / No"'),
        ('"When"', '"Pull / When"'),
    ).text  # fmt: skip
    table = [
        ["a title"], ["Where", None, "Pull", None, "Tool", None], ["Joint", "Bolt", "Torque", "When", None, "No"],
        ["KN-1", 3, 90.5, WHEN, "TW-1", 7], [], ["Sum", None, 90.5], ["signed", "by"],
    ]  # fmt: skip

    def change(book: Workbook) -> None:
        for area in ("A1:F1", "A2:B2", "C2:D2", "E2:E3"):
            book["Data"].merge_cells(area)

    found = read_bytes(workbook(table, change), mapping(text), "bench.xlsx")
    assert found.tightenings[0].tool == "TW-1" and found.tightenings[0].row == 4
    assert [row.why for row in found.set_aside] == [
        "above the heading", "heading", "heading", "blank", "footer (Sum)", "after the footer mark in row 6",
    ]
    assert not any("merged" in note for note in found.notes), "merged cells in the heading are what was expected"


def test_hidden_parts_and_other_sheets_are_noted() -> None:
    def change(book: Workbook) -> None:
        book["Data"].row_dimensions[3].hidden = True
        book["Data"].column_dimensions["B"].hidden = True
        book.create_sheet("Old").sheet_state = "hidden"

    found = read(ROW, ROW, change=change)
    assert len(found.tightenings) == 2, "a hidden row is read like all others"
    notes = " | ".join(found.notes)
    assert "1 hidden rows were read like all others: 3" in notes
    assert "hidden columns were read like all others: B" in notes
    assert "hidden sheets were not read: 'Old'" in notes


def test_sheets_are_chosen_by_name_or_the_first() -> None:
    def change(book: Workbook) -> None:
        book.create_sheet("Other")

    data = workbook([SHEET_HEAD, ROW], change)
    error = refused(data, SHEET.replace('"Data"', '"Date"'))
    assert error.code == "missing-sheet" and "'Data', 'Other'" in error.message
    found = read_bytes(data, changed(SHEET, ('sheet = "Data"\n', "")), "bench.xlsx")
    assert any("2 sheets; the first, 'Data', was read" in note for note in found.notes)


def test_a_note_far_right_or_below_does_not_move_the_rows() -> None:
    def change(book: Workbook) -> None:
        book["Data"]["Z9"] = "a note"

    found = read(ROW, change=change)
    assert found.tightenings[0].row == 2
    assert found.unread[0].row == 9 and found.unread[0].code == "joint"
    assert [row.row for row in found.set_aside] == [1, 3, 4, 5, 6, 7, 8]


def test_an_empty_sheet_has_no_heading() -> None:
    assert refused(workbook([])).code == "no-heading"


def test_a_sheet_that_begins_further_down_keeps_its_row_numbers() -> None:
    text = changed(SHEET, ("kind = \"xlsx\"", 'kind = "xlsx"\nheader_rows = [4]')).text
    found = read_bytes(workbook([[], [], [], [None, *SHEET_HEAD], [None, *ROW]]), mapping(text), "bench.xlsx")
    assert found.tightenings[0].row == 5
    assert found.columns == ("column 1", *SHEET_HEAD)


# files made to do harm


def longer(blanks: int) -> bytes:
    """A workbook whose sheet has blanks behind its XML."""
    return repacked(workbook([SHEET_HEAD, ROW]), lambda name, part: part + b" " * blanks * ("sheet1" in name))


def test_a_zip_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook_module, "MAX_UNPACKED", 1_000_000)
    bomb = longer(2_000_000)
    assert len(bomb) < 20_000
    error = refused(bomb)
    assert error.code == "too-large" and "2 MB" in error.message


def test_a_false_size_in_the_archive_cannot_grow() -> None:
    honest = longer(100_000)
    with zipfile.ZipFile(io.BytesIO(honest)) as archive:
        size = archive.getinfo("xl/worksheets/sheet1.xml").file_size
    lying = honest.replace(size.to_bytes(4, "little"), (500).to_bytes(4, "little"))
    assert lying != honest
    assert refused(lying).code == "damaged-workbook"


def test_a_cell_far_away_does_not_cost_memory() -> None:
    def change(book: Workbook) -> None:
        book["Data"]["XFD1048576"] = 1

    error = refused(workbook([SHEET_HEAD, ROW], change))
    assert error.code == "too-many-cells" and "XFD1048576" in error.message


def test_a_document_type_is_refused() -> None:
    evil = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">]><x/>'
    data = repacked(workbook([SHEET_HEAD]), lambda name, part: evil if "sheet1" in name else part)
    assert "document type" in refused(data).message


@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/_rels/workbook.xml.rels"])
@pytest.mark.parametrize("content", [b"", b"<", b"\xff\xfe\0", b"<x/>"])
def test_broken_parts_are_refused_in_words(part: str, content: bytes) -> None:
    data = repacked(workbook([SHEET_HEAD, ROW]), lambda name, old: content if name == part else old)
    assert refused(data).code in ("damaged-workbook", "no-heading")


def test_a_cut_off_file_is_refused() -> None:
    data = workbook([SHEET_HEAD, ROW])
    assert refused(data[: len(data) // 2]).code == "not-a-table"
