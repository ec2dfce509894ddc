"""Filters of the pages of instruments: shares in percent, degrees of freedom, probabilities, what a part is."""

from __future__ import annotations

import math
from typing import Any

from django import template

from evenpull.equipment import Calibration
from evenpull.equipment.words import part_facts
from evenpull.equipment.write import value_written
from evenpull.instrument.budget import Budget
from evenpull.instrument.fitness import percent
from evenpull.quantities import unit_shown

register = template.Library()


@register.filter
def share_of(value: float) -> str:
    """0.0123 as "1.23 %"."""
    return f"{100 * value:.3g} %"


@register.filter
def signed_share(value: float) -> str:
    return f"{100 * value:+.2f} %".replace("-", "\u2212")


@register.filter
def degrees(value: float) -> str:
    return "∞" if math.isinf(value) else f"{value:.3g}" if value < 1000 else f"{value:.0f}"


@register.filter
def chance(value: float) -> str:
    """A probability, never rounded up to certainty."""
    return "above 99.99 %" if value > 0.9999 else percent(value)


@register.filter
def in_unit(value: float, one: Calibration) -> str:
    """A difference (SI) in the unit of a certificate, with its sign."""
    text = f"{value_written(value, one.unit, one.quantity):+.3g}".replace("-", "\u2212")
    return f"{text} {unit_shown(one.unit)}"


register.filter(part_facts)


@register.inclusion_tag("web/parts/budget.html")
def budget_table(budget: Budget, label: str, asked: float | None = None) -> dict[str, Any]:
    """The table of a budget; `asked`: the coverage factor that its degrees of freedom ask for where k was fixed."""
    rows = [(row, 100 * budget.share(row)) for row in budget.rows]
    return {"budget": budget, "label": label, "rows": rows, "asked": asked}
