"""What happened to an item since its calibration and is not settled, and what speaks for it or against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time

from evenpull.equipment.model import Calibration
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.period import Evidence
from evenpull.ledger.entry import Entry

# entry -> the word of an interval rule that ends a calibration at once
ENDING = {"tool dropped": "drop", "tool repaired": "repair", "tool overloaded": "overload"}
INSIDE, OUTSIDE = "within limits", "outside limits"


def begin_of(day: date) -> float:
    """First second of a day in UTC: a certificate says no hour, and what was done that day counts as after it."""
    return datetime.combine(day, time(), UTC).timestamp()


def end_of(day: date) -> float:
    return datetime.combine(day, time.max, UTC).timestamp()


def open_events(
    entries: Sequence[Entry], calibrated: date | None, rule: IntervalRule | None, until: float,
) -> tuple[str, ...]:
    """What stands against an item at the moment `until` (s, UTC), each in words; () when nothing does.

    `calibrated` is the day of the last calibration, None without one. A block ends by an unblocking only. A loss and a
    failed shift check end by a shift check within the limits, an unblocking or a calibration; a drop, an overload and
    a repair too, unless the interval rule says that they end the calibration: then only another one settles them. A
    repair on the day of the calibration counts as before it, everything else on that day as after it.
    """
    found: dict[str, tuple[str, bool]] = {}  # kind -> words, settled by a calibration only
    for entry in sorted(entries, key=lambda e: (e.at, e.seq)):
        if entry.at.timestamp() - entry.at_uncertainty > until:
            continue
        kind, day = entry.kind, f"{entry.at:%Y-%m-%d %H:%M} UTC"
        before = calibrated is not None and (
            entry.at.date() < calibrated or (kind == "tool repaired" and entry.at.date() == calibrated)
        )
        if kind == "tool blocked":
            found[kind] = f"blocked since {day} by {entry.by}: {entry.reason}", False
        elif kind == "tool unblocked":
            found = {k: v for k, v in found.items() if v[1] and k != "tool blocked"}
        elif kind == "shift check" and entry.text("result") == INSIDE:
            found = {k: v for k, v in found.items() if v[1] or k == "tool blocked"}
        elif before:
            continue
        elif kind == "shift check" and entry.text("result") == OUTSIDE:
            found[kind] = f"outside its limits in the shift check of {day}", False
        elif kind == "tool lost":
            found[kind] = f"lost on {day} ({entry.text('what')})", False
        elif kind in ENDING:
            ends = rule is not None and ENDING[kind] in rule.after
            words = {"tool dropped": "dropped or abused", "tool overloaded": "overloaded",
                     "tool repaired": "repaired or adjusted"}[kind]
            also = f"; {ENDING[kind]} ends the calibration by {rule.source}" if ends and rule is not None else ""
            found[kind] = f"{words} on {day} ({entry.text('what')}){also}", ends
    return tuple(words for words, _ in found.values())


def ending_events(entries: Sequence[Entry], calibrated: date, until: float) -> tuple[str, ...]:
    """The events since a calibration by the words of an interval rule, for `interval.due`."""
    return tuple(
        ENDING[e.kind] for e in sorted(entries, key=lambda e: e.at)
        if e.kind in ENDING and e.at.timestamp() - e.at_uncertainty <= until and (
            e.at.date() > calibrated or (e.at.date() == calibrated and e.kind != "tool repaired"))
    )


def evidence_of(calibrations: Sequence[Calibration], entries: Sequence[Entry]) -> tuple[Evidence, ...]:
    """Certificates (what it was left with) and shift checks, in time.

    A certificate without points, or without a permissible deviation, counts as good: it was taken as one. A good shift
    check counts from the earliest moment it can have been, a failed one up to the latest.
    """
    return tuple(sorted(_evidence(calibrations, entries), key=lambda e: e.time))


def _evidence(calibrations: Sequence[Calibration], entries: Sequence[Entry]) -> Iterator[Evidence]:
    for one in calibrations:
        at = begin_of(one.certificate.calibrated)
        judged = one.judged(one.left)
        if judged is None:
            yield Evidence(one.number, "certificate", at, True)
            continue
        for direction in dict.fromkeys(p.point.direction for p in judged.points):
            good = all(p.decision.accepted for p in judged.points if p.point.direction == direction)
            yield Evidence(one.number, "certificate", at, good, None if direction == "either" else direction)
    for entry in entries:
        if entry.kind == "shift check":
            good = entry.text("result") == INSIDE
            at = entry.at.timestamp() + (-entry.at_uncertainty if good else entry.at_uncertainty)
            yield Evidence(entry.id, "shift check", at, good)
