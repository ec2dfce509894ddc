"""In which way is an instrument out? The form of its as-found errors is a hint for the cause; it judges nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenpull.instrument.certificate import DIRECTIONS, Point

Form = Literal["within limits", "offset", "slope", "no simple form", "too few points"]
EXPLAINED = 0.5  # a form is named when it leaves less than half of the errors (rms); common practice, no source


@dataclass(frozen=True, slots=True)
class FailureForm:
    """`form` of one direction; `offset` in the unit of the values and `slope` as a share, each fitted alone."""

    direction: str
    form: Form
    offset: float
    slope: float


def failure_forms(points: Sequence[Point], limit: float) -> tuple[FailureForm, ...]:
    """The form of the errors e = X_ind - X_ref of each direction, against the permissible deviation `limit` (share).

    Offset: the same error everywhere (a scale shifted, a spring set, a zero lost). Slope: the error grows with the
    value (a wrong factor, a wrong lever). Both are one-parameter least-squares fits; the one with less left over is
    named if it explains more than half of the errors. A tool out in one direction only shows by its two entries.
    """
    if not limit > 0:
        raise ValueError(f"the permissible deviation has to be greater than zero: {limit}")
    found = []
    for direction in DIRECTIONS:
        own = [point for point in points if point.direction == direction]
        if own:
            found.append(_form(direction, own, limit))
    return tuple(found)


def _form(direction: str, points: Sequence[Point], limit: float) -> FailureForm:
    X = [point.reference for point in points]
    e = [point.indicated - point.reference for point in points]
    offset = sum(e) / len(e)
    slope = sum(x * y for x, y in zip(X, e, strict=True)) / sum(x * x for x in X)
    left_offset = math.hypot(*(y - offset for y in e))
    left_slope = math.hypot(*(y - slope * x for x, y in zip(X, e, strict=True)))
    form: Form
    if all(abs(point.a) <= limit for point in points):
        form = "within limits"
    elif len(points) < 3:
        form = "too few points"
    elif min(left_offset, left_slope) >= EXPLAINED * math.hypot(*e):
        form = "no simple form"
    else:
        form = "offset" if left_offset < left_slope else "slope"
    return FailureForm(direction, form, offset, slope)
