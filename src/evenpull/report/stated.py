"""What people stated beside the records, as the report prints it: opening, parts, conditions, checks, gates."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.people import folded, qualified
from evenpull.ledger.words import known, render, stated
from evenpull.plan.model import Plan
from evenpull.proof.model import Proof
from evenpull.proof.surroundings import Surroundings
from evenpull.report.context import JointTest, Person
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import moment, standing_alike
from evenpull.study.sampled import checks_of_some

NOT_STATED = "not stated"
PRINTED = 80  # entries; the log holds all
# heading of the report -> kinds of entries that tell of it
HEADINGS = {
    "permits": ("isolation confirmed",),
    "opening": ("identity confirmed", "as found", "loosened", "removed", "disturbed"),
    "marks": ("mark made", "locking fitted", "protrusion seen"),
    "uses": ("parts fitted",),
    "alignment": ("alignment",),
    "gasket": ("faces seen",),
}
CONDITIONS = {
    "conditions": ("temperature", "wetness", "cleanliness"),
    "lubricant lot": ("lubricant", "lubricant_lot", "applied"),
}

def notes(around: Surroundings, records: Sequence[Tightening]) -> dict[str, str]:
    """Heading of the report -> what entries and records say about it, NOT_STATED where none does."""
    found: dict[str, str] = {}
    for heading, kinds in HEADINGS.items():
        found[heading] = _lines(e for e in around.entries if e.kind in kinds)
    for heading, fields in CONDITIONS.items():
        said = [
            ", ".join(f"{name.replace('_', ' ')} {e.text(name)}" for name in fields if e.text(name)) + f" ({e.by})"
            for e in around.entries if e.kind == "conditions" and any(e.text(name) for name in fields)
        ]  # fmt: skip
        found[heading] = "; ".join(said) or NOT_STATED
    gaskets = [e for e in around.entries if e.kind == "parts fitted" and e.text("part") == "gasket"]
    if gaskets:
        more = "" if found["gasket"] == NOT_STATED else f"\n{found['gasket']}"
        found["gasket"] = _lines(gaskets) + more
    lots = sorted({f"{e.text('part')} {e.text('lot')}" for e in around.entries if e.text("lot") and e.text("part")})
    seen = sorted({f"{e.text('part')} {e.text('marking')}" for e in around.entries if e.text("marking")})
    found["lot seen"] = "; ".join(part for part in (", ".join(lots), ", ".join(seen)) if part) or NOT_STATED
    checks = [e for about in around.tools.values() for e in about if e.kind == "shift check"]
    found["shift checks"] = "; ".join(f"{e.name}: {render(e)}" for e in checks) or NOT_STATED
    found["photographs"] = NOT_STATED
    found["hours on duty"] = duty(around, records)
    return found


def _lines(entries: Iterable[Entry]) -> str:
    """What entries state, in the order in which it happened; by whom and how known stands in the list of entries."""
    told = [f"{stated(e)} ({moment(e.at)}, fact {e.seq})" for e in _in_time(entries)]
    return "\n".join(told) or NOT_STATED


def _in_time(entries: Iterable[Entry]) -> list[Entry]:
    return sorted(entries, key=lambda e: (e.at, e.seq))


def tests(around: Surroundings) -> tuple[JointTest, ...]:
    return tuple(
        JointTest(e.text("test"), f"{e.text('result')} {e.text('value')}".strip(), e.by, e.at)
        for e in around.entries if e.kind == "test"
    )  # fmt: skip


def people(plan: Plan, around: Surroundings, records: Sequence[Tightening]) -> tuple[Person, ...]:
    """Operators with the qualification that the joint asks for on the days of their pulls, checkers, who took over."""
    days: dict[str, set[date]] = defaultdict(set)
    for record in records:
        if record.operator.strip():
            days[record.operator] |= set() if record.time is None else {record.time.date()}
    wanted = plan.spec.gates.qualification
    found = [
        Person(name, "operator", _qualification(around.people.get(folded(name), ()), wanted, sorted(on)))
        for name, on in sorted(days.items())
    ]
    for e in around.entries:
        if e.kind == "checked":
            found.append(Person(e.by, f"independent check, {e.text('result')}; saw: {e.text('seen')}", None))
        elif e.kind == "hand-over":
            found.append(Person(e.text("to"), f"took over in pass {e.text('pass')}, from {e.text('from')}", None))
    return tuple(found)


def _qualification(entries: Sequence[Entry], wanted: str, days: Sequence[date]) -> str | None:
    """What was held on each day of use, in words; None where the joint asks for none."""
    if not wanted:
        return None
    if not days:
        return f"{wanted}: the records name no day"
    return "; ".join(dict.fromkeys(qualified(entries, wanted, day)[1] for day in days))


def duty(around: Surroundings, records: Iterable[Tightening]) -> str:
    """Hours on shift as entries on the persons and the records themselves state them."""
    said = [
        f"{e.name} {e.text('hours')} h on {e.text('date')}"
        + (f", day {e.text('days')} in a row" if e.text("days") else "")
        for entries in around.people.values() for e in entries if e.kind == "duty"
    ]  # fmt: skip
    for record in records:
        more = record.particulars
        if "hours_on_shift" in more:
            row = f", {more['days_in_row'].text} days in a row" if "days_in_row" in more else ""
            said.append(f"{record.operator} {more['hours_on_shift'].text} h{row}, as the records state")
    return "; ".join(dict.fromkeys(said)) or NOT_STATED


def section(plan: Plan, proof: Proof, around: Surroundings, records: Sequence[Tightening]) -> dict[str, Any]:
    """Gates, the list of entries, and what checks of some of the fasteners say of the others."""
    entries = around.entries
    samples = checks_of_some(plan.spec.fasteners.count, entries, records)
    return {
        "gates": [
            [safe(g.name), safe(g.rule), safe(g.state), safe(g.reason)] for g in proof.gates if g.state != "not asked"
        ],
        "owed": [
            [safe(f"{one.first.unit}: {one.numbers}" if one.first.unit else one.numbers), safe(one.first.state),
             safe("; ".join((*one.first.owed, *one.first.excepted)))]
            for one in standing_alike(s for s in proof.states if s.debts or s.faults or s.excepted)
        ][:PRINTED],
        "entries": [
            [str(e.seq), moment(e.at), moment(e.written_at), safe(stated(e)), safe(known(e), NARROW * 2)]
            for e in _in_time(entries)[:PRINTED]
        ],
        "left_out": max(0, len(entries) - PRINTED),
        "samples": [safe(f"{one.what}, fasteners {one.fasteners}: {one.words}") for one in samples],
    }  # fmt: skip
