"""Shapes for the templates: the records matrix, the target's problems, the joint form. No rules are decided here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenpull.plan.model import Plan
from evenpull.proof.actions import ACTIONS
from evenpull.proof.decided import Decided, decided
from evenpull.proof.model import Cell, Flag, Proof
from evenpull.proof.rules import refusal
from evenpull.report.words import cell_state, decimals

MATRIX_UNITS = 60  # units of a series shown on one page; the rest is in the report's attachment


@dataclass(frozen=True)
class MatrixCell:
    state: str  # accepted | not accepted | not judged | missing
    value: str
    why: str
    written: str = ""  # the value and unit as the source wrote them


@dataclass(frozen=True)
class MatrixRow:
    unit_id: str
    fastener: int
    cells: tuple[MatrixCell, ...]


@dataclass(frozen=True)
class Matrix:
    passes: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
    left_out: int  # units of a series without anything open that are not shown


def _cell(cell: Cell | None, torque: float) -> MatrixCell:
    if cell is None:
        return MatrixCell("missing", "no record", "")
    state = cell_state(cell)
    if state == "missing":
        return MatrixCell(state, "no record", "")
    shown = cell.proving or cell.records[-1]
    value = "no torque" if shown.torque is None else f"{shown.torque:.{decimals(torque)}f} N·m"
    written = f"{shown.torque_text} {shown.torque_unit}"
    return MatrixCell(state, value, "" if state == "accepted" else cell.reason, written)


def matrix(plan: Plan, proof: Proof) -> Matrix:
    """fastener x pass; of a series only the units where something is not accepted, first of all."""
    by_place: Mapping[tuple[str, int, int], Cell] = {(c.unit_id, c.fastener, c.pass_number): c for c in proof.cells}
    units = list(proof.units)
    left_out = 0
    if plan.spec.series is not None:
        wanted = {cell.unit_id for cell in proof.cells if cell.verdict != "accepted"}
        troubled = [unit for unit in units if unit in wanted]
        left_out = len(units) - len(troubled[:MATRIX_UNITS])
        units = troubled[:MATRIX_UNITS]
    rows = tuple(
        MatrixRow(unit, fastener, tuple(_cell(by_place.get((unit, fastener, p.number)), p.torque_of(fastener))
                                        for p in plan.passes))
        for unit in units
        for fastener in range(1, plan.spec.fasteners.count + 1)
    )
    return Matrix(tuple(p.name for p in plan.passes), rows, left_out)


def flags_by_state(proof: Proof) -> tuple[list[Flag], list[tuple[Flag, list[Decided]]], list[Flag]]:
    """(open, settled with the decisions and exceptions on them in time, notes that block nothing)."""
    open_keys = {flag.key for flag in proof.open_flags}
    given = decided(proof)
    settled = [(f, given[f.key]) for f in proof.flags if f.key not in open_keys and f.key in given]
    notes = [f for f in proof.flags if not f.blocking and f.key not in given]
    return list(proof.open_flags), settled, notes


def several(open_flags: Sequence[Flag], joint_class: str) -> dict[str, int]:
    """Code -> how many of the open flags can be decided on together, in the order in which they are shown."""
    counts = Counter(flag.code for flag in open_flags if actions_for(flag, joint_class))
    return {code: count for code, count in counts.items() if count > 1}


def actions_for(flag: Flag, joint_class: str) -> list[str]:
    """What a person may decide on this flag by the table of rules."""
    return [action for action in ACTIONS if not refusal(flag.code, action, joint_class)]
