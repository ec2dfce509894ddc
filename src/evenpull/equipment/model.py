"""What a store of tools holds: single items, assemblies of them, and their calibrations.

Values in SI in the quantity of an item's unit (N.m, Pa, rad, m, N); uncertainties and deviations are shares.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from evenpull.instrument.acceptance import Acceptance, judge_points
from evenpull.instrument.budget import Budget, Contribution, budget
from evenpull.instrument.candidate import JointClass, UseLimit
from evenpull.instrument.certificate import Certificate, Direction, Stage
from evenpull.instrument.conformity import SIMPLE, DecisionRule
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.iso6789 import PointReadings, PointResult, calibrated_point
from evenpull.instrument.parts import Driver, Part
from evenpull.quantities import Kind as Quantity
from evenpull.quantities import kind_of

ItemKind = Literal[
    "indicating", "setting", "powered", "hydraulic", "multiplier", "adapter", "pump", "gauge", "angle device",
    "stretch device", "check device", "reference standard",
]  # fmt: skip
ITEM_KINDS: tuple[ItemKind, ...] = get_args(ItemKind)
DRIVERS: tuple[ItemKind, ...] = ("indicating", "setting", "powered", "hydraulic")  # what makes a torque


@dataclass(frozen=True, slots=True)
class Scale:
    """From the lowest marked value to the end, with the smallest step, SI; None where no step is known."""

    lower: float
    upper: float
    resolution: float | None


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing with a serial. `type_class` after ISO 6789-1 as written ("type I class B"), "" where it has none.

    `scale` None for what shows nothing (adapter, multiplier, pump); `unit` then is "". `drive` the size of the square
    (ISO 1174) or what else carries the socket. `permissible` deviation either way, share; None where none is stated.
    `part` is the item in a chain, None for a device that makes no torque and carries none. `fixed` are parts that
    belong to it for good and are calibrated with it, from the hand on. `stated_W` expanded uncertainty (k = 2) of the
    whole scale that stands in the register, not in a certificate.
    """

    serial: str
    name: str
    kind: ItemKind
    type_class: str = ""
    unit: str = ""
    scale: Scale | None = None
    drive: str = ""
    maker: str = ""
    owner: str = ""
    place: str = ""
    directions: tuple[Direction, ...] = ("clockwise",)
    serves: JointClass | None = None
    permissible: float | None = None
    limits: tuple[UseLimit, ...] = ()
    interval: IntervalRule | None = None
    part: Part | None = None
    fixed: tuple[Part, ...] = ()
    stated_W: float | None = None
    note: str = ""

    @property
    def quantity(self) -> Quantity | None:
        """What its scale shows; None where it shows nothing."""
        return kind_of(self.unit) if self.unit else None

    @property
    def drives(self) -> bool:
        return isinstance(self.part, Driver)


@dataclass(frozen=True, slots=True)
class Assembly:
    """Parts by serial, in the order from the hand (or the pump) to the fastener; used and recorded under its serial.

    A part may be an assembly itself.
    """

    serial: str
    name: str
    parts: tuple[str, ...]
    place: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """One certificate of one item with what stands round its points. `unit` is that of the values as written.

    `contributions` are the rows of an uncertainty budget stated for the whole certificate, shares of the value;
    `readings` by index of the point are what ISO 6789-2 computes a budget of that point from. `limits` are its limits
    on use, `interval` its own rule, None for that of the item. `counter` is the reading of the tool's counter at the
    calibration. `stated_W` belongs to a certificate kept without points.
    """

    serial: str
    certificate: Certificate
    unit: str
    rule: DecisionRule = SIMPLE
    permissible: float | None = None
    laboratory: str = ""
    by: str = ""  # who calibrated
    conditions: str = ""
    k: float = 2.0
    limits: tuple[UseLimit, ...] = ()
    interval: IntervalRule | None = None
    contributions: tuple[Contribution, ...] = ()
    readings: Mapping[int, PointReadings] = field(default_factory=dict)
    counter: int | None = None
    adjusted: str = ""  # what was done between as found and as left
    stated_W: float | None = None
    source: str = ""  # the file it was read from
    note: str = ""

    @property
    def number(self) -> str:
        return self.certificate.id

    @property
    def quantity(self) -> Quantity:
        return kind_of(self.unit)

    @property
    def left(self) -> Stage:
        """The stage that says what it was left with: as found where nobody adjusted it."""
        return "as left" if any(p.stage == "as left" for p in self.certificate.points) else "as found"

    def judged(self, stage: Stage) -> Acceptance | None:
        """Each point of a stage by the decision rule; None where no permissible deviation is stated, or no point.

        ValueError as of `judge_points`: a measurement too coarse for the rule.
        """
        if self.permissible is None or not any(p.stage == stage for p in self.certificate.points):
            return None
        return judge_points(self.certificate, stage, self.permissible, self.rule)

    def point_result(self, index: int) -> PointResult | None:
        """Deviation, budget and interval after ISO 6789-2 of the point, from its readings; None without readings."""
        found = self.readings.get(index)
        return None if found is None else calibrated_point(found)

    def budget(self) -> Budget | None:
        """The budget stated for the whole certificate, k from its effective degrees of freedom; None without one."""
        return budget(self.contributions) if self.contributions else None

    @property
    def largest_w(self) -> float | None:
        """The largest relative standard uncertainty of what it was left with; None where nothing is known of it."""
        found = [p.w for p in self.certificate.points if p.stage == self.left]
        if found:
            return max(found)
        return None if self.stated_W is None else self.stated_W / 2
