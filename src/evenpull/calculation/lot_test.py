"""A torque-tension test from its CSV file: readings by run, the figures of the lot, the nut factor over the load.

Columns: run, torque, load and, where it was measured, thread torque; the unit stands in the heading, as "torque (N.m)".
The readings of a run stand in its order; its last one is the load that the test asks for.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass

from evenpull.calculation.plots import Curve, Plot, Style
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.friction_test import LotResult, Run, evaluate_lot, nut_factor_curve
from evenpull.plan.errors import Fault, SpecificationError
from evenpull.quantities import Kind, UnitError, canonical_unit, to_si

COLUMNS: Mapping[str, Kind] = {"torque": "torque", "load": "force", "thread torque": "torque"}
NEEDED = ("run", "torque", "load")
MOST_ROWS = 100_000
_HEAD = re.compile(r"\s*([a-z ]+?)\s*(?:[(\[]([^)\]]+)[)\]])?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Readings:
    """Loads (N) and torques (N.m) of one run in order; `thread_torque` of its last reading."""

    name: str
    loads: tuple[float, ...]
    torques: tuple[float, ...]
    thread_torque: float | None

    @property
    def run(self) -> Run:
        return Run(self.name, self.torques[-1], self.loads[-1], self.thread_torque)


def read_runs(text: str, file: str) -> tuple[Readings, ...]:
    """The runs of a CSV text (comma, semicolon or tabulator). SpecificationError with every fault by line and field."""
    lines = text.lstrip("\ufeff").splitlines()
    delimiter = max(",;\t", key=(lines or [""])[0].count)
    reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter)
    try:
        rows = list(reader)
    except csv.Error as error:
        fault = Fault(file, reader.line_num, "", "", f"cannot be read as CSV: {error}", "short cells, in closed quotes")
        raise SpecificationError([fault]) from error
    if not rows:
        raise SpecificationError([Fault(file, None, "", "", "the file is empty", "a heading and readings")])
    if len(rows) - 1 > MOST_ROWS:
        raise SpecificationError([Fault(file, None, "", "", f"{len(rows) - 1} readings", f"at most {MOST_ROWS}")])
    places, units, faults = _heading(rows[0], file)
    if faults:
        raise SpecificationError(faults)
    return _runs(rows, places, units, file)


def _heading(row: list[str], file: str) -> tuple[dict[str, int], dict[str, str], list[Fault]]:
    places, units, faults = dict[str, int](), dict[str, str](), list[Fault]()
    for place, cell in enumerate(row):
        match = _HEAD.fullmatch(cell)
        name = match[1].casefold() if match else ""
        if name == "run":
            places[name] = place
        elif match is not None and name in COLUMNS:
            places[name] = place
            try:
                units[name] = canonical_unit(match[2] or "", COLUMNS[name])
            except UnitError as error:
                faults.append(Fault(file, 1, name, cell, str(error), f'the unit behind the name, as "{name} (N.m)"'
                                    if COLUMNS[name] == "torque" else 'the unit behind the name, as "load (kN)"'))
    for name in NEEDED:
        if name not in places:
            faults.append(Fault(file, 1, name, "", f"the column {name!r} is missing",
                                'columns run, torque (N.m), load (kN) and, where measured, thread torque (N.m)'))
    return places, units, faults


def _runs(rows: list[list[str]], places: dict[str, int], units: dict[str, str], file: str) -> tuple[Readings, ...]:
    found: dict[str, list[dict[str, float]]] = {}
    faults = []
    for line, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        values: dict[str, float] = {}
        name = row[places["run"]].strip() if places["run"] < len(row) else ""
        if not name:
            faults.append(Fault(file, line, "run", "", "the reading names no run", "a name or number"))
        for column, unit in units.items():
            cell = row[places[column]].strip() if places[column] < len(row) else ""
            if not cell and column == "thread torque":
                continue
            try:
                number = float(cell)
            except ValueError:
                faults.append(Fault(file, line, column, cell, f"{cell[:40]!r} is not a number", "digits and a point"))
                continue
            if not 0 < number < float("inf"):
                faults.append(Fault(file, line, column, cell, f"{cell[:40]} is not a reading", "greater than zero"))
                continue
            values[column] = to_si(number, unit, COLUMNS[column])
        found.setdefault(name, []).append(values)
    if faults:
        raise SpecificationError(faults)
    if not found:
        raise SpecificationError([Fault(file, 2, "", "", "there are no readings", "one line for each reading")])
    return tuple(
        Readings(name, tuple(v["load"] for v in values), tuple(v["torque"] for v in values),
                 values[-1].get("thread torque"))
        for name, values in found.items()
    )


@dataclass(frozen=True, slots=True)
class LotSheet:
    """The lot, what its nut factor does over the load (None for single readings), and what to know."""

    lot: LotResult
    falling: Plot | None
    notes: tuple[str, ...]


def evaluate(runs: tuple[Readings, ...], thread: ThreadSize, D_b: float) -> LotSheet:
    """ISO 16047 quantities of each run at its last reading, the lot's scatter and tolerance interval, K over the load.

    ValueError for fewer than three runs, or a run whose torque cannot have made its load.
    """
    lot = evaluate_lot([one.run for one in runs], thread, D_b)
    curves, falls = [], []
    for one in runs:
        if len(set(one.loads)) < 3:
            continue
        last: dict[float, float] = dict(zip(one.loads, one.torques, strict=True))  # the last torque at each load
        curve = nut_factor_curve(list(last), list(last.values()), thread.d)
        falls.append(curve.K[-1] / curve.K[0] - 1)
        curves.append((one.name, tuple(zip(curve.load, curve.K, strict=True))))
    if not curves:
        return LotSheet(lot, None, lot.notes)
    words = (f"The nut factor changes by {100 * min(falls):.0f} to {100 * max(falls):.0f} % from the lowest to the "
             f"highest load of {len(curves)} runs: a nut factor belongs to the load at which it was found.")
    return LotSheet(lot, _plot(curves, words), (*lot.notes, words))


def _plot(curves: list[tuple[str, tuple[tuple[float, float], ...]]], words: str) -> Plot:
    styles: tuple[Style, ...] = ("line", "dashed", "dotted")
    drawn = tuple(
        Curve(f"run {name}", points, styles[number % 3], accent=number % 2 == 0)
        for number, (name, points) in enumerate(curves[:6])
    )
    more = "" if len(curves) <= 6 else f" The first 6 of {len(curves)} runs are drawn."
    return Plot("nut factor", "Nut factor over the load", "load, kN", "nut factor K", 1e-3, 1.0, drawn,
                words + more)
