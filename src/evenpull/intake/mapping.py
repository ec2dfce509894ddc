"""Reading a mapping file: every fault at once, each with its line, field and what is allowed."""

from __future__ import annotations

from collections.abc import Mapping as Table
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from typing import Any, get_args

from pydantic import BaseModel

from evenpull.intake.fields import FIELDS
from evenpull.intake.limits import MAX_MAPPING
from evenpull.intake.record import Direction, EndCause, EventType, IntakeError
from evenpull.intake.schema import (
    EVENTS,
    MAPPING_FORM,
    AngleTable,
    ColumnsTable,
    FileTable,
    MappingFile,
    MeaningTable,
    ParticularTable,
    TimeTable,
    TorqueTable,
)
from evenpull.intake.sources import ValueSource, listed
from evenpull.intake.times import NUMBER_FORMATS, format_fault, has_offset, split_format, zone_named
from evenpull.plan.errors import Fault, SpecificationError
from evenpull.plan.guide import HelpRow, schema_help
from evenpull.plan.toml_text import Source, read_form
from evenpull.quantities import UnitError, canonical_unit, units_for

OWN_WORDS: Table[str, tuple[str, ...]] = {
    "direction": get_args(Direction), "end_cause": get_args(EndCause), "event": get_args(EventType),
    "result": ("accepted", "not accepted", "none"),
}


class MappingError(IntakeError):
    """A mapping file that cannot be used. `faults` holds all of them; line and field are those of the first."""

    def __init__(self, file: str, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        first = faults[0]
        message = first.message + (f"; allowed: {first.allowed}" if first.allowed else "")
        rest = "".join(f"\n{fault}" for fault in faults[1:])
        super().__init__("mapping", file, message + rest, line=first.line, field=first.field or None)


@dataclass(frozen=True)
class Mapping:
    """How one kind of file is read. The tables are those of the schema; `text` is the file as received."""

    name: str
    file: FileTable
    time: TimeTable | None
    columns: ColumnsTable
    torque: TorqueTable
    angle: AngleTable | None
    meaning: MeaningTable
    particulars: tuple[ParticularTable, ...]
    text: str
    source: str

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the text, hexadecimal."""
        return sha256(self.text.encode()).hexdigest()

    @property
    def sources(self) -> dict[str, ValueSource]:
        """Where each value of [columns] comes from, by its key in the mapping file; unstated keys are left out."""
        return sources_of(self.columns)

    def columns_used(self) -> dict[str, tuple[str, ...]]:
        """Names of the columns the mapping needs, by the field that needs them ("columns.joint", "torque.column")."""
        used = {f"columns.{name}": source.columns for name, source in self.sources.items() if source.columns}
        used["torque.column"] = (self.torque.column,)
        optional = {
            "torque.unit_column": self.torque.unit_column,
            "time.column": self.time and self.time.column,
            "time.time_column": self.time and self.time.time_column,
            "angle.column": self.angle and self.angle.column,
            "angle.unit_column": self.angle and self.angle.unit_column,
            "file.skip_where.column": self.file.skip_where and self.file.skip_where.column,
        }
        for index, one in enumerate(self.particulars):
            used[f"particular.{index}.column"] = (one.column,)
            if one.unit_column is not None:
                used[f"particular.{index}.unit_column"] = (one.unit_column,)
        used.update({field: (column,) for field, column in optional.items() if column})
        return used


def sources_of(columns: ColumnsTable) -> dict[str, ValueSource]:
    """The stated sources of [columns] by the key in the mapping file ("pass", not "pass_number")."""
    return stated(columns)


def stated(table: BaseModel) -> dict[str, Any]:
    """What a table states, by the key in the file; keys that are left out are not there."""
    said = {(info.alias or name): getattr(table, name) for name, info in type(table).model_fields.items()}
    return {name: value for name, value in said.items() if value is not None}


def meanings(mapping: MeaningTable) -> dict[str, dict[str, str]]:
    """For result, direction, end_cause and event: from a word of the file to our word."""
    tables: dict[str, dict[str, str]] = {}
    for kind in ("result", "direction", "end_cause", "event"):
        table = getattr(mapping, kind)
        tables[kind] = {}
        for name, info in type(table).model_fields.items():
            ours = EVENTS[name] if kind == "event" else (info.alias or name)
            if kind == "result":
                ours = name.replace("_", " ")
            for word in getattr(table, name):
                tables[kind].setdefault(word, ours)
    return tables


def mapping_help() -> tuple[HelpRow, ...]:
    """Every key of a mapping file with its meaning, what is allowed and an example."""
    return schema_help(MappingFile)


def read_mapping(text: str, file: str) -> Mapping:
    """The mapping in a TOML text; `file` is its name for messages. Raises MappingError with every fault."""
    try:
        source, found = read_form(
            text, file, MappingFile, most=MAX_MAPPING, what="a mapping file", form=MAPPING_FORM
        )
        _check_file(source, found.file)
        _check_time(source, found.time)
        _check_units(source, found)
        _check_meaning(source, found)
        _check_particulars(source, found)
        source.refuse_if_faulty()
    except SpecificationError as error:
        raise MappingError(file, tuple(error.errors)) from None
    return Mapping(
        found.name, found.file, found.time, found.columns, found.torque, found.angle, found.meaning,
        found.particular, text, file,
    )


def _check_file(source: Source, file: FileTable) -> None:
    given = source.data["file"]
    if file.kind == "csv":
        if file.delimiter is None:
            source.fault(("file", "delimiter"), None, "a csv file needs its delimiter", 'for example delimiter = ";"')
        if file.sheet is not None:
            source.fault(("file", "sheet"), file.sheet, "a csv file has no sheets", 'leave it out, or kind = "xlsx"')
    else:
        for name in ("encoding", "delimiter", "quote", "short_rows"):
            if name in given:
                source.fault(("file", name), given[name], f"{name} belongs to csv files; a spreadsheet has none",
                             "leave it out")
    if file.thousands is not None and file.thousands == file.decimal:
        source.fault(("file", "thousands"), file.thousands, "the decimal sign cannot group figures too",
                     "a sign other than the decimal sign")
    if file.first_row is not None and file.first_row <= file.header_rows[-1]:
        source.fault(("file", "first_row"), file.first_row, f"row {file.first_row} does not come after the heading, "
                     f"which ends in row {file.header_rows[-1]}", f"{file.header_rows[-1] + 1} or later")


def _check_time(source: Source, time: TimeTable | None) -> None:
    if time is None:
        return
    place = ("time", "format")
    if wrong := format_fault(time.format):
        source.fault(place, time.format, f"{time.format!r} is no format of a time: {wrong}",
                     '"%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", ' + listed(NUMBER_FORMATS))
        return
    if time.time_column is not None:
        if time.format in NUMBER_FORMATS:
            source.fault(place, time.format, f"{time.format!r} stands in one column", "leave out time_column")
        elif not all(split_format(time.format)):
            source.fault(place, time.format, "with two columns the format begins with the day and ends with the time "
                         "of day", '"%d.%m.%Y %H:%M:%S"')
    if has_offset(time.format):
        if time.zone is not None:
            source.fault(("time", "zone"), time.zone, f"the format {time.format!r} carries its offset itself",
                         "leave out zone")
    elif time.zone is None:
        source.fault(("time", "zone"), None, "the zone of the clock is missing", '"Europe/London", "UTC" ...')
    elif zone_named(time.zone) is None:
        source.fault(("time", "zone"), time.zone, f"{time.zone!r} is no time zone",
                     'a name of the IANA database: "Europe/London", "UTC" ...')


def _check_units(source: Source, found: MappingFile) -> None:
    torque, angle = found.torque, found.angle
    ways = [torque.unit is not None, torque.unit_column is not None, torque.unit_in_cell]
    if sum(ways) != 1:
        source.fault(("torque", "unit"), None, "a torque needs its unit, stated in exactly one way, not "
                     f"{'none' if not any(ways) else 'several'}",
                     'unit = "N.m", or unit_column = "...", or unit_in_cell = true')
    if angle is not None and (angle.unit is None) == (angle.unit_column is None):
        source.fault(("angle", "unit"), None, "an angle needs its unit, stated in exactly one way",
                     'unit = "deg", or unit_column = "..."')


def _check_particulars(source: Source, found: MappingFile) -> None:
    seen: set[str] = set()
    for index, one in enumerate(found.particular):
        place = ("particular", index)
        if one.name in seen:
            source.fault((*place, "name"), one.name, f"{one.name!r} stands here twice", "each only once")
        seen.add(one.name)
        quantity = FIELDS[one.name].quantity
        stated = [name for name in ("unit", "unit_column") if getattr(one, name) is not None]
        if not stated:
            continue
        if quantity is None:
            source.fault((*place, stated[0]), getattr(one, stated[0]), f"{one.name} is a text and has no unit",
                         "leave it out")
            continue
        if len(stated) > 1:
            source.fault((*place, "unit_column"), one.unit_column, "the unit is stated in two ways",
                         "unit or unit_column, not both")
        if one.unit is None:
            continue
        try:
            canonical_unit(one.unit, quantity)
        except UnitError as error:
            source.fault((*place, "unit"), one.unit, f"{one.unit!r} is not a unit of {quantity}: {error.reason}",
                         ", ".join(units_for(quantity)))


def _check_meaning(source: Source, found: MappingFile) -> None:
    sources = sources_of(found.columns)
    words = meanings(found.meaning)
    for kind in ("result", "direction", "end_cause", "event"):
        table = getattr(found.meaning, kind)
        seen: dict[str, str] = {}
        for name, info in type(table).model_fields.items():
            ours = info.alias or name
            for word in getattr(table, name):
                if word in seen:
                    source.fault(("meaning", kind, ours), word, f"{word!r} stands under {seen[word]!r} too",
                                 "each word under one meaning")
                seen.setdefault(word, ours)
        if seen and kind not in sources:
            source.fault(("meaning", kind), None, f"meanings of {kind} are stated, but columns.{kind} is not",
                         f'{kind} = "a column" under [columns]')
        constant = sources[kind].value if kind in sources else None
        if constant is not None and constant not in words[kind] and constant not in OWN_WORDS[kind]:
            source.fault(("columns", kind), constant, f"{constant!r} is not a word for {kind}",
                         listed(OWN_WORDS[kind]) + f" or a word listed under meaning.{kind}")
