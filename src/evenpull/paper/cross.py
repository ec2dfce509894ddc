"""Two sources of one pull: the card, and the memory of the tool that comes later. Agree, only paper, only tool, differ.

Matched by unit, pass, fastener and tool; of several pulls of the tool there, one that agrees, else the last by counter.
Loosening is left out. Values agree when they differ by less than one last place of the coarser: a display rounds or
cuts (common practice, no source). A card that gives no value agrees by its tick.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from evenpull.intake.record import Tightening
from evenpull.quantities import UnitError
from evenpull.quantities.units import to_si

Span = tuple[int, int]
Place = tuple[str, int | None, int]


@dataclass(frozen=True)
class Crossed:
    """`agree` and `differ`: (paper, tool); `why` beside each that differs. `outside`: tool records of the same pass and
    tool whose counter the paper's span does not hold. `order` says of which cards the order disagrees with the
    counter."""

    agree: tuple[tuple[Tightening, Tightening], ...]
    differ: tuple[tuple[Tightening, Tightening, str], ...]
    only_paper: tuple[Tightening, ...]
    only_tool: tuple[Tightening, ...]
    outside: tuple[Tightening, ...] = ()
    order: tuple[str, ...] = ()


def from_card(record: Tightening) -> bool:
    """A line of a card without a counter of its own."""
    return record.card_line is not None


def cross(records: Iterable[Tightening], spans: Mapping[tuple[str, int], Span] | None = None) -> Crossed:
    """Match the records of one joint. `spans`: (serial in capitals, pass) -> readings of the counter on the card. Only
    places that a card names have tool records among `only_tool`."""
    given = sorted((r for r in records if r.direction != "loosen"), key=lambda r: r.key)
    paper = [r for r in given if from_card(r)]
    passes = {(r.unit_id, r.pass_number) for r in paper}
    held: dict[Place, list[Tightening]] = defaultdict(list)
    for record in given:
        if record.tool and record.counter is not None and (record.unit_id, record.pass_number) in passes:
            held[_place(record)].append(record)
    agree: list[tuple[Tightening, Tightening]] = []
    differ: list[tuple[Tightening, Tightening, str]] = []
    alone: list[Tightening] = []
    for record in paper:
        there = sorted(held[_place(record)], key=lambda r: r.counter or 0)
        fits = next((r for r in reversed(there) if not _unlike(record, r)), None)
        if fits is not None:
            agree.append((record, fits))
            held[_place(record)].remove(fits)
        elif there:
            differ.append((record, there[-1], _unlike(record, there[-1])))
            held[_place(record)].remove(there[-1])
        else:
            alone.append(record)
    rest = tuple(r for some in held.values() for r in some)
    pairs = [*agree, *((one, two) for one, two, _ in differ)]
    outside = tuple(t for p, t in pairs if not _within(p, t, spans or {}))
    return Crossed(tuple(agree), tuple(differ), tuple(alone), rest, outside, _out_of_order(pairs))


def _place(record: Tightening) -> Place:
    return record.unit_id.casefold(), record.pass_number, record.fastener


def _unlike(paper: Tightening, tool: Tightening) -> str:
    if paper.tool and paper.tool.casefold() != tool.tool.casefold():
        return f"the card names tool {paper.tool}, the memory is that of {tool.tool}"
    if paper.torque is None or tool.torque is None:
        return ""
    try:
        step = max(_step(paper), _step(tool))
    except (InvalidOperation, UnitError):
        step = 0.0
    if abs(paper.torque - tool.torque) < step * (1 - 1e-9) or paper.torque == tool.torque:
        return ""
    return f"the card says {_said(paper)}, the tool {_said(tool)}"


def _step(record: Tightening) -> float:
    """The last place of the value as it was written, in N.m."""
    exponent = Decimal(record.torque_text.strip().replace(",", ".")).as_tuple().exponent
    return to_si(10.0 ** min(0, int(exponent)), record.torque_unit, "torque")


def _said(record: Tightening) -> str:
    return f"{record.torque_text} {record.torque_unit}".strip()


def _within(paper: Tightening, tool: Tightening, spans: Mapping[tuple[str, int], Span]) -> bool:
    line = paper.card_line
    span = None if line is None else spans.get((line[0], paper.pass_number or 0))
    return span is None or span[0] < (tool.counter or 0) <= span[1]


def _out_of_order(pairs: list[tuple[Tightening, Tightening]]) -> tuple[str, ...]:
    """Card and pass whose lines, in the order of the paper, have counters of one tool that do not rise. The order of
    the sheet is that which was planned: that another one was followed is about the work, no error of the paper."""
    rows: dict[tuple[str, str, str, str], list[tuple[int, int]]] = defaultdict(list)
    for paper, tool in pairs:
        card, number, line = paper.card_line or ("", "", "")
        if line.isdecimal():
            rows[card, number, tool.tool, tool.epoch].append((int(line), tool.counter or 0))
    found = []
    for (card, number, tool_serial, _), some in sorted(rows.items()):
        counters = [counter for _, counter in sorted(some)]
        if counters != sorted(counters):
            found.append(f"card {card}, pass {number}: by the counter of {tool_serial} the rows were not pulled in the "
                         "order of the sheet")  # fmt: skip
    return tuple(found)
