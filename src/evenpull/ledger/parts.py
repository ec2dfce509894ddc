"""The parts of one fastener: complete, of known lot, not used too often, inside their windows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from evenpull.ledger.entry import Entry
from evenpull.plan.model import PartRules
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


def drag_of(entry: Entry) -> tuple[float, str]:
    """N.m and the text of an entry "drag measured"."""
    found = parse(entry.text("drag"), "torque")
    return found.si, found.text or show(found.si, "N.m")
