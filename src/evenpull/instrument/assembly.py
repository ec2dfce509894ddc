"""A chain of parts as one instrument: one setting, one range, one uncertainty. Torques in N.m at the fastener."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenpull.instrument.budget import Budget, Contribution, budget, contribution
from evenpull.instrument.chain import (
    ToolSetting,
    adapter_ratio,
    angle_sensitivity,
    hand_sensitivity,
    pressure_setting,
    tool_setting,
)
from evenpull.instrument.parts import Adapter, Driver, Gauge, Multiplier, Part, Pump, name_of, require_chain
from evenpull.quantities import show

HALF = "rectangular, half-width"
LEVER_LAW = "M = M_set (L + E cos(alpha))/L"


@dataclass(frozen=True, slots=True)
class Instrument:
    """Parts from the hand to the fastener that were checked by `instrument`."""

    parts: tuple[Part, ...]

    @property
    def driver(self) -> Driver:
        return next(part for part in self.parts if isinstance(part, Driver))

    @property
    def adapter(self) -> Adapter | None:
        return next((part for part in self.parts if isinstance(part, Adapter)), None)

    @property
    def multipliers(self) -> tuple[Multiplier, ...]:
        return tuple(part for part in self.parts if isinstance(part, Multiplier))

    @property
    def gauge(self) -> Gauge | None:
        return next((part for part in self.parts if isinstance(part, Gauge)), None)

    @property
    def serials(self) -> tuple[str, ...]:
        return tuple(part.serial for part in self.parts)

    @property
    def name(self) -> str:
        return " + ".join(self.serials)

    @property
    def multiplied(self) -> float:
        """Torque out over torque in of all multipliers, 1 without one."""
        return math.prod(part.ratio for part in self.multipliers)

    @property
    def ratio(self) -> float:
        """Torque at the fastener per torque at the driver: adapter and multipliers."""
        lengthened = self.adapter
        if lengthened is None:
            return self.multiplied
        assert self.driver.lever is not None
        return self.multiplied * adapter_ratio(self.driver.lever, lengthened.length, lengthened.angle)


def instrument(parts: Sequence[Part]) -> Instrument:
    """One instrument of the parts, in the order from the hand to the fastener. ChainError says why they make none."""
    require_chain(parts)
    found = Instrument(tuple(parts))
    _ = found.ratio  # an adapter folded back past the hand is refused here
    return found


def setting_of(one: Instrument, torque: float) -> ToolSetting:
    """What is dialled for `torque` (N.m) at the fastener, in the unit of the scale, after adapter and multiplier and
    rounded: on the driver, or on the gauge of a hydraulic one. ValueError as of tool_setting and pressure_setting."""
    driver, gauge, adapter = one.driver, one.gauge, one.adapter
    if driver.torque_per_pressure is not None:
        assert gauge is not None
        return pressure_setting(torque, driver.torque_per_pressure, gauge.unit, gauge.resolution,
                                multiplier_ratio=one.multiplied)
    return tool_setting(
        torque, driver.unit, driver.resolution, lever=driver.lever, multiplier_ratio=one.multiplied,
        adapter_length=adapter.length if adapter else 0.0, adapter_angle=adapter.angle if adapter else 0.0,
    )


def beyond_parts(one: Instrument, torque: float) -> tuple[str, ...]:
    """Why `torque` (N.m) at the fastener is outside what the scale shows or a part bears; () when it is within."""
    found: list[str] = []
    at = torque
    for part in reversed(one.parts):  # from the fastener back, dividing by each ratio
        if isinstance(part, Multiplier | Adapter) and at > part.strongest:
            found.append(f"{name_of(part)} bears {show(part.strongest, 'N.m')}, here it would carry {show(at, 'N.m')}")
        if isinstance(part, Multiplier):
            at /= part.ratio
        elif isinstance(part, Adapter):
            assert one.driver.lever is not None
            at /= adapter_ratio(one.driver.lever, part.length, part.angle)
        elif isinstance(part, Driver):
            found += _off_scale(name_of(part), at, part.lower, part.upper, part.unit)
            if part.torque_per_pressure is not None:
                at /= part.torque_per_pressure  # from here on a pressure
        elif isinstance(part, Gauge):
            found += _off_scale(name_of(part), at, part.lower, part.upper, part.unit)
        elif isinstance(part, Pump) and at > part.strongest:
            found.append(f"{name_of(part)} reaches {show(part.strongest, 'bar')}, {show(at, 'bar')} is needed")
    return tuple(found)


def _off_scale(name: str, value: float, lower: float, upper: float, unit: str) -> list[str]:
    if lower * (1 - 1e-9) <= value <= upper * (1 + 1e-9):
        return []
    side = "below the lowest marked value" if value < lower else "above the end"
    return [f"{show(value, unit)} is {side} of {name}, whose scale is {show(lower, unit)} to {show(upper, unit)}"]


def budget_of(one: Instrument, torque: float, w_driver: float | None = None) -> Budget:
    """Relative uncertainty of the torque at the fastener when the instrument is set to `torque` (N.m).

    Driver (its certificate, or `w_driver` at this setting, relative standard), resolution at this setting, adapter:
    where the hand pulls, angle, length; each multiplier; gauge, its resolution, ripple of the pump. A certificate
    that contains the resolution makes it count twice, on the safe side. Rows that contribute nothing are left out.
    """
    if not torque > 0:
        raise ValueError(f"the torque must be greater than zero: {torque} N.m")
    rows: list[Contribution] = []
    driver = one.driver
    at_driver = torque / one.ratio
    w = driver.w if w_driver is None else w_driver
    rows.append(contribution("w_driver", f"calibration of {name_of(driver)}", w, "standard", "its certificate",
                             degrees=driver.degrees))
    if one.gauge is None:
        rows.append(contribution("w_r", f"resolution of {name_of(driver)}", driver.resolution / at_driver,
                                 "rectangular, full width", "resolution over setting"))
    for part in one.parts:
        if isinstance(part, Multiplier):
            rows.append(contribution(f"w_i {part.serial}", f"ratio of {name_of(part)}, losses included", part.w,
                                     "standard", "its certificate", degrees=part.degrees))
        elif isinstance(part, Adapter):
            rows += _adapter_rows(driver, part)
        elif isinstance(part, Gauge):
            assert driver.torque_per_pressure is not None
            pressure = at_driver / driver.torque_per_pressure
            W = part.W_full_scale * part.upper / pressure
            rows.append(contribution("w_gauge", f"calibration of {name_of(part)}", W, "normal, k = 2",
                                     "share of full scale, over the setting"))
            rows.append(contribution("w_r", f"resolution of {name_of(part)}", part.resolution / pressure,
                                     "rectangular, full width", "resolution over setting"))
        elif isinstance(part, Pump):
            rows.append(contribution("w_pump", f"ripple of {name_of(part)} at the stall", part.ripple, HALF, "stated"))
    return budget(row for row in rows if row.estimate > 0 or row.symbol == "w_driver")


def _adapter_rows(driver: Driver, adapter: Adapter) -> list[Contribution]:
    """Relative changes of (L + E cos alpha)/L by hand position, angle and length, each rectangular about the stated."""
    assert driver.lever is not None
    L, E, alpha = driver.lever, adapter.length, adapter.angle
    if E == 0:
        return []
    hand = hand_sensitivity(L, E, alpha, adapter.hand_shift) if adapter.hand_shift else 0.0
    angle = angle_sensitivity(L, E, alpha, adapter.angle_error)
    length = abs(math.cos(alpha)) * adapter.length_error / (L + E * math.cos(alpha))
    return [
        contribution("w_hand", f"hand, {show(adapter.hand_shift, 'mm')} either way", hand, HALF, LEVER_LAW),
        contribution("w_angle", f"angle of the adapter, {show(adapter.angle_error, 'deg')} either way", angle, HALF,
                     LEVER_LAW),
        contribution("w_length", f"length of the adapter, {show(adapter.length_error, 'mm')} either way", length, HALF,
                     LEVER_LAW),
    ]
