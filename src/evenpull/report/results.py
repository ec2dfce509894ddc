"""What the records show: matrix fastener x pass, order followed, check passes, statistics."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from evenpull.card.texts import numbers_in_words
from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.judging import TIGHTENING, movement_of
from evenpull.proof.model import Cell, PassSummary, Proof
from evenpull.proof.moments import Moment, moments
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import LETTER, Scale, angle_shown, cell_state, counted, names

SERIES_UNITS, SERIES_ROWS = 100, 300  # units and tightenings of a series printed; the attachment holds all
ORDERS_PRINTED = 40  # passes whose order is written out; a joint with more is not met in practice


def matrix(plan: Plan, proof: Proof, numbers: Mapping[str, int], scale: Scale) -> dict[str, Any]:
    """Rows of the matrix. `numbers`: flag key -> its number in the list of flags. A series is condensed."""
    by_place = {(c.unit_id, c.fastener, c.pass_number): c for c in proof.cells}
    rows = []
    for unit in proof.units if plan.spec.series is None else ():
        for fastener in range(1, plan.spec.fasteners.count + 1):
            found = [by_place.get((unit, fastener, p.number)) for p in plan.passes]
            keys = [key for cell in found if cell for key in cell.flags]
            cells = [_beside(_cell(c, scale), p, fastener, scale) for p, c in zip(plan.passes, found, strict=True)]
            rows.append({"fastener": str(fastener), "cells": cells,
                         "flags": _flag_numbers(keys, numbers)})
    return {
        "passes": [{"name": _pass_head(p), "window": _window(p, scale)} for p in plan.passes],
        "torque_unit": scale.shown,
        "rows": rows,
    }


def _window(one: Pass, scale: Scale) -> str:
    return "window beside each" if one.own else scale.window(one.lower, one.upper)


def _beside(cell: dict[str, str], one: Pass, fastener: int, scale: Scale) -> dict[str, str]:
    """The cell with the window of this fastener behind it, where each fastener has its own."""
    if not one.own:
        return cell
    return cell | {"angle": " ".join(filter(None, (cell["angle"], f"({scale.window(*one.window(fastener))})")))}


def _flag_numbers(keys: Iterable[str], numbers: Mapping[str, int]) -> str:
    found = sorted({numbers[key] for key in keys if key in numbers})
    return ", ".join(str(n) for n in found[:3]) + (f" +{len(found) - 3}" if len(found) > 3 else "")


def _pass_head(one: Pass) -> str:
    return one.name if one.check else f"pass {one.number}, {one.stage}"


def series(plan: Plan, proof: Proof, numbers: Mapping[str, int], scale: Scale) -> dict[str, Any] | None:
    """A series condensed: each tightening that is not accepted, of the first SERIES_UNITS units that have one."""
    if plan.spec.series is None:
        return None
    units, note = _units_shown(proof, plan.spec.series.unit_name)
    shown = set(units)
    rows = []
    for cell in proof.cells:
        if cell.unit_id in shown and cell.verdict != "accepted":
            seen = _cell(cell, scale)
            rows.append([
                safe(cell.unit_id, NARROW), str(cell.fastener), str(cell.pass_number), seen["mark"], seen["value"],
                safe(cell.reason), _flag_numbers(cell.flags, numbers),
            ])
    return {"unit_name": safe(plan.spec.series.unit_name, NARROW), "note": safe(note), "rows": rows[:SERIES_ROWS],
            "left_out": max(0, len(rows) - SERIES_ROWS), "unit": scale.shown}


def _units_shown(proof: Proof, name: str) -> tuple[list[str], str]:
    troubled = {cell.unit_id for cell in proof.cells if cell.verdict != "accepted"}
    wanted = [unit for unit in proof.units if unit in troubled]
    fine = len(proof.units) - len(wanted)
    note = (
        f"This is a series of {counted(len(proof.units), 'unit')} ({name}). On {fine} of them every tightening is "
        f"accepted; these are not printed. On {len(wanted)} something is not accepted, not judged or missing"
    )
    if len(wanted) > SERIES_UNITS:
        more = len(wanted) - SERIES_UNITS
        note += f"; the first {SERIES_UNITS} of these are printed, {more} more stand only in the attached proof.json"
    return wanted[:SERIES_UNITS], note + "."


def _cell(cell: Cell | None, scale: Scale) -> dict[str, str]:
    if cell is None or not cell.records:
        return {"mark": "M", "value": "missing", "angle": ""}
    shown = cell.proving or cell.records[-1]
    return {
        "mark": LETTER[cell_state(cell)],
        "value": "no torque" if shown.torque is None else scale.number(shown.torque),
        "angle": "" if shown.angle is None else angle_shown(shown.angle),
    }


def reasons(plan: Plan, proof: Proof, most: int = 120) -> dict[str, Any]:
    """Why each cell of the matrix is not accepted, in its order; missing cells drawn together by pass."""
    missing: dict[int, list[int]] = defaultdict(list)
    rows = []
    for cell in proof.cells if plan.spec.series is None else ():
        if not cell.records:
            missing[cell.pass_number].append(cell.fastener)
        elif cell.verdict != "accepted":
            rows.append([_at("", str(cell.fastener), cell.pass_number), cell.verdict, safe(cell.reason)])
    lines = [[_at("", _runs(found), number), "missing", "no record"] for number, found in missing.items()]
    return {"rows": [*lines, *rows][:most], "left_out": max(0, len(lines) + len(rows) - most)}


def _at(unit: str, fasteners: str, number: int) -> str:
    return safe((f"{unit}: " if unit else "") + f"no. {fasteners}, pass {number}", NARROW)


def _runs(numbers: list[int]) -> str:
    return numbers_in_words(numbers, 40)


def followed(proof: Proof, one: Pass, known: Mapping[str, Moment], unit: str = "") -> tuple[list[int], list[int]]:
    """Fasteners in the order of their first record of this pass, and those whose place in it is not known.

    The same rule as the judgement's own: by the counter when all came from one tool, else by times that are sure.
    """
    firsts = [c.records[0] for c in proof.cells if c.pass_number == one.number and c.unit_id == unit and c.records]
    step = {fastener: place for place, group in enumerate(one.order) for fastener in group}
    streams = {known[r.key].stream for r in firsts}
    by_counter = len(streams) == 1 and None not in streams
    placed = [r for r in firsts if by_counter or known[r.key].sure]

    def place(record: Tightening) -> tuple[float, int, int, str]:
        moment = known[record.key]
        at = 0.0 if by_counter else moment.low
        return at, 0 if by_counter else step.get(record.fastener, -1), moment.counter, record.key

    sequence = [r.fastener for r in sorted(placed, key=place)]
    return sequence, sorted({r.fastener for r in firsts} - set(sequence))


def order(plan: Plan, proof: Proof, records: Iterable[Tightening]) -> dict[str, Any]:
    """Planned and followed order of each pass; fasteners with a flag "out of order" are marked."""
    if plan.spec.series is not None:
        text = "The order within each unit is judged; it is not written out for a series. Units with a flag on it: "
        flagged = names(f.unit_id for f in proof.flags if f.code == "out of order")
        return {"passes": [], "text": safe(text + (flagged or "none") + "."), "strict": _rule(plan)}
    out: dict[int | None, set[int | None]] = defaultdict(set)
    for flag in proof.flags:
        if flag.code == "out of order":
            out[flag.pass_number].add(flag.fastener)
    summaries = {s.pass_number: s for s in proof.summaries}
    known = moments(records)
    passes: list[dict[str, Any]] = []
    printed: dict[tuple[tuple[int, ...], ...], str] = {}  # planned order -> the pass that shows it
    for one in plan.passes[:ORDERS_PRINTED]:
        sequence, timeless = followed(proof, one, known)
        figures = summaries.get(one.number)
        passes.append({
            "name": one.name,
            "planned": [] if one.order in printed else [" + ".join(str(f) for f in group) for group in one.order],
            "as": printed.get(one.order, ""),
            "same": sequence == [f for group in one.order for f in group] and not out[one.number],
            "followed": [{"n": str(f), "out": f in out[one.number]} for f in sequence],
            "timeless": _runs(timeless) if timeless else "",
            "distance": _distance(figures) if figures and sequence else "",
        })
        printed.setdefault(one.order, one.name)
    return {"passes": passes, "text": "", "strict": _rule(plan)}


def _distance(s: PassSummary) -> str:
    if s.displaced or s.order_distance:
        text = f"{s.displaced} out of their planned place; {s.order_distance} would have to move to keep the plan"
    else:
        text = "as planned, among those whose place is known"
    if s.mixed:
        text += f"; {counted(s.mixed, 'pull')} before the pass below was complete"
    return text


def _rule(plan: Plan) -> str:
    p = plan.spec.procedure
    passes = "each pass must be complete before the next begins" if p.strict_passes else "passes may overlap"
    within = "binding" if p.strict_order else "planned, not binding"
    return f"By the specification {passes}; the order within a pass is {within}."


def check_pass(plan: Plan, proof: Proof) -> dict[str, Any]:
    """Movement on each check pass. Without an angle of the record the movement is not known, and that is said."""
    limit = plan.spec.procedure.movement_limit
    flagged = {(f.unit_id, f.fastener, f.pass_number) for f in proof.flags if f.code == "moved on check pass"}
    found = []
    complete = False  # of the last check pass
    for one in (p for p in plan.passes if p.check):
        cells = [c for c in proof.cells if c.pass_number == one.number]
        done = [c for c in cells if c.proving is not None and c.proving.event not in TIGHTENING]
        known = [c for c in done if c.proving is not None and movement_of(c.proving) is not None]
        moved = [c for c in cells if (c.unit_id, c.fastener, c.pass_number) in flagged]
        unknown = [c for c in done if c not in known]
        text = f"{len(done)} of {len(cells)} fasteners checked"
        text += f"; movement recorded for {len(known)}" if known else "; no movement recorded"
        text += f", {len(moved) or 'none'} flagged as moved." if known or moved else "."
        if unknown and known:
            text += f" No movement recorded for no. {_runs([c.fastener for c in unknown])}."
        if len(done) < len(cells) and plan.spec.series is None:
            text += f" Not checked: no. {_runs([c.fastener for c in cells if c not in done])}."
        rows = [
            [_at(c.unit_id, str(c.fastener), one.number), _movement(c), str(limit) if limit else "any movement counts"]
            for c in moved[:SERIES_UNITS]
        ]
        found.append({"name": one.name, "text": safe(text), "rows": rows})
        complete = len(known) == len(cells)
    moving = [flag for flag in proof.flags if flag.code == "moved on check pass"]
    open_keys = {flag.key for flag in proof.open_flags}
    if not found:
        final = "The plan has no check pass: these records do not show whether fasteners lost load to their neighbours."
    elif any(flag.key in open_keys for flag in moving):
        final = "Final state: movement is not settled."
    elif moving:
        final = "Final state: movement was found; what settled it stands in the list of flags."
    elif complete:
        final = "Final state: every fastener was checked and none is flagged as moved."
    else:
        final = "Final state: not shown, because not every fastener was checked and its movement recorded."
    return {"passes": found, "final": final}


def _movement(cell: Cell) -> str:
    record = cell.proving or (cell.records[-1] if cell.records else None)
    turned = None if record is None else movement_of(record)
    return "moved, angle not recorded" if turned is None else angle_shown(turned)


def statistics(plan: Plan, proof: Proof, scale: Scale) -> dict[str, Any]:
    missing = Counter(c.pass_number for c in proof.cells if not c.records)
    again = Counter(c.pass_number for c in proof.cells if len(c.records) > 1)
    windows = {p.number: p for p in plan.passes}
    rows = []
    for s in proof.summaries:
        one = windows.get(s.pass_number)
        rows.append([
            _pass_head(one) if one else f"pass {s.pass_number}",
            *(str(v) for v in (s.planned, s.accepted, s.not_accepted, s.not_judged, missing[s.pass_number],
                               again[s.pass_number], s.n)),
            *("–" if v is None else scale.number(v) for v in (s.minimum, s.mean, s.maximum, s.deviation)),
        ])
    return {"rows": rows, "unit": scale.shown}
