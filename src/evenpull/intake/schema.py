"""The schema of a mapping file: how one kind of tool file is to be read.

The texts beside each key are the one source for the help on the page and in the documentation. What several keys say
together is checked in `mapping`.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import Annotated, Any

from pydantic import Field, PlainValidator

from evenpull.intake.fields import FIELDS
from evenpull.intake.record import EventType
from evenpull.intake.sources import Column, OneGroup, Where, tidy
from evenpull.plan.keys import YES_NO, Table, key
from evenpull.plan.values import Flag, Text, choice, line_text, refuse, shown, whole_within
from evenpull.quantities import Kind, UnitError, canonical_unit, units_for

MAPPING_FORM = "evenpull mapping 1"
KINDS = ("csv", "xlsx")
ENCODINGS = ("utf-8", "utf-16", "cp1252", "detect")
MARKS = (".", ",")
NEGATIVE = ("loosening", "error")
QUOTES = {"double": '"', "single": "'", "none": ""}


def _delimiter(value: object) -> str:
    allowed = 'one character between the cells: ";", ",", "|", "\\t" (tabulator)'
    if not isinstance(value, str) or len(value) != 1:
        raise refuse(f"{shown(value)} is not a delimiter", allowed)
    if value in "\r\n\0\"'" or value.isalnum():
        raise refuse(f"{shown(value)} cannot stand between cells", allowed)
    return value


def _thousands(value: object) -> str:
    if value not in (".", ",", " ", "'", "’"):
        raise refuse(f"{shown(value)} does not group figures", "one of . , ' and a blank, or leave it out")
    return str(value)


def _header_rows(value: object) -> tuple[int, ...]:
    allowed = "row numbers counted from 1, rising, at most five: [1], [3, 4]"
    if not isinstance(value, list) or not 1 <= len(value) <= 5:
        raise refuse(f"{shown(value)} is not a list of heading rows", allowed)
    for item in value:
        if isinstance(item, bool) or not isinstance(item, int) or not 1 <= item <= 1000:
            raise refuse(f"{shown(item)} is not a row number", allowed)
    if value != sorted(set(value)):
        raise refuse(f"{shown(value)} does not rise", allowed)
    return tuple(value)


def _words(value: object) -> tuple[str, ...]:
    allowed = 'a list of what the cell may hold: ["IN", "within limits"]'
    if not isinstance(value, list) or not 1 <= len(value) <= 200:
        raise refuse(f"{shown(value)} is not a list of words", allowed)
    words = tuple(tidy(line_text(str(item) if type(item) is int else item)) for item in value)
    for word in words:
        if words.count(word) > 1:
            raise refuse(f"{shown(word)} stands in the list more than once", "each only once")
    return words


def _unit(kind: Kind) -> PlainValidator:
    def check(value: object) -> str:
        text = line_text(value)
        try:
            return canonical_unit(text, kind)
        except UnitError as error:
            raise refuse(f"{shown(text)} is not a unit of {kind}: {error.reason}", ", ".join(units_for(kind))) from None

    return PlainValidator(check)


Delimiter = Annotated[str, PlainValidator(_delimiter)]
Thousands = Annotated[str, PlainValidator(_thousands)]
HeaderRows = Annotated[tuple[int, ...], PlainValidator(_header_rows)]
Words = Annotated[tuple[str, ...], PlainValidator(_words)]
TorqueUnit = Annotated[str, _unit("torque")]
AngleUnit = Annotated[str, _unit("angle")]


class SkipTable(Table):
    column: Column = key("a row is set aside when this column ...", '"Type"', allowed="a column")
    equals: Words = key("... holds one of these", '["BATCH"]', allowed="list of texts")


class FileTable(Table):
    kind: Annotated[str, choice(*KINDS)] = key("what kind of file", '"csv"', choices=KINDS)
    encoding: Annotated[str, choice(*ENCODINGS)] = key(
        "how characters are written (csv); detect: by the byte order mark, else UTF-8, else refused", '"utf-8"',
        "detect", choices=ENCODINGS)
    delimiter: Delimiter | None = key("what stands between the cells (csv, needed there)", '";"', None,
                                      allowed='one character; "\\t" for the tabulator')
    quote: Annotated[str, choice(*QUOTES)] = key(
        "which quotation marks enclose a cell that holds the delimiter or a line break (csv)", '"double"', "double",
        choices=tuple(QUOTES))
    decimal: Annotated[str, choice(*MARKS)] = key("decimal sign", '","', ".", choices=MARKS)
    thousands: Thousands | None = key("what groups figures by thousands", '"."', None, allowed=". , ' or a blank")
    sheet: Text | None = key("sheet to read (xlsx); left out: the first", '"Data"', None, allowed="name of a sheet")
    header_rows: HeaderRows = key(
        "rows of the heading; of several, each name is built from top to bottom with ' / ' between, a blank cell in "
        "all but the last carries its left neighbour", "[3, 4]", (1,), allowed="row numbers from 1, rising")
    first_row: Annotated[int, whole_within(2, 2000, "is not a row where records can begin")] | None = key(
        "first row of records; left out: after the heading", "5", None, allowed="row number after the heading")
    stop_at: Text | None = key("a row whose first filled cell begins with this is the footer, and all after it",
                               '"Total"', None, allowed="text")
    skip_where: SkipTable | None = None
    short_rows: Flag = key("rows may lack cells at their end (csv); otherwise such a row stays unread, as it may be "
                           "cut off", "false", False, allowed="true or false", choices=YES_NO)


class TimeTable(Table):
    column: Column = key("column of the time, or of the day", '"Date"', allowed="a column")
    time_column: Column | None = key("column of the time of day, when that is another", '"Time"', None,
                                     allowed="a column")
    format: Text = key(
        "how it is written; with two columns both parts with a blank between", '"%d.%m.%Y %H:%M:%S"',
        allowed="%d %m %b %B %Y %y %j %H %I %M %S %f %p %z and the signs between; or spreadsheet days, unix seconds, "
                "unix milliseconds")
    zone: Text | None = key("time zone of the clock that wrote it", '"Europe/London"', None,
                            allowed="a zone of the IANA database, or UTC")


class ColumnsTable(Table):
    joint: Where = key("id of the joint", '"Tag"', allowed="a column or table")
    fastener: Where = key("number of the fastener", '"Bolt"', allowed="a column or table")
    pass_number: Where | None = key("number of the pass; left out: not stated", '{ column = "Round", pattern = '
                                    '"^round ([0-9]+)$" }', None, allowed="a column or table", alias="pass")
    unit: Where | None = key("of a series: which unit", '{ columns = ["workpiece", "use"], join = "/" }', None,
                             allowed="a column or table")
    event: Where | None = key("what kind of event", '"Kind"', None, allowed="a column or table; see meaning.event")
    tool: Where | None = key("serial of the tool", '"Wrench"', None, allowed="a column or table")
    counter: Where | None = key("running number given by the tool", '"Reading no"', None, allowed="a column or table")
    epoch: Where | None = key("which filling of the tool's memory the number belongs to", '"Memory"', None,
                              allowed="a column or table")
    operator: Where | None = key("who worked", '"By"', None, allowed="a column or table")
    result: Where | None = key("the tool's own result", '"Result"', None,
                               allowed="a column or table; see meaning.result")
    direction: Where | None = key("tightening or loosening", '"Hand"', None,
                                  allowed="a column or table; see meaning.direction")
    end_cause: Where | None = key("why the pull ended", '"Stopped"', None,
                                  allowed="a column or table; see meaning.end_cause")


class TorqueTable(Table):
    column: Column = key("column of the torque", '"Moment"', allowed="a column")
    unit: TorqueUnit | None = key("unit of the whole column", '"N.m"', None,
                                  allowed="one of unit, unit_column, unit_in_cell", unit="N.m, lbf.ft, ...")
    unit_column: Column | None = key("column that names the unit", '"Unit"', None, allowed="a column")
    unit_in_cell: Flag = key('the unit stands behind the number, as in "90,5 Nm"', "false", False,
                             allowed="true or false", choices=YES_NO)
    negative: Annotated[str, choice(*NEGATIVE)] = key(
        "what a negative torque means; error: the row stays unread", '"loosening"', "error", choices=NEGATIVE)


class AngleTable(Table):
    column: Column = key("column of the angle", '"Turn"', allowed="a column")
    unit: AngleUnit | None = key("unit of the whole column", '"deg"', None, allowed="one of unit, unit_column",
                                 unit="deg, rad, turn")
    unit_column: Column | None = key("column that names the unit", '"Angle unit"', None, allowed="a column")


def _field_name(value: object) -> str:
    if isinstance(value, str) and value in FIELDS:
        return value
    near = get_close_matches(value.casefold().replace(" ", "_"), FIELDS, 3, 0.6) if isinstance(value, str) else []
    meant = f"; did you mean {' or '.join(near)}?" if near else ""
    raise refuse(f"{shown(value)} is not the name of a further field{meant}", ", ".join(FIELDS))


class ParticularTable(Table):
    name: Annotated[str, PlainValidator(_field_name)] = key("a further field of the record, by its name", '"bolt_lot"',
                                                            choices=tuple(FIELDS))
    column: Column = key("column that holds it", '"Batch"', allowed="a column")
    pattern: OneGroup | None = key("the part of the cell that is meant, when it holds more", '"^lot (.+)$"', None,
                                   allowed="a regular expression with exactly one group")
    unit: Text | None = key("unit of the whole column, for a quantity", '"N.m"', None,
                            allowed="a unit of its kind; without unit and unit_column it stands in the cell")
    unit_column: Column | None = key("column that names the unit, for a quantity", '"Unit"', None, allowed="a column")


def _meaning(what: str, name: str | None = None) -> Any:
    return key(f"words of the file that mean: {what}", '["..."]', (), allowed="list of texts", alias=name)


class ResultWords(Table):
    accepted: Words = _meaning("accepted by the tool")
    not_accepted: Words = _meaning("not accepted by the tool")


class DirectionWords(Table):
    tighten: Words = _meaning("turned in the tightening direction")
    loosen: Words = _meaning("turned in the loosening direction")


class EndWords(Table):
    reached: Words = _meaning("ended because the target was reached")
    stopped_by_user: Words = _meaning("stopped by the user", "stopped by user")
    limit: Words = _meaning("ended at a limit before the target")
    error: Words = _meaning("ended with an error before the target")


class EventWords(Table):
    first: Words = _meaning("first tightening")
    step: Words = _meaning("a step of the procedure")
    check_pass: Words = _meaning("check pass", "check pass")
    touch_up: Words = _meaning("touch-up", "touch-up")
    re_tighten: Words = _meaning("re-tighten after service", "re-tighten after service")
    loosen: Words = _meaning("loosened")
    remove: Words = _meaning("removed")
    replace: Words = _meaning("tightened with a replaced part")
    residual_check: Words = _meaning("residual check", "residual check")
    check_device_pull: Words = _meaning("pull on the check device, not on a joint", "check-device pull")
    unstated: Words = _meaning("the kind of event is not stated")


EVENTS: dict[str, EventType] = {
    "first": "first", "step": "step", "check_pass": "check pass", "touch_up": "touch-up",
    "re_tighten": "re-tighten after service", "loosen": "loosen", "remove": "remove", "replace": "replace",
    "residual_check": "residual check", "check_device_pull": "check-device pull", "unstated": "unstated",
}


class MeaningTable(Table):
    result: ResultWords = ResultWords()
    direction: DirectionWords = DirectionWords()
    end_cause: EndWords = EndWords()
    event: EventWords = EventWords()


class MappingFile(Table):
    form: Annotated[str, choice(MAPPING_FORM)] = key("mark of the file", f'"{MAPPING_FORM}"', choices=(MAPPING_FORM,))
    name: Text = key("name of the mapping", '"store log, semicolons"', allowed="text")
    file: FileTable
    time: TimeTable | None = None
    columns: ColumnsTable
    torque: TorqueTable
    angle: AngleTable | None = None
    particular: Annotated[tuple[ParticularTable, ...], Field(max_length=80)] = ()
    meaning: MeaningTable = MeaningTable()
