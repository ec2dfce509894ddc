"""Our verdict beside the source's own result, record by record: where they part, and why.

Two levels are shown, because they are not the same question: the torque alone against the window of the pass, and the
torque with the way in which the pull ended (end cause, direction, and whether the final step of the tightening was
reached, where the source has steps). Nothing is averaged away: every record keeps its own row.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.model import Proof, Verdict
from evenpull.proof.texts import above, against, below, torque_text, window_text

ReasonCode = Literal[
    "same verdict", "ended at a limit", "ended by the user", "ended with an error", "final step not reached",
    "turned to loosen", "torque below the window", "torque above the window", "no torque", "end not stated",
    "no reason in the record", "source gives no result", "on no planned place",
]  # fmt: skip
MEANING: dict[ReasonCode, str] = {
    "same verdict": "Both levels and the source agree.",
    "ended at a limit": "The pull was broken off at a limit of torque or angle; the torque seen is not a result.",
    "ended by the user": "The pull was let go before its end.",
    "ended with an error": "The tool reports an error.",
    "final step not reached": "The tightening ended in an earlier step; its highest torque is not the final torque.",
    "turned to loosen": "The record turns the fastener in the loosening direction.",
    "torque below the window": "The torque is below the window of the specification.",
    "torque above the window": "The torque is above the window of the specification.",
    "no torque": "The record has no torque, so it cannot be judged by these rules.",
    "end not stated": "The source rejects it and the record does not state how the pull ended.",
    "no reason in the record": "The source rejects it, and nothing in the record shows why.",
    "source gives no result": "The source has no verdict of its own here; there is nothing to compare.",
    "on no planned place": "The record falls on no fastener and pass of the plan.",
}
_ENDS: dict[str, ReasonCode] = {
    "limit": "ended at a limit", "stopped by user": "ended by the user", "error": "ended with an error",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FinalStep:
    """Where the source says in which of its steps a tightening ended: the column as received and its last step."""

    column: str
    value: str


@dataclass(frozen=True, slots=True)
class ComparisonRow:
    """One record. `torque` in N.m. `agree_*` is None where one side has no verdict."""

    record: str
    file_row: int
    unit_id: str
    fastener: int
    pass_number: int | None
    torque: float | None
    source: Literal["accepted", "not accepted", "none"]
    source_text: str
    by_torque: Verdict
    by_torque_and_end: Verdict
    agree_torque: bool | None
    agree_torque_and_end: bool | None
    code: ReasonCode
    text: str


@dataclass(frozen=True, slots=True)
class Level:
    """One level against the source, in counts of records. `codes`: why the records that differ at this level do so."""

    name: str
    both_accepted: int
    both_not_accepted: int
    only_source_accepts: int
    only_we_accept: int
    not_compared: int
    codes: tuple[tuple[ReasonCode, int], ...]

    @property
    def differ(self) -> int:
        return self.only_source_accepts + self.only_we_accept


@dataclass(frozen=True, slots=True)
class Comparison:
    joint: str
    rows: tuple[ComparisonRow, ...]
    by_torque: Level
    by_torque_and_end: Level
    codes: tuple[tuple[ReasonCode, int], ...]  # over all rows


def compare_source(
    plan: Plan, tightenings: Iterable[Tightening], proof: Proof, *, final_step: FinalStep | None = None
) -> Comparison:
    """Compare the source's result of each record with ours. The pass of a record is the one `proof` gave it.

    `final_step`: column of the source that says in which step the tightening ended. Without it, steps are not looked
    at. A record received again counts once. Rows come by unit, fastener, pass, file row and key.
    """
    placed = {record.key: cell.pass_number for cell in proof.cells for record in cell.records}
    unique = {record.key: record for record in tightenings}
    rows = sorted(
        (_row(plan, record, placed.get(key), final_step) for key, record in unique.items()),
        key=lambda row: (row.unit_id, row.fastener, row.pass_number or 0, row.file_row, row.record),
    )
    return Comparison(
        plan.spec.id, tuple(rows),
        _level("torque alone", ((row, row.by_torque, row.agree_torque) for row in rows)),
        _level("torque, end cause and final step",
               ((row, row.by_torque_and_end, row.agree_torque_and_end) for row in rows)),
        _counts(row.code for row in rows),
    )  # fmt: skip


def _counts(codes: Iterable[ReasonCode]) -> tuple[tuple[ReasonCode, int], ...]:
    return tuple(sorted(Counter(codes).items(), key=lambda item: (-item[1], item[0])))


def _level(name: str, rows: Iterable[tuple[ComparisonRow, Verdict, bool | None]]) -> Level:
    counts: Counter[tuple[str, str]] = Counter()
    differing: list[ReasonCode] = []
    not_compared = 0
    for row, ours, agree in rows:
        if agree is None:
            not_compared += 1
            continue
        counts[ours, row.source] += 1
        if not agree:
            differing.append(row.code)
    return Level(
        name, counts["accepted", "accepted"], counts["not accepted", "not accepted"],
        counts["not accepted", "accepted"], counts["accepted", "not accepted"], not_compared, _counts(differing),
    )  # fmt: skip


def _row(plan: Plan, record: Tightening, number: int | None, final: FinalStep | None) -> ComparisonRow:
    one = None if number is None else plan.pass_by_number(number)
    torque: Verdict = "not judged"
    both: Verdict = "not judged"
    faults: list[tuple[ReasonCode, str]] = []
    if one is not None:
        of_torque = list(_torque_faults(record, one))
        faults = [*_end_faults(record, final), *of_torque]
        if record.torque is not None:
            torque = "not accepted" if of_torque else "accepted"
            both = "not accepted" if faults else "accepted"
    code, why = _reason(record, one, torque, both, faults)
    if record.source_verdict == "none" or one is None:
        text = why
    else:
        said = f"{record.result_text!r}, " if record.result_text else ""
        text = (f"the source says {said}{record.source_verdict}; by torque alone {torque}, with the end {both}: {why}")
    return ComparisonRow(
        record.key, record.row, record.unit_id, record.fastener, number, record.torque, record.source_verdict,
        record.result_text, torque, both, _agree(torque, record), _agree(both, record), code, text,
    )  # fmt: skip


def _agree(ours: Verdict, record: Tightening) -> bool | None:
    if ours == "not judged" or record.source_verdict == "none":
        return None
    return ours == record.source_verdict


def _torque_faults(record: Tightening, one: Pass) -> Iterator[tuple[ReasonCode, str]]:
    lower, upper = one.window(record.fastener)
    if record.torque is None:
        yield "no torque", "the record has no torque"
    elif below(record.torque, lower):
        value, limit = against(record.torque, lower)
        yield "torque below the window", f"{value} is below {limit}"
    elif above(record.torque, upper):
        value, limit = against(record.torque, upper)
        yield "torque above the window", f"{value} is above {limit}"


def _end_faults(record: Tightening, final: FinalStep | None) -> Iterator[tuple[ReasonCode, str]]:
    """Limits and people first: they say why it ended. An error comes after the step, which says more than "error"."""
    step = None if final is None else record.received_cells.get(final.column, "").strip()
    where = f" in step {step}" if step else ""
    if record.direction == "loosen":
        yield "turned to loosen", "it was turned in the loosening direction"
    if record.end_cause in ("limit", "stopped by user"):
        yield _ENDS[record.end_cause], f"it {_ENDS[record.end_cause]}{where} at {torque_text(record)}"
    if final is not None and step != final.value:
        said = f"it ended{where}" if step else f"the column {final.column!r} does not say in which step it ended"
        yield "final step not reached", f"{said}, the final step is {final.value}"
    if record.end_cause == "error":
        yield _ENDS["error"], f"it {_ENDS['error']}{where} at {torque_text(record)}"


def _reason(
    record: Tightening, one: Pass | None, torque: Verdict, both: Verdict, faults: list[tuple[ReasonCode, str]]
) -> tuple[ReasonCode, str]:
    """The first thing that explains a difference at either level, in words with the numbers of all things found."""
    if one is None:
        return "on no planned place", "the record falls on no fastener and pass of the plan"
    if record.source_verdict == "none":
        return "source gives no result", "the source states no result of its own"
    inside = f"{torque_text(record)} against {window_text(*one.window(record.fastener))}"
    text = "; ".join([inside, *(text for _, text in faults)])
    if _agree(torque, record) and _agree(both, record):
        return "same verdict", text
    if faults:
        return faults[0][0], text
    if record.end_cause == "unknown":
        return "end not stated", f"{inside}; the record does not state how the pull ended"
    return "no reason in the record", f"{inside}; nothing in the record shows why the source rejects it"
