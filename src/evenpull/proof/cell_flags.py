"""Flags on one fastener, on one place of the matrix, and on many places with the same trouble."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from evenpull.intake.record import Tightening
from evenpull.ledger.words import fasteners
from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook, Place
from evenpull.proof.judging import Finding, Judge, Judgement
from evenpull.proof.model import FlagCode
from evenpull.proof.placing import contradicts
from evenpull.proof.texts import at_place, counted, pass_label, record_label, some, torque_text
from evenpull.proof.unit_work import CellWork, FastenerWork, follows, settled_after

NOT_UNDERSTOOD: tuple[FlagCode, ...] = ("not a proving event", "wrong direction")  # it may have been a loosening
MEANT_AGAIN = ("touch-up", "re-tighten after service", "replace")


class Grouped:
    """The same trouble on many places: one flag for each tool (and day), so that one decision can answer it."""

    def __init__(self) -> None:
        self._found: dict[tuple[FlagCode, tuple[str, ...], bool], list[tuple[CellWork, Tightening, str]]] = (
            defaultdict(list)
        )

    def add(self, finding: Finding, cell: CellWork, record: Tightening) -> None:
        place = finding.code, finding.group, finding.outcome != "note"
        self._found[place].append((cell, record, finding.text))

    def flag(self, plan: Plan, book: FlagBook) -> None:
        for (code, _, blocking), found in sorted(self._found.items()):
            cell, record, text = found[0]
            if len(found) == 1:
                where = at_place(plan.spec, cell.unit, cell.fastener, cell.one)
                _on_cell(book, code, f"{where}: {text}", cell, [record], blocking=blocking)
                continue
            units = sorted({c.unit for c, _, _ in found})
            numbers = [c.fastener for c, _, _ in found]
            where = (
                fasteners(numbers)
                if plan.spec.series is None
                else (
                    f"{len(units)} units: {plan.spec.series.unit_name} {some(units, 3)}"
                    if len(units) > 1
                    else f"{plan.spec.series.unit_name} {units[0]}, {fasteners(numbers)}"
                )
            )
            book.add(
                code,
                f"{text} ({counted(len(found), 'record')}, {where})",
                blocking=blocking,
                unit=units[0] if len(units) == 1 else "",
                fastener=numbers[0] if len(set(numbers)) == 1 == len(units) else None,
                records=sorted(r.key for _, r, _ in found),
                places=[c.place for c, _, _ in found],
            )


def flag_fastener(plan: Plan, unit: str, fastener: int, work: FastenerWork, judge: Judge, book: FlagBook) -> None:
    """What was undone, what proves nothing, and what could not be placed."""
    spec, placed = plan.spec, work.placed
    at = at_place(spec, unit, fastener, None)
    for record in placed.idle:
        book.add(
            "not a proving event",
            f"{at}: a {record.event} ({record_label(record)}, {torque_text(record)}) proves no pass",
            blocking=False,
            unit=unit,
            fastener=fastener,
            records=[record.key],
        )
    for record, why in placed.unknown_pass:
        book.add(
            "unknown pass",
            f"{at}: {why} ({record_label(record)})",
            blocking=True,
            unit=unit,
            fastener=fastener,
            records=[record.key],
        )
    for record, fit, why in placed.untold:
        book.add(
            "pass not stated",
            f"{at}: the pass of a record is not known: {why} ({record_label(record)})",
            blocking=True,
            unit=unit,
            fastener=fastener,
            records=[record.key],
            places=[(unit, fastener, n) for n in fit],
        )
    for number, found in placed.cells.items():
        for record in found:
            if told := placed.told.get(record.key):
                where = at_place(spec, unit, fastener, plan.pass_by_number(number))
                book.add(
                    "pass not stated",
                    f"{where}: the record does not state its pass; {told}",
                    blocking=False,
                    unit=unit,
                    fastener=fastener,
                    pass_number=number,
                    records=[record.key],
                )
    _flag_undone(plan, unit, fastener, work, judge, book)


def _flag_undone(plan: Plan, unit: str, fastener: int, work: FastenerWork, judge: Judge, book: FlagBook) -> None:
    at = at_place(plan.spec, unit, fastener, None)
    bare = [number for number, cell in work.cells.items() if not cell.valid]
    undone = [number for number in bare if work.cells[number].records]
    everything = [r for cell in work.cells.values() for r in cell.records]

    def harms(record: Tightening) -> bool:
        """Some tightening is not known to have come after it, so it is undone. New fasteners do not undo each other."""
        new = record.event == "replace" and record not in work.placed.undoing
        return any(
            r is not record and not (new and r.event == "replace") and not follows(r, record, judge) for r in everything
        )

    replaced = [record for record in work.replaced if harms(record)][:1]  # one flag for one change of the fastener
    for record in (*work.placed.undoing, *replaced):
        if record in replaced:
            settled = not bare
            word = "replaced"
        else:
            settled = settled_after(work, plan.passes, record, judge)
            word = "taken out" if record.event == "remove" else "loosened"
        label = record_label(record)
        after = "and tightened again in all passes" if settled else "and not tightened again in all passes"
        if contradicts(record):
            turned = "loosening" if record.direction == "loosen" else "tightening"
            book.add(
                "wrong direction",
                f"{at}: {label} is called {record.event!r}, but turned in the {turned} direction; "
                f"it counts as loosening, {after}",
                blocking=not settled,
                unit=unit,
                fastener=fastener,
                pass_number=record.pass_number,
                records=[record.key],
                places=[(unit, fastener, n) for n in (bare or [record.pass_number or plan.passes[0].number])],
            )
        elif harms(record):
            lacking = some([pass_label(cell.one) for cell in work.cells.values() if not cell.valid])
            lack = f": no record since then in {lacking}" if lacking and not settled else ""
            book.add(
                "loosened later",
                f"{at}: {word} after it was tightened ({label}), {after}{lack}",
                blocking=not settled,
                unit=unit,
                fastener=fastener,
                records=[record.key],
                places=[(unit, fastener, n) for n in (undone if not settled else list(work.cells))],
            )
        elif record not in replaced:
            book.add(
                "not a proving event",
                f"{at}: {word} before any tightening ({label}); it proves no pass",
                blocking=False,
                unit=unit,
                fastener=fastener,
                records=[record.key],
            )


def flag_cells(plan: Plan, cell: CellWork, judge: Judge, book: FlagBook, grouped: Grouped, clashing: set[str]) -> None:
    """Missing, doubled, and what the records of this place show."""
    at = at_place(plan.spec, cell.unit, cell.fastener, cell.one)
    proving = cell.proving
    if not cell.records:
        _on_cell(book, "missing", f"{at}: {cell.reason}", cell, [], blocking=True)
        return
    valid = {record.key for record in cell.valid}
    for record in cell.records:
        judgement = judge(record, cell.one)
        if record is proving:
            for finding in judgement.findings:
                if finding.group:
                    grouped.add(finding, cell, record)
                else:
                    _on_cell(
                        book,
                        finding.code,
                        f"{at}: {finding.text}",
                        cell,
                        [record],
                        blocking=finding.outcome != "note",
                    )
        else:
            for finding in judgement.findings:
                text = f"{at} (an earlier record): {finding.text}"
                if finding.overload:
                    _on_cell(book, finding.code, text, cell, [record], blocking=True)
                elif finding.code in NOT_UNDERSTOOD and finding.outcome == "not judged" and record.key in valid:
                    whole = [(cell.unit, cell.fastener, one.number) for one in plan.passes]
                    _on_cell(book, finding.code, text, cell, [record], blocking=True, places=whole)
        _flag_source(at, cell, record, judgement, book)
    if len(cell.valid) > 1:
        _flag_doubled(at, cell, judge, book)
    if proving is not None and proving.key in clashing:
        cell.lower_to("not judged", "another record has the same tool and counter")


def _on_cell(
    book: FlagBook,
    code: FlagCode,
    text: str,
    cell: CellWork,
    records: Sequence[Tightening],
    *,
    blocking: bool,
    places: Sequence[Place] = (),
) -> None:
    """A flag on one place of the matrix, naming these records."""
    book.add(
        code,
        text,
        blocking=blocking,
        unit=cell.unit,
        fastener=cell.fastener,
        pass_number=cell.one.number,
        records=[record.key for record in records],
        places=places,
    )


def _flag_source(at: str, cell: CellWork, record: Tightening, judgement: Judgement, book: FlagBook) -> None:
    ours, theirs = judgement.verdict, record.source_verdict
    if theirs == "none" or ours == "not judged" or ours == theirs:
        return
    said = f" ({record.result_text})" if record.result_text else ""
    _on_cell(
        book,
        "source disagrees",
        f"{at}: the source says {theirs}{said}, these rules {ours}: {judgement.reason}",
        cell,
        [record],
        # The tool may know what its record does not say; what it rejected is not accepted without a person.
        blocking=theirs == "not accepted" and ours == "accepted",
    )


def _flag_doubled(at: str, cell: CellWork, judge: Judge, book: FlagBook) -> None:
    *earlier, last = cell.valid
    judged = [judge(r, cell.one) for r in earlier]
    pulled_again = judge(last, cell.one).verdict == "accepted" and all(
        j.verdict != "accepted" and not j.overload for j in judged
    )
    meant = cell.one.check or last.event in MEANT_AGAIN or pulled_again
    values = some([torque_text(r) for r in cell.valid])
    counts = (
        f"the last one counts, {record_label(last)}"
        if cell.order_known
        else ("which is the last is not known, so none counts")
    )
    _on_cell(
        book,
        "doubled",
        f"{at}: {len(cell.valid)} records ({values}); {counts}",
        cell,
        cell.valid,
        blocking=not (meant and cell.order_known),
    )
