"""Reading a certificate mapping: every fault at once, each with its line, field and what is allowed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256

from evenpull.equipment.certificates import unit_and_kind
from evenpull.equipment.table_schema import (
    CERTIFICATE_MAPPING_FORM,
    CertificateMappingFile,
    ConstantTable,
    HeadSource,
    HeadTable,
    PointColumns,
    PointMeanings,
)
from evenpull.instrument.certificate import DIRECTIONS, STAGES
from evenpull.intake.limits import MAX_MAPPING
from evenpull.intake.schema import FileTable
from evenpull.intake.times import NUMBER_FORMATS, format_fault, has_time_of_day
from evenpull.plan.toml_text import Source, read_form
from evenpull.quantities import Kind, UnitError


@dataclass(frozen=True)
class CertificateMapping:
    """How one kind of certificate table is read; `text` is the mapping as received, `source` its file."""

    name: str
    file: FileTable
    columns: PointColumns
    unit: str
    kind: Kind
    uncertainty: str  # percent, share or value
    dates: str
    constant: ConstantTable
    meaning: PointMeanings
    head: HeadTable
    text: str
    source: str

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the text, hexadecimal."""
        return sha256(self.text.encode()).hexdigest()

    @cached_property
    def heads(self) -> dict[str, HeadSource]:
        """The stated sources of [head] by their key."""
        found = {name: getattr(self.head, name) for name in HeadTable.model_fields}
        return {name: source for name, source in found.items() if source is not None}

    def columns_used(self) -> dict[str, tuple[str, ...]]:
        """Names of the columns the mapping needs, by the field that needs them."""
        used: dict[str, tuple[str, ...]] = {
            f"columns.{name}": (column,) for name in PointColumns.model_fields
            if (column := getattr(self.columns, name)) is not None
        }
        used |= {f"head.{name}": (source.column,) for name, source in self.heads.items() if source.column is not None}
        if self.file.skip_where is not None:
            used["file.skip_where.column"] = (self.file.skip_where.column,)
        return used

    @cached_property
    def words(self) -> dict[str, dict[str, str]]:
        """For direction and stage: from a word of the file, folded, to ours; our own words where none is listed."""
        direction: dict[str, str] = {
            word.casefold(): ours for ours in DIRECTIONS for word in getattr(self.meaning.direction, ours)
        }
        stage: dict[str, str] = {word.casefold(): ours for ours in STAGES
                                 for word in getattr(self.meaning.stage, ours.replace(" ", "_"))}
        own: dict[str, dict[str, str]] = {"direction": {one: one for one in DIRECTIONS},
                                          "stage": {one: one for one in STAGES}}
        return {"direction": direction or own["direction"], "stage": stage or own["stage"]}


def read_certificate_mapping(text: str, file: str) -> CertificateMapping:
    """The mapping in a TOML text; `file` names it in errors. Raises SpecificationError with every fault."""
    source, found = read_form(
        text, file, CertificateMappingFile, most=MAX_MAPPING, what="a certificate mapping",
        form=CERTIFICATE_MAPPING_FORM,
    )  # fmt: skip
    unit, kind = _unit(source, found.values.unit)
    _check_file(source, found.file)
    _check_dates(source, found.dates)
    _check_points(source, found)
    _check_words(source, found.meaning)
    source.refuse_if_faulty()
    return CertificateMapping(found.name, found.file, found.columns, unit, kind, found.values.uncertainty, found.dates,
                              found.constant, found.meaning, found.head, text, file)


def _unit(source: Source, text: str) -> tuple[str, Kind]:
    try:
        return unit_and_kind(text)
    except UnitError as error:
        source.fault(("values", "unit"), text, error.reason, ", ".join(error.allowed))
        return "N.m", "torque"


def _check_file(source: Source, file: FileTable) -> None:
    if file.kind == "csv" and file.delimiter is None:
        source.fault(("file", "delimiter"), None, "a csv file needs its delimiter", 'for example delimiter = ";"')
    if file.thousands is not None and file.thousands == file.decimal:
        source.fault(("file", "thousands"), file.thousands, "the decimal sign cannot group figures too",
                     "a sign other than the decimal sign")
    if file.first_row is not None and file.first_row <= file.header_rows[-1]:
        source.fault(("file", "first_row"), file.first_row, f"row {file.first_row} does not come after the heading, "
                     f"which ends in row {file.header_rows[-1]}", f"{file.header_rows[-1] + 1} or later")


def _check_dates(source: Source, dates: str) -> None:
    wrong = format_fault(dates) or ("it holds a time of day" if has_time_of_day(dates) else "")
    if dates in NUMBER_FORMATS or wrong:
        source.fault(("dates",), dates, f"{dates!r} is no format of a day: {wrong or 'a count of days is none'}",
                     '"%d.%m.%Y", "%Y-%m-%d", "%m/%d/%Y"')


def _check_points(source: Source, found: CertificateMappingFile) -> None:
    """Direction, stage, uncertainty and k in exactly one way; k may be left out."""
    for name in ("direction", "stage", "uncertainty", "k"):
        column, constant = getattr(found.columns, name), getattr(found.constant, name)
        if column is not None and constant is not None:
            source.fault(("constant", name), constant, f"{name} is stated twice: the column {column!r} says it",
                         "leave one of both out")
        elif column is None and constant is None and name != "k":
            source.fault(("columns", name), None, f"{name} is stated nowhere",
                         f"{name} under [columns], or under [constant] for all points")


def _check_words(source: Source, meaning: PointMeanings) -> None:
    for kind in ("direction", "stage"):
        table = getattr(meaning, kind)
        seen: dict[str, str] = {}
        for name in type(table).model_fields:
            for word in getattr(table, name):
                first = seen.setdefault(word.casefold(), name)
                if first != name:
                    source.fault(("meaning", kind, name), word, f"{word!r} stands under {first!r} too",
                                 "each word under one meaning")
