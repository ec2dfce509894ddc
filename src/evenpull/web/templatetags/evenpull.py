"""Filters for the pages: values with their units, states as words for a class."""

from __future__ import annotations

import secrets
from typing import Any

from django import template
from django.utils.html import format_html

from evenpull.instrument.fitness import percent as risk_in_words
from evenpull.plan.model import Plan
from evenpull.quantities import show

register = template.Library()

STATE_CLASS = {
    "ready to sign": "ready",
    "released": "released",
    "released with follow-up": "follow",
    "not released": "held",
}


@register.filter
def si(value: float | None, unit: str) -> str:
    """An SI value shown in `unit` with four significant figures; a dash with a word when there is none."""
    return "not recorded" if value is None else show(value, unit)


@register.filter
def shown_unit(unit: str) -> str:
    """A unit as it is printed: N·m, lbf·ft."""
    return unit.replace(".", "·")


@register.filter
def percent(value: float | None) -> str:
    return "not known" if value is None else f"{value * 100:.1f} %"


@register.filter
def risk(value: float | None) -> str:
    """A probability of a false acceptance: "2.3 %", "below 0.01 %"."""
    return "cannot be judged" if value is None else risk_in_words(value)


@register.filter
def share(value: float) -> str:
    """A share of a value, two significant figures: "0.07 %"."""
    return f"{100 * value:.2g} %"


@register.filter
def figures(value: float) -> str:
    """Four significant figures; a dash for what is not known."""
    return "–" if value != value else f"{value:.4g}"


REVIEW_CLASS = {"surely in": "accepted", "doubtful": "doubtful", "cannot be judged": "not-judged",
                "surely out": "not-accepted"}  # fmt: skip


@register.filter
def review_class(verdict: Any) -> str:
    """The look of a verdict of a review."""
    return REVIEW_CLASS[verdict.words]


@register.filter
def state_class(state: str) -> str:
    return STATE_CLASS.get(state, state.replace(" ", "-"))


GATE_CLASS = {
    "met": "accepted", "not met": "not-accepted", "excepted": "follow", "decided": "follow", "not asked": "missing",
}  # fmt: skip
FOLLOW_UP_CLASS = {"done": "accepted", "overdue": "not-accepted", "done, not in order": "not-accepted"}


CARD_CLASS = {"out": "out", "overdue": "not-accepted", "lost": "not-accepted", "returned": "accepted"}


@register.filter
def card_class(state: str) -> str:
    return CARD_CLASS.get(state, "set-aside")


@register.filter
def gate_class(state: str) -> str:
    return GATE_CLASS[state]


@register.filter
def follow_up_class(state: str) -> str:
    return FOLLOW_UP_CLASS.get(state, "out")


@register.filter
def dashed(text: str) -> str:
    return str(text).replace(" ", "-")


@register.filter
def traced(step: object) -> str:
    """A traced number in the unit people read: kN, N.m, mm, MPa instead of bare SI."""
    value, unit = step.value, step.unit  # type: ignore[attr-defined]
    for si_unit, shown, factor in (("N", "kN", 1e-3), ("Pa", "MPa", 1e-6), ("m", "mm", 1e3), ("m2", "mm²", 1e6)):
        if unit == si_unit:
            return f"{value * factor:.4g} {shown}"
    return f"{value:.4g}" + ("" if unit == "1" else f" {unit.replace('.', '·')}")


@register.filter
def lines_of_pulls(plan: Plan, pass_number: int) -> str:
    """The order of one pass as text: "1, 9, 5, 13" or with groups "1+9, 5+13"."""
    found = plan.pass_by_number(pass_number)
    return ", ".join("+".join(map(str, group)) for group in found.order) if found else ""


@register.simple_tag(takes_context=True)
def once(context: Any) -> str:
    """A hidden field that marks one filled-in form, so that sending it twice (a double click, a page loaded again)
    writes it once. A form shown again with its faults keeps its mark: nothing was written under it."""
    mark = context["request"].POST.get("once", "") or secrets.token_urlsafe(12)
    return format_html('<input type="hidden" name="once" value="{}">', mark)
