"""From one checked table of the register of equipment to its item."""

from __future__ import annotations

import math
from typing import Any, cast

from evenpull.equipment.model import Item, ItemKind, Scale
from evenpull.equipment.schema import (
    AdapterTable,
    Calibrated,
    Common,
    DeviceTable,
    DriverTable,
    GaugeTable,
    HydraulicToolTable,
    IntervalTable,
    LimitTable,
    MultiplierTable,
    PumpTable,
    TorqueToolTable,
    TurningTable,
)
from evenpull.instrument.budget import DIVISORS
from evenpull.instrument.candidate import UseLimit
from evenpull.instrument.chain import HAND_SHIFT
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.parts import HAND_ANGLE, Adapter, Driver, Gauge, Multiplier, Pump, multiplier_ratio
from evenpull.quantities import Measured, canonical_unit


def interval_rule(table: IntervalTable | None) -> IntervalRule | None:
    return None if table is None else IntervalRule(table.months, table.cycles, table.after, table.source)


def use_limits(tables: tuple[LimitTable, ...]) -> tuple[UseLimit, ...]:
    return tuple(UseLimit(one.range[0].si, one.range[1].si, one.reason) for one in tables)


def _common(t: Common) -> dict[str, Any]:
    return {"serial": t.serial, "name": t.name, "maker": t.maker or "", "owner": t.owner or "", "place": t.place or "",
            "note": t.note or ""}


def _calibrated(t: Calibrated) -> dict[str, Any]:
    return {**_common(t), "permissible": t.permissible, "interval": interval_rule(t.interval),
            "limits": use_limits(t.limit)}


def _turning(t: TurningTable) -> dict[str, Any]:
    return {**_calibrated(t), "drive": t.drive, "directions": t.directions, "serves": t.serves}


def _driver(t: DriverTable, lever: Measured | None, torque_per_pressure: float | None) -> dict[str, Any]:
    lower, upper = t.range
    unit = canonical_unit(t.unit, "torque")
    # until a certificate says more the tool is taken to lie anywhere within its permissible deviation (GUM 4.3.7)
    w = t.permissible / DIVISORS["rectangular, half-width"] if t.uncertainty is None else t.uncertainty / 2
    part = Driver(
        serial=t.serial, unit=unit, lower=lower.si, upper=upper.si, resolution=t.resolution.si, w=w,
        lever=None if lever is None else lever.si, torque_per_pressure=torque_per_pressure,
    )
    return {**_turning(t), "unit": unit, "scale": Scale(lower.si, upper.si, t.resolution.si), "part": part,
            "stated_W": t.uncertainty}


def torque_tool(t: TorqueToolTable) -> Item:
    return Item(kind=cast(ItemKind, t.kind), type_class=t.type_class or "", **_driver(t, t.lever, None))


def hydraulic_tool(t: HydraulicToolTable) -> Item:
    torque, pressure = t.gives
    return Item(kind="hydraulic", **_driver(t, None, torque.si / pressure.si))


def multiplier(t: MultiplierTable) -> Item:
    if t.ratio is None:
        assert t.gear_ratio is not None and t.efficiency is not None
        ratio, w = multiplier_ratio(t.gear_ratio, t.efficiency, t.uncertainty / 2)
    else:
        ratio, w = t.ratio, t.uncertainty / 2
    strongest = math.inf if t.strongest is None else t.strongest.si
    part = Multiplier(serial=t.serial, ratio=ratio, w=w, strongest=strongest)
    return Item(kind="multiplier", part=part, stated_W=t.uncertainty, **_turning(t))


def adapter(t: AdapterTable) -> Item:
    part = Adapter(
        serial=t.serial, length=t.length.si, angle=t.angle.si,
        length_error=0.5e-3 if t.length_error is None else t.length_error.si,
        hand_shift=HAND_SHIFT if t.hand_shift is None else t.hand_shift.si,
        angle_error=HAND_ANGLE if t.angle_error is None else t.angle_error.si,
        strongest=math.inf if t.strongest is None else t.strongest.si,
    )
    return Item(kind="adapter", drive=t.drive, part=part, **_common(t))


def pump(t: PumpTable) -> Item:
    part = Pump(serial=t.serial, strongest=t.strongest.si, ripple=t.ripple or 0.0)
    return Item(kind="pump", part=part, directions=("either",), **_calibrated(t))


def gauge(t: GaugeTable) -> Item:
    lower, upper = t.range
    unit = canonical_unit(t.unit, "stress")
    part = Gauge(serial=t.serial, unit=unit, lower=lower.si, upper=upper.si, resolution=t.resolution.si,
                 W_full_scale=t.accuracy)
    return Item(kind="gauge", unit=unit, scale=Scale(lower.si, upper.si, t.resolution.si), part=part,
                directions=("either",), **_calibrated(t))


def device(t: DeviceTable, kind: ItemKind) -> Item:
    lower, upper = t.range
    return Item(
        kind=kind, unit=canonical_unit(t.unit, lower.kind), scale=Scale(lower.si, upper.si, t.resolution.si),
        directions=("either",), stated_W=t.uncertainty, **_calibrated(t),
    )
