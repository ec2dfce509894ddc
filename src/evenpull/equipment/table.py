"""Reading the points of certificates from a CSV or XLSX file under a mapping: all of them or none.

Errors name the file, the row and the column; a file that is no table at all is refused by the readers of
`evenpull.intake`, which are used as they are.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from hashlib import sha256

from evenpull.equipment.certificate_schema import MOST_POINTS, RULE_NAMES
from evenpull.equipment.certificates import decision_rule
from evenpull.equipment.model import Calibration
from evenpull.equipment.table_mapping import CertificateMapping
from evenpull.equipment.table_schema import HeadTable
from evenpull.instrument.certificate import CertificateError, Entry, certificate
from evenpull.instrument.certificate import Fault as PointFault
from evenpull.intake.heading import Heading
from evenpull.intake.numbers import NumberError, NumberForm
from evenpull.intake.read import table_rows
from evenpull.intake.record import IntakeError
from evenpull.intake.sources import tidy
from evenpull.intake.textrows import SourceRow
from evenpull.plan.errors import Fault, SpecificationError
from evenpull.plan.toml_text import MOST_FAULTS
from evenpull.plan.values import line_text, shown
from evenpull.quantities import to_si

MOST_UNCERTAINTY = 0.3  # share; as in a typed certificate
NEEDED = ("serial", "number", "calibrated", "valid_until", "laboratory", "standards", "rule")
DAYS = ("calibrated", "valid_from", "valid_until")
WORDS = {  # for a message
    "serial": "the serial of the item", "number": "the number of the certificate", "calibrated": "the day of the "
    "calibration", "valid_until": "the last day of validity", "laboratory": "who calibrated it", "standards": "the ids "
    "of the reference standards", "rule": "the decision rule",
}
SERIAL = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}")  # as plan.schema.Serial
_POINT_FIELD = {"nominal": "nominal", "indicated": "indicated", "reference": "reference", "direction": "direction",
                "stage": "stage", "uncertainty": "uncertainty", "k": "k"}


@dataclass(frozen=True)
class TableReading:
    """What one file gave: `calibrations` in the order of the file, with the rows of their points (`rows`, by serial and
    number); `aside` rows that the mapping sets aside, with the reason; `notes` on the file as a whole."""

    calibrations: tuple[Calibration, ...]
    rows: Mapping[tuple[str, str], tuple[int, ...]]
    aside: tuple[tuple[int, str], ...]
    notes: tuple[str, ...]
    sha256: str


def read_certificate_table(
    data: bytes, mapping: CertificateMapping, name: str, given: Mapping[str, str] | None = None,
) -> TableReading:
    """The calibrations in a file; `given` holds what the mapping leaves open, by the keys of its [head], days in ISO
    form. What the file says and what was given must not differ.

    Raises IntakeError when the file as a whole cannot be read, SpecificationError with every fault else.
    """
    rows, notes = table_rows(data, mapping, name)
    return _Table(rows, mapping, name, given or {}).read(notes, sha256(data).hexdigest())


class _Table:
    def __init__(self, rows: list[SourceRow], mapping: CertificateMapping, name: str, given: Mapping[str, str]) -> None:
        self.rows = {row.number: row for row in rows}
        self.mapping, self.name, self.given = mapping, name, given
        self.faults: list[Fault] = []
        self.form = NumberForm(mapping.file.decimal, mapping.file.thousands)
        self.heading = self._heading()
        self.aside: list[tuple[int, str]] = []

    def fault(self, row: int | None, field: str, stood: object, message: str, allowed: str = "") -> None:
        text = "nothing" if stood is None else shown(stood)
        self.faults.append(Fault(self.name, row, field, text, message, allowed))

    def _heading(self) -> Heading:
        file = self.mapping.file
        for number in file.header_rows:
            row = self.rows.get(number)
            if row is None or row.fault is not None:
                why = "the file has no such row" if row is None or row.fault is None else row.fault.reason
                raise IntakeError("no-heading", self.name, f"the mapping looks for the heading in row {number}: {why}; "
                                  "put header_rows of the mapping right, or take the mapping of this file",
                                  line=number, field="file.header_rows")
        return Heading([self.rows[number].cells for number in file.header_rows], self.mapping, self.name)

    def read(self, notes: list[str], digest: str) -> TableReading:
        unknown = [name for name in self.given if name not in HeadTable.model_fields]
        for name in unknown:
            self.fault(None, name[:60], self.given[name], f"{name[:60]!r} is nothing that a certificate has",
                       ", ".join(HeadTable.model_fields))
        groups: dict[tuple[str, str], tuple[dict[str, str], list[tuple[SourceRow, Entry]]]] = {}
        for row in self._points():
            head = self._head(row)
            entry = self._entry(row)
            key = head.get("serial", ""), head.get("number", "")
            held = groups.setdefault(key, (head, []))
            for name in head:
                if head[name] != held[0].get(name):
                    self.fault(row.number, self._column(name), head[name], f"{name} differs from row "
                               f"{held[1][0][0].number} of the same certificate, which says "
                               f"{shown(held[0].get(name, ''))}", "one value for all points of a certificate")
            held[1].append((row, entry))
            if len(held[1]) > MOST_POINTS:
                raise SpecificationError([Fault(self.name, row.number, "", "", "one certificate has more than "
                                                f"{MOST_POINTS} points", "the table of points alone")])
        if not groups and not self.faults:
            self.fault(None, "", None, "the file has a heading and no points", "a row for each point")
        built = [self._calibration(head, points) for head, points in groups.values()]
        self._refuse()
        said = [note for note in (self.form.note("values"),) if note]
        return TableReading(
            tuple(one for one in built if one is not None),
            {key: tuple(row.number for row, _ in points) for key, (_, points) in groups.items()},
            tuple(self.aside), (*notes, *self.heading.notes, *said), digest,
        )

    def _refuse(self) -> None:
        if not self.faults:
            return
        more = len(self.faults) - MOST_FAULTS
        kept = sorted(self.faults, key=lambda fault: fault.line or 0)[:MOST_FAULTS]
        if more > 0:
            kept.append(Fault(self.name, None, "", "", f"there are {more} more faults; put these right first", ""))
        raise SpecificationError(kept)

    def _points(self) -> list[SourceRow]:
        """The rows that hold points; blank rows, the footer and what the mapping sets aside are told apart."""
        file, found, stopped = self.mapping.file, list[SourceRow](), 0
        first = file.first_row or file.header_rows[-1] + 1
        stop = tidy(file.stop_at or "")
        for number in sorted(self.rows):
            row = self.rows[number]
            if number < first:
                continue
            told = next((text for text in map(tidy, row.cells) if text), "")
            if stopped:
                self.aside.append((number, f"after the footer mark in row {stopped}"))
            elif row.fault is not None:
                self.fault(number, "", row.raw[:60], row.fault.reason, "a row of cells")
            elif not told and not row.faulty:
                self.aside.append((number, "blank"))
            elif stop and told.startswith(stop):
                stopped = number
                self.aside.append((number, f"footer ({stop})"))
            elif self._skipped(row):
                self.aside.append((number, "set aside by skip_where of the mapping"))
            else:
                found.append(row)
        return found

    def _skipped(self, row: SourceRow) -> bool:
        skip = self.mapping.file.skip_where
        return skip is not None and self._cell(row, self.heading.at[skip.column]) in skip.equals

    def _cell(self, row: SourceRow, at: int) -> str:
        return tidy(row.cells[at]) if at < len(row.cells) else ""

    def _text(self, row: SourceRow, field: str, column: str) -> str:
        """A cell of a point; "" with a fault where it cannot be trusted."""
        at = self.heading.at[column]
        if row.faulty and at in row.faulty:
            self.fault(row.number, f"column {column!r}", None, row.faulty[at].reason, f"{field} in its own cell")
            return ""
        return self._cell(row, at)

    def _number(self, row: SourceRow, field: str, column: str) -> float | None:
        text = self._text(row, field, column)
        if not text:
            return None
        at = self.heading.at[column]
        value = row.values[at] if row.values is not None and at < len(row.values) else None
        if isinstance(value, int | float) and not isinstance(value, bool):
            return float(value)
        try:
            return self.form.read(text.removesuffix("%").strip() if field == "uncertainty" else text)
        except NumberError as error:
            self.fault(row.number, f"column {column!r}", text, f"{field}: {error}", "a number, or put the decimal sign "
                       "of the mapping right")
            return math.nan

    def _entry(self, row: SourceRow) -> Entry:
        columns, constant = self.mapping.columns, self.mapping.constant
        nominal = self._number(row, "nominal", columns.nominal)
        indicated = nominal if columns.indicated is None else self._number(row, "indicated", columns.indicated)
        reference = self._number(row, "reference", columns.reference)
        k = constant.k or 2.0 if columns.k is None else self._number(row, "k", columns.k)
        direction = constant.direction or self._meant(row, "direction", columns.direction)
        stage = constant.stage or self._meant(row, "stage", columns.stage)
        W = constant.uncertainty
        if columns.uncertainty is not None:
            W = self._number(row, "uncertainty", columns.uncertainty)
            if W is not None and self.mapping.uncertainty == "percent":
                W /= 100
            elif W is not None and self.mapping.uncertainty == "value":
                W = W / reference if reference else math.nan
        if W is not None and W > MOST_UNCERTAINTY:
            self.fault(row.number, f"column {columns.uncertainty!r}", f"{100 * W:.4g} %", f"{100 * W:.4g} % is no "
                       "uncertainty of a calibration", f"at most {100 * MOST_UNCERTAINTY:g} %; is it written as "
                       f"{self.mapping.uncertainty}?")
            W = math.nan
        si = [None if v is None else to_si(v, self.mapping.unit, self.mapping.kind)
              for v in (nominal, indicated, reference)]
        return Entry(si[0], si[1], si[2], direction, stage, W, k)

    def _meant(self, row: SourceRow, kind: str, column: str | None) -> str:
        if column is None:
            return ""
        text = self._text(row, kind, column)
        words = self.mapping.words[kind]
        if text and text.casefold() not in words:
            listed = ", ".join(map(repr, list(words)[:20]))
            self.fault(row.number, f"column {column!r}", text, f"the mapping gives {shown(text)} no meaning as {kind}",
                       f"{listed}; or list it under meaning.{kind}")
            return "?"
        return words.get(text.casefold(), "")

    def _column(self, name: str) -> str:
        source = self.mapping.heads.get(name)
        return name if source is None else f"{name} ({source.said})"

    def _head(self, row: SourceRow) -> dict[str, str]:
        """The values of the certificate as a whole, as texts, days in ISO form; one that is not stated is left out."""
        found = dict(self._fixed)
        for name, source in self.mapping.heads.items():
            if source.column is not None:
                text = self._text(row, name, source.column)
                self._stated(found, name, self._day(row, name, self.heading.at[source.column], text), row.number)
        return found

    @cached_property
    def _fixed(self) -> dict[str, str]:
        """What was given, and what stands in cells of the head or in the mapping itself."""
        found = {name: tidy(text) for name, text in self.given.items() if tidy(text)}
        for name, source in self.mapping.heads.items():
            if source.value is not None:
                row = SourceRow(0, [], "")
                self._stated(found, name, self._day(row, name, -1, source.value), None)
            elif source.cell is not None:
                at, column = source.cell
                there = self.rows.get(at + 1)
                if there is not None and there.fault is None and not (there.faulty and column in there.faulty):
                    text = self._day(there, name, column, self._cell(there, column))
                    self._stated(found, name, text, there.number)
        return found

    def _stated(self, found: dict[str, str], name: str, text: str, row: int | None) -> None:
        if text and found.get(name, text) != text:
            self.fault(row, self._column(name), text, f"{name} is {shown(text)} in the file, and {shown(found[name])} "
                       "was entered", "put one of both right")
        elif text:
            found[name] = text

    def _day(self, row: SourceRow, name: str, column: int, text: str) -> str:
        """A day as ISO text where the field is one; the text itself else."""
        if name not in DAYS or not text:
            return text
        value = row.values[column] if row.values is not None and 0 <= column < len(row.values) else None
        if isinstance(value, datetime):
            return value.date().isoformat()
        if isinstance(value, date):
            return value.isoformat()
        try:
            return datetime.strptime(text, self.mapping.dates).date().isoformat()
        except ValueError:
            self.fault(row.number or None, self._column(name), text, f"{shown(text)} is no day written as "
                       f"{self.mapping.dates}", "the day in that form, or put `dates` of the mapping right")
            return ""

    def _calibration(self, head: dict[str, str], points: list[tuple[SourceRow, Entry]]) -> Calibration | None:
        """None with the faults noted, where it cannot be taken."""
        before = len(self.faults)
        for name in NEEDED:
            if name not in head and not any(fault.field.split(" ")[0] == name for fault in self.faults):
                source = self.mapping.heads.get(name)
                where = f"in {source.said}" if source is not None else "in the mapping"
                self.fault(points[0][0].number if source and source.column else None, name, None,
                           f"{WORDS[name]} is missing: nothing stands {where}, and nothing was entered",
                           f"enter it, or name its place as head.{name} in the mapping")
        for name, text in head.items():
            try:
                line_text(text)
            except ValueError as error:
                self.fault(None, self._column(name), text, f"{name}: {_said(error)}", "a text of one line")
        days = {name: self._iso(name, head[name]) for name in DAYS if name in head}
        permissible = self._share(head.get("permissible", ""))
        rule = head.get("rule", "")
        if rule and rule not in RULE_NAMES[:-1]:
            self.fault(None, self._column("rule"), rule, f"{shown(rule)} is no decision rule",
                       ", ".join(RULE_NAMES[:-1]))
        counter = head.get("counter", "")
        if counter and not (counter.isascii() and counter.isdigit() and len(counter) <= 15):
            self.fault(None, self._column("counter"), counter, f"{shown(counter)} is no reading of a counter",
                       "a whole number")
        standards = tuple(dict.fromkeys(
            one for part in head.get("standards", "").split(",") if (one := tidy(part))))
        for one in standards:
            if ";" in one or len(one) > 80:
                self.fault(None, self._column("standards"), one, f"{shown(one)} is no id of a reference standard",
                           "ids with commas between, each of at most 80 characters")
        if "serial" in head and SERIAL.fullmatch(head["serial"]) is None:
            self.fault(None, self._column("serial"), head["serial"], f"{shown(head['serial'])} is no serial",
                       "1 to 40 letters, digits, blanks and . _ / -, beginning with a letter or digit")
        if len(self.faults) > before or any(name not in head for name in NEEDED):
            return None
        calibrated, until = days["calibrated"], days["valid_until"]
        assert calibrated is not None and until is not None
        try:
            made = certificate(head["number"], calibrated, days.get("valid_from") or calibrated, until, standards,
                               [entry for _, entry in points], head.get("replaces", ""))
        except CertificateError as error:
            for fault in error.faults:
                self._point_fault(fault, points)
            return None
        return Calibration(
            serial=head["serial"], certificate=made, unit=self.mapping.unit, rule=decision_rule(rule, None),
            permissible=permissible, laboratory=head["laboratory"], by=head.get("by", ""),
            conditions=head.get("conditions", ""), k=made.points[0].k, counter=int(counter) if counter else None,
            adjusted=head.get("adjusted", ""), source=self.name, note=head.get("note", ""),
        )

    def _point_fault(self, fault: PointFault, points: list[tuple[SourceRow, Entry]]) -> None:
        if fault.point is None:
            self.fault(None, self._column(fault.field), None, fault.message, fault.way_out)
            return
        row = points[fault.point - 1][0]
        column = getattr(self.mapping.columns, _POINT_FIELD.get(fault.field, "nominal"), None)
        field = f"column {column!r}" if column else fault.field
        if any(held.line == row.number and held.field == field for held in self.faults):
            return  # it is said already why nothing usable stands there
        stood = self._cell(row, self.heading.at[column]) if column else None
        message = fault.message
        for number in range(fault.point, 0, -1):  # points are counted by row for whoever looks at the file
            message = message.replace(f"point {number} ", f"row {points[number - 1][0].number} ")
        self.fault(row.number, field, stood or None, message, fault.way_out)

    def _iso(self, name: str, text: str) -> date | None:
        try:
            found = date.fromisoformat(text)
        except ValueError:
            found = None
        if found is None or not 1950 <= found.year <= 2100:
            self.fault(None, self._column(name), text, f"{shown(text)} is no day that occurs here",
                       "a day as 2026-03-02, 1950 to 2100")
            return None
        return found

    def _share(self, text: str) -> float | None:
        if not text:
            return None
        try:
            number = self.form.read(text.removesuffix("%").strip()) / 100
        except NumberError:
            number = math.nan
        if not 0 < number <= 0.3:
            self.fault(None, self._column("permissible"), text, f"{shown(text)} is no permissible deviation in percent",
                       "more than 0 and at most 30 %, as 4 or 4 %")
            return None
        return number


def _said(error: ValueError) -> str:
    context = getattr(error, "context", None)
    return str(context["message"]) if isinstance(context, dict) else str(error)
