"""Whether two records of the same line of a card say the same. What is about the typing is no content of the line."""

from __future__ import annotations

from evenpull.intake.record import Particular, Tightening

# who typed it, how the writer knows, why only now, which image: of the typing, not of the tightening
ABOUT_TYPING = frozenset(
    {"card", "card_line", "page_image", "keyed_by", "keyed_again_by", "resolved_by", "late_basis", "late_reason"}
)


def typed(record: Tightening) -> bool:
    """A person typed it in."""
    return "keyed_by" in record.particulars


def differences(one: Tightening, other: Tightening) -> tuple[tuple[str, str, str], ...]:
    """(field, what the one says, what the other says) for every field in which they differ; () when they say the same.

    Numbers are compared as numbers (90.5 and 90.50 N.m are the same), moments as moments, names without capitals. A
    field that only one of them states is a difference: nothing stated is left out silently.
    """
    first, second = _content(one), _content(other)
    return tuple(
        (name, first.get(name, ("", NOT_STATED))[1], second.get(name, ("", NOT_STATED))[1])
        for name in sorted(first.keys() | second.keys())
        if first.get(name, ("", ""))[0] != second.get(name, ("", ""))[0]
    )


NOT_STATED = "not stated"


def _content(r: Tightening) -> dict[str, tuple[object, str]]:
    """Field -> (what is compared, as received), of the fields that are stated."""
    when = r.time_text if r.time is None else r.time.isoformat()
    found: dict[str, tuple[object, str]] = {
        "joint": (_folded(r.joint), r.joint),
        "unit": (_folded(r.unit_id), r.unit_id),
        "fastener": (r.fastener, str(r.fastener)),
        "pass": ("" if r.pass_number is None else r.pass_number, "" if r.pass_number is None else str(r.pass_number)),
        "event": (r.event, r.event),
        "torque": (_number(r.torque, r.torque_text), f"{r.torque_text} {r.torque_unit}".strip()),
        "angle": (_number(r.angle, r.angle_text), r.angle_text),
        "direction": (r.direction, r.direction),
        "end": (r.end_cause, r.end_cause),
        "result": (_folded(r.result_text), r.result_text),
        "tool": (_folded(r.tool), r.tool),
        "memory": (_folded(r.epoch), r.epoch),
        "counter": ("" if r.counter is None else r.counter, "" if r.counter is None else str(r.counter)),
        "operator": (_folded(r.operator), r.operator),
        "time": (_folded(when), r.time_text),
    }
    for name, one in r.particulars.items():
        if name not in ABOUT_TYPING:
            found[name.replace("_", " ")] = (_particular(one), f"{one.text} {one.unit}".strip())
    return {name: pair for name, pair in found.items() if pair[0] != ""}


def _particular(one: Particular) -> object:
    return _number(one.si, one.text)


def _number(si: float | None, text: str) -> object:
    """To twelve figures: 90.5 N.m and 9050 N.cm are the same, whatever the conversion does to the last bit."""
    return _folded(text) if si is None else f"{si:.12g}"


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()
