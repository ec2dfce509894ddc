"""Plain text about records and judgement for the terminal; decides nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from evenpull.cli.show import counted, wrap
from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan.model import Plan
from evenpull.proof.model import Cell, Decision, Proof

_MARK = {"accepted": "accepted", "not accepted": "NOT ACC.", "not judged": "not judged"}
UNITS_SHOWN = 20


def status_text(rows: Sequence[Any]) -> Iterator[str]:
    """One joint a paragraph: id, state, how far, first reason."""
    for row in rows:
        yield f"{row.id:<12} {row.state:<24} {row.accepted} of {row.planned} accepted, {row.open_flags} open"
        if row.reasons:
            yield wrap(row.reasons[0], 13)


def summary_data(row: Any) -> dict[str, Any]:
    """One joint of `status --json`."""
    return {
        "joint": row.id, "name": row.name, "place": row.place, "kind": row.kind, "class": row.joint_class,
        "state": row.state, "reasons": list(row.reasons), "planned": row.planned, "accepted": row.accepted,
        "open_flags": row.open_flags, "records": row.records, "units": row.units,
    }  # fmt: skip


def cell_text(cell: Cell | None) -> str:
    """One cell of the matrix, at most twenty characters: value with its verdict."""
    if cell is None or not cell.records:
        return "no record"
    shown = cell.proving or cell.records[-1]
    value = "no torque" if shown.torque is None else f"{shown.torque:.4g}"
    return f"{value} {_MARK[cell.verdict]}"


def decision_text(decision: Decision, standing: str) -> Iterator[str]:
    """State, then reasons, then follow-ups. `standing`: what the joint counts as, signatures included."""
    yield f"State: {standing}" + (f" ({decision.state})" if standing != decision.state else "")
    for reason in decision.reasons:
        yield wrap(f"- {reason}", 2, 4)
    if decision.follow_ups:
        yield "To follow up:"
        for text in decision.follow_ups:
            yield wrap(f"- {text}", 2, 4)


def matrix_text(plan: Plan, proof: Proof) -> Iterator[str]:
    """fastener x pass in N.m. Of a series only the units with something not accepted, the first of them."""
    cells = {(c.unit_id, c.fastener, c.pass_number): c for c in proof.cells}
    units: Iterable[str] = proof.units
    if plan.spec.series is not None:
        troubled = {c.unit_id for c in proof.cells if c.verdict != "accepted"}
        wanted = [unit for unit in proof.units if unit in troubled]
        units = wanted[:UNITS_SHOWN]
        yield f"{len(proof.units)} units, {len(wanted)} of them not wholly accepted, the first {len(list(units))} here"
    yield "torque in N.m, the record that counts"
    yield "no.   " + "".join(f"{_pass_head(plan, step.number):<21}" for step in plan.passes).rstrip()
    for unit in units:
        if unit:
            yield f"{plan.spec.series.unit_name if plan.spec.series else 'unit'} {unit}"
        for number in range(1, plan.spec.fasteners.count + 1):
            row = (cell_text(cells.get((unit, number, step.number))) for step in plan.passes)
            yield f"{number:>3}   " + "".join(f"{text:<21}" for text in row).rstrip()


def _pass_head(plan: Plan, number: int) -> str:
    step = plan.passes[number - 1]
    return "check pass" if step.check else f"pass {number}, {step.stage}"


def joint_text(plan: Plan, proof: Proof, decision: Decision, standing: str) -> Iterator[str]:
    """State with reasons first, then the matrix, then what is open, what was decided and what is only noted."""
    yield f"{plan.spec.id}  {plan.spec.name}"
    yield from decision_text(decision, standing)
    yield ""
    yield (
        f"{counted(proof.records, 'record')}, {counted(proof.unread, 'row')} unread, {proof.repeated} received again "
        "and not counted twice"
    )
    yield ""
    yield from matrix_text(plan, proof)
    open_keys = {flag.key for flag in proof.open_flags}
    decided = {d.flag_key: d for d in proof.dispositions}
    if proof.open_flags:
        yield ""
        yield "Open, a decision is needed (evenpull dispose):"
        for flag in proof.open_flags:
            yield wrap(f"- {flag.text}", 2, 4)
            if flag.key in decided:
                by = decided[flag.key]
                yield wrap(f"{by.action!r} by {by.by}, {by.at:%Y-%m-%d %H:%M}, is not fulfilled yet: {by.reason}", 4)
            yield f"      [{flag.key}]"
    closed = [flag for flag in proof.flags if flag.key not in open_keys and flag.key in decided]
    if closed:
        yield ""
        yield "Decided:"
        for flag in closed:
            yield wrap(f"- {flag.text}", 2, 4)
            by = decided[flag.key]
            yield wrap(f"{by.action}, {by.by}, {by.at:%Y-%m-%d %H:%M}: {by.reason}", 4)
    noted = [flag for flag in proof.flags if flag.key not in open_keys and flag.key not in decided]
    if noted:
        yield ""
        yield "Noted:"
        for flag in noted:
            yield wrap(f"- {flag.text}", 2, 4)


def records_text(tightenings: Sequence[Tightening], unread: Sequence[UnreadRow]) -> Iterator[str]:
    """Every record on one line, in the order the dossier gives them, then the unread rows."""
    yield "time (as written)        tool      reading  no. pass  torque (as written)  source says"
    for t in tightenings:
        step = "?" if t.pass_number is None else str(t.pass_number)
        counter = "" if t.counter is None else str(t.counter)
        mark = " loosening" if t.direction == "loosen" else ""
        yield (
            f"{t.time_text:<24.24} {t.tool:<9} {counter:>7} {t.fastener:>4} {step:>4}  "
            f"{t.torque_text + ' ' + t.torque_unit:<19}  {t.result_text}{mark}"
        ).rstrip()
    for row in unread:
        yield wrap(f"row {row.row} unread: {row.reason}: {row.raw}", 0, 4)


def matrix_data(plan: Plan, proof: Proof, decision: Decision, standing: str) -> dict[str, Any]:
    """The matrix, flags and decision as data, for --json. Torque in N.m."""
    open_keys = {flag.key for flag in proof.open_flags}
    return {
        "joint": plan.spec.id,
        "rules": proof.rules,
        "state": standing,
        "decision": decision.state,
        "reasons": list(decision.reasons),
        "follow_ups": list(decision.follow_ups),
        "cells": [
            {
                "unit": c.unit_id, "fastener": c.fastener, "pass": c.pass_number, "verdict": c.verdict,
                "reason": c.reason, "torque_N_m": None if c.proving is None else c.proving.torque,
                "records": len(c.records),
            }
            for c in proof.cells
        ],
        "flags": [
            {
                "key": f.key, "code": f.code, "blocking": f.blocking, "open": f.key in open_keys, "unit": f.unit_id,
                "fastener": f.fastener, "pass": f.pass_number, "text": f.text,
            }
            for f in proof.flags
        ],
        "records": proof.records,
        "unread": proof.unread,
        "repeated": proof.repeated,
    }  # fmt: skip
