"""The schema of a register of equipment: keys, what they mean, what is allowed.

The texts beside each key are the one source for the help on the page and the commented template. What several keys say
together is checked in `read`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, PlainValidator

from evenpull.instrument.certificate import DIRECTIONS
from evenpull.instrument.interval import MOST_MONTHS
from evenpull.plan.keys import Table, key
from evenpull.plan.schema import CLASSES, Length, Serial, Torque
from evenpull.plan.values import (
    Note,
    Share,
    Text,
    Texts,
    choice,
    line_text,
    number_within,
    quantity,
    quantity_range,
    refuse,
    shown,
    whole_within,
)
from evenpull.quantities import Measured, UnitError, parse, units_for
from evenpull.quantities.measured import Kind

EQUIPMENT_FORM = "evenpull equipment 1"
TORQUE_KINDS = ("indicating", "setting", "powered")
EVENT_WORDS = ("drop", "overload", "repair")
SCALES: tuple[Kind, ...] = ("torque", "stress", "angle", "length", "force")  # what a scale may show

AngleOrZero = Annotated[Measured, quantity("angle", 1e-3, 2 * 3.1416, zero=True)]
LengthOrZero = Annotated[Measured, quantity("length", 1e-5, 1.0, zero=True)]


def _scale_value(value: object) -> Measured:
    """A value of a scale, in whatever quantity; which one fits is checked with the unit."""
    allowed = "a value with its unit: N.m, lbf.ft, bar, psi, deg, mm, kN ..."
    if not isinstance(value, str):
        raise refuse(f"{shown(value)} has no unit" if isinstance(value, int | float) else
                     f"{shown(value)} is not a value with a unit", allowed)
    text = line_text(value, most=60)
    for kind in SCALES:
        try:
            read = parse(text, kind)
        except UnitError:
            continue
        if not 0 <= read.si <= 1e12:
            raise refuse(f"{shown(text)} cannot stand on a scale", "zero or more")
        return read
    raise refuse(f"{shown(text)} is not a value with a unit that is known", allowed)


def _scale_range(value: object) -> tuple[Measured, Measured]:
    allowed = 'two values with one kind of unit, the lower first: ["40 N.m", "200 N.m"]'
    if not isinstance(value, list) or len(value) != 2:
        raise refuse(f"{shown(value)} is not a range", allowed)
    lower, upper = _scale_value(value[0]), _scale_value(value[1])
    if lower.kind != upper.kind:
        raise refuse(f"{shown(value)} is from a {lower.kind} to a {upper.kind}", allowed)
    if lower.si >= upper.si:
        raise refuse(f"{shown(value)} does not rise", allowed)
    return lower, upper


def _pair(value: object) -> tuple[Measured, Measured]:
    allowed = 'a torque and the pressure that gives it: ["2600 N.m", "690 bar"]'
    if not isinstance(value, list) or len(value) != 2 or not all(isinstance(one, str) for one in value):
        raise refuse(f"{shown(value)} is not a torque and a pressure", allowed)
    try:
        torque, pressure = parse(line_text(value[0], most=60), "torque"), parse(line_text(value[1], most=60), "stress")
    except UnitError as error:
        raise refuse(f"{shown(error.text)} is not a {'pressure' if error.kind == 'stress' else error.kind}: "
                     f"{error.reason}", allowed) from None
    if not (1e-3 <= torque.si <= 1e6 and 1e3 <= pressure.si <= 1e9):
        raise refuse(f"{shown(value)}: no such torque and pressure occur here", allowed)
    return torque, pressure


def _directions(value: object) -> tuple[str, ...]:
    allowed = 'a list of clockwise, anticlockwise: ["clockwise", "anticlockwise"]'
    if not isinstance(value, list) or not value or any(one not in DIRECTIONS[:2] for one in value):
        raise refuse(f"{shown(value)} is not a list of directions", allowed)
    if len(set(value)) != len(value):
        raise refuse(f"{shown(value)} names a direction twice", allowed)
    return tuple(value)


def _pressure(value: object) -> Measured:
    allowed = f"a pressure with its unit, 1 kPa to 1 GPa; units: {', '.join(units_for('stress'))}"
    read = _scale_value(value)
    if read.kind != "stress" or not 1e3 <= read.si <= 1e9:
        raise refuse(f"{shown(value)} is not a pressure this can be", allowed)
    return read


def _events(value: object) -> tuple[str, ...]:
    allowed = f"a list of {', '.join(EVENT_WORDS)}; each once"
    if not isinstance(value, list) or any(one not in EVENT_WORDS for one in value) or len(set(value)) != len(value):
        raise refuse(f"{shown(value)} is not a list of events", allowed)
    return tuple(value)


Pressure = Annotated[Measured, PlainValidator(_pressure)]
ScaleValue = Annotated[Measured, PlainValidator(_scale_value)]
ScaleRange = Annotated[tuple[Measured, Measured], PlainValidator(_scale_range)]
Directions = Annotated[tuple[str, ...], PlainValidator(_directions)]
TorqueRange = Annotated[tuple[Measured, Measured], quantity_range("torque", 1e-3, 1e6)]
_RATIO = number_within(0.1, 1000, "a ratio this can be")
_SHARES = 'share such as "4 %", at most 30 %'


class IntervalTable(Table):
    months: Annotated[int, whole_within(1, MOST_MONTHS, "months are no interval")] | None = key(
        "due again after so many months", "12", None, allowed=f"1 to {MOST_MONTHS}; months, cycles or both")
    cycles: Annotated[int, whole_within(1, 10_000_000, "cycles are no interval")] | None = key(
        "due again after so many cycles", "5000", None, allowed="1 or more; months, cycles or both")
    after: Annotated[tuple[str, ...], PlainValidator(_events)] = key(
        "events that end the calibration at once", '["drop", "overload", "repair"]', (),
        allowed="a list of drop, overload, repair")
    source: Text = key("whose rule it is", '"KN-Q-011 section 4"', allowed="text")


class LimitTable(Table):
    range: ScaleRange = key("good from ... to ... only", '["60 N.m", "180 N.m"]', allowed="two values, rising")
    reason: Text = key("why", '"reads 6 % high below 60 N.m"', allowed="text")


class Common(Table):
    serial: Serial = key("serial", '"TW-0301"', allowed="1 to 40 letters, digits, blanks, . _ / -")
    name: Text = key("what it is", '"Indicating torque wrench with dial"', allowed="text")
    maker: Text | None = key("who made it, and its model", '"Skerrow Works, model 4"', None, allowed="text")
    owner: Text | None = key("whose it is", '"tool store 2"', None, allowed="text")
    place: Text | None = key("where it is kept", '"cabinet 4"', None, allowed="text")
    note: Note | None = key("what else is worth knowing", '"Dial glass changed 2025."', None, allowed="text")


class Calibrated(Common):
    permissible: Share | None = key("permissible deviation either way", '"4 %"', None, allowed=_SHARES)
    interval: IntervalTable | None = None
    limit: Annotated[tuple[LimitTable, ...], Field(max_length=10)] = ()


class TurningTable(Calibrated):
    drive: Text = key("size of the drive (square of ISO 1174), or what carries the socket", '"12.5"', allowed="text")
    directions: Directions = key("which way it may be used", '["clockwise"]', ("clockwise",),
                                 allowed="a list of clockwise, anticlockwise")
    serves: Annotated[str, choice(*CLASSES)] | None = key(
        "strictest class of joint it may serve: A danger, B function, C the rest", '"A"', None, choices=CLASSES)


class DriverTable(TurningTable):
    unit: Text = key("unit of its scale", '"N.m"', allowed="N.m, lbf.ft, lbf.in, ...")
    range: TorqueRange = key("lowest marked and highest value of the scale", '["40 N.m", "200 N.m"]',
                             allowed="two torques, rising", unit="N.m, lbf.ft")
    resolution: Torque = key("smallest step of the scale", '"1 N.m"', allowed="torque", unit="N.m, lbf.ft")
    permissible: Share = key("permissible deviation either way; counts as its uncertainty until a certificate or "
                             "uncertainty says more", '"4 %"', allowed=_SHARES)
    uncertainty: Share | None = key("expanded uncertainty (k = 2) where no certificate with points is at hand",
                                    '"2.4 %"', None, allowed=_SHARES)


class TorqueToolTable(DriverTable):
    kind: Annotated[str, choice(*TORQUE_KINDS)] = key("indicating, setting (both by hand) or powered",
                                                      '"indicating"', choices=TORQUE_KINDS)
    type_class: Text | None = key("type and class after ISO 6789-1", '"type I class B"', None, allowed="text")
    lever: Length | None = key("from the hand mark to the drive centre; needed for use with an adapter", '"480 mm"',
                               None, allowed="length", unit="mm, in")


class HydraulicToolTable(DriverTable):
    gives: Annotated[tuple[Measured, Measured], PlainValidator(_pair)] = key(
        "torque and the pressure that gives it, as measured or by the maker's table", '["2600 N.m", "690 bar"]',
        allowed="a torque and a pressure")


class MultiplierTable(TurningTable):
    ratio: Annotated[float, _RATIO] | None = key(
        "torque out over torque in as measured, losses included", "13.2", None,
        allowed="0.1 to 1000; ratio, or gear_ratio with efficiency")
    gear_ratio: Annotated[float, _RATIO] | None = key("ratio of its gears by their teeth", "13.8", None,
                                                      allowed="0.1 to 1000")
    efficiency: Annotated[float, number_within(0.3, 1.0, "an efficiency this can be")] | None = key(
        "share of the torque that is left after losses", "0.956", None, allowed="0.3 to 1")
    uncertainty: Share = key("expanded uncertainty (k = 2) of the ratio or of the efficiency", '"3 %"', allowed=_SHARES)
    strongest: Torque | None = key("highest torque out that it bears", '"2700 N.m"', None, allowed="torque",
                                   unit="N.m, lbf.ft")


class AdapterTable(Common):
    drive: Text = key("size of the drive (square of ISO 1174)", '"12.5"', allowed="text")
    length: Length = key("from the drive centre to the fastener centre", '"60 mm"', allowed="length", unit="mm, in")
    angle: AngleOrZero = key("between handle line and adapter: 0 straight out, 90 square, 180 folded back", '"0 deg"',
                             allowed="angle, 0 to 360 deg", unit="deg")
    length_error: LengthOrZero | None = key("how far its length may be off, either way", '"0.5 mm"', None,
                                            allowed="length; left out: 0.5 mm", unit="mm, in")
    angle_error: AngleOrZero | None = key("how far its angle may be off, either way", '"2 deg"', None,
                                          allowed="angle; left out: 2 deg", unit="deg")
    hand_shift: LengthOrZero | None = key("how far the hand may pull beside its mark, either way", '"10 mm"', None,
                                          allowed="length; left out: 10 mm", unit="mm, in")
    strongest: Torque | None = key("highest torque that it bears", '"700 N.m"', None, allowed="torque",
                                   unit="N.m, lbf.ft")


class PumpTable(Calibrated):
    strongest: Pressure = key("highest pressure", '"700 bar"', allowed="pressure", unit="bar, psi, MPa")
    ripple: Share | None = key("how far the pressure at the stall may be from what is dialled, either way", '"1 %"',
                               None, allowed=_SHARES)


class GaugeTable(Calibrated):
    unit: Text = key("unit of its scale", '"bar"', allowed=", ".join(units_for("stress")))
    range: Annotated[tuple[Measured, Measured], PlainValidator(_scale_range)] = key(
        "lowest and highest value of the scale", '["0 bar", "700 bar"]', allowed="two pressures, rising",
        unit="bar, psi, MPa")
    resolution: Pressure = key("smallest step that can be read", '"5 bar"', allowed="pressure", unit="bar, psi, MPa")
    accuracy: Share = key("expanded uncertainty (k = 2) as a share of full scale, as its class states it", '"1 %"',
                          allowed=_SHARES)


class DeviceTable(Calibrated):
    unit: Text = key("unit of its scale", '"N.m"', allowed="a unit of torque, pressure, angle, length or force")
    range: ScaleRange = key("lowest and highest value of the scale", '["10 N.m", "500 N.m"]',
                            allowed="two values, rising")
    resolution: ScaleValue = key("smallest step of the scale", '"0.1 N.m"', allowed="a value with its unit")
    uncertainty: Share | None = key("expanded uncertainty (k = 2) where no certificate with points is at hand",
                                    '"0.5 %"', None, allowed=_SHARES)


class AssemblyTable(Table):
    serial: Serial = key("serial under which the chain is used and recorded", '"CH-0007"',
                         allowed="1 to 40 letters, digits, blanks, . _ / -")
    name: Text = key("what it is", '"Multiplier chain of the turbine floor"', allowed="text")
    parts: Texts = key("serials of its parts from the hand (or the pump) to the fastener", '["TW-0301", "TM-0044"]',
                       allowed="serials of equipment or of other assemblies")
    place: Text | None = key("where it is kept", '"cabinet 4"', None, allowed="text")
    note: Note | None = key("what else is worth knowing", '"Always this wrench with this multiplier."', None,
                            allowed="text")


_MANY = Field(max_length=5000)


class EquipmentFile(Table):
    form: Annotated[str, choice(EQUIPMENT_FORM)] = key("mark of the file", f'"{EQUIPMENT_FORM}"',
                                                       choices=(EQUIPMENT_FORM,))
    torque_tool: Annotated[tuple[TorqueToolTable, ...], _MANY] = ()
    hydraulic_tool: Annotated[tuple[HydraulicToolTable, ...], _MANY] = ()
    multiplier: Annotated[tuple[MultiplierTable, ...], _MANY] = ()
    adapter: Annotated[tuple[AdapterTable, ...], _MANY] = ()
    pump: Annotated[tuple[PumpTable, ...], _MANY] = ()
    gauge: Annotated[tuple[GaugeTable, ...], _MANY] = ()
    angle_device: Annotated[tuple[DeviceTable, ...], _MANY] = ()
    stretch_device: Annotated[tuple[DeviceTable, ...], _MANY] = ()
    check_device: Annotated[tuple[DeviceTable, ...], _MANY] = ()
    reference_standard: Annotated[tuple[DeviceTable, ...], _MANY] = ()
    assembly: Annotated[tuple[AssemblyTable, ...], _MANY] = ()
