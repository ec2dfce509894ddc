"""Intake of curves from CSV: long (a line a point) and wide (a line a moment, columns for each run); one curve a file
or many.

Nothing is repaired or left out in silence: a cell that cannot be read is an error with file, line and column; a cell
written as one of the stated words for "missing" becomes a point that is not finite, which features count. Lines stay in
the order of the file. Gaps, restarts, resets of the angle and spikes are left in the curve and told by `told_oddities`.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from evenpull.curve.columns import CurveError, Curves, curves_of
from evenpull.curve.features import FeatureTable
from evenpull.quantities import to_si

MOST_BYTES = 512 * 1024**2
MOST_POINTS = 20_000_000
MOST_FAULTS = 20  # told at once
_TIME = {"s": 1.0, "ms": 1e-3, "min": 60.0}
_ANGLE = {"deg": 1.0, "rad": 180 / math.pi, "rev": 360.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How a file writes its curves. Columns by their heading.

    Long: `run` (None: the file is one curve, named after the file), `time`, `angle`, `torque`, `step` (None: one step).
    Wide: `time` is one column for all; every run has "RUN" + `torque` and "RUN" + `angle` as headings, so `torque`
    and `angle` are what follows the run's name (for example " torque"); cells that are empty after its last point end
    a run. `rate` (points a second) stands in for a missing time column.
    """

    kind: Literal["long", "wide"] = "long"
    run: str | None = None
    time: str | None = "time"
    angle: str = "angle"
    torque: str = "torque"
    step: str | None = None
    rate: float | None = None
    keys: tuple[tuple[str, str], ...] = ()  # long: (name, column) of texts that are one for all points of a run
    delimiter: str = ","
    decimal: Literal[".", ","] = "."
    torque_unit: str = "N.m"
    angle_unit: Literal["deg", "rad", "rev"] = "deg"
    time_unit: Literal["s", "ms", "min"] = "s"
    missing: tuple[str, ...] = ()
    encoding: str = "utf-8-sig"


@dataclass(frozen=True, slots=True, eq=False)
class CurveFile:
    """What was read: names of the runs, their curves, SHA-256 of the file as it came. `texts`: for each name of the
    layout's keys the text of each run; `lines`: the line on which each run begins."""

    runs: list[str]
    curves: Curves
    sha256: str
    texts: dict[str, list[str]] = field(default_factory=dict)
    lines: list[int] = field(default_factory=list)


@dataclass(slots=True)
class _Points:
    time: list[float] = field(default_factory=list)
    angle: list[float] = field(default_factory=list)
    torque: list[float] = field(default_factory=list)
    step: list[int] = field(default_factory=list)
    texts: tuple[str, ...] = ()
    line: int = 0


def read_curve_file(data: bytes, layout: Layout, file: str) -> CurveFile:
    """All curves of one file. CurveError tells up to 20 faults at once, each with line and column; then nothing of the
    file is taken. Runs of a long file may be interleaved; each keeps the order of its lines."""
    _check(layout, data, file)
    try:
        text = data.decode(layout.encoding)
    except (UnicodeDecodeError, LookupError) as error:
        raise CurveError(f"{file}: cannot be read as {layout.encoding} ({error}); state its encoding in the layout"
                         ) from error
    faults: list[str] = []
    own = _Reader(layout, file, faults)
    try:
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=layout.delimiter, strict=True)
        heading = next(rows, None)
        if heading is None or not any(cell.strip() for cell in heading):
            raise CurveError(f"{file}, line 1: the heading is missing; the first line names the columns")
        points = (own.long if layout.kind == "long" else own.wide)([cell.strip() for cell in heading], _numbered(rows))
    except csv.Error as error:
        raise CurveError(f"{file}: is no CSV file with the delimiter {layout.delimiter!r} ({error})") from error
    if faults:
        more = f"\n(the first {MOST_FAULTS}; there may be more)" if len(faults) >= MOST_FAULTS else ""
        raise CurveError("\n".join(faults[:MOST_FAULTS]) + more)
    if not points:
        raise CurveError(f"{file}: holds no point; the heading alone is no curve")
    texts = {name: [one.texts[n] for one in points.values()] for n, (name, _) in enumerate(layout.keys)}
    curves, lines = _column(list(points.values()), layout, file), [one.line for one in points.values()]
    return CurveFile(list(points), curves, hashlib.sha256(data).hexdigest(), texts, lines)


def _check(layout: Layout, data: bytes, file: str) -> None:
    if len(data) > MOST_BYTES:
        raise CurveError(f"{file}: {len(data):,} bytes, at most {MOST_BYTES:,} are read at once; split it by runs")
    if (layout.time is None) == (layout.rate is None):
        raise CurveError("layout: state either the column of the time or the rate in points a second")
    if layout.keys and layout.kind != "long":
        raise CurveError("layout, keys: only a long file has a column that says the same for all points of a run; in a "
                         "wide one they stand in the name of the run")
    if layout.rate is not None and not 0 < layout.rate < math.inf:
        raise CurveError(f"layout, rate: has to be finite and greater than 0, not {layout.rate}")
    if len(layout.delimiter) != 1 or layout.delimiter in "\r\n\"" or layout.delimiter == layout.decimal:
        raise CurveError(f"layout: delimiter {layout.delimiter!r} and decimal {layout.decimal!r} have to be two "
                         "different characters, neither a quote nor the end of a line")
    if layout.angle_unit not in _ANGLE or layout.time_unit not in _TIME:
        raise CurveError(f"layout: angle in {', '.join(_ANGLE)}, time in {', '.join(_TIME)}")


def _numbered(rows: Iterator[list[str]]) -> Iterator[tuple[int, list[str]]]:
    for number, row in enumerate(rows, start=2):
        if number > MOST_POINTS:
            raise CurveError(f"line {number}: more than {MOST_POINTS:,} lines; split the file by runs")
        if any(cell.strip() for cell in row):
            yield number, row


class _Reader:
    """Reads cells of one file; faults are gathered up to a limit."""

    def __init__(self, layout: Layout, file: str, faults: list[str]) -> None:
        self.layout, self.file, self.faults = layout, file, faults
        self.torque_factor = to_si(1.0, layout.torque_unit, "torque")

    def long(self, heading: list[str], rows: Iterator[tuple[int, list[str]]]) -> dict[str, _Points]:
        own = self.layout
        wanted = {name: column for name, column in (("run", own.run), ("time", own.time), ("angle", own.angle),
                                                    ("torque", own.torque), ("step", own.step)) if column is not None}
        at = self._places(heading, wanted)
        keys = list(self._places(heading, dict(own.keys)).values())
        found: dict[str, _Points] = {}
        for line, row in rows:
            if len(self.faults) >= MOST_FAULTS:
                break
            if len(row) != len(heading):
                self.faults.append(f"{self.file}, line {line}: {len(row)} cells, the heading has {len(heading)}; a "
                                   "decimal comma with a comma between cells is a usual cause")
                continue
            run = row[at["run"]].strip() if "run" in at else self.file
            if not run:
                self.faults.append(f"{self.file}, line {line}, column {own.run!r}: the run is empty; every point "
                                   "belongs to one")
                continue
            points = found.get(run)
            texts = tuple(row[place].strip() for place in keys)
            if points is None:
                points = found[run] = _Points(texts=texts, line=line)
            elif points.texts != texts:
                self._other_text(run, points, texts, line)
            self._point(points, row, at, line)
        return found

    def _other_text(self, run: str, points: _Points, texts: tuple[str, ...], line: int) -> None:
        n = next(n for n, (a, b) in enumerate(zip(points.texts, texts, strict=True)) if a != b)
        name, column = self.layout.keys[n]
        self.faults.append(f"{self.file}, line {line}, column {column!r}: the {name} of run {run!r} is {texts[n]!r}, "
                           f"and {points.texts[n]!r} on line {points.line}; a run is one tightening")

    def wide(self, heading: list[str], rows: Iterator[tuple[int, list[str]]]) -> dict[str, _Points]:
        own = self.layout
        runs = [cell.removesuffix(own.torque) for cell in heading if own.torque and cell.endswith(own.torque)]
        if not runs or len(set(runs)) != len(runs):
            raise CurveError(f"{self.file}, line 1: no column ends with {own.torque!r}, or two runs have one name; the "
                             f"heading is {heading[:12]}")
        places = {}
        for run in runs:
            wanted = {"angle": run + own.angle, "torque": run + own.torque}
            places[run] = self._places(heading, wanted if own.time is None else wanted | {"time": own.time})
        found = {run: _Points(line=1) for run in runs}
        ended: dict[str, int] = {}
        for line, row in rows:
            row = row + [""] * (len(heading) - len(row))
            for run, at in places.items():
                if len(self.faults) >= MOST_FAULTS:
                    return found
                if not row[at["torque"]].strip() and not row[at["angle"]].strip():
                    ended.setdefault(run, line)
                elif run in ended:
                    self.faults.append(f"{self.file}, line {line}, run {run!r}: goes on after it was empty in line "
                                       f"{ended[run]}; write missing cells with a word, and state it in the layout")
                else:
                    self._point(found[run], row, at, line)
        return {run: points for run, points in found.items() if points.torque}

    def _places(self, heading: list[str], wanted: dict[str, str]) -> dict[str, int]:
        places = {}
        for name, column in wanted.items():
            if heading.count(column) != 1:
                raise CurveError(f"{self.file}, line 1: column {column!r} for the {name} stands there "
                                 f"{heading.count(column)} times; the heading is {heading[:12]}. Name another in the "
                                 "layout")
            places[name] = heading.index(column)
        return places

    def _point(self, points: _Points, row: list[str], at: dict[str, int], line: int) -> None:
        rate = self.layout.rate
        time = len(points.time) / rate if rate else self._number(row[at["time"]], "time", line) * _TIME[
            self.layout.time_unit]
        angle = self._number(row[at["angle"]], "angle", line) * _ANGLE[self.layout.angle_unit]
        torque = self._number(row[at["torque"]], "torque", line) * self.torque_factor
        step = 1
        if "step" in at:
            cell = row[at["step"]].strip()
            if cell.isascii() and cell.isdigit() and len(cell) <= 5 and int(cell) <= np.iinfo(np.int16).max:
                step = int(cell)
            else:
                self.faults.append(f"{self.file}, line {line}, step: {cell!r} is no whole number from 0 to 32767")
        points.time.append(time)
        points.angle.append(angle)
        points.torque.append(torque)
        points.step.append(step)

    def _number(self, cell: str, name: str, line: int) -> float:
        text = cell.strip()
        if text in self.layout.missing:
            return math.nan
        plain = text.replace(",", ".") if self.layout.decimal == "," else text
        try:
            if "_" in plain or (self.layout.decimal == "," and "." in text):
                raise ValueError
            value = float(plain)
        except ValueError:
            value = math.nan
        if not abs(value) < 1e30:
            self.faults.append(f"{self.file}, line {line}, {name}: {text!r} is no number with the decimal "
                               f"{self.layout.decimal!r}; if it means a missing value, name it in the layout")
            return math.nan
        return value


def _column(points: Sequence[_Points], layout: Layout, file: str) -> Curves:
    offsets = np.cumsum([0, *(len(one.torque) for one in points)])
    flat = [np.concatenate([np.asarray(getattr(one, name), np.float64) for one in points])
            for name in ("time", "angle", "torque", "step")]
    return curves_of(flat[0], flat[1], flat[2], flat[3], offsets)


def told_oddities(features: FeatureTable, curve: int) -> tuple[str, ...]:
    """What is odd about the record of one curve, in words: nothing of it was repaired in silence."""
    said = (
        ("n_bad", "{n} points are no numbers and take part in nothing"),
        ("n_gaps", "{n} gaps in time before the peak; the turn is joined by a straight line"),
        ("n_resets", "the count of the angle began anew {n} times; it was counted on without a step"),
        ("n_pauses", "turning stopped {n} times and was driven on; only points that go forward are judged"),
        ("n_spikes", "{n} single points stand out and do not count as the peak"),
        ("n_late", "{n} points are earlier than the one before; the order of the file was kept"),
        ("n_repeat", "{n} points repeat the one before and are counted once"),
    )
    return tuple(text.format(n=int(features[name][curve])) for name, text in said if features[name][curve] > 0)
