"""Between the two registers of tools: an entry of the simple one seen as an item, a chain seen as a simple entry."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Literal, cast

from evenpull.equipment.model import Calibration, Item, Scale
from evenpull.instrument.assembly import Instrument, budget_of
from evenpull.instrument.candidate import UseLimit
from evenpull.instrument.certificate import Certificate
from evenpull.instrument.parts import Adapter, Driver, Multiplier, Part
from evenpull.plan.model import PressureScale, Tool
from evenpull.quantities import Kind, Measured, from_si, measured


def items_from(tools: Iterable[Tool]) -> tuple[dict[str, Item], dict[str, tuple[Calibration, ...]]]:
    """Items and calibrations of entries of the simple register; the entry with the latest certificate names a tool.

    Adapter and multiplier of an entry belong to the tool for good. Its certificates have no points, and may overlap
    (`one_after_the_other`).
    """
    by_serial: dict[str, list[Tool]] = {}
    for tool in tools:
        by_serial.setdefault(tool.serial, []).append(tool)
    items: dict[str, Item] = {}
    calibrations: dict[str, tuple[Calibration, ...]] = {}
    for serial, entries in by_serial.items():
        entries.sort(key=lambda t: (t.certificate_from, t.certificate))
        items[serial] = _item(entries[-1])
        calibrations[serial] = tuple(_calibration(tool) for tool in entries)
    return items, calibrations


def _item(tool: Tool) -> Item:
    lower, upper, step = tool.lower.si, tool.upper.si, tool.resolution.si
    lever = None if tool.lever is None else tool.lever.si
    driver = Driver(serial=tool.serial, unit=tool.unit, lower=lower, upper=upper, resolution=step,
                    w=tool.uncertainty / 2, lever=lever)
    fixed: list[Part] = []
    if tool.adapter_length is not None and tool.adapter_length.si > 0:
        angle = 0.0 if tool.adapter_angle is None else tool.adapter_angle.si
        fixed.append(Adapter(serial=f"{tool.serial} adapter", length=tool.adapter_length.si, angle=angle))
    if tool.multiplier_ratio != 1:
        # its uncertainty is in that of the entry, which was stated for the tool with its multiplier
        fixed.append(Multiplier(serial=f"{tool.serial} multiplier", ratio=tool.multiplier_ratio, w=0.0))
    return Item(
        serial=tool.serial, name=tool.name, kind=tool.kind, unit=tool.unit, scale=Scale(lower, upper, step),
        part=driver, fixed=tuple(fixed), stated_W=tool.uncertainty,
    )


def _calibration(tool: Tool) -> Calibration:
    days = tool.certificate_from, tool.certificate_from, tool.certificate_until
    return Calibration(
        serial=tool.serial, certificate=Certificate(tool.certificate, *days, standards=(), points=()), unit=tool.unit,
        stated_W=tool.uncertainty,
    )


def one_after_the_other(calibrations: Sequence[Calibration]) -> tuple[Calibration, ...]:
    """Calibrations of one item by first day, those of the simple register so that they overlap with none: where one of
    two has no points the later ends the earlier. Of two with one number, or with one first day, that with points
    counts. Overlaps between certificates with points are left: they were stated, and refused where they were added."""
    by_number: dict[str, Calibration] = {}
    for one in calibrations:
        held = by_number.get(one.number)
        if held is None or one.certificate.points or not held.certificate.points:
            by_number[one.number] = one
    dated = {one.certificate.valid_from for one in by_number.values() if one.certificate.points}
    kept: list[Calibration] = []
    for one in sorted(by_number.values(), key=lambda c: (c.certificate.valid_from, c.number)):
        if one.certificate.points or one.certificate.valid_from not in dated:
            kept.append(_behind(kept, one))
    return tuple(kept)


def _behind(kept: list[Calibration], one: Calibration) -> Calibration:
    """`one` so that it follows the last of `kept`, which is shortened where it can be told in no other way."""
    if not kept or kept[-1].certificate.valid_until < one.certificate.valid_from:
        return one
    earlier, own = kept[-1].certificate, one.certificate
    if earlier.points and own.points:
        return one
    if not own.replaces:
        return replace(one, certificate=replace(own, replaces=earlier.id))
    if own.replaces != earlier.id:  # it says which one it replaces, and that is not the entry of the simple register
        kept[-1] = replace(kept[-1], certificate=replace(earlier, valid_until=own.valid_from - timedelta(days=1)))
    return one


def scale_of(one: Instrument, limits: Sequence[UseLimit]) -> tuple[float, float]:
    """Lowest and highest torque (N.m at the driver) that its scale and the limits on use leave."""
    driver = one.driver
    return (max([driver.lower, *(limit.lower for limit in limits)]),
            min([driver.upper, *(limit.upper for limit in limits)]))


def leaves_something(one: Instrument, limits: Sequence[UseLimit]) -> bool:
    lower, upper = scale_of(one, limits)
    return lower < upper


def tool_from(
    serial: str, name: str, item: Item, one: Instrument, number: str, first: date, last: date,
    limits: Sequence[UseLimit],
) -> Tool:
    """A chain as an entry of the simple register, in force from `first` to `last`; `item` is its driver.

    Its scale is that of the driver, narrowed by the limits on use; its uncertainty the largest of the chain over that
    scale (k = 2). What sets a hydraulic tool is the pressure on its gauge: `pressure`.
    """
    driver, gauge, adapter = one.driver, one.gauge, one.adapter
    lower, upper = scale_of(one, limits)
    resolution, pressure = driver.resolution, None
    if driver.torque_per_pressure is not None and gauge is not None:
        resolution = gauge.resolution * driver.torque_per_pressure
        pressure = PressureScale(driver.torque_per_pressure, gauge.unit, gauge.lower, gauge.upper, gauge.resolution)
    W = max(2 * budget_of(one, at * one.ratio).u for at in (lower, upper))
    torque = driver.unit
    return Tool(
        serial=serial, name=name, kind=cast(Literal["setting", "indicating", "powered", "hydraulic"], item.kind),
        unit=torque, lower=_measured(lower, torque, "torque"), upper=_measured(upper, torque, "torque"),
        resolution=_measured(resolution, torque, "torque"), uncertainty=W, certificate=number, certificate_from=first,
        certificate_until=last,
        lever=None if driver.lever is None or adapter is None else _measured(driver.lever, "mm", "length"),
        adapter="" if adapter is None else adapter.serial,
        adapter_length=None if adapter is None else _measured(adapter.length, "mm", "length"),
        adapter_angle=None if adapter is None else _measured(adapter.angle, "deg", "angle"),
        multiplier_ratio=one.multiplied, pressure=pressure, parts=one.serials if len(one.serials) > 1 else (),
    )


def _measured(si: float, unit: str, kind: Kind) -> Measured:
    return measured(float(f"{from_si(si, unit):.9g}"), unit, kind)
