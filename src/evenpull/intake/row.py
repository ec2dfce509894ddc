"""One row of a file into one tightening, or into an unread row with its reason. Nothing is repaired or guessed.

A row stays unread when it does not say which fastener of which joint, or when its torque cannot be trusted as a number
(no number, not finite, a unit that is not known, negative where that has no meaning, a damaged or covered cell). All
else that is odd leaves the field unknown and a remark on the record: that the pull happened is not lost.
"""

from __future__ import annotations

from collections import Counter
from hashlib import sha256
from typing import Literal, cast

from evenpull.intake.cells import Cells
from evenpull.intake.heading import Heading
from evenpull.intake.limits import MAX_FASTENER, MAX_WHOLE
from evenpull.intake.mapping import OWN_WORDS, Mapping, meanings
from evenpull.intake.numbers import NumberError, NumberForm, part_unit, whole_number
from evenpull.intake.particulars import ParticularReader
from evenpull.intake.record import Direction, EndCause, EventType, Tightening, UnreadRow
from evenpull.intake.sources import UnfitError, ValueSource, tidy
from evenpull.intake.textrows import SourceRow
from evenpull.intake.times import Clock, ReadTime, zone_named
from evenpull.quantities import Kind, UnitError, canonical_unit, to_si

NO_TIME = ReadTime(None, "", "the file states no time")
MAX_PASS = 99
_SHARED = 20_000  # different texts that are kept once for all rows
Verdict = Literal["accepted", "not accepted", "none"]


class _UnreadError(Exception):
    """Why this row cannot become a tightening."""

    def __init__(self, code: str, reason: str) -> None:
        self.code = code
        super().__init__(reason)


class _Pick:
    """One value of a record: the columns it comes from, and how."""

    def __init__(self, source: ValueSource, heading: Heading) -> None:
        self.source = source
        self.columns = tuple(heading.at[name] for name in source.columns)
        self.plain = len(self.columns) == 1 and source.pattern is None and source.map is None

    def of(self, cells: list[str]) -> str:
        if self.plain:
            return tidy(cells[self.columns[0]])
        return self.source.pick([tidy(cells[column]) for column in self.columns])


class _Units:
    """Factors to SI of the units met in a file, each spelling looked up once."""

    def __init__(self, kind: Kind) -> None:
        self.kind: Kind = kind
        self._known: dict[str, tuple[str, float]] = {}

    def find(self, text: str) -> tuple[str, float]:
        """Our name of the unit and its SI value. UnitError names what is allowed."""
        known = self._known.get(text)
        if known is None:
            name = canonical_unit(text, self.kind)
            known = self._known[text] = (name, to_si(1.0, name, self.kind))
        return known


class RowReader:
    """Reads the rows of one file under one mapping and gathers what is worth a note on the file."""

    def __init__(self, mapping: Mapping, heading: Heading, file_sha256: str) -> None:
        self.mapping, self.heading, self.file_sha256 = mapping, heading, file_sha256
        self._picks = {name: _Pick(source, heading) for name, source in mapping.sources.items()}
        self._words = meanings(mapping.meaning)
        self._form = NumberForm(mapping.file.decimal, mapping.file.thousands)
        self._angle_form = NumberForm(mapping.file.decimal, mapping.file.thousands)
        self._torques, self._angles = _Units("torque"), _Units("angle")
        time = mapping.time
        self._clock = Clock(
            time.format, zone_named(time.zone) if time.zone else None, two_columns=time.time_column is not None
        ) if time else None
        self._time_columns = [heading.at[name] for name in (time.column, time.time_column) if name] if time else []
        at = heading.at
        self._torque_column = at[mapping.torque.column]
        self._unit_column = at[mapping.torque.unit_column] if mapping.torque.unit_column else None
        self._angle_column = at[mapping.angle.column] if mapping.angle else None
        self._angle_unit = at[mapping.angle.unit_column] if mapping.angle and mapping.angle.unit_column else None
        self._needed = {  # a cell of a particular that cannot be trusted leaves the record, with a remark
            at[name] for field, names in mapping.columns_used().items() for name in names
            if not field.startswith("particular.")
        }
        self._particulars = ParticularReader(mapping, heading) if mapping.particulars else None
        self._width = len(heading.names)
        self._no_values: list[object] = [None] * self._width
        self._shared: dict[str, str] = {}
        self._tidy: dict[str, str] = {}
        self._odd: Counter[tuple[str, str]] = Counter()

    def read(self, row: SourceRow) -> Tightening | UnreadRow:
        """The record of one row, or the row with the reason why there is none."""
        raw_sha256 = sha256(row.raw.encode("utf-8")).hexdigest()
        try:
            cells, values = self._cells(row)
            return self._tightening(row, cells, values, raw_sha256)
        except _UnreadError as error:
            joint, tool, epoch = (self._told(name, row) for name in ("joint", "tool", "epoch"))
            raw = row.raw.replace("\0", "\u2400")
            number = whole_number(self._told("counter", row))
            counter = number if number is not None and number <= MAX_WHOLE else None
            return UnreadRow(
                self.file_sha256, row.number, raw, error.code, str(error), raw_sha256, joint, tool, epoch, counter
            )

    def _told(self, name: str, row: SourceRow) -> str:
        """One value as far as it can be told of a row that cannot be read."""
        pick = self._picks.get(name)
        if pick is None or any(column >= len(row.cells) or column in (row.faulty or {}) for column in pick.columns):
            return ""
        try:
            return pick.of(row.cells).replace("\0", "\u2400")
        except UnfitError:
            return ""

    def _cells(self, row: SourceRow) -> tuple[list[str], list[object]]:
        if row.fault is not None:
            raise _UnreadError(row.fault.code, row.fault.reason)
        if row.faulty:
            for column in sorted(row.faulty):
                if column in self._needed:
                    raise _UnreadError(row.faulty[column].code, row.faulty[column].reason)
        cells, have = row.cells, len(row.cells)
        if have > self._width:
            if any(cell.strip() for cell in cells[self._width:]):
                raise _UnreadError(
                    "too-many-cells",
                    f"the row has {have} cells, the heading {self._width} columns: a cell may hold the delimiter "
                    "without quotation marks, so no cell can be told from the next",
                )
            cells = cells[: self._width]
        elif have < self._width:
            if have < self.heading.least and row.values is None and not self.mapping.file.short_rows:
                raise _UnreadError(
                    "too-few-cells",
                    f"the row has {have} cells, the heading {self.heading.least} columns: it may have been cut off; if "
                    "this tool leaves out empty cells at the end, the mapping can say short_rows = true",
                )
            cells = cells + [""] * (self._width - have)
        if not row.values:
            return cells, self._no_values
        return cells, row.values + [None] * (self._width - len(row.values))

    def _tightening(self, row: SourceRow, cells: list[str], values: list[object], raw_sha256: str) -> Tightening:
        remarks: list[str] = []
        joint = self._required("joint", cells)
        fastener_text = self._required("fastener", cells)
        fastener = whole_number(fastener_text)
        if fastener is None or not 1 <= fastener <= MAX_FASTENER:
            raise _UnreadError("fastener", f"fastener: {fastener_text[:60]!r} is no fastener number (1, 2, 3 ...); the "
                                           "mapping can take it out of the cell with a pattern or a map")
        torque, torque_text, torque_unit, minus = self._torque(cells, values)
        if torque is None:
            remarks.append("no torque is stated")
        angle, angle_text = self._angle(cells, values, remarks)
        direction = cast(Direction, self._meant("direction", cells, remarks, "unknown"))
        direction = self._by_sign(direction, minus, torque, remarks)
        event = cast(EventType, self._meant("event", cells, remarks, "unstated"))
        if direction == "loosen":
            if event == "unstated":
                event = "loosen"
            elif event not in ("loosen", "remove"):
                remarks.append(f"the source calls it {event!r} and says that it was turned in the loosening direction")
        when = self._time(cells, values)
        particulars = self._particulars.of(cells, values, row.faulty or {}, remarks) if self._particulars else {}
        result = self._optional("result", cells, remarks)
        # a text that comes again is kept once; written without a loop, because it is done for every cell of every row
        share = self._shared.setdefault if len(self._shared) < _SHARED else self._shared.get
        texts = tuple(map(share, cells, cells))
        return Tightening(
            self.file_sha256, row.number, joint, self._optional("unit", cells, remarks), fastener,
            self._pass(cells, remarks), event, torque, torque_text, torque_unit, angle, angle_text, direction,
            cast(EndCause, self._meant("end_cause", cells, remarks, "unknown")), result,
            cast(Verdict, self._meant("result", cells, remarks, "none")),
            self._optional("tool", cells, remarks), self._counter(cells, remarks),
            self._optional("epoch", cells, remarks), self._optional("operator", cells, remarks),
            when.text, when.utc, self._clock.basis if self._clock else "", when.doubt,
            Cells(self.heading.names, texts), raw_sha256, tuple(dict.fromkeys(remarks)) if remarks else (), particulars,
        )

    def _tidied(self, text: str) -> str:
        """`tidy`, done once for a text that comes again."""
        found = self._tidy.get(text)
        if found is None:
            found = tidy(text)
            if len(self._tidy) < _SHARED:
                self._tidy[text] = found
        return found

    def _required(self, name: str, cells: list[str]) -> str:
        pick = self._picks[name]
        try:
            text = self._tidied(cells[pick.columns[0]]) if pick.plain else pick.of(cells)
        except UnfitError as error:
            raise _UnreadError(name, f"{name}: {error}") from None
        if not text:
            raise _UnreadError(name, f"{name}: nothing is stated")
        return text

    def _optional(self, name: str, cells: list[str], remarks: list[str]) -> str:
        pick = self._picks.get(name)
        if pick is None:
            return ""
        if pick.plain:
            return self._tidied(cells[pick.columns[0]])
        try:
            return pick.of(cells)
        except UnfitError as error:
            remarks.append(f"{name}: {error}")
            self._note(name, " ".join(tidy(cells[column]) for column in pick.columns))
            return ""

    def _meant(self, kind: str, cells: list[str], remarks: list[str], unknown: str) -> str:
        text = self._optional(kind, cells, remarks)
        if not text:
            return unknown
        words = self._words[kind]
        if (known := words.get(text)) is not None:
            return known
        if (not words or self._picks[kind].source.value is not None) and text in OWN_WORDS[kind]:
            return text
        remarks.append(f"{kind}: the mapping lists no meaning for {text[:60]!r}")
        self._note(kind, text)
        return unknown

    def _note(self, field: str, text: str) -> None:
        if len(self._odd) < 1000 or (field, text[:60]) in self._odd:
            self._odd[(field, text[:60])] += 1

    def _pass(self, cells: list[str], remarks: list[str]) -> int | None:
        text = self._optional("pass", cells, remarks)
        number = whole_number(text)
        if number is not None and 1 <= number <= MAX_PASS:
            return number
        if text:
            remarks.append(f"pass: {text[:60]!r} is no number of a pass (1 to {MAX_PASS})")
            self._note("pass", text)
        return None

    def _counter(self, cells: list[str], remarks: list[str]) -> int | None:
        text = self._optional("counter", cells, remarks)
        number = whole_number(text)
        if number is not None and number <= MAX_WHOLE:
            return number
        if text:
            remarks.append(f"counter: {text[:60]!r} is no running number from 0 to {MAX_WHOLE}")
        return None

    def _torque(self, cells: list[str], values: list[object]) -> tuple[float | None, str, str, bool]:
        """Torque (N.m, its size where a minus sign means loosening), its text, our name of its unit, and that sign."""
        text, value = tidy(cells[self._torque_column]), values[self._torque_column]
        table = self.mapping.torque
        if table.unit_in_cell:
            text, unit = part_unit(text)
        else:
            unit = table.unit or (tidy(cells[self._unit_column]) if self._unit_column is not None else "")
        if not text:
            return None, "", table.unit or unit, False
        number = self._number(self._form, text, value, "torque")
        try:
            name, factor = self._torques.find(unit)
        except UnitError as error:
            allowed = ", ".join(error.allowed)
            raise _UnreadError("torque-unit", f"torque: {error.reason}; allowed units: {allowed}") from None
        si = number * factor
        if abs(si) > 1e12:
            raise _UnreadError("torque-not-finite", f"torque: {text[:60]} {name} is more than any torque can be")
        minus = number < 0
        if minus and table.negative == "error":
            raise _UnreadError("negative-torque", f"torque: {text[:60]!r} is negative, and the mapping does not say "
                                                  "what that means; it can say negative = \"loosening\"")
        return (-si if minus else si), text, name, minus

    @staticmethod
    def _number(form: NumberForm, text: str, value: object, what: str) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            return float(value)
        try:
            return form.read(text)
        except NumberError as error:
            raise _UnreadError(f"{what}-{error.code}", f"{what}: {error}") from None

    def _angle(self, cells: list[str], values: list[object], remarks: list[str]) -> tuple[float | None, str]:
        table = self.mapping.angle
        if table is None or self._angle_column is None:
            return None, ""
        text = tidy(cells[self._angle_column])
        if not text:
            return None, ""
        unit = table.unit or (tidy(cells[self._angle_unit]) if self._angle_unit is not None else "")
        try:
            number = self._number(self._angle_form, text, values[self._angle_column], "angle")
            return number * self._angles.find(unit)[1], text
        except _UnreadError as error:
            remarks.append(str(error))
        except UnitError as error:
            remarks.append(f"angle: {error.reason}; allowed units: {', '.join(error.allowed)}")
        return None, text

    def _by_sign(self, direction: Direction, minus: bool, torque: float | None, remarks: list[str]) -> Direction:
        if self.mapping.torque.negative != "loosening" or torque is None:
            return direction
        if minus and direction == "tighten":
            remarks.append("the torque is negative, which means loosening, but the direction says tightening")
            return "unknown"
        if minus:
            return "loosen"
        return "tighten" if "direction" not in self._picks else direction

    def _time(self, cells: list[str], values: list[object]) -> ReadTime:
        if self._clock is None:
            return NO_TIME
        found = [values[column] for column in self._time_columns]
        return self._clock.read(
            [tidy(cells[column]) for column in self._time_columns],
            [None if isinstance(value, str | bool) else value for value in found],
        )

    def notes(self) -> list[str]:
        """What is worth saying about the file as a whole once its rows are read."""
        notes = [note for note in (self._form.note("torque"), self._angle_form.note("angle")) if note]
        for (field, text), count in self._odd.most_common(20):
            notes.append(f"{field}: {text!r} in {count} rows has no meaning under this mapping")
        return notes
