"""A calibration as plain JSON values, SI, and back: how it stands in a fact, read far faster than as its text."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

from evenpull.equipment.model import Calibration
from evenpull.instrument.budget import Contribution
from evenpull.instrument.candidate import UseLimit
from evenpull.instrument.certificate import Certificate, Point
from evenpull.instrument.conformity import RULES, with_guard
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.iso6789 import PointReadings

FORM = "evenpull calibration 1"
_TEXTS = ("laboratory", "by", "conditions", "adjusted", "source", "note")
_READINGS = ("set_value", "resolution", "b_rep", "b_od", "b_int", "b_l", "W_md", "b_ep")
_BY_NAME = {rule.name: rule for rule in RULES}


def to_json(one: Calibration) -> dict[str, Any]:
    """Plain values; nothing of the calibration is left out."""
    c, rule = one.certificate, one.rule
    return {
        "form": FORM, "serial": one.serial, "number": c.id, "calibrated": c.calibrated.isoformat(),
        "valid_from": c.valid_from.isoformat(), "valid_until": c.valid_until.isoformat(),
        "standards": list(c.standards), "replaces": c.replaces,
        "points": [[p.nominal, p.indicated, p.reference, p.direction, p.stage, p.W, p.k] for p in c.points],
        "unit": one.unit, "rule": rule.name if rule in RULES else rule.guard, "permissible": one.permissible,
        "k": one.k,
        "limits": [[limit.lower, limit.upper, limit.reason] for limit in one.limits],
        "interval": None if one.interval is None else _interval(one.interval),
        "contributions": [_contribution(row) for row in one.contributions],
        "readings": {str(at): [list(r.readings), *(getattr(r, name) for name in _READINGS)]
                     for at, r in one.readings.items()},
        "counter": one.counter, "stated_W": one.stated_W, **{name: getattr(one, name) for name in _TEXTS},
    }  # fmt: skip


def from_json(said: Any) -> Calibration:
    """The inverse of `to_json`; ValueError for anything it did not write. JSON has no whole numbers of its own: 2.0 may
    come back as 2."""
    try:
        if said["form"] != FORM:
            raise ValueError(f"{said['form']!r} is not a calibration")
        first, begin, end = (date.fromisoformat(said[name]) for name in ("calibrated", "valid_from", "valid_until"))
        points = tuple(
            Point(float(nominal), float(indicated), float(reference), direction, stage, float(W), float(k))
            for nominal, indicated, reference, direction, stage, W, k in said["points"]
        )
        rule, interval = said["rule"], said["interval"]
        return Calibration(
            serial=said["serial"],
            certificate=Certificate(said["number"], first, begin, end, tuple(said["standards"]), points,
                                    said["replaces"]),
            unit=said["unit"], rule=_BY_NAME[rule] if isinstance(rule, str) else with_guard(float(rule)),
            permissible=_float(said["permissible"]), k=float(said["k"]),
            limits=tuple(UseLimit(float(low), float(high), why) for low, high, why in said["limits"]),
            interval=None if interval is None else IntervalRule(interval[0], interval[1], tuple(interval[2]),
                                                                interval[3]),
            contributions=tuple(map(_contribution_of, said["contributions"])),
            readings={int(at): _readings_of(row) for at, row in said["readings"].items()},
            counter=said["counter"], stated_W=_float(said["stated_W"]), **{name: said[name] for name in _TEXTS},
        )
    except (KeyError, TypeError, AttributeError, IndexError) as error:
        raise ValueError(f"this is not a calibration as it is kept: {type(error).__name__} {error}") from error


def _float(value: Any) -> float | None:
    return None if value is None else float(value)


def _readings_of(row: Any) -> PointReadings:
    given = dict(zip(_READINGS, map(float, row[1:]), strict=True))
    return PointReadings(readings=tuple(map(float, row[0])), **given)


def _contribution_of(row: Any) -> Contribution:
    symbol, name, estimate, distribution, divisor, sensitivity, degrees, source = row
    return Contribution(symbol, name, float(estimate), distribution, float(divisor), float(sensitivity),
                        math.inf if degrees is None else float(degrees), source)


def _interval(rule: IntervalRule) -> list[Any]:
    return [rule.months, rule.cycles, list(rule.after), rule.source]


def _contribution(row: Contribution) -> list[Any]:
    degrees = None if math.isinf(row.degrees) else row.degrees
    return [row.symbol, row.name, row.estimate, row.distribution, row.divisor, row.sensitivity, degrees, row.source]
