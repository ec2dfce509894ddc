"""What a record states of its tool (records fields 26 to 28) against what the register says of it on that day."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date

from evenpull.equipment.tool_fitness import ToolFitness
from evenpull.instrument.assembly import Instrument
from evenpull.instrument.candidate import PassValue
from evenpull.instrument.certificate import Certificate
from evenpull.instrument.parts import Adapter, Pump
from evenpull.intake.record import Particular, Tightening
from evenpull.ledger.people import folded, names_nobody
from evenpull.plan.model import Tool
from evenpull.quantities import UnitError, canonical_unit, show, unit_shown

COMPARED = (
    "certificate", "certificate_due", "adapter", "adapter_length", "adapter_angle", "multiplier", "multiplier_ratio",
    "pump", "gauge", "setting",
)  # fmt: skip
WITHOUT = frozenset({"none", "no", "without", "no adapter", "without adapter", "no multiplier", "without multiplier"})
RATIO_CLOSE = 0.005  # share by which a written ratio may differ from the measured one; common practice, no source
_NUMBER = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(.*)")
_RATIO = re.compile(r"(?:1\s*:\s*)?([0-9]+(?:[.,][0-9]+)?)(?:\s*(?::|to)\s*1)?")


def stated_otherwise(
    record: Tightening, value: PassValue, days: tuple[date, date], fit: ToolFitness, entries: Sequence[Tool],
) -> tuple[tuple[str, ...], bool]:
    """(each difference in words, whether one of them leaves open what the value means). `entries`: the tool in the
    form of the simple register, which keeps the name of an adapter. What the record does not state is not compared, nor
    a text that cannot be read as what it should be."""
    said = {name: record.particulars[name] for name in COMPARED if name in record.particulars}
    said = {name: one for name, one in said.items() if folded(one.text) in WITHOUT or not names_nobody(one.text)}
    if not said:
        return (), False
    chain = fit.instrument(record.tool, days[0])
    if chain is None:
        return (), False
    found = [*_certificate(said, record.tool, days, fit), *_adapter(said, chain, entries), *_others(said, chain)]
    setting, inside = _setting(said, record.tool, value, days[0], fit)
    return (*found, *setting), bool(found) or not inside


def _certificate(
    said: dict[str, Particular], serial: str, days: tuple[date, date], fit: ToolFitness,
) -> Iterator[str]:
    """Only where the register has one for that day; that it has none is a flag of its own."""
    then = fit.certificates(serial, days)
    if not then:
        return
    if (one := said.get("certificate")) is not None and folded(one.text) not in _numbers(then):
        known = " + ".join(f"{c.id} ({c.valid_from} to {c.valid_until})" for c in then)
        yield f"the record states certificate {one.text}, on {days[0]} the register has {known}"
    if (due := said.get("certificate_due")) is not None:
        try:
            stated = date.fromisoformat(due.text)
        except ValueError:
            return
        if all(stated != c.valid_until for c in then):
            yield (f"the record states that the certificate ends on {stated}, by the register on "
                   f"{', '.join(str(d) for d in sorted({c.valid_until for c in then}))}")


def _numbers(then: Sequence[Certificate]) -> set[str]:
    """What counts as naming the certificates: one of them, or all as they stand together."""
    return {folded(c.id) for c in then} | {folded(" + ".join(c.id for c in then))}


def _adapter(said: dict[str, Particular], chain: Instrument, entries: Sequence[Tool]) -> Iterator[str]:
    adapter = chain.adapter
    names = {folded(tool.adapter) for tool in entries if tool.adapter}
    if adapter is not None:
        names.add(folded(adapter.serial))
    if (one := said.get("adapter")) is not None:
        told = folded(one.text)
        if adapter is None and told not in WITHOUT:
            yield f"the record states adapter {one.text}, by the register the tool is used without one"
        elif adapter is not None and told in WITHOUT:
            yield f"the record states no adapter, by the register the tool is used with {_named(adapter, entries)}"
        elif adapter is not None and not any(told in name or name in told for name in names):
            yield f"the record states adapter {one.text}, the register {_named(adapter, entries)}"
    if adapter is None:
        return
    length, angle = said.get("adapter_length"), said.get("adapter_angle")
    if length is not None and length.si is not None and (
        abs(length.si - adapter.length) > adapter.length_error * (1 + 1e-9)
    ):
        stated = _quantity(length)
        yield f"the record states an adapter of {stated}, the register {show(adapter.length, 'mm')}"
    if angle is not None and angle.si is not None:
        turned = math.remainder(abs(angle.si) - abs(adapter.angle), 2 * math.pi)
        if abs(turned) > adapter.angle_error * (1 + 1e-9):
            yield f"the record states the adapter at {_quantity(angle)}, the register {show(adapter.angle, 'deg')}"


def _quantity(one: Particular) -> str:
    """As it was received, with its unit where that stands in another place."""
    return one.text if not one.unit or one.unit in one.text else f"{one.text} {one.unit}"


def _named(adapter: Adapter, entries: Sequence[Tool]) -> str:
    return next((f"adapter {tool.adapter}" for tool in entries if tool.adapter), f"adapter {adapter.serial}")


def _others(said: dict[str, Particular], chain: Instrument) -> Iterator[str]:
    gear = [one.serial for one in chain.multipliers]
    pumps = [part.serial for part in chain.parts if isinstance(part, Pump)]
    gauges = [] if chain.gauge is None else [chain.gauge.serial]
    for name, known in (("multiplier", gear), ("pump", pumps), ("gauge", gauges)):
        if (one := said.get(name)) is None:
            continue
        told = folded(one.text)
        if told in WITHOUT:
            if known:
                yield f"the record states no {name}, by the register it is used with {', '.join(known)}"
        elif told not in {folded(serial) for serial in known} and not _belongs(known):
            is_known = f"the register {', '.join(known)}" if known else f"by the register it is used without a {name}"
            yield f"the record states {name} {one.text}, {is_known}"
    if (ratio := said.get("multiplier_ratio")) is not None and (match := _RATIO.fullmatch(ratio.text.strip())):
        stated = float(match[1].replace(",", "."))
        if abs(stated / chain.multiplied - 1) > RATIO_CLOSE:
            yield f"the record states a multiplier of {stated:g} to 1, the register {chain.multiplied:g} to 1"


def _belongs(serials: Sequence[str]) -> bool:
    """A part that belongs to its tool for good has no serial of its own in the register."""
    return any(serial.endswith(" multiplier") for serial in serials)


def _setting(
    said: dict[str, Particular], serial: str, value: PassValue, day: date, fit: ToolFitness,
) -> tuple[list[str], bool]:
    """(difference, whether the setting stated still gives a torque inside the window)."""
    one, dialled = said.get("setting"), None
    if one is not None and (match := _NUMBER.fullmatch(one.text.strip())):
        found = fit.setting(serial, value, day)
        dialled = None if found is None else found.setting
        if dialled is not None:
            unit = match[2] or one.unit
            try:
                same = not unit or canonical_unit(unit, "torque") == dialled.unit
            except UnitError:
                same = unit == dialled.unit
            shown = f"{one.text} {one.unit}".strip()
            if not same:
                return [f"the record states a setting of {shown}, the tool is set in {unit_shown(dialled.unit)}"], False
            stated = float(match[1].replace(",", "."))
            if abs(stated - dialled.value) > 1e-6 * dialled.value:
                torque = dialled.torque * stated / dialled.value
                inside = value.lower * (1 - 1e-9) <= torque <= value.upper * (1 + 1e-9)
                where = "inside" if inside else "outside"
                return [
                    f"the record states a setting of {shown}, for {show(value.torque, 'N.m')} it is {dialled.digits} "
                    f"{unit_shown(dialled.unit)}; what it states gives {show(torque, 'N.m')}, {where} the window "
                    f"{show(value.lower, 'N.m')} to {show(value.upper, 'N.m')}"
                ], inside
    return [], True
