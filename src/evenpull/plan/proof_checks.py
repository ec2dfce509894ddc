"""What the tables of a joint file about proof say together and with the rest of the file. Notes the faults."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from evenpull.plan.proof_schema import PartsTable
from evenpull.plan.toml_text import Known, Source
from evenpull.quantities import Measured, UnitError, parse

TRIGGERS = ("days", "hours", "distance", "cycles")
_LISTS = ("single_use", "most_uses", "lots_needed")


def check_proof(source: Source) -> None:
    """Contradictions in parts, gates and follow-ups. Values that are wrong in themselves were noted before."""
    parts, fasteners = _table(source, "parts"), _table(source, "fasteners")
    if parts:
        _drag(source, parts, _table(source, "target"))
        _uses(source, parts)
        _absent_parts(source, parts, fasteners)
    _never_loosen(source, _table(source, "gates").get("never_loosen"), fasteners.get("count"))
    _follow_ups(source)


def _table(source: Source, name: str) -> dict[str, Any]:
    found = source.data.get(name)
    return found if isinstance(found, dict) else {}


def _named(values: object) -> list[str]:
    """The parts in a list of parts, or of parts with a number of uses."""
    return [item.split(" ")[0] for item in values if isinstance(item, str)] if isinstance(values, list) else []


def _drag(source: Source, parts: dict[str, Any], target: dict[str, Any]) -> None:
    if "drag_window" not in parts:
        return
    if "prevailing_torque" not in target:
        source.fault(("parts", "drag_window"), parts["drag_window"],
                     "a drag is to be measured, but the target states none",
                     "target.prevailing_torque beside it, or leave the window out")
        return
    window = Known(PartsTable, parts).drag_window
    try:
        drag = parse(str(target["prevailing_torque"]), "torque")
    except UnitError:
        return  # its own fault is noted
    if window is not None and not _within(drag, *window):
        source.fault(("parts", "drag_window"), parts["drag_window"],
                     f"target.prevailing_torque is {drag.text}, outside this window",
                     "a window that holds the drag that is added to the target")


def _within(value: Measured, low: Measured, high: Measured) -> bool:
    return low.si <= value.si <= high.si


def _uses(source: Source, parts: dict[str, Any]) -> None:
    single = _named(parts.get("single_use"))
    for item in parts["most_uses"] if isinstance(parts.get("most_uses"), list) else []:
        if isinstance(item, str) and item.split(" ")[0] in single:
            source.fault(("parts", "most_uses"), parts["most_uses"], f"{item!r} is also in single_use",
                         "one of the two")


def _absent_parts(source: Source, parts: dict[str, Any], fasteners: dict[str, Any]) -> None:
    """Parts that the joint does not have, or has used ones of."""
    absent: dict[str, str] = {}
    if fasteners.get("counterpart") == "tapped hole":
        absent["nut"] = 'fasteners.counterpart is "tapped hole"'
        if "protrusion" in parts:
            source.fault(("parts", "protrusion"), parts["protrusion"],
                         "there is no nut that a thread could stand beyond: " + absent["nut"], "leave it out")
    if fasteners.get("washer_under_head") is False and fasteners.get("washer_under_nut", False) is False:
        absent["washer"] = "fasteners states washers neither under the head nor under the nut"
    for name in _LISTS:
        for part in _in(absent, _named(parts.get(name))):
            source.fault(("parts", name), parts[name], f"there is no {part} here: {absent[part]}", f"leave {part} out")
    if fasteners.get("condition") == "used":
        for part in _in(("bolt", "stud"), _named(parts.get("single_use"))):
            source.fault(("parts", "single_use"), parts["single_use"],
                         f"a {part} is used once only, but fasteners.condition is \"used\"",
                         'condition = "new", or leave it out of single_use')


def _in(known: Iterable[str], names: list[str]) -> list[str]:
    return [name for name in dict.fromkeys(names) if name in known]


def _never_loosen(source: Source, numbers: object, count: object) -> None:
    if not isinstance(numbers, list) or isinstance(count, bool) or not isinstance(count, int):
        return
    for number in numbers:
        if isinstance(number, int) and not isinstance(number, bool) and number > count:
            source.fault(("gates", "never_loosen"), numbers, f"there is no fastener {number}",
                         f'1 to {count}, or "all"')


def _follow_ups(source: Source) -> None:
    rules = source.data.get("follow_up")
    names: set[str] = set()
    for index, rule in enumerate(rules if isinstance(rules, list) else []):
        if not isinstance(rule, dict):
            continue
        place = ("follow_up", index)
        triggered = any(name in rule for name in TRIGGERS)
        if not triggered and "before" not in rule:
            source.fault((*place, "name"), rule.get("name"), "it never falls due",
                         "at least one of days, hours, distance, cycles, before")
        for name in ("early", "late"):
            if name in rule and not triggered and "before" in rule:
                source.fault((*place, name), rule[name], "it is a share of a trigger, and there is none",
                             f"one of {', '.join(TRIGGERS)} beside it, or leave it out")
        name = str(rule.get("name", "")).strip().casefold()
        if name and name in names:
            source.fault((*place, "name"), rule.get("name"), "stands here twice", "another name")
        names.add(name)
        if rule.get("before") and rule.get("counted_from", "tightening") != "tightening":
            source.fault((*place, "before"), rule["before"], "it is counted from something that comes later",
                         'counted_from = "tightening"')
