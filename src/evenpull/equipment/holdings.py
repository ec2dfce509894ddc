"""All that is known of tools: items, assemblies, calibrations and what was written about them, by serial.

The mathematics lies in `evenpull.instrument`; here a register is turned into what it takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from itertools import pairwise

from evenpull.equipment.events import begin_of, end_of, ending_events, evidence_of, open_events
from evenpull.equipment.model import Assembly, Calibration, Item
from evenpull.equipment.simple import items_from, leaves_something, one_after_the_other, tool_from
from evenpull.instrument.assembly import Instrument, instrument
from evenpull.instrument.candidate import Candidate, JointClass, UseLimit
from evenpull.instrument.certificate import Certificate, Direction
from evenpull.instrument.interval import Due, IntervalRule, due
from evenpull.instrument.parts import Adapter, ChainError, Driver, Part, Pump, opened
from evenpull.instrument.period import Evidence
from evenpull.instrument.validity import last_day
from evenpull.ledger.entry import Entry
from evenpull.plan.model import Tool

Days = tuple[date, date, tuple[str, ...]]  # first, last, the numbers of the certificates then in force


@dataclass(frozen=True)
class Holdings:
    """`calibrations` of each serial by their first day; `entries` those about a tool, by serial. Serials as written."""

    items: Mapping[str, Item] = field(default_factory=dict)
    assemblies: Mapping[str, Assembly] = field(default_factory=dict)
    calibrations: Mapping[str, tuple[Calibration, ...]] = field(default_factory=dict)
    entries: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)

    @property
    def serials(self) -> tuple[str, ...]:
        return tuple(sorted({*self.items, *self.assemblies}))

    def name(self, serial: str) -> str:
        """What it is, in words; "" when it is not known."""
        known = self.items.get(serial) or self.assemblies.get(serial)
        return known.name if known is not None else ""

    @cached_property
    def _made_of(self) -> dict[str, tuple[str, ...]]:
        return {serial: one.parts for serial, one in self.assemblies.items()}

    def part_serials(self, serial: str) -> tuple[str, ...]:
        """The serials of the single items that a serial stands for, from the hand on; of an item itself alone.

        ChainError for an assembly that contains itself, an empty one, a part that stands twice.
        """
        return opened(serial, self._made_of)

    def used_in(self, serial: str) -> tuple[str, ...]:
        """The assemblies that hold this serial, at any depth, by serial."""
        return tuple(sorted(
            one for one in self.assemblies if one != serial and serial in self.parts_in(one)))

    def parts_in(self, serial: str) -> frozenset[str]:
        """Every serial that an assembly holds at any depth, assemblies in between too; () of an item."""
        return self._all_in(serial, frozenset())

    def _all_in(self, serial: str, path: frozenset[str]) -> frozenset[str]:
        if serial in path or serial not in self._made_of:
            return frozenset()
        below = path | {serial}
        parts = self._made_of[serial]
        return frozenset(parts).union(*(self._all_in(part, below) for part in parts))

    def driver(self, serial: str) -> Item | None:
        """The item of a chain that makes the torque; None where there is none."""
        found = (self.items.get(one) for one in self.part_serials(serial))
        return next((item for item in found if item is not None and item.drives), None)

    def chain(self, serial: str, day: date | None = None) -> Instrument:
        """The instrument that a serial stands for, with the uncertainty of the driver by the certificate in force on
        `day`, else by its last one, else as the register states it.

        ChainError: not known, a part that is not known, parts that make no instrument.
        """
        missing = self.missing(serial)
        if missing:
            raise ChainError(f"{serial}: {'; '.join(missing)}. Enter it in the register of equipment.")
        return instrument(self._parts(serial, day))

    def missing(self, serial: str) -> tuple[str, ...]:
        """What of a chain is not known, or can be no part of one, in words."""
        found = []
        for one in self.part_serials(serial):
            item = self.items.get(one)
            if item is None:
                found.append(f"{one} is not in the register")
            elif item.part is None:
                found.append(f"{one} is a {item.kind}, which is no part of a chain")
        return tuple(found)

    def _parts(self, serial: str, day: date | None) -> list[Part]:
        found: list[Part] = []
        for one in self.part_serials(serial):
            item = self.items.get(one)
            if item is None or item.part is None:
                continue
            part = item.part
            if isinstance(part, Driver) and (w := self._w(item, day)) is not None:
                part = replace(part, w=w)
            found += [part, *item.fixed]
        return found

    def _w(self, item: Item, day: date | None) -> float | None:
        """Largest w of the calibration of the day, or of the last; None where none says one."""
        known = self.calibrations.get(item.serial, ())
        then = self.calibration_on(item.serial, day) if day is not None else None
        chosen = then or (known[-1] if known else None)
        return None if chosen is None else chosen.largest_w

    def certificates(self, serial: str) -> tuple[Certificate, ...]:
        """By their first day; of a chain those of its driver."""
        return tuple(one.certificate for one in self.calibrations_of(serial))

    def calibrations_of(self, serial: str) -> tuple[Calibration, ...]:
        if serial in self.assemblies:
            driver = self.driver(serial)
            return () if driver is None else self.calibrations.get(driver.serial, ())
        return self.calibrations.get(serial, ())

    def calibration_on(self, serial: str, day: date) -> Calibration | None:
        """The calibration in force on a day; of a chain that of its driver."""
        known = self.calibrations_of(serial)
        own = [one.certificate for one in known]
        return next((one for one in reversed(known)
                     if one.certificate.valid_from <= day <= last_day(one.certificate, own)), None)

    def about(self, serial: str) -> tuple[Entry, ...]:
        """Every entry about a serial and, of a chain, about its parts and the assemblies in between, in time."""
        serials = {serial, *self.parts_in(serial)}
        found = (entry for one in serials for entry in self.entries.get(one, ()))
        return tuple(sorted(found, key=lambda e: (e.at, e.seq)))

    def rule(self, serial: str, calibration: Calibration | None) -> IntervalRule | None:
        """The interval rule of a calibration, else that of the item."""
        if calibration is not None and calibration.interval is not None:
            return calibration.interval
        item = self.items.get(serial)
        return None if item is None else item.interval

    def events(self, serial: str, day: date) -> tuple[str, ...]:
        """What happened to a serial, or to a part of it, and is not settled at the end of the day, in words."""
        found: list[str] = []
        inside = self.parts_in(serial)
        for one in dict.fromkeys((serial, *self.part_serials(serial), *sorted(inside))):
            item = self.items.get(one)
            done = [c for c in self.calibrations.get(one, ()) if c.certificate.calibrated <= day]
            last = max(done, key=lambda c: c.certificate.calibrated, default=None)
            calibrated = None if last is None else last.certificate.calibrated
            rule = None if item is None else self.rule(one, last)
            words = open_events(self.entries.get(one, ()), calibrated, rule, end_of(day))
            found += [text if one == serial else f"{one}: {text}" for text in words]
        return tuple(found)

    def due(self, serial: str, day: date, cycles: int | None = None) -> Due | None:
        """Where the calibration of a single item stands by its interval rule; None without rule or calibration.

        `cycles` since the calibration; not given, they are taken from the counter readings.
        """
        done = [c for c in self.calibrations.get(serial, ()) if c.certificate.calibrated <= day]
        last = max(done, key=lambda c: c.certificate.calibrated, default=None)
        rule = self.rule(serial, last)
        if last is None or rule is None:
            return None
        calibrated = last.certificate.calibrated
        counted = self.cycles(serial, day) if cycles is None else cycles
        return due(rule, calibrated, day, counted, ending_events(self.entries.get(serial, ()), calibrated, end_of(day)))

    def overdue(self, serial: str, day: date, cycles: int | None = None) -> tuple[str, ...]:
        """Why the interval rule of a single item says that its calibration has ended by the day, by time or by cycles,
        although its certificate may say another day. Events stand in `events`."""
        done = [c for c in self.calibrations.get(serial, ()) if c.certificate.calibrated <= day]
        last = max(done, key=lambda c: c.certificate.calibrated, default=None)
        rule = self.rule(serial, last)
        if last is None or rule is None:
            return ()
        counted = self.cycles(serial, day) if cycles is None else cycles
        return due(rule, last.certificate.calibrated, day, counted).reasons

    def cycles(self, serial: str, day: date) -> int | None:
        """Cycles since the last calibration by the tool's counter: the last reading of the day or before it, less that
        at the calibration. None where one of the two is not known, or the counter went back or was changed."""
        done = [c for c in self.calibrations.get(serial, ()) if c.certificate.calibrated <= day]
        last = max(done, key=lambda c: c.certificate.calibrated, default=None)
        if last is None or last.counter is None:
            return None
        begin, end = begin_of(last.certificate.calibrated), end_of(day)
        readings = [e for e in self.entries.get(serial, ())
                    if e.text("counter") and begin <= e.at.timestamp() <= end]
        if not readings or len({e.text("epoch") for e in readings}) > 1:
            return None
        counts = [last.counter, *(int(e.text("counter")) for e in sorted(readings, key=lambda e: (e.at, e.seq)))]
        if any(b < a for a, b in pairwise(counts)):
            return None
        return counts[-1] - counts[0]

    def candidate(self, serial: str, day: date, cycles: int | None = None) -> Candidate:
        """What `instrument.fitness` judges, on a day. `cycles` since the calibration; not given, by the counter.

        Parts that are not known stand in `missing`. ChainError where what is known makes no instrument.
        """
        missing = self.missing(serial)
        one = instrument(self._parts(serial, day))
        driver = self.items[one.driver.serial]
        calibration = self.calibration_on(driver.serial, day)
        rule = self.rule(driver.serial, calibration)
        allowed = None if rule is None else rule.cycles
        counted = self.cycles(driver.serial, day) if cycles is None else cycles
        return Candidate(
            instrument=one, certificates=self.certificates(driver.serial),
            part_certificates=self._part_certificates(one), directions=self._directions(one, driver),
            limits=self.limits(driver.serial, day), serves=self._serves(one, driver), missing=missing,
            events=self._against(serial, driver, day), cycles=counted, cycles_allowed=allowed,
            stated_W=None if calibration is None or calibration.certificate.points else calibration.stated_W,
        )

    def _against(self, serial: str, driver: Item, day: date) -> tuple[str, ...]:
        """Events not settled, and intervals that have ended before the certificate; the cycles of the driver are told
        by the fitness itself."""
        found = list(self.events(serial, day))
        for one in self.part_serials(serial):
            ended = self.overdue(one, day, 0 if one == driver.serial else None)
            found += [text if one == serial else f"{one}: {text}" for text in ended]
        return tuple(found)

    def _part_certificates(self, one: Instrument) -> dict[str, tuple[Certificate, ...]]:
        """Those of each part beside the driver; parts that belong to an item for good are calibrated with it."""
        owner = {part.serial: item.serial for item in self.items.values() for part in item.fixed}
        return {
            part.serial: self.certificates(owner.get(part.serial, part.serial))
            for part in one.parts if not isinstance(part, Driver)
        }

    def _directions(self, one: Instrument, driver: Item) -> tuple[Direction, ...]:
        """Those in which every part with a direction of its own turns: driver and multipliers."""
        turned = [driver, *(self.items[m.serial] for m in one.multipliers if m.serial in self.items)]
        return tuple(d for d in driver.directions if all(d in item.directions for item in turned))

    def _serves(self, one: Instrument, driver: Item) -> JointClass | None:
        """The strictest class that every part may serve; None where that of the driver is not stated."""
        if driver.serves is None:
            return None
        stated: list[JointClass] = [driver.serves]
        for serial in one.serials:
            item = self.items.get(serial)
            if item is not None and item.serves is not None:
                stated.append(item.serves)
        return max(stated)

    def limits(self, serial: str, day: date) -> tuple[UseLimit, ...]:
        """The limits on use of a single item on a day: its own and those of the certificate in force."""
        item, calibration = self.items.get(serial), self.calibration_on(serial, day)
        own = () if item is None else item.limits
        return own if calibration is None else (*own, *calibration.limits)

    def evidence(self, serial: str) -> tuple[Evidence, ...]:
        """What speaks for a serial or against it, in time: calibrations and shift checks; of a chain those of its
        driver, and the shift checks of the chain as a whole."""
        entries = list(self.entries.get(serial, ()))
        if serial in self.assemblies and (driver := self.driver(serial)) is not None:
            entries += self.entries.get(driver.serial, ())
        return evidence_of(self.calibrations_of(serial), entries)

    def in_force(self, serial: str) -> tuple[Days, ...]:
        """The stretches of days on which every part that needs a certificate has one, by their first day; the number of
        the driver's first. A driver, a multiplier and a gauge need one; a pump or an adapter that has any."""
        stretches: list[Days] = [(date.min, date.max, ())]
        driver = self.driver(serial)
        needed = 0
        for one in sorted(self.part_serials(serial), key=lambda s: driver is None or s != driver.serial):
            item = self.items.get(one)
            found = self.certificates(one)
            if item is None or item.part is None or (not found and isinstance(item.part, Pump | Adapter)):
                continue
            needed += 1
            stretches = [
                (max(first, c.valid_from), min(last, last_day(c, found)), (*numbers, c.id))
                for first, last, numbers in stretches for c in found
                if max(first, c.valid_from) <= min(last, last_day(c, found))
            ]
        return tuple(sorted(stretches)) if needed else ()

    def as_tools(self, serial: str) -> tuple[Tool, ...]:
        """The chain as entries of the simple register, one for each stretch of days on which it is calibrated as a
        whole, so that settings, cards and judgement take it; the numbers of several certificates stand together.

        () for what makes no torque, for parts that alone are no instrument (a hydraulic wrench without pump and gauge),
        and where limits on use leave nothing of the scale; `chain` and `candidate` say why.
        """
        driver = self.driver(serial)
        try:
            self.chain(serial)
        except ChainError:
            return ()
        assert driver is not None
        found = []
        for first, last, numbers in self.in_force(serial):
            limits = self.limits(driver.serial, first)
            one = self.chain(serial, first)
            if leaves_something(one, limits):
                told = " + ".join(dict.fromkeys(numbers))
                found.append(tool_from(serial, self.name(serial), driver, one, told, first, last, limits))
        return tuple(found)

    def as_tool(self, serial: str, certificate: Certificate) -> Tool:
        """The entry of the first stretch of days on which this certificate of the driver counts.

        ValueError where there is none: another part had no certificate then, or the certificate is not the driver's.
        """
        driver = self.driver(serial)
        own = () if driver is None else self.certificates(driver.serial)
        if driver is not None and certificate in own:
            last = last_day(certificate, own)
            for tool in self.as_tools(serial):
                if certificate.valid_from <= tool.certificate_from <= last:
                    return tool
        raise ValueError(f"{serial} was at no time calibrated as a whole under certificate {certificate.id}")

    def with_entries(self, entries: Mapping[str, Sequence[Entry]]) -> Holdings:
        return replace(self, entries={serial: tuple(some) for serial, some in entries.items()})

    def joined(self, tools: Iterable[Tool]) -> Holdings:
        """These holdings with the entries of the simple register beside them. Where a serial stands in both, it is what
        the register of equipment says; the certificates of both count, and one without points gives way."""
        items, calibrations = items_from(tools)
        both = dict(self.calibrations)
        for serial, some in calibrations.items():
            both[serial] = one_after_the_other((*both.get(serial, ()), *some))
        known = {serial: item for serial, item in items.items() if serial not in self.assemblies}
        return replace(self, items={**known, **self.items}, calibrations=both)

    @classmethod
    def from_tools(cls, tools: Iterable[Tool]) -> Holdings:
        """The simple register alone."""
        return cls().joined(tools)


def holdings(
    items: Iterable[Item], assemblies: Iterable[Assembly], calibrations: Iterable[Calibration],
) -> Holdings:
    """Holdings of what was read; of two items or assemblies with one serial, and of two certificates of one item with
    one number, the later counts. A certificate without a permissible deviation is judged by that of its item."""
    known = {one.serial: one for one in items}
    by_serial: dict[str, dict[str, Calibration]] = {}
    for one in calibrations:
        item = known.get(one.serial)
        if one.permissible is None and item is not None and item.permissible is not None:
            one = replace(one, permissible=item.permissible)
        by_serial.setdefault(one.serial, {})[one.number] = one
    ordered = {
        serial: tuple(sorted(some.values(), key=lambda c: (c.certificate.valid_from, c.number)))
        for serial, some in by_serial.items()
    }
    return Holdings(known, {a.serial: a for a in assemblies}, ordered)
