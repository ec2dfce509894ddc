"""How a file of torque-angle curves is read: a TOML text, kept like the mappings of records.

What names the record of a curve (tool, memory, counter ...) comes from a column, from the name of the run by a form
such as "{tool}/{counter}", or is stated once for the whole file. The texts beside the keys are the help of the command.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from typing import Annotated

from evenpull.curve.read_csv import Layout
from evenpull.intake.limits import MAX_MAPPING
from evenpull.intake.mapping import MappingError, stated
from evenpull.intake.schema import TorqueUnit
from evenpull.intake.times import zone_named
from evenpull.plan.errors import SpecificationError
from evenpull.plan.guide import HelpRow, schema_help
from evenpull.plan.keys import Table, key
from evenpull.plan.toml_text import Source, read_form
from evenpull.plan.values import Text, Texts, choice, number_within

CURVE_MAPPING_FORM = "evenpull curve mapping 1"
FIELDS = ("tool", "epoch", "unit", "counter", "fastener", "pass", "began")
_FIELD = re.compile(r"\{([a-z]+)\}")
_A_COLUMN = "the heading of a column"


class CurveFileTable(Table):
    kind: Annotated[str, choice("long", "wide", "parquet")] = key(
        "long: a line a point; wide: a line a moment, two columns a run; parquet: our own layout (docs/curves.md)",
        '"long"', choices=("long", "wide", "parquet"))
    encoding: Text = key("how characters are written", '"utf-8-sig"', "utf-8-sig", allowed="a name of an encoding")
    delimiter: Annotated[str, choice(",", ";", "\t", "|")] = key("what stands between the cells", '";"', ",",
                                                                 choices=(",", ";", "\\t", "|"))
    decimal: Annotated[str, choice(".", ",")] = key("decimal sign", '","', ".", choices=(".", ","))
    missing: Texts = key("cells that mean a missing value", '["-", "NaN"]', (), allowed="a list of texts")


class CurveColumns(Table):
    run: Text | None = key("long: which run a line belongs to; left out: the file is one curve", '"Run"', None,
                           allowed=_A_COLUMN)
    time: Text | None = key("time of a point", '"Time"', None, allowed=_A_COLUMN)
    rate: Annotated[float, number_within(1e-3, 1e7, "points a second")] | None = key(
        "points a second, in place of a column of the time", "1000", None, allowed="a number above zero")
    angle: Text = key("angle; wide: what follows the name of the run in the heading", '"Angle"', allowed=_A_COLUMN)
    torque: Text = key("torque; wide: what follows the name of the run", '"Torque"', allowed=_A_COLUMN)
    step: Text | None = key("long: number of the step of the program", '"Step"', None, allowed=_A_COLUMN)


class CurveUnits(Table):
    torque: TorqueUnit = key("unit of the torque", '"N.m"', "N.m", allowed="a unit of torque")
    angle: Annotated[str, choice("deg", "rad", "rev")] = key("unit of the angle", '"deg"', "deg",
                                                             choices=("deg", "rad", "rev"))
    time: Annotated[str, choice("s", "ms", "min")] = key("unit of the time", '"ms"', "s", choices=("s", "ms", "min"))


class CurveNames(Table):
    """Columns of a long file, or texts that hold for the whole file."""

    tool: Text | None = key("serial of the tool", '"TW-0244"', None, allowed="text")
    epoch: Text | None = key("which filling of the tool's memory its numbers belong to", '"A"', None, allowed="text")
    unit: Text | None = key("of a series: which unit", '"Serial"', None, allowed="text")
    counter: Text | None = key("running number given by the tool", '"Reading no"', None, allowed="text")
    fastener: Text | None = key("number of the fastener", '"Bolt"', None, allowed="text")
    pass_number: Text | None = key("number of the pass", '"Round"', None, allowed="text", alias="pass")
    began: Text | None = key("when the tightening began: 2026-03-18T13:40:00, with zone or in [record] zone", '"Start"',
                             None, allowed="text")


class CurveRecord(Table):
    run_form: Text | None = key("what the name of a run is made of", '"{tool}/{counter}"', None,
                                allowed="{" + "}, {".join(FIELDS) + "} with signs between them")
    zone: Text | None = key("time zone of times that state none", '"Europe/London"', None, allowed="a zone, or UTC")
    columns: CurveNames = key("columns of a long file", "", CurveNames())
    stated: CurveNames = key("texts that hold for every curve of the file", "", CurveNames())


class CurveMappingFile(Table):
    form: Text = key("what this file is", f'"{CURVE_MAPPING_FORM}"')
    name: Text = key("name of the mapping", '"spindle 4, traces"')
    file: CurveFileTable
    columns: CurveColumns | None = None
    units: CurveUnits = key("units", "", CurveUnits())
    record: CurveRecord = key("what names the record of a curve", "", CurveRecord())


@dataclass(frozen=True)
class CurveMapping:
    """How one kind of curve file is read. `layout` is None for Parquet of our own layout."""

    name: str
    layout: Layout | None
    run_form: str
    stated: dict[str, str]
    zone: str
    text: str
    source: str

    @property
    def digest(self) -> str:
        """SHA-256 of the text, hexadecimal."""
        return sha256(self.text.encode()).hexdigest()

    @cached_property
    def run_pattern(self) -> re.Pattern[str] | None:
        """What a name of a run has to match, None without `run_form`. Each field ends at the sign behind it."""
        return None if not self.run_form else run_pattern(self.run_form)


def run_pattern(form: str) -> re.Pattern[str]:
    """ "{tool}/{counter}" as a regular expression that never has to try twice. ValueError says what is wrong."""
    parts = _FIELD.split(form)
    names = parts[1::2]
    if not names:
        raise ValueError("it names no field")
    if unknown := [name for name in names if name not in FIELDS]:
        raise ValueError(f"{{{unknown[0]}}} is none of the fields")
    if len(set(names)) != len(names):
        raise ValueError("it names a field twice")
    made = re.escape(parts[0])
    for place, name in enumerate(names):
        after = parts[2 * place + 2]
        if not after and place < len(names) - 1:
            raise ValueError(f"{{{name}}} and {{{names[place + 1]}}} have no sign between them")
        made += f"(?P<{name}>[^{re.escape(after[0])}]+)" if after else f"(?P<{name}>.+)"
        made += re.escape(after)
    return re.compile(made)


def curve_mapping_help() -> tuple[HelpRow, ...]:
    """Every key of a curve mapping with its meaning, what is allowed and an example."""
    return schema_help(CurveMappingFile)


def read_curve_mapping(text: str, file: str) -> CurveMapping:
    """The mapping in a TOML text; `file` is its name for messages. Raises MappingError with every fault."""
    try:
        source, found = read_form(
            text, file, CurveMappingFile, most=MAX_MAPPING, what="a curve mapping", form=CURVE_MAPPING_FORM
        )
        _check(source, found)
        source.refuse_if_faulty()
    except SpecificationError as error:
        raise MappingError(file, tuple(error.errors)) from None
    record = found.record
    return CurveMapping(found.name, _layout(found), record.run_form or "", stated(record.stated), record.zone or "",
                        text, file)


def _layout(found: CurveMappingFile) -> Layout | None:
    file, c, units = found.file, found.columns, found.units
    if c is None:
        return None
    return Layout(
        kind=file.kind,  # type: ignore[arg-type]
        run=c.run, time=c.time, angle=c.angle, torque=c.torque, step=c.step, rate=c.rate,
        keys=tuple(stated(found.record.columns).items()), delimiter=file.delimiter,
        decimal=file.decimal,  # type: ignore[arg-type]
        torque_unit=units.torque,
        angle_unit=units.angle,  # type: ignore[arg-type]
        time_unit=units.time,  # type: ignore[arg-type]
        missing=file.missing, encoding=file.encoding,
    )


def _check(source: Source, found: CurveMappingFile) -> None:
    c, record, kind = found.columns, found.record, found.file.kind
    columns = stated(record.columns)
    if kind == "parquet" and (c is not None or columns):
        source.fault(("columns",), None, "Parquet of our own layout has columns of its own", "leave it out")
    if kind != "parquet" and c is None:
        source.fault(("columns",), None, "a text file needs its columns", "[columns] with time or rate, angle, torque")
    if c is not None:
        if (c.time is None) == (c.rate is None):
            source.fault(("columns", "time"), c.time, "either the column of the time or the rate in points a second",
                         "one of time and rate")
        if kind == "wide":
            for name in ("run", "step"):
                if getattr(c, name) is not None:
                    source.fault(("columns", name), getattr(c, name), f"a wide file has no column of the {name}",
                                 "leave it out")
            if columns:
                source.fault(("record", "columns"), None, "in a wide file the key stands in the name of the run",
                             "run_form or stated")
        if found.file.delimiter == found.file.decimal:
            source.fault(("file", "delimiter"), found.file.delimiter, "it is the decimal sign too", "another sign")
    from_run: list[str] = []
    if record.run_form is not None:
        try:
            from_run = list(run_pattern(record.run_form).groupindex)
        except ValueError as error:
            source.fault(("record", "run_form"), record.run_form, str(error),
                         "{" + "}, {".join(FIELDS) + "}, each once, with signs between them")
    for name in FIELDS:
        said = [where for where, there in (("run_form", name in from_run), ("columns", name in columns),
                                           ("stated", name in stated(record.stated))) if there]
        if len(said) > 1:
            source.fault(("record", said[-1]), None, f"{name} is said twice: by {' and '.join(said)}", "say it once")
    if record.zone is not None and zone_named(record.zone) is None:
        source.fault(("record", "zone"), record.zone, "no such time zone is known", "for example Europe/London, or UTC")
