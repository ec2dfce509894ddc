"""Certificates written as the typed form: of a calibration, and of the flat fields of a page.

What is written is read by `certificates`; a calibration that is written and read again is the same.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence

from evenpull.equipment.certificate_schema import CERTIFICATES_FORM, GUARDED_BY
from evenpull.equipment.model import Calibration
from evenpull.instrument.budget import DIVISORS, Contribution
from evenpull.instrument.certificate import Point
from evenpull.instrument.conformity import RULES, DecisionRule
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.iso6789 import PointReadings, calibrated_point
from evenpull.plan.forms import quoted
from evenpull.quantities import Kind, from_si, to_si

_NUMBER = re.compile(r"[+-]?(0|[1-9]\d{0,30})([.,]\d{1,30})?([eE][+-]?\d{1,3})?")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_PERCENT = ("permissible", "uncertainty", "W_md")
_DAYS = ("calibrated", "valid_from", "valid_until")
_NUMBERS = ("guard", "k", "counter", "nominal", "indicated", "reference", "resolution", "b_rep", "b_od", "b_int", "b_l",
            "b_ep", "value", "divisor", "sensitivity", "degrees", "months", "cycles")  # fmt: skip
_LISTS = ("standards", "after", "readings", "range")
_BUDGET = ("resolution", "b_rep", "b_od", "b_int", "b_l", "W_md", "b_ep")  # stated once for all points with readings


def value_written(si: float, unit: str, kind: Kind) -> float:
    """The shortest number in `unit` that reads back as exactly this SI value; the nearest where there is none."""
    value = from_si(si, unit)
    for digits in range(6, 18):
        short = float(f"{value:.{digits}g}")
        if to_si(short, unit, kind) == si:
            return short
    for near in (math.nextafter(value, math.inf), math.nextafter(value, -math.inf)):
        if to_si(near, unit, kind) == si:
            return near
    return value


def certificate_text(one: Calibration) -> str:
    """The typed form of one calibration. ValueError for one without points: the form has none."""
    if not one.certificate.points:
        raise ValueError(f"certificate {one.number} of {one.serial} has no points, and cannot be written with them")
    lines = [f"form = {quoted(CERTIFICATES_FORM)}", "", "[[certificate]]", *_head(one)]
    if one.interval is not None:
        lines += ["", "[certificate.interval]", *_interval(one.interval)]
    for limit in one.limits:
        ends = ", ".join(quoted(f"{value_written(v, one.unit, one.quantity)!r} {one.unit}")
                         for v in (limit.lower, limit.upper))
        lines += ["", "[[certificate.limit]]", f"range = [{ends}]", f"reason = {quoted(limit.reason)}"]
    for row in one.contributions:
        lines += ["", "[[certificate.contribution]]", *_contribution(row)]
    for at, point in enumerate(one.certificate.points):
        lines += ["", "[[certificate.point]]", *_point(one, point, one.readings.get(at))]
    return "\n".join(lines) + "\n"


def _head(one: Calibration) -> Iterator[str]:
    c = one.certificate
    yield f"serial = {quoted(one.serial)}"
    yield f"number = {quoted(c.id)}"
    yield f"calibrated = {c.calibrated}"
    yield f"valid_from = {c.valid_from}"
    yield f"valid_until = {c.valid_until}"
    yield f"laboratory = {quoted(one.laboratory)}"
    yield f"standards = [{', '.join(map(quoted, c.standards))}]"
    yield f"unit = {quoted(one.unit)}"
    if one.permissible is not None:
        yield f"permissible = {one.permissible!r}"
    yield from _rule(one.rule)
    yield f"k = {one.k!r}"
    if one.counter is not None:
        yield f"counter = {one.counter}"
    texts = {"by": one.by, "replaces": c.replaces, "adjusted": one.adjusted, "conditions": one.conditions,
             "note": one.note}
    yield from (f"{name} = {quoted(text)}" for name, text in texts.items() if text)


def _rule(rule: DecisionRule) -> Iterator[str]:
    if rule in RULES:
        yield f"rule = {quoted(rule.name)}"
    else:
        yield f"rule = {quoted(GUARDED_BY)}"
        yield f"guard = {rule.guard!r}"


def _interval(rule: IntervalRule) -> Iterator[str]:
    if rule.months is not None:
        yield f"months = {rule.months}"
    if rule.cycles is not None:
        yield f"cycles = {rule.cycles}"
    yield f"after = [{', '.join(map(quoted, rule.after))}]"
    yield f"source = {quoted(rule.source)}"


def _contribution(row: Contribution) -> Iterator[str]:
    yield f"symbol = {quoted(row.symbol)}"
    yield f"name = {quoted(row.name)}"
    yield f"value = {row.estimate!r}"
    yield f"distribution = {quoted(row.distribution)}"
    if row.divisor != DIVISORS.get(row.distribution):
        yield f"divisor = {row.divisor!r}"
    yield f"sensitivity = {row.sensitivity!r}"
    if math.isfinite(row.degrees):
        yield f"degrees = {row.degrees:.0f}"


def _point(one: Calibration, point: Point, readings: PointReadings | None) -> Iterator[str]:
    def number(si: float) -> str:
        return repr(value_written(si, one.unit, one.quantity))

    yield f"stage = {quoted(point.stage)}"
    yield f"direction = {quoted(point.direction)}"
    yield f"nominal = {number(point.nominal)}"
    yield f"indicated = {number(point.indicated)}"
    yield f"reference = {number(point.reference)}"
    if readings is not None:
        yield f"readings = [{', '.join(map(number, readings.readings))}]"
        for name in ("resolution", "b_rep", "b_od", "b_int", "b_l"):
            yield f"{name} = {number(getattr(readings, name))}"
        yield f"W_md = {readings.W_md!r}"
        yield f"b_ep = {readings.b_ep!r}"
    if readings is None or calibrated_point(readings).W != point.W:
        yield f"uncertainty = {point.W!r}"
        yield f"k = {point.k!r}"


def form_text(
    head: Mapping[str, str], points: Sequence[Mapping[str, str]], contributions: Sequence[Mapping[str, str]] = (),
    limits: Sequence[Mapping[str, str]] = (), interval: Mapping[str, str] | None = None,
    budget: Mapping[str, str] | None = None,
) -> str:
    """The typed form of what was filled in on a page; empty fields are left out, everything else is written as it
    stands, so that the reader refuses it with its own message. `budget` holds what ISO 6789-2 asks beside the
    readings, for every point that has some.

    A decimal comma is read as a point; percentages need no sign.
    """
    lines = [f"form = {quoted(CERTIFICATES_FORM)}", "", "[[certificate]]", *_filled(head)]
    if interval and any(text.strip() for text in interval.values()):
        lines += ["", "[certificate.interval]", *_filled(interval)]
    for name, rows in (("limit", limits), ("contribution", contributions)):
        for row in rows:
            if any(text.strip() for text in row.values()):
                lines += ["", f"[[certificate.{name}]]", *_filled(row)]
    for row in points:
        more = budget if budget and row.get("readings", "").strip() else {}
        lines += ["", "[[certificate.point]]", *_filled({**row, **more})]
    return "\n".join(lines) + "\n"


def _filled(fields: Mapping[str, str]) -> Iterator[str]:
    yield from (f"{name} = {_literal(name, ' '.join(text.split()))}" for name, text in fields.items() if text.strip())


def _literal(name: str, text: str) -> str:
    if name in _LISTS:
        parts = [part.strip() for part in re.split(r"[;\s]+" if name == "readings" else r"[,;]+", text) if part.strip()]
        return "[" + ", ".join(_literal("value", p) if name == "readings" else quoted(p) for p in parts) + "]"
    if name in _NUMBERS and _NUMBER.fullmatch(text):
        return text.replace(",", ".")
    if name in _PERCENT and _NUMBER.fullmatch(text.removesuffix("%").strip()):
        return quoted(text.removesuffix("%").strip().replace(",", ".") + " %")
    if name in _DAYS and _DAY.fullmatch(text):
        return text
    return quoted(text)
