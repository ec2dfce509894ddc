"""Rows of a CSV file: what becomes a tightening, what stays unread and why, and what is only remarked."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from evenpull.intake import Reading, read_bytes
from tests.intake.samples import GOOD, HEAD, SEMICOLON, cell, changed, mapping, read, rows


def unread(*lines: str) -> tuple[str, str]:
    found = read(*lines)
    assert not found.tightenings, found.tightenings
    assert len(found.unread) == 1
    return found.unread[0].code, found.unread[0].reason


def counts(found: Reading) -> tuple[int, int, int]:
    return len(found.tightenings), len(found.unread), len(found.set_aside)


def test_a_good_row() -> None:
    found = read(GOOD)
    assert counts(found) == (1, 0, 1)
    one = found.tightenings[0]
    assert (one.row, one.joint, one.fastener, one.pass_number, one.tool, one.counter) == (2, "KN-1", 3, 2, "TW-1", 41)
    assert (one.torque, one.torque_text, one.torque_unit) == (90.5, "90,5", "N.m")
    assert one.angle == pytest.approx(math.radians(28))
    assert (one.direction, one.end_cause, one.source_verdict, one.event) == ("tighten", "reached", "none", "unstated")
    assert one.time == datetime(2026, 3, 17, 9, 12, tzinfo=UTC)
    assert one.received_cells["By"] == "J. Mwangale" and one.time_doubt == "" and one.remarks == ()
    assert found.file_sha256 == one.file_sha256


@pytest.mark.parametrize(
    ("place", "text", "code", "says"),
    [
        (7, "NaN", "torque-not-finite", "not a finite number"),
        (7, "-inf", "torque-not-finite", "not a finite number"),
        (7, "1e999", "torque-not-finite", "too large"),
        (7, "see card", "torque-not-a-number", "'see card'"),
        (7, "90.5", "torque-not-a-number", "was '.' the decimal sign?"),
        (7, "1.250,5", "torque-not-a-number", "decimal sign ','"),
        (7, "9O,5", "torque-not-a-number", "9O,5"),
        (7, "١٢", "torque-not-a-number", "not a number"),
        (7, "-90,5", "negative-torque", 'negative = "loosening"'),
        (8, "furlongs", "torque-unit", "allowed units: N.m"),
        (8, "", "torque-unit", "unit is missing"),
        (8, "kN", "torque-unit", "unit of force"),
        (4, " ", "joint", "nothing is stated"),
        (5, "", "fastener", "nothing is stated"),
        (5, "B7", "fastener", "no fastener number"),
        (5, "0", "fastener", "no fastener number"),
        (5, "3.5", "fastener", "no fastener number"),
        (12, "A;B", "too-many-cells", "14 cells"),
        (12, "x\0y", "nul", "NUL"),
        (12, '"x', "unclosed-quote", "not closed"),
        (12, '"x"y', "bad-quote", "other than the delimiter"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_kept_with_its_reason(place: int, text: str, code: str, says: str) -> None:
    line = cell(place, text)
    found_code, reason = unread(line)
    assert found_code == code
    assert says in reason
    kept = read(line).unread[0]
    assert kept.raw == line.replace("\0", "␀") and kept.row == 2


def test_a_row_cut_off_is_unread_unless_the_mapping_expects_short_rows() -> None:
    short = ";".join(GOOD.split(";")[:10])
    assert unread(short)[0] == "too-few-cells"
    found = read(short, how=changed(SEMICOLON, ('decimal = ","', 'decimal = ","\nshort_rows = true')))
    assert counts(found) == (1, 0, 1)
    assert found.tightenings[0].direction == "unknown"


def test_an_unread_row_names_its_joint_where_it_can() -> None:
    assert read(cell(7, "x")).unread[0].joint == "KN-1"


@pytest.mark.parametrize(
    ("place", "text", "field", "value", "remark"),
    [
        (7, "", "torque", None, "no torque is stated"),
        (10, "X", "direction", "unknown", "no meaning for 'X'"),
        (11, "bang", "end_cause", "unknown", "no meaning for 'bang'"),
        (6, "last", "pass_number", None, "'last' is no number of a pass"),
        (0, "x41", "counter", None, "'x41' is no running number"),
        (9, "wide", "angle", None, "'wide' is not a number"),
    ],
)
def test_what_is_odd_but_not_needed_is_remarked(
    place: int, text: str, field: str, value: object, remark: str
) -> None:
    found = read(cell(place, text))
    assert counts(found) == (1, 0, 1)
    one = found.tightenings[0]
    assert getattr(one, field) == value
    assert any(remark in text for text in one.remarks), one.remarks


def test_negative_torque_as_loosening_keeps_the_text_and_gives_the_size() -> None:
    how = changed(SEMICOLON, ('unit_column = "Unit"', 'unit_column = "Unit"\nnegative = "loosening"'))
    one = read(cell(10, "L", cell(7, "−90,5")), how=how).tightenings[0]
    assert (one.torque, one.torque_text, one.direction, one.event) == (90.5, "−90,5", "loosen", "loosen")
    against = read(cell(7, "-90,5"), how=how).tightenings[0]
    assert against.direction == "unknown" and "but the direction says tightening" in against.remarks[0]


def test_loosening_by_its_letter() -> None:
    one = read(cell(10, "L")).tightenings[0]
    assert (one.direction, one.event) == ("loosen", "loosen")


def test_thousands_and_units_in_the_cell() -> None:
    how = changed(
        SEMICOLON, ('decimal = ","', 'decimal = ","\nthousands = "."'), ('unit_column = "Unit"', "unit_in_cell = true")
    )
    assert read(cell(7, "1.250,5 Nm"), how=how).tightenings[0].torque == 1250.5
    feet = read(cell(7, "66 ft-lbf"), how=how).tightenings[0]
    assert (feet.torque_text, feet.torque_unit) == ("66", "lbf.ft")
    assert feet.torque == pytest.approx(66 * 1.3558179483314004)  # 0.45359237 kg x 9.80665 m/s2 x 0.3048 m
    assert read(cell(7, "1.25,5 Nm"), how=how).unread[0].code == "torque-not-a-number"


def test_a_number_that_can_be_read_two_ways_is_noted_until_another_settles_it() -> None:
    two_ways = read(cell(7, "1,234"), cell(7, "2,345"))
    assert [one.torque for one in two_ways.tightenings] == [1.234, 2.345]
    assert any("'1,234' can be read as decimals or as grouped thousands" in note for note in two_ways.notes)
    assert not read(cell(7, "1,234"), cell(7, "2,3")).notes


def test_columns_joined_mapped_and_cut_out() -> None:
    how = changed(
        SEMICOLON,
        ('joint = "Joint"', 'joint = { value = "KN-9" }\nunit = { columns = ["Joint", "Pass"], join = "/" }'),
        ('fastener = "Bolt"', 'fastener = { column = "Bolt", map = { "left" = 1, "right" = 2 } }'),
        ('pass = "Pass"', 'pass = { column = "Pass", pattern = "^round ([0-9]+)$" }'),
    )
    one = read(cell(6, "round 3", cell(5, "right")), how=how).tightenings[0]
    assert (one.joint, one.unit_id, one.fastener, one.pass_number) == ("KN-9", "KN-1/round 3", 2, 3)
    assert "listed: 'left', 'right'" in read(cell(5, "middle"), how=how).unread[0].reason
    other = read(cell(6, "third", cell(5, "left")), how=how).tightenings[0]
    assert other.pass_number is None and "does not match the pattern" in other.remarks[0]


def test_set_aside_by_rule_and_counted() -> None:
    how = changed(
        SEMICOLON,
        ('decimal = ","',
         'decimal = ","\nheader_rows = [2]\nfirst_row = 4\nstop_at = "Total"\n'
         'skip_where = { column = "Hand", equals = ["BATCH"] }'),
    )  # fmt: skip
    lines = ("a banner", HEAD, "---", GOOD, "", cell(10, "BATCH"), ";;;;;;;;;;;;", HEAD, GOOD, "Total;1", GOOD)
    found = read_bytes(("\n".join(lines) + "\n").encode(), how, "yard.csv")
    assert counts(found) == (2, 0, 9)
    assert [row.why for row in found.set_aside] == [
        "above the heading", "heading", "between heading and first row", "blank", "Hand = BATCH", "blank",
        "heading repeated", "footer (Total)", "after the footer mark in row 10",
    ]
    assert any("rows after the footer mark in row 10 that hold something: 1" in note for note in found.notes)
    lacking = read_bytes(("\n".join(lines[:9]) + "\n").encode(), how, "yard.csv")
    assert any("'Total' was not met" in note for note in lacking.notes)


def test_quoted_line_breaks_count_from_the_first_physical_line() -> None:
    found = read(cell(12, '"J.\nMwangale"'), cell(12, '"a ""b"" ;c"'), GOOD)
    assert [one.row for one in found.tightenings] == [2, 4, 5]
    assert found.tightenings[0].received_cells["By"] == "J.\nMwangale"
    assert found.tightenings[1].received_cells["By"] == 'a "b" ;c'


def test_an_open_quote_costs_one_row_only() -> None:
    found = read(cell(12, '"open'), *[GOOD] * 150)
    assert counts(found) == (150, 1, 1)
    assert found.unread[0].row == 2
    found = read(cell(12, '"open'), GOOD, cell(12, '"fine"'), GOOD)
    assert [one.row for one in found.tightenings] == [3, 4, 5] and found.unread[0].code == "unclosed-quote"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end_gives_the_same_rows_and_hashes(end: str) -> None:
    found = read_bytes(rows(GOOD, cell(5, "4"), end=end), mapping(), "yard.csv")
    other = read(GOOD, cell(5, "4"))
    assert [(t.row, t.raw_sha256) for t in found.tightenings] == [(t.row, t.raw_sha256) for t in other.tightenings]


def test_the_key_is_that_of_the_tool_and_the_same_row_has_the_same_key_in_another_file() -> None:
    one, other = read(GOOD).tightenings[0], read(cell(5, "9"), GOOD).tightenings[1]
    assert one.key == other.key and one.file_sha256 != other.file_sha256
    assert one.key.startswith("TW-1//41/")
    changed_row = read(cell(7, "90,6")).tightenings[0]
    assert changed_row.key != one.key


def test_a_last_line_without_an_end_is_noted() -> None:
    assert any("cut off" in note for note in read_bytes(rows(GOOD)[:-2], mapping(), "yard.csv").notes)


def test_unlisted_words_are_summed_up() -> None:
    found = read(*[cell(10, "X")] * 3)
    assert "direction: 'X' in 3 rows has no meaning under this mapping" in found.notes


def test_not_one_row_could_be_read_is_said() -> None:
    assert any("may not be the one for this file" in note for note in read(cell(7, "90.5")).notes)
