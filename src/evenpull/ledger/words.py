"""Plain words for entries and for lists of fasteners."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evenpull.ledger.entry import Entry
from evenpull.ledger.kinds import KINDS


def number_list(numbers: Iterable[int]) -> str:
    """3, 9, 10, 11, 12 as "3, 9–12"; each number once, rising."""
    ordered = sorted(set(numbers))
    parts: list[str] = []
    start = 0
    for place in range(1, len(ordered) + 1):
        if place < len(ordered) and ordered[place] == ordered[place - 1] + 1:
            continue
        run = ordered[start:place]
        parts.extend([f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(number) for number in run])
        start = place
    return ", ".join(parts)


def fasteners(numbers: Sequence[int]) -> str:
    """ "fastener 7" or "fasteners 3, 9–12"."""
    return f"fastener{'s' if len(set(numbers)) > 1 else ''} {number_list(numbers)}"


def stated(entry: Entry) -> str:
    """What an entry states and where, its fields in the order of the form: "Loosened, fasteners 3, 7–9: ..."."""
    kind = KINDS.get(entry.kind)
    labels = {one.name: one.label for one in kind.fields} if kind else {}
    order = list(labels)
    names = sorted(entry.values, key=lambda name: order.index(name) if name in labels else len(order))
    words = "; ".join(f"{labels.get(name, name)}: {' '.join(entry.values[name].split())}" for name in names)
    return f"{_what(entry)}{': ' + words if words else ''}"


def _what(entry: Entry) -> str:
    label = KINDS[entry.kind].label if entry.kind in KINDS else entry.kind
    unit = f", {entry.unit}" if entry.unit else ""
    return f"{label}{unit}{', ' + fasteners(entry.fasteners) if entry.fasteners else ''}"


def known(entry: Entry) -> str:
    """By whom, how the writer knows, and why it was entered so."""
    return f"{entry.by}, {entry.basis}" + (f"; reason: {entry.reason}" if entry.reason else "")


def render(entry: Entry) -> str:
    """One plain line: what, where, when, by whom, how known."""
    what, words = _what(entry), stated(entry)
    late = " (late entry)" if entry.late else ""
    return f"{what}, {entry.at:%Y-%m-%d %H:%M} UTC{late}{words[len(what):]}; {known(entry)}"
