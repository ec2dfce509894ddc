"""Reading typed certificates: TOML text to calibrations, or every fault at once with file, line and field."""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import timedelta
from typing import Any

from pydantic import ValidationError

from evenpull.equipment.build import interval_rule, use_limits
from evenpull.equipment.certificate_schema import (
    CERTIFICATES_FORM,
    GUARDED_BY,
    ISO_6789_SYMBOLS,
    CertificatesFile,
    CertificateTable,
    ContributionTable,
    PointTable,
)
from evenpull.equipment.model import Calibration
from evenpull.equipment.read import check_interval
from evenpull.equipment.schema import SCALES, LimitTable
from evenpull.instrument.budget import Contribution, contribution
from evenpull.instrument.certificate import CertificateError, Entry, Fault, certificate, point_faults
from evenpull.instrument.conformity import RULES, DecisionRule, with_guard
from evenpull.instrument.interval import months_later
from evenpull.instrument.iso6789 import PointReadings, calibrated_point
from evenpull.plan.toml_text import Known, Source, check_schema, read_toml
from evenpull.quantities import Kind, UnitError, canonical_unit, to_si, units_for

LARGEST = 2_000_000  # characters
WHAT = "a file of certificates"
Place = tuple[str | int, ...]
_NAMES = {"id": "number"}  # fields of `certificate` by the keys of the form
_OF_READINGS = ("resolution", "b_rep", "b_od", "b_int", "b_l", "W_md", "b_ep")


def read_certificates(text: str, file: str) -> tuple[Calibration, ...]:
    """The calibrations in a TOML text; `file` names it in errors. Raises SpecificationError with all faults."""
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=CERTIFICATES_FORM)
    check_schema(source, CertificatesFile)
    _check_together(source)
    if source.faults:
        _check_rest(source)
    source.refuse_if_faulty()
    read = CertificatesFile.model_validate(source.data).certificate
    built = [_built(source, index, table) for index, table in enumerate(read)]
    source.refuse_if_faulty()
    return tuple(one for one in built if one is not None)


def unit_and_kind(text: str) -> tuple[str, Kind]:
    """Our name of a unit that a scale may have, and its kind. UnitError with what is allowed."""
    for kind in SCALES:
        try:
            return canonical_unit(text, kind), kind
        except UnitError:
            continue
    allowed = tuple(name for kind in SCALES for name in units_for(kind))
    raise UnitError(text, "unit", f"the unit {text.strip()[:60]!r} is not known", allowed)


def _check_together(source: Source) -> None:
    raw = source.data.get("certificate")
    seen: dict[tuple[str, str], int] = {}
    for index, item in enumerate(raw if isinstance(raw, list) else ()):
        place: Place = ("certificate", index)
        table = Known(CertificateTable, item)
        if table.serial is not None and table.number is not None:
            first = seen.setdefault((table.serial, table.number), index)
            if first != index:
                source.fault((*place, "number"), table.number, f"{table.number!r} of {table.serial} stands here a "
                             f"second time; it is certificate {first + 1} already", "each certificate once")
        kind = _check_unit(source, place, table)
        _check_rule(source, place, table)
        rows = item if isinstance(item, dict) else {}
        interval = rows.get("interval")
        if isinstance(interval, dict):
            check_interval(source, (*place, "interval"), interval)
        if not table.has("valid_until") and not (isinstance(interval, dict) and "months" in interval):
            source.fault((*place, "valid_until"), None, "neither the last day nor an interval in months is stated",
                         "valid_until = 2027-03-01, or [certificate.interval] with months")
        for at, one in _rows(rows, "limit"):
            limit = Known(LimitTable, one)
            if kind is not None and limit.range is not None and limit.range[0].kind != kind:
                source.fault((*place, "limit", at, "range"), limit.range[0], f"{limit.range[0].text} is no value of "
                             f"the unit {table.unit} of this certificate", "values in a unit of that kind")
        for at, one in _rows(rows, "point"):
            _check_point(source, (*place, "point", at), Known(PointTable, one), kind)
        _check_budget(source, place, rows)


def _rows(table: Mapping[str, Any], name: str) -> list[tuple[int, object]]:
    raw = table.get(name)
    return list(enumerate(raw)) if isinstance(raw, list) else []


def _check_unit(source: Source, place: Place, table: Known) -> Kind | None:
    if table.unit is None:
        return None
    try:
        return unit_and_kind(table.unit)[1]
    except UnitError as error:
        source.fault((*place, "unit"), table.unit, error.reason, ", ".join(error.allowed))
        return None


def _check_rule(source: Source, place: Place, table: Known) -> None:
    if table.rule == GUARDED_BY and not table.has("guard"):
        source.fault((*place, "guard"), None, "the guard band factor r is missing", "guard = 1.0 for a band of U")
    elif table.rule is not None and table.rule != GUARDED_BY and table.has("guard"):
        source.fault((*place, "guard"), table.guard, f"the rule {table.rule!r} has no factor of its own",
                     f'leave it out, or rule = "{GUARDED_BY}"')


def _check_point(source: Source, place: Place, point: Known, kind: Kind | None) -> None:
    if not point.has("readings"):
        for name in ("reference", "uncertainty"):
            if not point.has(name):
                source.fault((*place, name), None, f"{name} is missing, and there are no readings to take it from",
                             f"{name}, or readings with resolution, W_md and the variations of ISO 6789-2")
        for name in _OF_READINGS:
            if point.has(name):
                source.fault((*place, name), getattr(point, name), f"{name} says nothing without readings",
                             "leave it out, or state the readings")
        return
    if kind is not None and kind != "torque":
        source.fault((*place, "readings"), None, "a budget after ISO 6789-2 is for torque tools",
                     "reference and uncertainty as the certificate states them")
    if not point.has("uncertainty"):
        for name in ("resolution", "W_md", "b_rep", "b_od", "b_int", "b_l"):
            if not point.has(name):
                source.fault((*place, name), None, f"{name} is missing: the uncertainty is to be computed from the "
                             "readings", f"{name} = 0 where the standard lets it be left out; or state uncertainty")


def _check_budget(source: Source, place: Place, rows: Mapping[str, Any]) -> None:
    seen: dict[str, int] = {}
    for at, one in _rows(rows, "contribution"):
        row = Known(ContributionTable, one)
        if row.symbol is None:
            continue
        first = seen.setdefault(row.symbol, at)
        if first != at:
            source.fault((*place, "contribution", at, "symbol"), row.symbol, f"{row.symbol!r} stands in the budget "
                         f"twice; it is row {first + 1} already", "each contribution once")
        if not row.has("name") and row.symbol not in ISO_6789_SYMBOLS:
            source.fault((*place, "contribution", at, "name"), None, f"what {row.symbol!r} is has to be said",
                         f"a text; only {', '.join(ISO_6789_SYMBOLS)} need none")


def _built(source: Source, index: int, t: CertificateTable) -> Calibration | None:
    """None with the faults noted, where the certificate cannot be taken."""
    unit, kind = unit_and_kind(t.unit)
    interval = interval_rule(t.interval)
    first = t.valid_from or t.calibrated
    months = None if interval is None else interval.months
    last = t.valid_until or months_later(t.calibrated, months or 1) - timedelta(days=1)
    readings = {at: _readings(point, unit) for at, point in enumerate(t.point) if _has_budget(point)}
    entries = [_entry(point, unit, kind, t.k, readings.get(at)) for at, point in enumerate(t.point)]
    place: Place = ("certificate", index)
    try:
        made = certificate(t.number, t.calibrated, first, last, t.standards, entries, t.replaces or "")
    except CertificateError as error:
        _tell(source, place, error.faults, t, list(enumerate(t.point)))
        return None
    return Calibration(
        serial=t.serial, certificate=made, unit=unit, rule=decision_rule(t.rule, t.guard), permissible=t.permissible,
        laboratory=t.laboratory, by=t.by or "", conditions=t.conditions or "", k=t.k, limits=use_limits(t.limit),
        interval=interval, contributions=tuple(map(_contribution, t.contribution)), readings=readings,
        counter=t.counter, adjusted=t.adjusted or "", source=source.file, note=t.note or "",
    )


def _tell(
    source: Source, place: Place, faults: Iterable[Fault], head: Any, points: Sequence[tuple[int, PointTable]],
) -> None:
    """Note what `certificate` finds; `points` are those it was given, with their places in the text."""
    for fault in faults:
        name = _NAMES.get(fault.field, fault.field)
        if fault.point is None:
            source.fault((*place, name), getattr(head, name, None), fault.message, fault.way_out)
            continue
        at, point = points[fault.point - 1]
        said = fault.message
        for number, (earlier, _) in reversed(list(enumerate(points, start=1))):  # points that cannot be read count too
            said = re.sub(rf"\bpoint {number}\b", f"point {earlier + 1}", said)
        source.fault((*place, "point", at, name), getattr(point, name, None), f"point {at + 1}: {said}", fault.way_out)


def _check_rest(source: Source) -> None:
    """Where something cannot be read already: what is wrong in the points and days that can be, so that whoever types
    a certificate sees everything at once."""
    raw = source.data.get("certificate")
    for index, item in enumerate(raw if isinstance(raw, list) else ()):
        head = Known(CertificateTable, item)
        points: list[tuple[int, PointTable]] = []
        for at, one in _rows(item if isinstance(item, dict) else {}, "point"):
            with suppress(ValidationError):
                points.append((at, PointTable.model_validate(one)))
        entries = [_entry(p, "N.m", "torque", head.k or 2.0, None) for _, p in points]
        kept = [n for n, e in enumerate(entries) if None not in (e.uncertainty, e.reference)
                and not math.isnan(e.reference or 0.0)]
        points, entries = [points[n] for n in kept], [entries[n] for n in kept]
        faults = list(point_faults(entries))
        if head.calibrated is not None and head.valid_until is not None:
            try:
                certificate("any", head.calibrated, head.valid_from or head.calibrated, head.valid_until, ("any",), [])
            except CertificateError as error:
                faults += [fault for fault in error.faults if fault.field != "points"]
        _tell(source, ("certificate", index), faults, head, points)


def decision_rule(name: str, guard: float | None) -> DecisionRule:
    """The rule of this name; with "guard band of r U" that of the agreed factor."""
    return with_guard(guard or 0.0) if name == GUARDED_BY else next(rule for rule in RULES if rule.name == name)


def _has_budget(point: PointTable) -> bool:
    return point.readings is not None and point.resolution is not None and point.W_md is not None


def _readings(p: PointTable, unit: str) -> PointReadings:
    assert p.readings is not None and p.resolution is not None and p.W_md is not None

    def si(value: float | None) -> float:
        return 0.0 if value is None else to_si(value, unit, "torque")

    return PointReadings(
        set_value=si(p.nominal if p.indicated is None else p.indicated), readings=tuple(map(si, p.readings)),
        resolution=si(p.resolution), b_rep=si(p.b_rep), b_od=si(p.b_od), b_int=si(p.b_int), b_l=si(p.b_l), W_md=p.W_md,
        b_ep=p.b_ep or 0.0,
    )


def _entry(p: PointTable, unit: str, kind: Kind, k: float, readings: PointReadings | None) -> Entry:
    """SI; what is left out comes from the readings. W by ISO 6789-2 has k = 2, whatever the certificate states."""
    indicated = p.nominal if p.indicated is None else p.indicated
    reference = p.reference if p.readings is None or p.reference is not None else statistics.fmean(p.readings)
    W: float | None = p.uncertainty
    k = p.k or k
    if W is None and readings is not None and indicated > 0:
        W, k = calibrated_point(readings).W, 2.0
    values = (math.nan if one is None else to_si(one, unit, kind) for one in (p.nominal, indicated, reference))
    nominal_si, indicated_si, reference_si = values
    return Entry(nominal_si, indicated_si, reference_si, p.direction, p.stage, W, k)


def _contribution(row: ContributionTable) -> Contribution:
    return contribution(
        row.symbol, row.name or ISO_6789_SYMBOLS[row.symbol], row.value, row.distribution, "stated by the laboratory",
        sensitivity=row.sensitivity, degrees=math.inf if row.degrees is None else row.degrees, divisor=row.divisor,
    )

