"""The kinds of value that only a ring file has: stiffness per area, loading curves, shares, steps. SI comes out.

They refuse as the values of a joint file do (`plan.values.refuse`), so that one reader names every fault.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import Annotated

from pydantic import PlainValidator

from evenpull.calculation.values import quantity
from evenpull.plan.values import finite, refuse, shown
from evenpull.quantities import Kind, UnitError, parse

MOST_SHARE = 1.5  # of the target, in one pull: beyond it is a slip
MOST_POINTS = 60
MOST_STEPS = 4000
Steps = tuple[tuple[tuple[int, ...], float], ...]
Curve = tuple[tuple[float, float], ...]

_PERCENT = re.compile(r"\s*(\d{1,3}(?:\.\d{1,6})?)\s*%\s*")


def _ratio(value: object, what: str, kinds: tuple[Kind, Kind], example: str) -> float:
    """SI of a text such as "400 MPa/mm": a quantity of one kind for one unit of another."""
    allowed = f'{what} with its units: "{example}"'
    if not isinstance(value, str) or value.count("/") != 1:
        raise refuse(f"{shown(value)} is not {what}", allowed)
    above, below = value.split("/")
    try:
        return float(parse(above, kinds[0]).si / parse(f"1 {below}", kinds[1]).si)
    except UnitError as error:
        raise refuse(f"{shown(value)} is not {what}: {error.reason}", allowed) from None


def _within(found: float, value: object, least: float, most: float, what: str, allowed: str) -> float:
    if not math.isfinite(found) or found <= 0:
        raise refuse(f"{shown(value)} is not more than zero", allowed)
    if not least <= found <= most:
        raise refuse(f"{shown(value)}: no such {what} occurs here; are the units right?", allowed)
    return found


def _per_area(value: object) -> float:
    """Pa/m of "400 MPa/mm"."""
    found = _ratio(value, "a stiffness per area", ("stress", "length"), "400 MPa/mm")
    return _within(found, value, 1e6, 1e17, "stiffness per area", "0.001 MPa/mm to 1e8 MPa/mm")


def _creep(value: object) -> float:
    """m/Pa of "0.3 um/MPa"."""
    found = _ratio(value, "a thinning for a pressure", ("length", "stress"), "0.3 um/MPa")
    return _within(found, value, 1e-16, 1e-9, "creep", "0.0001 um/MPa to 1000 um/MPa")


def _bending(value: object) -> float:
    """N.m/rad of "12000 N.m/rad"."""
    found = _ratio(value, "a bending stiffness", ("torque", "angle"), "12000 N.m/rad")
    return _within(found, value, 1e-2, 1e12, "bending stiffness", "0.01 N.m/rad to 1e12 N.m/rad")


def _one(text: object, kind: Kind, unit: str, allowed: str) -> float:
    if isinstance(text, int | float) and not isinstance(text, bool):
        raise refuse(f'{shown(text)} has no unit; write "{shown(text)} {unit}" if {unit} is meant', allowed)
    if not isinstance(text, str):
        raise refuse(f"{shown(text)} is not a {kind}", allowed)
    try:
        return float(parse(text, kind).si)
    except UnitError as error:
        raise refuse(f"{shown(text)} is not a {kind}: {error.reason}", allowed) from None


def _curve(value: object) -> Curve:
    """Points (m, Pa); whether they rise is checked with the rest of the ring."""
    allowed = f'2 to {MOST_POINTS} points of compression and pressure: [["0 mm", "0 MPa"], ["0.2 mm", "30 MPa"]]'
    if not isinstance(value, list) or not 2 <= len(value) <= MOST_POINTS:
        raise refuse(f"{shown(value)} is not a loading curve", allowed)
    points = []
    for point in value:
        if not isinstance(point, list) or len(point) != 2:
            raise refuse(f"{shown(point)} is not a point of a loading curve", allowed)
        points.append((_one(point[0], "length", "mm", allowed), _one(point[1], "stress", "MPa", allowed)))
    return tuple(points)


def _share(value: object) -> float:
    """A share of the target load: 0.7 or "70 %"."""
    allowed = f'a share of the target such as 0.7 or "70 %", more than 0, at most {MOST_SHARE:g}'
    if isinstance(value, str):
        found = _PERCENT.fullmatch(value)
        if found is None:
            raise refuse(f"{shown(value)} is not a share", allowed)
        number = float(found[1]) / 100
    else:
        number = finite(value, "a share")
    if number <= 0:
        raise refuse(f"{shown(value)} is not more than zero: such a pull does nothing", allowed)
    if number > MOST_SHARE:
        slip = f'; write {number / 100:g} or "{number:g} %" if per cent is meant' if 1 < number <= 150 else ""
        raise refuse(f"{shown(value)} times the target load{slip}", allowed)
    return number


def _list(value: object, most: int, what: str, example: str) -> list[object]:
    if not isinstance(value, list) or not 1 <= len(value) <= most:
        raise refuse(f"{shown(value)} is not a list of {what}", f"1 to {most} {what}: {example}")
    return value


def _shares(value: object) -> tuple[float, ...]:
    """Shares of the passes, none below the one before: a lower pass would find every bolt above it."""
    passes = tuple(_share(item) for item in _list(value, 20, "passes", "[0.3, 0.7, 1.0]"))
    for before, after in pairwise(passes):
        if after < before:
            raise refuse(
                f"{shown(value)} falls from pass to pass, and a lower pass moves nothing",
                "shares that do not fall: [0.3, 0.7, 1.0]",
            )
    return passes


def _steps(value: object) -> Steps:
    """Explicit steps: the bolts pulled together and their share."""
    allowed = "steps of bolts and a share of the target: [[[1, 9], 0.3], [[5, 13], 0.3]]"
    steps = []
    for item in _list(value, MOST_STEPS, "steps", "[[[1, 9], 0.3], [[5, 13], 0.3]]"):
        if not isinstance(item, list) or len(item) != 2 or not isinstance(item[0], list) or not item[0]:
            raise refuse(f"{shown(item)} is not a step", allowed)
        for number in item[0]:
            if isinstance(number, bool) or not isinstance(number, int):
                raise refuse(f"{shown(number)} is not the number of a bolt", allowed)
        steps.append((tuple(item[0]), _share(item[1])))
    return tuple(steps)


def _settings(value: object) -> tuple[tuple[float, ...], ...]:
    """For each pass a share for each bolt, in the order of their numbers."""
    rows = _list(value, 20, "passes", "[[1.05, 1.02, 0.98, 0.95]]")
    return tuple(
        tuple(_share(item) for item in _list(row, 200, "shares, one for each bolt", "[1.05, 0.98]")) for row in rows
    )


def _hours(value: object) -> float:
    """Seconds of "4 h"."""
    allowed = 'a time with its unit: "4 h"; units: s, min, h, d'
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(s|min|h|d)\s*", value) if isinstance(value, str) else None
    if found is None:
        raise refuse(f"{shown(value)} is not a time", allowed)
    seconds = float(found[1]) * {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}[found[2]]
    if not 0 < seconds <= 3.2e8:
        raise refuse(f"{shown(value)}: no such time occurs here", allowed)
    return seconds


CreepRate = Annotated[float, PlainValidator(_creep)]
Diameter = Annotated[float, quantity("length", 1e-3, 30.0)]
SmallAngle = Annotated[float, quantity("angle", 1e-6, 0.5)]
StiffnessPerArea = Annotated[float, PlainValidator(_per_area)]
BendingStiffness = Annotated[float, PlainValidator(_bending)]
LoadingCurve = Annotated[Curve, PlainValidator(_curve)]
TargetShare = Annotated[float, PlainValidator(_share)]
Shares = Annotated[tuple[float, ...], PlainValidator(_shares)]
StepList = Annotated[Steps, PlainValidator(_steps)]
Settings = Annotated[tuple[tuple[float, ...], ...], PlainValidator(_settings)]
Duration = Annotated[float, PlainValidator(_hours)]
