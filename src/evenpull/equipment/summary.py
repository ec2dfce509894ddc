"""What a register says of each instrument on a day: may it be used, until when, what is due next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from evenpull.equipment.holdings import Holdings
from evenpull.equipment.model import Calibration, Item
from evenpull.instrument.interval import Due
from evenpull.instrument.parts import Adapter, ChainError, Pump
from evenpull.instrument.validity import in_force, last_day

State = Literal["may be used", "not to be used"]


@dataclass(frozen=True, slots=True)
class Status:
    """One serial on a day. `why` it is not to be used, () when it may be. `number` of the certificate in force and its
    `last` day, "" and None where none is needed or none is in force; of a chain those that end first."""

    serial: str
    day: date
    why: tuple[str, ...]
    number: str = ""
    last: date | None = None
    due: Due | None = None

    @property
    def state(self) -> State:
        return "not to be used" if self.why else "may be used"

    @property
    def days_left(self) -> int | None:
        """Days of use that are left after this one, by its certificate and by its interval."""
        ends = [end for end in (self.last, None if self.due is None else self.due.last_day) if end is not None]
        return (min(ends) - self.day).days if ends else None


@dataclass(frozen=True, slots=True)
class DueRow:
    """What is due: on `day` the calibration ends, by the certificate, the interval or the pace of its cycles. `over`:
    it may not be used now; then `day` is when its last calibration ended, None where it had none."""

    serial: str
    name: str
    day: date | None
    why: str
    over: bool


def needs_certificate(held: Holdings, item: Item) -> bool:
    """A pump and an adapter need one only where they have any; everything else does."""
    return not isinstance(item.part, Pump | Adapter) or bool(held.calibrations.get(item.serial))


def status(held: Holdings, serial: str, day: date, cycles: int | None = None) -> Status:
    """Where a serial of the registers stands on a day; of an assembly as its parts do. `cycles` since the calibration
    of a single item, where they are known otherwise than by its counter. KeyError for a serial that is not known."""
    if serial in held.assemblies:
        return _of_assembly(held, serial, day)
    item = held.items[serial]
    why = list(held.events(serial, day))
    number, last = "", None
    certificates = held.certificates(serial)
    if needs_certificate(held, item):
        found = in_force(certificates, day)
        if found.certificate is None:
            why.append(found.reason)
        else:
            number, last = found.certificate.id, last_day(found.certificate, certificates)
    due = held.due(serial, day, cycles)
    if due is not None:
        why += held.overdue(serial, day, cycles)
    return Status(serial, day, tuple(why), number, last, due)


def _of_assembly(held: Holdings, serial: str, day: date) -> Status:
    try:
        parts = held.part_serials(serial)
        held.chain(serial)
    except ChainError as error:
        return Status(serial, day, (str(error),))
    found = [status(held, part, day) for part in parts]
    why = list(held.events(serial, day))
    why += [f"{one.serial}: {text}" for one in found for text in one.why
            if f"{one.serial}: {text}" not in why]
    ending = min((one for one in found if one.last is not None), key=lambda one: one.last or date.max, default=None)
    return Status(serial, day, tuple(why), "" if ending is None else ending.number,
                  None if ending is None else ending.last)


def due_list(held: Holdings, day: date, within: int) -> tuple[DueRow, ...]:
    """Single items whose calibration has ended or ends within so many days, what ended first the first."""
    rows = [row for serial in sorted(held.items) for row in _due(held, serial, day, within)]
    return tuple(sorted(rows, key=lambda row: (row.day or date.min, row.serial)))


def _due(held: Holdings, serial: str, day: date, within: int) -> Iterator[DueRow]:
    item = held.items[serial]
    if not needs_certificate(held, item):
        return
    found = status(held, serial, day)
    if found.why:
        own = held.certificates(serial)
        begun = [last_day(one, own) for one in own if one.valid_from <= day]
        yield DueRow(serial, item.name, min(day, max(begun)) if begun else None, "; ".join(found.why), True)
        return
    ends: list[tuple[date, str]] = []
    if found.last is not None:
        ends.append((found.last, f"certificate {found.number} ends"))
    if found.due is not None and found.due.last_day is not None:
        ends.append((found.due.last_day, "its interval ends"))
    if found.due is not None and found.due.expected is not None:
        ends.append((found.due.expected, f"its cycles run out at the pace so far ({found.due.cycles_left} left)"))
    if ends and (soonest := min(ends))[0] <= day + timedelta(days=within):
        yield DueRow(serial, item.name, soonest[0], soonest[1], False)


def calibrated_with(held: Holdings, standard: str) -> tuple[tuple[str, Calibration], ...]:
    """Each certificate that names a reference standard, with the serial of its item: what a fault of it reaches."""
    return tuple(
        (serial, one) for serial in sorted(held.calibrations) for one in held.calibrations[serial]
        if standard in one.certificate.standards
    )


def checks_of(held: Holdings, device: str) -> Iterable[str]:
    """The serials whose shift checks name a check device."""
    return sorted({serial for serial, entries in held.entries.items()
                   for e in entries if e.kind == "shift check" and e.text("device") == device})
