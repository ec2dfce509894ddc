"""Certificates and instruments of invented tools that several tests use. N.m throughout."""

from __future__ import annotations

from datetime import date

from evenpull.instrument.certificate import Certificate, Entry, certificate

FIRST, LAST = date(2026, 2, 10), date(2027, 2, 9)


def entry(nominal: float | None, reference: float | None, **changed: object) -> Entry:
    """A point that is in order unless changed: indicated equals nominal."""
    given = {"nominal": nominal, "indicated": nominal, "reference": reference, "direction": "clockwise",
             "stage": "as found", "uncertainty": 0.01, "k": 2.0, **changed}
    return Entry(**given)  # type: ignore[arg-type]


def made(*entries: Entry, id: str = "KNC-26-0311", **changed: object) -> Certificate:
    given = {"calibrated": FIRST, "valid_from": FIRST, "valid_until": LAST, "standards": ("KN-RS-2",), **changed}
    return certificate(id, entries=entries, **given)  # type: ignore[arg-type]
