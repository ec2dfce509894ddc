"""Which certificate was in force on a day: validity in time, and what is wrong between certificates of one tool."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from evenpull.instrument.certificate import Certificate, Fault


@dataclass(frozen=True, slots=True)
class InForce:
    """The certificate of a day, or None with the reason in words."""

    certificate: Certificate | None
    reason: str


def overlaps(certificates: Sequence[Certificate]) -> tuple[Fault, ...]:
    """Certificates of one instrument that would be in force on the same day without one replacing the other, numbers
    that stand twice, and a certificate said to be replaced that does not exist or is not the earlier one."""
    faults: list[Fault] = []
    ordered = _by_first_day(certificates)
    numbers: set[str] = set()
    for one in ordered:
        if one.id in numbers:
            faults.append(Fault(None, "id", f"{one.id} stands twice", "each certificate once"))
        numbers.add(one.id)
    for index, later in enumerate(ordered):
        earlier_ones = ordered[:index]
        if later.replaces and later.replaces not in {one.id for one in earlier_ones}:
            faults.append(Fault(None, "replaces", f"{later.id} replaces {later.replaces}, which is no earlier "
                                "certificate of this tool", "the number of the certificate it ends, or none"))
        for earlier in earlier_ones:
            last = last_day(earlier, ordered)
            if later.valid_from <= last and earlier.id != later.id:
                faults.append(Fault(None, "valid_from", f"{later.id} begins on {later.valid_from} and overlaps with "
                                    f"{earlier.id}, in force until {last}", f"state that {later.id} replaces "
                                    f"{earlier.id}, or correct the days"))
    return tuple(faults)


def last_day(one: Certificate, certificates: Sequence[Certificate]) -> date:
    """The last day on which a certificate is in force: its own, or the day before one that replaces it."""
    ends = [c.valid_from - timedelta(days=1) for c in certificates if c.replaces == one.id and c.id != one.id]
    return min([one.valid_until, *ends])


def in_force(certificates: Sequence[Certificate], day: date) -> InForce:
    """The certificate in force on a day. ValueError when the certificates overlap, see `overlaps`."""
    if faults := overlaps(certificates):
        raise ValueError("\n".join(str(fault) for fault in faults))
    if not certificates:
        return InForce(None, "there is no certificate")
    ordered = _by_first_day(certificates)
    for one in ordered:
        if one.valid_from <= day <= last_day(one, ordered):
            return InForce(one, "")
    if day < ordered[0].valid_from:
        return InForce(None, f"{day} is before the first certificate {ordered[0].id}, which begins on "
                       f"{ordered[0].valid_from}")
    last = [one for one in ordered if one.valid_from <= day][-1]
    return InForce(None, f"certificate {last.id} ran out on {last_day(last, ordered)}, before {day}")


def _by_first_day(certificates: Sequence[Certificate]) -> list[Certificate]:
    return sorted(certificates, key=lambda one: (one.valid_from, one.id))
