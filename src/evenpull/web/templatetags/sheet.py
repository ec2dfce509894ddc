"""Filters of the calculation sheet: symbols and formulas as they are written by hand, and words of a comparison."""

from __future__ import annotations

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from evenpull.calculation.compare import Comparison, Pair
from evenpull.calculation.sheet import CheckLine, Line, RulePart
from evenpull.report import calculation as words
from evenpull.report.symbols import maths as pieces_of

register = template.Library()


@register.filter
def maths(text: str) -> SafeString:
    """F_M and d^2 with index and power; everything else is escaped."""
    out = []
    for piece in pieces_of(text):
        if piece[0] == "index":
            out.append(f"{escape(piece[1])}<sub>{escape(piece[2])}</sub>")
        elif piece[0] == "power":
            out.append(f"<sup>{escape(piece[1])}</sup>")
        else:
            out.append(escape(piece[1]))
    return mark_safe("".join(out))


@register.filter
def fact(part: RulePart, name: str) -> str:
    return dict(part.facts).get(name, "none given")


@register.filter
def remark(line: Line) -> str:
    return words.remark(line)


@register.filter
def compared(one: Comparison) -> str:
    return words.summary(one)


@register.filter
def demands(one: Comparison) -> list[tuple[str, list[CheckLine]]]:
    return words.demands(one)


@register.filter
def demand(check: CheckLine) -> str:
    return words.demand_words(check)


@register.filter
def lone(one: Comparison) -> list[str]:
    return words.lone_notes(one)


@register.filter
def inputs_apart(one: Comparison) -> list[str]:
    return words.input_notes(one)


@register.filter
def over(pair: Pair) -> str:
    return words.ratio(pair)


@register.filter
def reason(pair: Pair) -> SafeString:
    return maths(pair.reason or words.WORDS[pair.kind])


@register.filter
def side(pair: Pair, which: str) -> SafeString:
    """Symbol, value and unit of one side; a dash where there is none."""
    found = pair.first if which == "first" else pair.second
    if found is None:
        return mark_safe("–")
    symbol = f'<span class="soft">{maths(found.symbol)}</span> ' if found.symbol else ""
    return mark_safe(f"{symbol}{maths(found.shown)} {escape(pair.unit)}")
