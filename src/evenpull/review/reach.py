"""Under which serials the uses of a part are on record, and what turns the torque on record into a value on its scale.

The torque on record is that at the fastener, as it is judged against its window. The ratio divides it: torque at the
fastener per N.m on the scale of the driver, per Pa on a gauge, per N.m at the output of a multiplier.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from evenpull.equipment import Holdings, Item
from evenpull.instrument.assembly import Instrument, instrument
from evenpull.instrument.chain import adapter_ratio
from evenpull.instrument.parts import Adapter, ChainError, Driver, Gauge, Multiplier, Part

UNKNOWN = math.nan


def reach(held: Holdings, serial: str) -> dict[str, float]:
    """Serial on record -> ratio, NaN where the chain is not known: the item itself and every assembly that holds it."""
    found = {serial: _alone(held, serial)}
    for assembly in held.used_in(serial):
        try:
            found[assembly] = _within(held, held.chain(assembly), serial)
        except ChainError:
            found[assembly] = UNKNOWN
    return found


def _alone(held: Holdings, serial: str) -> float:
    """Ratio where the record names the item alone."""
    item = held.items.get(serial)
    if item is None:
        return 1.0  # an assembly: what was found of it was found at its end
    part = item.part
    if isinstance(part, Driver):
        try:
            return held.chain(serial).ratio
        except ChainError:
            return 1.0  # a hydraulic tool without its set: its scale is in torque
    return 1.0 if isinstance(part, Multiplier | Adapter) else UNKNOWN


def _within(held: Holdings, chain: Instrument, serial: str) -> float:
    """Ratio of a part, or of an assembly inside a larger one."""
    if serial in held.assemblies:
        return chain.ratio / held.chain(serial).ratio
    parts = chain.parts
    at = next((n for n, part in enumerate(parts) if part.serial == serial), None)
    if at is None:
        return UNKNOWN
    part = parts[at]
    if isinstance(part, Driver):
        return chain.ratio
    if isinstance(part, Gauge):
        per_pressure = chain.driver.torque_per_pressure
        return UNKNOWN if per_pressure is None else chain.ratio * per_pressure
    return math.prod(_ratio(chain, one) for one in parts[at + 1 :])


def _ratio(chain: Instrument, part: Part) -> float:
    if isinstance(part, Multiplier):
        return part.ratio
    if isinstance(part, Adapter):
        lever = chain.driver.lever
        return UNKNOWN if lever is None else adapter_ratio(lever, part.length, part.angle)
    return 1.0


def with_attachments(held: Holdings, recorded: str, named: Sequence[str], by_fold: Mapping[str, str]) -> float:
    """Ratio of a driver whose record names attachments of its own (adapter, multipliers), given as they are looked up;
    `by_fold` gives their serials. NaN where one is not known, or they make no instrument with it."""
    driver = held.items.get(recorded)
    items: list[Item] = []
    for name in named:
        item = held.items.get(by_fold.get(name, ""))
        if item is None or item.part is None:
            return UNKNOWN
        items.append(item)
    if driver is None or not isinstance(driver.part, Driver):
        return UNKNOWN
    turned = [item.part for item in items if isinstance(item.part, Adapter | Multiplier)]
    if not turned:
        return _alone(held, recorded)  # pump and gauge turn no torque into another
    turned.sort(key=lambda part: not isinstance(part, Adapter))  # the adapter sits on the wrench
    try:
        return instrument([driver.part, *driver.fixed, *turned]).ratio
    except ChainError:
        return UNKNOWN


def named_part(held: Holdings, serial: str, recorded: str) -> float:
    """Ratio where the record names `serial` as the attachment, pump or gauge of the tool `recorded`."""
    item = held.items.get(serial)
    if item is not None and isinstance(item.part, Gauge):
        driver = held.driver(recorded) if recorded in held.items or recorded in held.assemblies else None
        if driver is None or not isinstance(driver.part, Driver) or driver.part.torque_per_pressure is None:
            return UNKNOWN
        return driver.part.torque_per_pressure
    if item is not None and isinstance(item.part, Driver):
        return UNKNOWN
    return 1.0
