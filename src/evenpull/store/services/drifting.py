"""The drift of a tool as the dossier knows it: its shift checks, and what certificates said where the caller has it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from evenpull.ledger.entry import Entry
from evenpull.quantities import UnitError, parse
from evenpull.store.services import register
from evenpull.store.services.around import entries_about
from evenpull.store.services.errors import Refused, Unknown
from evenpull.study.drift import Calibration, Check, Drift, drift

SHIFT_CHECK = "shift check"


@dataclass(frozen=True)
class DriftView:
    """`unusable`: checks that give no deviation, in words; `certificates`: first days of its certificates, the latest
    first, from which the series may be begun."""

    drift: Drift
    checks: int
    unusable: tuple[str, ...]
    certificates: tuple[tuple[str, date], ...]


def drift_of(
    serial: str, *, since: date | None = None, baseline: int | None = None, limit: float | None = None,
    k_u: float = 0.0, calibrations: Sequence[Calibration] = (),
) -> DriftView:
    """Chart, trend and step of the shift checks of a tool, and advice on its interval from `calibrations` (deviations
    of its certificates, given by the caller). Unknown for a tool that nothing names; Refused for numbers that make no
    sense."""
    registered = register.tools([serial])
    entries = entries_about("tool", serial)
    if not registered and not entries:
        raise Unknown(f"no tool {serial!r} is in the register or in an entry here")
    checks, unusable = [], []
    for entry in entries:
        if entry.kind == SHIFT_CHECK:
            try:
                checks.append(check_of(entry))
            except (ValueError, UnitError) as error:
                unusable.append(f"fact {entry.seq}, {entry.at:%Y-%m-%d}: {error}")
    begin = None if since is None else datetime.combine(since, time(), UTC)
    try:
        found = drift(serial, checks, calibrations, since=begin, baseline=baseline, limit=limit, k_u=k_u)
    except ValueError as error:
        raise Refused(str(error)) from error
    certificates = sorted({(tool.certificate, tool.certificate_from) for tool in registered}, key=lambda c: c[1],
                          reverse=True)
    return DriftView(found, len(checks), tuple(unusable), tuple(certificates))


def check_of(entry: Entry) -> Check:
    """The pull that a shift check states. ValueError where no deviation follows from it."""
    set_, device = (parse(entry.text(name), "torque").si for name in ("set", "device_value"))
    if set_ <= 0 or device <= 0:
        raise ValueError(f"set {entry.text('set')}, device {entry.text('device_value')}: no deviation without a torque")
    return Check(entry.at, set_, device, entry.text("device"), entry.text("result") == "outside limits",
                 f"fact {entry.seq}")
