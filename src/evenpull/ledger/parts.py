"""The parts of one fastener: complete, of known lot, not used too often, inside their windows."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.plan.model import PartRules, Specification
from evenpull.quantities import parse, show


@dataclass(frozen=True)
class PartFault:
    """A part that must not be where it is. `what` names the rule: "single use", "uses", "lot", "drag", "protrusion"."""

    what: str
    text: str


def lacking_parts(rules: PartRules, fitted: Sequence[Entry], lots: Collection[str]) -> tuple[str, ...]:
    """What has not been stated. `fitted`: entries "parts fitted" on this fastener since it was last undone, or all
    when it never was. `lots`: parts whose lot the records or the specification state."""
    found = []
    if rules.stack and not any(e.text("complete") == "yes" for e in fitted):
        found.append("stack")
    for part in rules.lots_needed:
        if part not in lots and not any(e.text("part") == part and e.text("lot") for e in fitted):
            found.append(f"lot of the {part}")
    for part in sorted({*rules.single_use, *rules.most_uses}):
        if not any(e.text("part") == part for e in fitted):
            found.append(f"new or used {part}")
    return tuple(found)


def part_faults(
    rules: PartRules, fitted: Iterable[Entry], lots: Iterable[tuple[str, str]], blocked: Mapping[str, str]
) -> tuple[PartFault, ...]:
    """Parts that must not be there. `fitted`: the entries "parts fitted" that stand, which are several for one part
    where it is not known which is the last. `lots`: (part, lot) that stand. `blocked`: lot -> why."""
    found: list[PartFault] = []
    for entry in fitted:
        part, used = entry.text("part"), entry.text("condition") == "used"
        use = float(entry.text("use").replace(",", ".")) if entry.text("use") else None
        if part in rules.single_use and (used or (use is not None and use > 1)):
            found.append(PartFault("single use", f"the {part} is used, and a {part} is used once only here"))
        most = rules.most_uses.get(part)
        if most is not None and use is not None and use > most:
            found.append(PartFault("uses", f"the {part} is in its {use:g}. use, at most {most} are allowed"))
        if most is not None and used and use is None:
            found.append(PartFault("uses", f"the {part} is used, and which use it is was not stated (at most {most})"))
    for part, lot in sorted(set(lots)):
        if lot in blocked:
            found.append(PartFault("lot", f"the {part} is of lot {lot}, which is blocked: {blocked[lot]}"))
    return tuple(dict.fromkeys(found))


_GALVANISED = re.compile(r"galvani[sz]|hot[- ]dip", re.IGNORECASE)
_HIGH = re.compile(r"10\.9|12\.9|A490|F2280|A354|grade 8\b", re.IGNORECASE)
_FASTENING = ("bolt", "stud", "nut")


def never_again(spec: Specification, part: str, coating: str) -> str:
    """Why a used bolt, stud or nut must not be there although the joint file is silent; "" where nothing says so. What
    the joint file states for that part takes its place.

    In structural connections galvanised ones and those of high grade (10.9, A490) are tightened once; elsewhere those
    that are both. Source: RCSC specification for structural joints, from memory, not re-read; the rule for other
    joints is common practice, no source."""
    if part not in _FASTENING or part in spec.parts.most_uses or part in spec.parts.single_use:
        return ""
    words = " ".join((coating, spec.friction.lubricant, spec.friction.basis, spec.notes))
    galvanised, high = _GALVANISED.search(words) is not None, _HIGH.search(spec.fasteners.strength_class) is not None
    both = galvanised and high
    if not (both or (spec.kind == "structural connection" and (galvanised or high))):
        return ""
    what = "galvanised and of high grade" if both else "galvanised" if galvanised else "of high grade"
    return (
        f"the {part} is used, and it is {what} ({spec.fasteners.strength_class}): such a {part} is tightened once, "
        "unless the engineer who answers for the joint states otherwise"
    )


def stack_fault(stated: Iterable[Entry]) -> PartFault | None:
    """`stated`: the entries on the stack that stand."""
    short = next((e for e in stated if e.text("complete") == "no"), None)
    return None if short is None else PartFault("stack", f"the stack is not complete ({short.by})")


def drag_fault(rules: PartRules, drag: float, text: str) -> PartFault | None:
    """`drag` in N.m against the window of the joint."""
    if rules.drag_window is None:
        return None
    low, high = rules.drag_window
    if low.si <= drag <= high.si:
        return None
    side = "below" if drag < low.si else "above"
    return PartFault("drag", f"the drag {text} is {side} its window {low.text} to {high.text}")


def protrusion_fault(rules: PartRules, threads: float) -> PartFault | None:
    """Threads beyond the nut against the window of the joint."""
    if rules.protrusion is None:
        return None
    least, most = rules.protrusion
    if least <= threads <= most:
        return None
    return PartFault("protrusion", f"{threads:g} threads stand beyond the nut, {least:g} to {most:g} are asked")


def stated_in(record: Tightening) -> tuple[Entry, ...]:
    """What the particulars of a record say of the parts, as the entry that would say the same. The fastener itself is
    meant; a number that is none says nothing."""
    said = {name: record.particulars[name].text.strip() for name in _PARTICULARS if name in record.particulars}
    use = said.get("use", "")
    used = said.get("condition", "").casefold().startswith(("used", "re-used", "reused"))
    values = {"part": "bolt", "condition": "used" if used or (use.isdecimal() and int(use) > 1) else ""}
    values |= {"use": use} if use.isdecimal() else {}
    values |= {"complete": "no"} if said.get("stack_complete", "").casefold() in ("no", "false", "0", "n") else {}
    values |= {"coating": said.get("coating", "")}
    found = [_as_entry(record, "parts fitted", values)] if values["condition"] or "complete" in values else []
    threads = re.match(r"[0-9]{1,3}(?:[.,][0-9]{1,2})?", said.get("protrusion", ""))
    if threads:
        found.append(_as_entry(record, "protrusion seen", {"threads": threads[0]}))
    return tuple(found)


_PARTICULARS = ("condition", "use", "stack_complete", "protrusion", "coating")


def _as_entry(record: Tightening, kind: str, values: Mapping[str, str]) -> Entry:
    at = record.time or datetime.min.replace(tzinfo=UTC)
    return Entry(
        record.key, kind, "joint", record.joint, record.unit_id, (record.fastener,), at, 0.0, "from a device", "",
        record.operator, at, {name: text for name, text in values.items() if text},
    )  # fmt: skip


def drag_of(entry: Entry) -> tuple[float, str]:
    """N.m and the text of an entry "drag measured"."""
    found = parse(entry.text("drag"), "torque")
    return found.si, found.text or show(found.si, "N.m")
