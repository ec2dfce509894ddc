"""Tools in records against their certificates, before anything is judged: not known, uncertified, used too early."""

from __future__ import annotations

from collections.abc import Iterable

from evenpull.equipment import Holdings
from evenpull.equipment.events import begin_of
from evenpull.intake.record import Tightening
from evenpull.store.models import Pull
from evenpull.store.services import readings
from evenpull.store.services.kept_tools import kept


def doubts_of(records: Iterable[Tightening]) -> tuple[str, ...]:
    """What a person has to know of the tools that records name, a line for each tool: it stands in no register, it has
    no certificate, or it was used before its first certificate begins. By serial."""
    first: dict[str, float] = {}
    named: set[str] = set()
    for record in records:
        if record.tool:
            named.add(record.tool)
            if record.time is not None:
                at = record.time.timestamp()
                first[record.tool] = min(at, first.get(record.tool, at))
    state = kept()
    found = ((serial, _doubt(state.held, serial, first.get(serial))) for serial in sorted(named))
    return tuple(f"{serial} {doubt}" for serial, doubt in found if doubt)


def _doubt(held: Holdings, serial: str, used: float | None) -> str:
    if serial not in held.items and serial not in held.assemblies:
        return "stands in no register of tools: its records cannot be judged until it does"
    begins = _begins(held, serial)
    if begins is None:
        missing = [one for one in held.parts_in(serial) if one in held.items and not held.certificates(one)]
        what = f" ({', '.join(sorted(missing))})" if missing else ""
        return f"has no certificate{what}: its records prove nothing until one is entered that covers the day"
    number, day, at = begins
    if used is not None and used < at:
        return f"was used before {day}, when its first certificate {number} begins"
    return ""


def _begins(held: Holdings, serial: str) -> tuple[str, str, float] | None:
    """Number, day and moment of the first certificate; of a chain of the first day on which all of it is certified."""
    if serial in held.assemblies:
        stretches = held.in_force(serial)
        if not stretches:
            return None
        first, _, numbers = stretches[0]
        return " + ".join(numbers), first.isoformat(), begin_of(first)
    own = held.certificates(serial)
    if not own:
        return None
    one = min(own, key=lambda c: c.valid_from)
    return one.id, one.valid_from.isoformat(), begin_of(one.valid_from)


def used_before(serials: Iterable[str]) -> tuple[str, ...]:
    """Tightenings on record before the first certificate of these tools begins: what was written now does not reach
    back to them. A line for each tool, and each assembly that holds it."""
    held = kept().held
    lines = []
    for serial in dict.fromkeys(serials):
        for one in (serial, *held.used_in(serial)):
            begins = _begins(held, one)
            if begins is None:
                continue
            number, day, at = begins
            early = readings.counting(Pull.objects.filter(tool=one[:100], time__lt=at)).count()
            if early:
                lines.append(f"{one}: {early} tightenings on record before {day}, when its first certificate {number} "
                             "begins, are covered by none")
    return tuple(lines)
