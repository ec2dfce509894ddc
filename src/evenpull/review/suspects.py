"""Which instruments are in doubt by what was found, over which period, by which curves.

Found + Holdings --suspects--> one Suspect for each instrument and direction. A reference standard puts every instrument
in doubt that a certificate says was calibrated with it, other standards in between too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from evenpull.equipment import Calibration, Holdings
from evenpull.equipment.events import begin_of, end_of
from evenpull.instrument.acceptance import calibrated_with
from evenpull.instrument.certificate import Direction
from evenpull.instrument.deviation import DeviationCurve
from evenpull.instrument.parts import Driver, Gauge
from evenpull.instrument.period import Evidence, Period, suspect_period
from evenpull.instrument.validity import last_day
from evenpull.review.found import Found

TURNED: tuple[Direction, ...] = ("clockwise", "anticlockwise")
NO_TORQUE = ("angle device", "stretch device", "check device")


class ReviewError(ValueError):
    """A finding from which no review follows; the text says why, and the way out."""


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """One instrument turned one way. `found` and `last` curves over what its scale shows, None where nothing is known;
    `unknown` then says why. `found_by` and `last_by` name the papers. `resolution` its smallest step, SI, 0 where none
    is known. Counters of the same memory at both ends, None where they are not known."""

    serial: str
    direction: Direction
    period: Period
    found: DeviationCurve | None
    last: DeviationCurve | None
    found_by: str
    last_by: str
    unknown: str
    event: float | None = None
    first_cycle: float | None = None
    last_cycle: float | None = None
    resolution: float = 0.0


def suspects(found: Found, held: Holdings) -> tuple[Suspect, ...]:
    """Every instrument in doubt, each direction, by serial. ReviewError for a serial that is not known, a certificate
    that is not there, a device that shows no torque, and nothing in doubt."""
    item = held.items.get(found.serial)
    if item is None and found.serial not in held.assemblies:
        raise ReviewError(f"{found.serial} is in no register of tools; enter it first, with its certificates")
    if item is not None and item.kind in NO_TORQUE:
        raise ReviewError(f"{found.serial} is a {item.kind}: no torque rests on it alone. Open a review of each tool "
                          "whose shift checks or readings rested on it")
    finding = _certificate(found, held)
    if item is not None and item.kind == "reference standard":
        curve = _found_curve(found, finding, "either") or _found_curve(found, finding, "clockwise")
        period = _period(found, held, found.serial, "clockwise")
        reached = tuple(_behind(found, held, found.serial, curve, period, ()))
        if not reached:
            raise ReviewError(f"no certificate of this dossier names the standard {found.serial} within the time it is "
                              "in doubt; enter the certificates of what was calibrated with it")
        return tuple(sorted(reached, key=lambda s: (s.serial, s.direction, s.period.start)))
    return tuple(_own(found, held, finding, direction) for direction in _turned(held, found.serial))


def _turned(held: Holdings, serial: str) -> tuple[Direction, ...]:
    """The directions in which an item is used; what does not turn is reviewed as the tightenings turn, clockwise."""
    item = held.items.get(serial) or held.driver(serial)
    known = () if item is None else item.directions
    return tuple(one for one in TURNED if one == "clockwise" or one in known)


def _certificate(found: Found, held: Holdings) -> Calibration | None:
    """The calibration whose as-found points count. ReviewError when its number is not that of one."""
    if not found.certificate:
        return None
    known = held.calibrations_of(found.serial)
    one = next((c for c in known if c.number == found.certificate), None)
    if one is None:
        there = ", ".join(c.number for c in known) or "none"
        raise ReviewError(f"{found.serial} has no certificate {found.certificate!r}; there are: {there}")
    return one


def _period(found: Found, held: Holdings, serial: str, direction: Direction) -> Period:
    """From the last good evidence on. The certificate by which it was found, and a withdrawn one, are no evidence."""
    barred = {found.certificate, found.withdrawn} - {""}
    told = [e for e in held.evidence(serial) if not (e.kind == "certificate" and e.id in barred)]
    return suspect_period(told, found.at, direction)


def _found_curve(found: Found, finding: Calibration | None, direction: Direction) -> DeviationCurve | None:
    measured = found.curve()
    if measured is not None:
        return measured
    return None if finding is None else finding.certificate.curve("as found", direction)


def _own(found: Found, held: Holdings, finding: Calibration | None, direction: Direction) -> Suspect:
    """The item itself."""
    period = _period(found, held, found.serial, direction)
    before = _before(found, held, found.serial, finding)
    last = None if before is None else before.certificate.curve("as left", direction)
    curve = _found_curve(found, finding, direction)
    by = f"certificate {finding.number}, as found" if finding is not None else "what was measured when it was found"
    event = found.event if found.event is not None and period.start <= found.event <= period.end else None
    first = None if before is None or not _since_certificate(period, before) else before.counter
    until = None if finding is None else finding.counter
    rising = first is not None and until is not None and first < until
    return Suspect(
        serial=found.serial, direction=direction, period=period, found=curve, last=last,
        found_by="" if curve is None else by,
        last_by="" if last is None or before is None else f"certificate {before.number}, as left",
        unknown="" if curve is not None else _unknown(found, finding, direction), event=event,
        first_cycle=first if rising else None, last_cycle=until if rising else None,
        resolution=_resolution(held, found.serial),
    )  # fmt: skip


def _since_certificate(period: Period, before: Calibration) -> bool:
    """Whether the period begins with this calibration, so that its counter belongs to the beginning."""
    return period.since is not None and period.since.id == before.number


def _unknown(found: Found, finding: Calibration | None, direction: Direction) -> str:
    if finding is not None:
        return f"certificate {finding.number} has no as-found points turned {direction}"
    if found.kind == "lost":
        return "it is lost: nobody can measure what it did"
    return "no as-found points are known: have it calibrated as found, before anybody adjusts it"


def _before(found: Found, held: Holdings, serial: str, finding: Calibration | None) -> Calibration | None:
    """The last calibration before the finding that still counts."""
    barred = {found.certificate, found.withdrawn} - {""}
    known = [c for c in held.calibrations_of(serial)
             if c.number not in barred and begin_of(c.certificate.calibrated) < found.at]
    if finding is not None:
        known = [c for c in known if c.certificate.calibrated <= finding.certificate.calibrated]
    return max(known, key=lambda c: (c.certificate.calibrated, c.number), default=None)


def _resolution(held: Holdings, serial: str) -> float:
    """Smallest step of its scale, SI; of a chain that of its driver, which is read on it."""
    item = held.items.get(serial) or held.driver(serial)
    if item is None:
        return 0.0
    if isinstance(item.part, Driver | Gauge):
        return item.part.resolution
    return 0.0 if item.scale is None or item.scale.resolution is None else item.scale.resolution


def _behind(
    found: Found, held: Holdings, standard: str, curve: DeviationCurve | None, period: Period, path: tuple[str, ...],
) -> Iterator[Suspect]:
    """What was calibrated with a standard while it was in doubt, and what rests on that."""
    if standard in path:
        return
    certificates = {serial: tuple(c.certificate for c in some) for serial, some in held.calibrations.items()}
    for serial, one in calibrated_with(certificates, standard):
        begin = begin_of(one.calibrated)
        if end_of(one.calibrated) <= period.start or begin > period.end:
            continue
        until = min(found.at, end_of(last_day(one, certificates[serial])))
        if begin >= until:
            continue
        since = Evidence(one.id, "certificate", begin, False)
        own = Period(begin, until, since, f"certificate {one.id} of {serial} rests on the standard {standard}")
        item = held.items.get(serial)
        if item is not None and item.kind == "reference standard":
            left = one.curve("as left", "either") or one.curve("as left", "clockwise")
            wrong = None if left is None or curve is None else left.behind(curve)
            yield from _behind(found, held, serial, wrong, own, (*path, standard))
            continue
        for direction in _turned(held, serial):
            left = one.curve("as left", direction)
            wrong = None if left is None or curve is None else left.behind(curve)
            why = ("" if wrong is not None else f"how far {standard} was out is not known" if curve is None else
                   f"certificate {one.id} has no points turned {direction}" if left is None else
                   f"the points of certificate {one.id} lie outside those of {standard}")
            yield Suspect(
                serial=serial, direction=direction, period=own, found=wrong, last=None,
                found_by="" if wrong is None else f"certificate {one.id}, corrected by what was found of {standard}",
                last_by="", unknown=why, resolution=_resolution(held, serial),
            )  # fmt: skip
