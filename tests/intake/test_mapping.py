"""Mapping files: what is accepted, and that every fault is named with line, field and what is allowed."""

from __future__ import annotations

import pytest

from evenpull.intake import IntakeError, MappingError, mapping_help, read_mapping
from evenpull.intake.sources import UnfitError
from tests.intake.samples import SEMICOLON, SHEET


def faults(text: str) -> dict[str, tuple[int | None, str, str]]:
    with pytest.raises(MappingError) as caught:
        read_mapping(text, "m.toml")
    assert isinstance(caught.value, IntakeError)
    return {fault.field: (fault.line, fault.message, fault.allowed) for fault in caught.value.faults}


def test_a_mapping_is_read() -> None:
    found = read_mapping(SEMICOLON, "m.toml")
    assert found.name == "yard log"
    assert found.file.delimiter == ";"
    assert found.columns_used()["columns.joint"] == ("Joint",)
    assert len(found.digest) == 64 and found.digest == read_mapping(SEMICOLON, "other.toml").digest


def test_all_faults_come_at_once_with_line_and_field() -> None:
    text = SEMICOLON.replace('decimal = ","', 'decimal = "comma"').replace("[angle]", "[angel]").replace(
        'unit_column = "Unit"', 'unit = "furlong"'
    )
    found = faults(text)
    assert found["file.decimal"][0] == 7
    assert "'.', ','" in found["file.decimal"][2]
    assert "did you mean 'angle'?" in found["angel"][1]
    assert "lbf.ft" in found["torque.unit"][2]


@pytest.mark.parametrize(
    ("old", "new", "field", "says"),
    [
        ('delimiter = ";"\n', "", "file.delimiter", "needs its delimiter"),
        ('delimiter = ";"', 'delimiter = ";;"', "file.delimiter", "not a delimiter"),
        ('decimal = ","', 'decimal = ","\nthousands = ","', "file.thousands", "cannot group"),
        ('decimal = ","', 'decimal = ","\nheader_rows = [3, 1]', "file.header_rows", "does not rise"),
        ('decimal = ","', 'decimal = ","\nheader_rows = [3, 4]\nfirst_row = 4', "file.first_row", "ends in row 4"),
        ('decimal = ","', 'decimal = ","\nsheet = "Data"', "file.sheet", "no sheets"),
        ('zone = "Europe/London"', 'zone = "Mars/Olympus"', "time.zone", "no time zone"),
        ('zone = "Europe/London"\n', "", "time.zone", "zone of the clock is missing"),
        ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %I:%M:%S", "time.format", "needs %p"),
        ("%d.%m.%Y %H:%M:%S", "%d.%m. %H:%M:%S", "time.format", "not all in it"),
        ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M:%Q", "time.format", "%Q is not understood"),
        ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %d %H", "time.format", "more than once"),
        ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M:%S %z", "time.zone", "carries its offset"),
        ("%d.%m.%Y %H:%M:%S", "unix seconds", "time.format", "stands in one column"),
        ('joint = "Joint"', 'joint = { column = "Joint", pattern = "x" }', "columns.joint", "has 0 groups"),
        ('joint = "Joint"', 'joint = { column = "Joint", pattern = "(" }', "columns.joint", "no regular expression"),
        ('joint = "Joint"', 'joint = { column = "Joint", pattern = "(?:K+)+(x)" }', "columns.joint", "never end"),
        ('joint = "Joint"', 'joint = { column = "Joint", pattern = "((?:K|KN)*)$" }', "columns.joint", "never end"),
        ('joint = "Joint"', 'joint = { column = "Joint", pattern = "(?:K?){30}(x)" }', "columns.joint", "never end"),
        ('joint = "Joint"', 'joint = { columns = ["a", "b"] }', "columns.joint", "join is missing"),
        ('joint = "Joint"', 'joint = { column = "a", value = "b" }', "columns.joint", "exactly one of"),
        ('joint = "Joint"', 'joint = { colunm = "a" }', "columns.joint", "'colunm' is not a key here"),
        ('joint = "Joint"', "joint = 3", "columns.joint", "does not say where"),
        ('joint = "Joint"\n', "", "columns.joint", "is missing"),
        ('direction = "Hand"', 'direction = { value = "up" }', "columns.direction", "not a word for direction"),
        ('direction = "Hand"\n', "", "meaning.direction", "columns.direction is not"),
        ('tighten = ["R"]', 'tighten = ["R", "L"]', "meaning.direction.loosen", "stands under 'tighten' too"),
        ('unit_column = "Unit"', "", "torque.unit", "exactly one way"),
        ('unit_column = "Unit"', 'unit_column = "Unit"\nunit = "Nm"', "torque.unit", "exactly one way"),
        ('unit = "deg"', 'unit = "Nm"', "angle.unit", "not a unit of angle"),
    ],
)  # fmt: skip
def test_each_fault_is_named(old: str, new: str, field: str, says: str) -> None:
    assert old in SEMICOLON
    found = faults(SEMICOLON.replace(old, new))
    assert field in found, found
    assert says in found[field][1]
    assert found[field][2], "what is allowed is said"


@pytest.mark.parametrize(
    ("brackets", "fits", "unfit"),
    [
        ("[[K]", ["[", "K"], ["]", "N"]),
        ("[+--]", ["+", ",", "-"], ["K", "."]),
        ("[K&&N]", ["K", "&", "N"], ["|"]),
        ("[K||N]", ["K", "|", "N"], ["&"]),
        ("[K~~N]", ["K", "~", "N"], ["&"]),
    ],
)
def test_what_a_later_python_may_read_as_sets_keeps_its_meaning(
    brackets: str, fits: list[str], unfit: list[str], recwarn: pytest.WarningsRecorder
) -> None:
    text = f'joint = {{ column = "Joint", pattern = "^({brackets})$" }}'
    joint = read_mapping(SEMICOLON.replace('joint = "Joint"', text), "m.toml").columns.joint
    assert joint is not None and [joint.pick([sign]) for sign in fits] == fits
    for sign in unfit:
        with pytest.raises(UnfitError):
            joint.pick([sign])
    assert not recwarn.list


def test_keys_of_csv_files_do_not_go_with_a_spreadsheet() -> None:
    found = faults(SHEET.replace('kind = "xlsx"', 'kind = "xlsx"\nencoding = "utf-8"\ndelimiter = ";"'))
    assert found["file.encoding"][0] == 5
    assert "spreadsheet has none" in found["file.delimiter"][1]


@pytest.mark.parametrize("text", ["", "   \n", "form = ", "form = 3", "[" * 5000, 'form = "evenpull joint 1"', "\0"])
def test_what_is_no_mapping_is_refused_as_such(text: str) -> None:
    with pytest.raises(MappingError) as caught:
        read_mapping(text, "m.toml")
    assert caught.value.file == "m.toml"


def test_help_names_every_key_once() -> None:
    fields = [row.field for row in mapping_help()]
    assert len(fields) == len(set(fields))
    assert {"file.kind", "columns.pass", "torque.negative", "meaning.end_cause.stopped by user"} <= set(fields)
    assert all(row.meaning for row in mapping_help())
