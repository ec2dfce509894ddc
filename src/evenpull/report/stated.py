"""What people stated beside the records, as the report prints it: opening, parts, conditions, checks, gates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC
from typing import Any

from evenpull.ledger.check import render
from evenpull.ledger.entry import Entry
from evenpull.ledger.people import folded, qualified
from evenpull.plan.model import Plan
from evenpull.proof.model import Proof
from evenpull.proof.surroundings import Surroundings
from evenpull.report.context import JointTest, Person
from evenpull.report.glyphs import NARROW, safe
from evenpull.report.words import moment, standing_alike

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


def notes(around: Surroundings) -> dict[str, str]:
    """Heading of the report -> what entries say about it, NOT_STATED where none does."""
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
        more = "" if found["gasket"] == NOT_STATED else f"; {found['gasket']}"
        found["gasket"] = _lines(gaskets) + more
    lots = sorted({f"{e.text('part')} {e.text('lot')}" for e in around.entries if e.text("lot") and e.text("part")})
    seen = sorted({f"{e.text('part')} {e.text('marking')}" for e in around.entries if e.text("marking")})
    found["lot seen"] = "; ".join(part for part in (", ".join(lots), ", ".join(seen)) if part) or NOT_STATED
    checks = [e for about in around.tools.values() for e in about if e.kind == "shift check"]
    found["shift checks"] = "; ".join(f"{e.name}: {render(e)}" for e in checks) or NOT_STATED
    found["photographs"] = NOT_STATED
    return found


def _lines(entries: Iterable[Entry]) -> str:
    return "; ".join(render(entry) for entry in entries) or NOT_STATED


def tests(around: Surroundings) -> tuple[JointTest, ...]:
    return tuple(
        JointTest(e.text("test"), f"{e.text('result')} {e.text('value')}".strip(), e.by, e.at)
        for e in around.entries if e.kind == "test"
    )  # fmt: skip


def people(plan: Plan, around: Surroundings, operators: Iterable[str]) -> tuple[Person, ...]:
    """Operators with the qualification that the joint asks for as it stood at their last pull, and the checkers."""
    wanted, found = plan.spec.gates.qualification, []
    for name in sorted(set(operators)):
        if name.strip():
            held = _qualification(around.people, name, wanted, around)
            found.append(Person(name, "operator", held))
    for e in around.entries:
        if e.kind == "checked":
            found.append(Person(e.by, "independent check", f"saw: {e.text('seen')}; {e.text('result')}"))
        elif e.kind == "hand-over":
            words = f"in pass {e.text('pass')}, from {e.text('from')}"
            found.append(Person(e.text("to"), f"took over {words}", None))
    return tuple(found)


def _qualification(
    entries: Mapping[str, Sequence[Entry]], name: str, wanted: str, around: Surroundings
) -> str | None:
    if not wanted or around.now is None:
        return None
    held = [e for e in entries.get(folded(name), ()) if e.kind == "qualification"]
    if not held:
        return f"{wanted}: none entered"
    _, why = qualified(entries[folded(name)], wanted, around.now.astimezone(UTC).date())
    return why


def section(proof: Proof, around: Surroundings) -> dict[str, Any]:
    """Gates and the list of entries."""
    entries = around.entries
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
            [str(e.seq), moment(e.written_at), safe(e.by, NARROW), safe(render(e))] for e in entries[:PRINTED]
        ],
        "left_out": max(0, len(entries) - PRINTED),
    }  # fmt: skip
