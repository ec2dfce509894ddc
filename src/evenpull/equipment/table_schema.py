"""The schema of a certificate mapping: how the table of points in a laboratory's file is to be read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import PlainValidator

from evenpull.equipment.certificate_schema import RULE_NAMES
from evenpull.intake.schema import FileTable, Words
from evenpull.intake.sources import Column, tidy
from evenpull.plan.keys import Table, key
from evenpull.plan.values import Share, Text, choice, line_text, number_within, refuse, shown

CERTIFICATE_MAPPING_FORM = "evenpull certificate mapping 1"
UNCERTAINTIES = ("percent", "share", "value")
MOST_ROW = 1000  # a cell of the head lies in these rows
_CELL = re.compile(r"([A-Za-z]{1,2})([0-9]{1,4})")
_FORMS = '{ cell = "B3" }, { column = "Serial" } or { value = "..." }'


@dataclass(frozen=True, slots=True)
class HeadSource:
    """Where a value of the certificate as a whole comes from; one of the three is set. `cell` 0-based row, column."""

    cell: tuple[int, int] | None = None
    column: str | None = None
    value: str | None = None

    @property
    def said(self) -> str:
        if self.cell is not None:
            return f"cell {cell_named(*self.cell)}"
        return f"column {self.column!r}" if self.column is not None else "the mapping"


def cell_named(row: int, column: int) -> str:
    """"B3" for (2, 1)."""
    letters = ""
    at = column + 1
    while at:
        at, rest = divmod(at - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{row + 1}"


def _head(value: object) -> HeadSource:
    if not isinstance(value, dict) or len(value) != 1 or next(iter(value)) not in ("cell", "column", "value"):
        raise refuse(f"{shown(value)} does not say where the value stands", _FORMS)
    way, given = next(iter(value.items()))
    text = tidy(line_text(given))
    if way == "value":
        return HeadSource(value=text)
    if way == "column":
        return HeadSource(column=text)
    found = _CELL.fullmatch(text)
    if found is None or not 1 <= int(found[2]) <= MOST_ROW:
        raise refuse(f"{shown(text)} is no cell", f"column and row of the file, as B3; rows 1 to {MOST_ROW}")
    column = 0
    for letter in found[1].upper():
        column = 26 * column + ord(letter) - ord("A") + 1
    return HeadSource(cell=(int(found[2]) - 1, column - 1))


Head = Annotated[HeadSource, PlainValidator(_head)]


class PointColumns(Table):
    nominal: Column = key("the point that was asked for", '"Nominal"', allowed="a column")
    indicated: Column | None = key("what the tool showed or was set to; left out: the nominal value", '"Set"', None,
                                   allowed="a column")
    reference: Column = key("what the standard showed", '"Reference"', allowed="a column")
    direction: Column | None = key("which way it was turned", '"Hand"', None,
                                   allowed="a column; or constant.direction")
    stage: Column | None = key("before or after adjustment", '"State"', None, allowed="a column; or constant.stage")
    uncertainty: Column | None = key("expanded uncertainty", '"W (%)"', None,
                                     allowed="a column; or constant.uncertainty")
    k: Column | None = key("coverage factor", '"k"', None, allowed="a column; or constant.k")


class ConstantTable(Table):
    direction: Annotated[str, choice("clockwise", "anticlockwise", "either")] | None = key(
        "for all points", '"clockwise"', None, choices=("clockwise", "anticlockwise", "either"))
    stage: Annotated[str, choice("as found", "as left")] | None = key("for all points", '"as found"', None,
                                                                      choices=("as found", "as left"))
    uncertainty: Share | None = key("for all points, relative", '"1 %"', None, allowed='share such as "1 %"')
    k: Annotated[float, number_within(1, 10, "a coverage factor this can be")] | None = key(
        "for all points; left out: 2", "2.0", None, allowed="1 to 10")


class ValuesTable(Table):
    unit: Text = key("unit of nominal, indicated and reference", '"N.m"', allowed="N.m, lbf.ft, bar, deg, mm ...")
    uncertainty: Annotated[str, choice(*UNCERTAINTIES)] = key(
        "how the column of the uncertainty is written: percent of the reference value, share of it, or a value in the "
        "unit", '"percent"', "percent", choices=UNCERTAINTIES)


def _meaning(what: str) -> Any:
    return key(f"words of the file that mean: {what}", '["..."]', (), allowed="list of texts")


class DirectionWords(Table):
    clockwise: Words = _meaning("clockwise")
    anticlockwise: Words = _meaning("anticlockwise")
    either: Words = _meaning("a device that does not turn")


class StageWords(Table):
    as_found: Words = _meaning("before any adjustment")
    as_left: Words = _meaning("after adjustment")


class PointMeanings(Table):
    direction: DirectionWords = DirectionWords()
    stage: StageWords = StageWords()


class HeadTable(Table):
    """What is left out is asked from whoever takes the file in."""

    serial: Head | None = key("serial of the item", '{ cell = "B2" }', None, allowed=_FORMS)
    number: Head | None = key("number of the certificate", '{ cell = "B3" }', None, allowed=_FORMS)
    calibrated: Head | None = key("day of the calibration", '{ cell = "B4" }', None, allowed=_FORMS)
    valid_from: Head | None = key("first day of validity", '{ cell = "B4" }', None, allowed=_FORMS)
    valid_until: Head | None = key("last day of validity", '{ cell = "B5" }', None, allowed=_FORMS)
    laboratory: Head | None = key("who calibrated it", '{ value = "Tidewater Metrology" }', None, allowed=_FORMS)
    by: Head | None = key("person who calibrated", '{ cell = "B8" }', None, allowed=_FORMS)
    standards: Head | None = key("ids of the reference standards, several with commas", '{ cell = "B6" }', None,
                                 allowed=_FORMS)
    replaces: Head | None = key("number of the certificate that ends with this one", '{ cell = "B7" }', None,
                                allowed=_FORMS)
    permissible: Head | None = key("permissible deviation either way, percent", '{ value = "4 %" }', None,
                                   allowed=_FORMS)
    rule: Head | None = key("decision rule", '{ value = "simple acceptance" }', None,
                            allowed=f"{_FORMS}; {', '.join(RULE_NAMES[:-1])}")
    counter: Head | None = key("reading of its counter", '{ cell = "D2" }', None, allowed=_FORMS)
    conditions: Head | None = key("temperature and what else matters", '{ cell = "D3" }', None, allowed=_FORMS)
    adjusted: Head | None = key("what was done between as found and as left", '{ cell = "D4" }', None, allowed=_FORMS)
    note: Head | None = key("remarks", '{ cell = "D5" }', None, allowed=_FORMS)


class CertificateMappingFile(Table):
    form: Annotated[str, choice(CERTIFICATE_MAPPING_FORM)] = key(
        "mark of the file", f'"{CERTIFICATE_MAPPING_FORM}"', choices=(CERTIFICATE_MAPPING_FORM,))
    name: Text = key("name of the mapping", '"Tidewater Metrology, torque sheet"', allowed="text")
    file: FileTable
    columns: PointColumns
    values: ValuesTable
    dates: Text = key("how its days are written", '"%d.%m.%Y"', "%Y-%m-%d", allowed="%d %m %b %B %Y %y and the signs "
                      "between; a day of a spreadsheet needs none")
    constant: ConstantTable = ConstantTable()
    meaning: PointMeanings = PointMeanings()
    head: HeadTable = HeadTable()
