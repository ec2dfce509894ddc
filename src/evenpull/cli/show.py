"""Plain text for the terminal: at most 80 columns where the words allow it, no colour, readable in a log."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from evenpull.intake.record import Reading
from evenpull.intake.sources import printable
from evenpull.intake.suggest import Suggestion
from evenpull.joint.target import NO_LOAD
from evenpull.joint.traced import Band, Traced
from evenpull.plan.model import Plan, Pull
from evenpull.quantities import show

if TYPE_CHECKING:  # the dossier needs Django; these are only names here
    from evenpull.store.services import Imported, Preview

WIDTH = 80
_SHOWN = {"N": (1e-3, "kN"), "m": (1e3, "mm"), "m2": (1e6, "mm2"), "Pa": (1e-6, "MPa"), "N.m": (1.0, "N.m")}


def wrap(text: str, indent: int = 0, hang: int | None = None) -> str:
    """`text` in lines of 80 columns, all but the first indented by `hang`."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent if hang is None else hang),
        break_long_words=False,
        break_on_hyphens=False,
    )


def counted(number: int, what: str) -> str:
    """ "1 row", "2 rows"."""
    return f"{number:,} {what}" if number == 1 else f"{number:,} {what}s"


def _value(value: float, unit: str) -> str:
    if unit in _SHOWN:
        factor, name = _SHOWN[unit]
        return f"{value * factor:.5g} {name}"
    if unit == "rad":
        return show(value, "deg")
    return f"{value:.4g}" + ("" if unit == "1" else f" {unit}")


def _band(band: Band, factor: float, unit: str, digits: int = 4) -> str:
    low, nominal, high = (f"{v * factor:.{digits}g}" for v in (band.low, band.nominal, band.high))
    return f"{low} to {high} {unit}, nominal {nominal} {unit}"


def target_line(plan: Plan) -> str:
    """One line: joint, fasteners, target."""
    fasteners, target = plan.spec.fasteners, plan.target
    if target.load is None:
        what, load = counted(fasteners.count, "fastener"), f"load {NO_LOAD}"
    else:
        what = f"{fasteners.count} x {fasteners.thread} {fasteners.strength_class}"
        load = f"load {target.load.low / 1e3:.0f} to {target.load.high / 1e3:.0f} kN"
    return f"{plan.spec.id}: {what}, target {target.torque:.4g} N.m, {load}"


def problem_lines(plan: Plan) -> list[str]:
    """Problems of the plan, the ones that stop the work first."""
    rank = {"stop": 0, "warning": 1, "note": 2}
    word = {"stop": "STOP", "warning": "Warning", "note": "Note"}
    return [f"{word[p.severity]}: {p.text}" for p in sorted(plan.problems, key=lambda p: rank[p.severity])]


def target_text(plan: Plan) -> Iterator[str]:
    """The target with its reasoning, one number after the other."""
    spec, target = plan.spec, plan.target
    yield f"{spec.id}  {spec.name}"
    yield wrap(spec.place, 2)
    source = spec.source
    yield wrap(
        f"Specified by {source.document} revision {source.revision}, {source.place}, approved by "
        f"{source.approved_by}, in force from {source.in_force_from.isoformat()}", 2,
    )  # fmt: skip
    yield ""
    for line in problem_lines(plan):
        yield wrap(line, 0, 2)
    if plan.problems:
        yield ""
    yield f"Torque at the fastener  {target.torque:.4g} N.m"
    yield f"With tool uncertainty   {_band(target.torque_band, 1.0, 'N.m')}"
    if target.load is None or target.utilisation_yield is None:
        yield f"Preload that follows    {NO_LOAD}"
        yield f"Share of yield          {NO_LOAD}"
    else:
        yield f"Preload that follows    {_band(target.load, 1e-3, 'kN')}"
        yield f"Share of yield          {_band(target.utilisation_yield, 100.0, '%', 3)}"
    if target.utilisation_proof is not None:
        yield f"Share of proof load     {_band(target.utilisation_proof, 100.0, '%', 3)}"
    yield ""
    yield "How the numbers came about, in order:"
    for step in target.chain:
        yield from _step(step)


def _step(step: Traced) -> Iterator[str]:
    yield wrap(f"{step.symbol} = {_value(step.value, step.unit)}  {step.name}", 2, 6)
    if step.status == "stated":
        yield wrap(f"[stated: {step.source}]", 6)
    else:
        yield wrap(f"{step.formula}  [{step.source}; {step.status}]", 6)


def target_data(plan: Plan) -> dict[str, Any]:
    """The target as data (SI units), for --json."""
    target = plan.target

    def band(b: Band | None) -> dict[str, float] | None:
        return None if b is None else {"low": b.low, "nominal": b.nominal, "high": b.high}

    return {
        "joint": plan.spec.id,
        "specification_sha256": plan.spec.digest,
        "torque_N_m": target.torque,
        "torque_band_N_m": band(target.torque_band),
        "load_N": band(target.load),
        "utilisation_yield": band(target.utilisation_yield),
        "utilisation_proof": band(target.utilisation_proof),
        "problems": [{"code": p.code, "severity": p.severity, "text": p.text} for p in plan.problems],
        "chain": [
            {
                "symbol": s.symbol, "name": s.name, "value": s.value, "unit": s.unit, "formula": s.formula,
                "source": s.source, "status": s.status, "inputs": dict(s.inputs),
            }
            for s in target.chain
        ],
    }  # fmt: skip


def plan_text(plan: Plan, *, pulls: bool = False) -> Iterator[str]:
    """Passes with order and settings; every pull on request."""
    passes = "1 pass" if len(plan.passes) == 1 else f"{len(plan.passes)} passes"
    yield f"{plan.spec.id}  {plan.spec.name}: {passes}, {counted(len(plan.pulls), 'pull')}"
    for line in problem_lines(plan):
        yield wrap(line, 0, 2)
    for step in plan.passes:
        yield ""
        if step.own:
            yield f"{step.name}: {len(step.own)} fasteners, each with its setting and its window"
        else:
            yield f"{step.name}: {step.torque:.4g} N.m, a pull may lie from {step.lower:.4g} to {step.upper:.4g} N.m"
        order = " ".join("+".join(str(n) for n in group) for group in step.order)
        yield wrap(f"order: {order}", 2, 9)
        for setting in step.settings:
            yield wrap(f"{setting.tool}: set {setting.digits} {setting.unit} ({setting.words})", 2, 6)
            for problem in setting.problems:
                yield wrap(problem, 6)
        for own in step.own:
            dialled = "; ".join(f"{s.tool} {s.digits} {s.unit}" for s in own.settings)
            yield wrap(f"number {own.fastener}: {own.percent:g} %, {own.torque:.4g} N.m ({own.lower:.4g} to "
                       f"{own.upper:.4g} N.m); set {dialled or 'no tool'}", 2, 6)  # fmt: skip
            for setting in own.settings:
                for problem in setting.problems:
                    yield wrap(f"{setting.tool}: {problem}", 6)
    if pulls:
        yield ""
        for pull in plan.pulls:
            numbers = "+".join(str(n) for n in pull.fasteners)
            yield f"pull {pull.number:4d}  pass {pull.pass_number}  number {numbers:>7}  {_torques(pull)} N.m"


def _torques(pull: Pull) -> str:
    return "+".join(f"{torque:.4g}" for torque in pull.torques or (pull.torque,))


def reading_text(reading: Reading) -> Iterator[str]:
    """What one file gave: counts, unread rows with their reason, doubts."""
    yield wrap(
        f"{reading.file}: {counted(len(reading.tightenings), 'record')}, {counted(len(reading.unread), 'row')} unread, "
        f"{counted(len(reading.set_aside), 'row')} set aside (heading, footer, blank); {reading.size} bytes, "
        f"{reading.encoding}"
    )
    for row in reading.unread:
        yield wrap(f"row {row.row} unread: {row.reason}", 2, 4)
    for record in reading.tightenings:
        for doubt in filter(None, (record.time_doubt, *record.remarks)):
            yield wrap(f"row {record.row} in doubt: {doubt}", 2, 4)
    for note in reading.notes:
        yield wrap(note, 2, 4)


def preview_text(seen: Preview) -> Iterator[str]:
    """What an import would do."""
    yield from reading_text(seen.reading)
    if seen.already:
        yield "  this file was taken in before; an import would change nothing"
        return
    yield f"  {counted(seen.new, 'record')} would be new, {seen.repeated} received before"
    for name, near in seen.unknown.items():
        yield wrap(f"no joint {name} is known{'; near: ' + ', '.join(near) if near else ''}", 2, 4)
    for doubt in seen.tools:
        yield wrap(f"tool: {doubt}", 2, 4)
    for conflict in seen.conflicts:
        yield wrap(f"conflict: {conflict}", 2, 4)


def imported_line(name: str, done: Imported) -> str:
    """One line about one import."""
    name = printable(name)
    if done.already:
        return f"{name}: taken in before, nothing changed"
    return (
        f"{name}: {counted(done.new, 'record')}, {done.repeated} received before, "
        f"{counted(done.unread, 'row')} unread, {done.set_aside} set aside"
    )


def suggestion_text(found: Suggestion) -> Iterator[str]:
    """What each column was taken for and why, then what is still to be answered."""
    for column in found.columns:
        taken = f"{column.field}, {column.sureness}" if column.field else "left out"
        yield wrap(f"{column.position} {printable(column.column) or 'without a name'}: {taken}: {column.reason}", 2, 6)
    for note in found.notes:
        yield wrap(f"note: {note}", 2, 6)
    for question in found.questions:
        yield wrap(f"open, {question.key}: {question.text}", 0, 4)
        for choice in question.choices:
            yield wrap(f"{choice.value}  {choice.says}", 4, 8)
        if question.free:
            yield wrap("or a text of your own", 4)
