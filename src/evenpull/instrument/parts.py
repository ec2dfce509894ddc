"""What one instrument is made of, and in which order: driver, adapter, multipliers, or pump, gauge and driver.

Lengths in m, angles in rad, torques in N.m, pressures in Pa; uncertainties are relative standard uncertainties unless
a field says otherwise. Parts stand in the order from the hand (or the pump) to the fastener.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

from evenpull.instrument.chain import HAND_SHIFT

HAND_ANGLE = math.radians(2)  # rad, half-width to which an adapter is set by eye (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """A hand, powered or hydraulic tool. `lower` to `upper` its scale, from the lowest marked value (ISO 6789-1, from
    memory), `unit` that of its scale, `resolution` in SI.

    `lever` from the drive centre to the hand reference; None where no hand pulls. A hydraulic driver states
    `torque_per_pressure` in m3 (N.m per Pa); its scale is that of the gauge and its own range is in torque.
    """

    serial: str
    unit: str
    lower: float
    upper: float
    resolution: float
    w: float
    degrees: float = math.inf
    lever: float | None = None
    torque_per_pressure: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Adapter:
    """`length` from drive centre to fastener centre, `angle` against the handle line; `length_error` half-width m,
    `hand_shift` half-width m of where the hand pulls, `angle_error` half-width rad. `strongest` the torque it bears."""

    serial: str
    length: float
    angle: float = 0.0
    length_error: float = 0.5e-3
    hand_shift: float = HAND_SHIFT
    angle_error: float = HAND_ANGLE
    strongest: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Multiplier:
    """`ratio` of torque out to torque in, losses included, as measured; or from `multiplier_ratio`."""

    serial: str
    ratio: float
    w: float
    degrees: float = math.inf
    strongest: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """`ripple` half-width, relative, by which the pressure at the stall differs from what is dialled."""

    serial: str
    strongest: float
    ripple: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """Pressure gauge. `W_full_scale` expanded uncertainty (k = 2) as a share of `upper`, as its class states it."""

    serial: str
    unit: str
    lower: float
    upper: float
    resolution: float
    W_full_scale: float


Part: TypeAlias = Driver | Adapter | Multiplier | Pump | Gauge


class ChainError(ValueError):
    """Parts that make no instrument; the text names them and the way out."""


def name_of(part: Part) -> str:
    return f"{type(part).__name__.lower()} {part.serial}"


def multiplier_ratio(geometric: float, efficiency: float, w_efficiency: float) -> tuple[float, float]:
    """(i, w_i) of a multiplier: i = z eta with the ratio z of its gears, exact by its teeth, and the efficiency eta.

    `w_efficiency` relative standard uncertainty. ValueError for a ratio not above zero, an efficiency not above 0 or
    above 1, a negative uncertainty.
    """
    if not geometric > 0:
        raise ValueError(f"the gear ratio must be greater than zero: {geometric}")
    if not 0 < efficiency <= 1:
        raise ValueError(f"the efficiency of a multiplier lies above 0 and is at most 1: {efficiency}")
    if not w_efficiency >= 0:
        raise ValueError(f"an uncertainty cannot be negative: {w_efficiency}")
    return geometric * efficiency, w_efficiency


def opened(serial: str, made_of: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The serials of the single parts of an assembly, in order; a part may itself be an assembly of `made_of`.

    ChainError with the path when an assembly contains itself, and for a part that stands twice.
    """
    found: list[str] = []

    def add(one: str, path: tuple[str, ...]) -> None:
        if one in path:
            raise ChainError(f"{one} contains itself: {' - '.join((*path[path.index(one):], one))}. Take it out of one "
                             "of these assemblies.")
        if one not in made_of:
            if one in found:
                raise ChainError(f"{one} stands twice in {serial}: one part can be in one place only. Take one out.")
            found.append(one)
            return
        if not made_of[one]:
            raise ChainError(f"{one} is an assembly without parts. Enter its parts.")
        for part in made_of[one]:
            add(part, (*path, one))

    add(serial, ())
    return tuple(found)


# what may come behind a part, on the way to the fastener, and why not otherwise
_BEHIND: dict[type, tuple[type, ...]] = {
    Pump: (Gauge,), Gauge: (Driver,), Driver: (Adapter, Multiplier), Adapter: (Multiplier,), Multiplier: (Multiplier,),
}
_WHY = {
    (Adapter, Adapter): "two adapters in a row have one length and one angle together: measure and enter them as one",
    (Multiplier, Adapter): "an adapter is corrected by the lever of the wrench, so it sits on the wrench; behind a "
                           "multiplier its ratio has to be measured with it, as one multiplier",
    (Driver, Driver): "one driver makes the torque",
    (Pump, Driver): "the gauge between pump and driver is missing",
}
_ORDER = "pump, gauge, driver, adapter, multiplier"


def require_chain(parts: Sequence[Part]) -> None:
    """ChainError for no driver, a part twice, an order that cannot be, a hydraulic driver without pump and gauge (the
    chain is not complete) or the reverse, an adapter on a driver without lever, a quantity that cannot be."""
    drivers = [part for part in parts if isinstance(part, Driver)]
    if not drivers:
        raise ChainError("no driver: nothing here makes a torque. Enter the wrench or the powered tool.")
    serials = [part.serial for part in parts]
    for serial in serials:
        if serials.count(serial) > 1:
            raise ChainError(f"{serial} stands twice: one part can be in one place only. Take one out.")
    for first, second in pairwise(parts):
        if type(second) not in _BEHIND[type(first)]:
            why = _WHY.get((type(first), type(second)), f"the order from the hand to the fastener is {_ORDER}")
            raise ChainError(f"{name_of(second)} cannot follow {name_of(first)}: {why}.")
    first = parts[0]
    hydraulic = drivers[0].torque_per_pressure is not None
    if hydraulic and not isinstance(first, Pump):
        raise ChainError(f"{name_of(drivers[0])} is driven by pressure: its pump and its gauge belong to the "
                         "instrument. Enter both before it.")
    if not hydraulic and isinstance(first, Pump | Gauge):
        raise ChainError(f"{name_of(drivers[0])} states no torque per pressure, so {name_of(first)} cannot drive it.")
    if isinstance(first, Adapter | Multiplier):
        raise ChainError(f"{name_of(first)} cannot come first: the order from the hand to the fastener is {_ORDER}.")
    for part in parts:
        _require_sane(part)
        if isinstance(part, Adapter) and drivers[0].lever is None:
            raise ChainError(f"{name_of(part)} needs the lever of {name_of(drivers[0])}, drive centre to hand mark.")


def _require_sane(part: Part) -> None:
    positive: dict[str, float] = {}
    shares: dict[str, float] = {}
    if isinstance(part, Driver):
        positive = {"resolution": part.resolution, "lowest marked value": part.lower}
        if part.torque_per_pressure is not None:
            positive["torque per pressure"] = part.torque_per_pressure
        shares = {"uncertainty": part.w}
    elif isinstance(part, Gauge):
        positive = {"resolution": part.resolution, "upper end": part.upper}
        shares = {"uncertainty": part.W_full_scale, "lower end": part.lower}
    elif isinstance(part, Multiplier):
        positive, shares = {"ratio": part.ratio}, {"uncertainty": part.w}
    elif isinstance(part, Adapter):
        shares = {"length error": part.length_error, "hand shift": part.hand_shift, "angle error": part.angle_error}
    else:
        positive, shares = {"highest pressure": part.strongest}, {"ripple": part.ripple}
    for what, value in positive.items():
        if not 0 < value < math.inf:
            raise ChainError(f"{name_of(part)}: the {what} has to be finite and greater than zero: {value}")
    for what, value in shares.items():
        if not 0 <= value < math.inf:
            raise ChainError(f"{name_of(part)}: the {what} cannot be negative: {value}")
    if isinstance(part, Driver | Gauge) and not part.lower < part.upper:
        raise ChainError(f"{name_of(part)}: its scale has to rise: {part.lower} to {part.upper}")
