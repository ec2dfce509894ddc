"""The fitness gate: which tools are fit for every pull of a plan on a day, and why the others are not.

Holdings --ToolFitness--> `Judged` for each serial, `Table` for a plan, reasons against one use. The mathematics is
`instrument.fitness`; here it meets plan and register. Torques in N.m at the fastener.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

from evenpull.equipment.events import open_events
from evenpull.equipment.gate import Judged, PullValue, Table, in_order, pull_values
from evenpull.equipment.holdings import Holdings
from evenpull.equipment.model import Item
from evenpull.instrument.assembly import Instrument
from evenpull.instrument.candidate import Candidate, Fitness, JointClass, PassFitness, PassValue, Reason
from evenpull.instrument.certificate import Certificate
from evenpull.instrument.fitness import cycles_reason, fitness
from evenpull.instrument.parts import ChainError
from evenpull.instrument.validity import last_day
from evenpull.plan.model import Plan

REMEMBERED = 20_000  # judgements kept by one ToolFitness


class ToolFitness:
    """Judges tools of one state of the register. It keeps what it found: the register that it was made with does not
    change, and many records ask the same."""

    def __init__(self, held: Holdings) -> None:
        self.held = held
        self._candidates: dict[tuple[str, date], Candidate | str] = {}
        self._done: dict[tuple[str, date, JointClass, PassValue], tuple[Reason, ...]] = {}
        self._judged: dict[tuple[str, tuple[PullValue, ...], date, JointClass, bool], Judged] = {}
        self._parts: dict[str, tuple[str, ...]] = {}

    def judged(
        self, serial: str, values: Sequence[PullValue], day: date, joint_class: JointClass, *, allowed: bool = True,
    ) -> Judged:
        """One tool for all these pulls on a day. A serial that is not in the register is refused as such."""
        key = serial, tuple(values), day, joint_class, allowed
        if key not in self._judged:
            if len(self._judged) > REMEMBERED:
                self._judged.clear()
            self._judged[key] = self._made_judged(*key)
        return self._judged[key]

    def _made_judged(
        self, serial: str, values: tuple[PullValue, ...], day: date, joint_class: JointClass, allowed: bool,
    ) -> Judged:
        driver = self._driver(serial)
        place = self._place(serial) or ("" if driver is None else driver.place)
        told = serial, self.held.name(serial), place, allowed, values
        found = self._candidate(serial, day)
        if isinstance(found, str):
            return Judged(*told, None, found)
        try:
            return Judged(*told, self._fitness(serial, found, [v.value for v in values], day, joint_class))
        except ValueError as error:  # certificates that overlap
            return Judged(*told, None, str(error))

    def _driver(self, serial: str) -> Item | None:
        try:
            return self.held.driver(serial)
        except ChainError:  # an assembly that contains itself, or has no parts
            return None

    def _place(self, serial: str) -> str:
        known = self.held.items.get(serial) or self.held.assemblies.get(serial)
        return known.place if known is not None else ""

    def _candidate(self, serial: str, day: date) -> Candidate | str:
        """What is judged, or why there is nothing to judge."""
        key = serial, day
        if key not in self._candidates:
            if len(self._candidates) > REMEMBERED:
                self._candidates.clear()
            self._candidates[key] = self._made(serial, day)
        return self._candidates[key]

    def _made(self, serial: str, day: date) -> Candidate | str:
        if serial not in self.held.items and serial not in self.held.assemblies:
            return f"{serial} is not in the register: enter it with its certificate"
        try:
            if lacking := self.held.missing(serial):
                return f"the chain is not complete: {'; '.join(lacking)}"  # without it no range and no setting is known
            return self.held.candidate(serial, day)
        except ChainError as error:
            return str(error)

    def _fitness(
        self, serial: str, candidate: Candidate, values: Sequence[PassValue], day: date, joint_class: JointClass,
    ) -> Fitness:
        candidate, asked, notes = self._of_class(serial, candidate, joint_class)
        happened = self.held.events(serial, day)
        over = [text for text in candidate.events if text not in happened]
        notes = (*(Reason("interval", False, f"its interval is over: {text}") for text in over), *notes)
        found = fitness(replace(candidate, events=happened), values, day, asked)
        if candidate.stated_W is not None:
            notes = (*notes, Reason("no points", True, "its certificate is kept without points: no deviation is known, "
                                    "and the uncertainty stated in the register counts over the whole scale"))
        return replace(found, reasons=(*found.reasons, *notes)) if notes else found

    def _of_class(
        self, serial: str, candidate: Candidate, joint_class: JointClass,
    ) -> tuple[Candidate, JointClass | None, tuple[Reason, ...]]:
        """How the class of the joint is asked. The simple register has no place for the class that a tool may serve, so
        that there nothing is refused for lack of it, and the words say so; what another part of the chain states counts
        all the same (docs/decisions/0024)."""
        driver = self.held.items.get(candidate.instrument.driver.serial)
        if candidate.serves is not None or driver is None or not only_simple(driver):
            return candidate, joint_class, ()
        parts = (self.held.items.get(one) for one in candidate.instrument.serials)
        stated = [item.serves for item in parts if item is not None and item.serves is not None]
        if stated and max(stated) > joint_class:
            return replace(candidate, serves=max(stated)), joint_class, ()
        words = (f"the joint is of class {joint_class}; the tool stands in the simple register, which has no place for "
                 "the class that a tool may serve: whether it may is not judged")
        return candidate, None, (Reason("class not stated", True, words),)

    def table(self, plan: Plan, day: date, until: date | None = None, *, others: bool = True) -> Table:
        """Every allowed tool and, with `others`, those of the register that would be fit but are not allowed, for work
        from `day` to `until`. What is not allowed never stands among the fit."""
        values, joint_class, last = pull_values(plan), plan.spec.joint_class, until or day
        allowed = [self._both(serial, values, (day, last), joint_class, True) for serial in plan.spec.tools_allowed]
        more = [
            self._both(serial, values, (day, last), joint_class, False)
            for serial in (self.held.serials if others else ())
            if serial not in plan.spec.tools_allowed and self._worth(serial, values, day)
        ]
        refused = tuple(sorted((one for one in allowed if not one.fit), key=lambda one: one.serial))
        return Table(plan.spec.id, day, last, values, in_order(allowed), refused, in_order(more))

    def _both(
        self, serial: str, values: Sequence[PullValue], days: tuple[date, date], joint_class: JointClass, allowed: bool,
    ) -> Judged:
        first, last = days
        found = self.judged(serial, values, first, joint_class, allowed=allowed)
        if first == last or found.whole:
            return found
        then, known = self.judged(serial, values, last, joint_class, allowed=allowed), set(found.refusals)
        return replace(found, later=tuple(f"by {last}: {words}" for words in then.refusals if words not in known))

    def _worth(self, serial: str, values: Sequence[PullValue], day: date) -> bool:
        """Whether it is worth judging in full: it makes a torque, is calibrated that day, and reaches the largest."""
        if self._driver(serial) is None or self.held.calibration_on(serial, day) is None:
            return False
        found = self._candidate(serial, day)
        if isinstance(found, str) or found.events:
            return False
        one = found.instrument
        return max(v.value.torque for v in values) <= one.driver.upper * one.ratio * (1 + 1e-3)

    def against_use(
        self, serial: str, value: PassValue, days: Iterable[date], joint_class: JointClass, counter: int | None = None,
    ) -> tuple[Reason, ...]:
        """Why a tool was not fit for a pull on one of these days; () when it was, or is not known here.

        Left out is what has its own flag or is told by the moment: days that no certificate covers, and events.
        `counter`: what the record says of the tool's counter, where no reading of it tells the cycles.
        """
        if serial not in self.held.items and serial not in self.held.assemblies:
            return ()
        found: dict[Reason, None] = {}
        for day in dict.fromkeys(days):
            key = serial, day, joint_class, value
            if key not in self._done:
                if len(self._done) > REMEMBERED:
                    self._done.clear()
                self._done[key] = self._against(serial, value, day, joint_class)
            found |= dict.fromkeys((*self._done[key], *self._cycles(serial, day, counter)))
        return tuple(found)

    def _against(self, serial: str, value: PassValue, day: date, joint_class: JointClass) -> tuple[Reason, ...]:
        one = self.judged(serial, [PullValue(0, (), value)], day, joint_class)
        if one.fitness is None:
            return (Reason("chain", False, one.broken),)
        general = [r for r in one.fitness.reasons if not r.fit and r.code not in ("validity", "event", "cycles")]
        return (*general, *(r for p in one.fitness.passes for r in p.reasons if not r.fit))

    def _cycles(self, serial: str, day: date, counter: int | None) -> tuple[Reason, ...]:
        found = self._candidate(serial, day)
        if isinstance(found, str) or found.cycles_allowed is None:
            return ()
        cycles = found.cycles
        if cycles is None and counter is not None:
            last = self.held.calibration_on(serial, day)
            if last is not None and last.counter is not None and counter >= last.counter:
                cycles = counter - last.counter
        reason = cycles_reason(cycles, found.cycles_allowed)
        return () if reason.fit else (reason,)

    def why_none(self, serial: str, day: date) -> str:
        """Why a serial of the register has at no time been an instrument that is calibrated as a whole."""
        found = self._candidate(serial, day)
        if isinstance(found, str):
            return found
        bare = [one for one in self.held.part_serials(serial) if not self.held.certificates(one)]
        return f"no certificate of {', '.join(bare)}" if bare else "its parts were never calibrated at the same time"

    def instrument(self, serial: str, day: date) -> Instrument | None:
        """What a serial stands for on a day; None where what is known of it makes no instrument."""
        found = self._candidate(serial, day)
        return None if isinstance(found, str) else found.instrument

    def certificates(self, serial: str, days: tuple[date, date]) -> tuple[Certificate, ...]:
        """Those in force on one of these days, of the driver and then of its parts."""
        found = self._candidate(serial, days[0])
        if isinstance(found, str):
            return ()
        whole = (found.certificates, *found.part_certificates.values())
        return tuple(
            c for own in whole for c in own if any(c.valid_from <= day <= last_day(c, own) for day in days))

    def setting(self, serial: str, value: PassValue, day: date) -> PassFitness | None:
        """How a tool is set for a value; None where what is known of it makes no instrument."""
        found = self._candidate(serial, day)
        if isinstance(found, str):
            return None
        try:
            return fitness(found, [value], day, None).passes[0]
        except ValueError:  # certificates that overlap: said by `against_use`
            return None

    def events(self, serial: str, first: float, last: float) -> tuple[str, ...]:
        """What stood against a tool, or a part of it, at some moment from `first` to `last` (s, UTC), in words.

        Looked at whenever something was written of it in between: what was open for a while only counts.
        """
        held, found = self.held, dict[str, None]()
        if serial not in self._parts:
            self._parts[serial] = self._with_parts(serial)
        for one in self._parts[serial]:
            entries = held.entries.get(one, ())
            if not entries:
                continue
            times = sorted({first, last, *(t for e in entries if first <= (t := e.at.timestamp()) <= last)})
            day = datetime.fromtimestamp(first, UTC).date()
            done = [c for c in held.calibrations.get(one, ()) if c.certificate.calibrated <= day]
            newest = max(done, key=lambda c: c.certificate.calibrated, default=None)
            calibrated = None if newest is None else newest.certificate.calibrated
            for until in times:
                told = open_events(entries, calibrated, held.rule(one, newest), until)
                found |= dict.fromkeys(text if one == serial else f"{one}: {text}" for text in told)
        return tuple(found)

    def _with_parts(self, serial: str) -> tuple[str, ...]:
        try:
            return tuple(dict.fromkeys((serial, *self.held.part_serials(serial), *sorted(self.held.parts_in(serial)))))
        except ChainError:  # an assembly that contains itself: said by `against_use`
            return (serial,)


def only_simple(driver: Item) -> bool:
    """Whether the register of equipment says nothing of a tool: there its permissible deviation has to be stated."""
    return driver.permissible is None
