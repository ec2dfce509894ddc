"""The drift of a tool as the dossier knows it: its shift checks, and what certificates said where the caller has it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from evenpull.ledger.entry import Entry
from evenpull.quantities import UnitError, parse
from evenpull.store.models import Mention
from evenpull.store.services import register
from evenpull.store.services.around import entries_about
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.kept_tools import holdings
from evenpull.study.drift import Calibration, Check, Drift, drift
from evenpull.study.drift_certificates import history_of
from evenpull.study.words import percent

SHIFT_CHECK = "shift check"
ON_A_PAGE = 50


@dataclass(frozen=True)
class DriftView:
    """`unusable`: checks that give no deviation, in words; `certificates`: first days of its certificates, the latest
    first, from which the series may be begun. `basis`: where the deviations of the advice come from."""

    drift: Drift
    checks: int
    unusable: tuple[str, ...]
    certificates: tuple[tuple[str, date], ...]
    basis: tuple[str, ...]


def drift_of(
    serial: str, *, since: date | None = None, baseline: int | None = None, limit: float | None = None,
    k_u: float | None = None, calibrations: Sequence[Calibration] = (),
) -> DriftView:
    """Chart, trend and step of the shift checks of a tool, and advice on its interval from `calibrations`, else from
    the certificates of the register of equipment. `limit` and `k_u` left out: the permissible deviation of the register
    and the uncertainty of the last certificate. Unknown for a tool that nothing names; Refused for numbers that make no
    sense."""
    registered = register.tools([serial])
    entries = entries_about("tool", serial)
    held = holdings()
    item = held.items.get(serial)
    if not registered and not entries and item is None:
        raise Unknown(f"no tool {serial!r} is in the register or in an entry here")
    checks, unusable = [], []
    for entry in entries:
        if entry.kind == SHIFT_CHECK:
            try:
                checks.append(check_of(entry))
            except (ValueError, UnitError) as error:
                unusable.append(f"fact {entry.seq}, {entry.at:%Y-%m-%d}: {error}")
    basis: list[str] = []
    if limit is None and item is not None and item.permissible is not None:
        limit = item.permissible
        basis.append(f"Permissible deviation {percent(limit)}, as the register of equipment states.")
    elif limit is None and (known := held.calibrations_of(serial)) and known[-1].permissible is not None:
        limit = known[-1].permissible
        basis.append(f"Permissible deviation {percent(limit)}, as certificate {known[-1].number} was judged by.")
    in_torque = item is None or item.quantity == "torque"
    if not calibrations and in_torque and (history := history_of(held.certificates(serial))) is not None:
        calibrations = history.calibrations
        k_u = history.k_u if k_u is None else k_u
        basis.insert(0, history.words)
    begin = None if since is None else datetime.combine(since, time(), UTC)
    try:
        found = drift(serial, checks, calibrations, since=begin, baseline=baseline, limit=limit, k_u=k_u or 0.0)
    except ValueError as error:
        raise Refused(str(error)) from error
    certificates = sorted({(tool.certificate, tool.certificate_from) for tool in registered}, key=lambda c: c[1],
                          reverse=True)
    return DriftView(found, len(checks), tuple(unusable), tuple(certificates), tuple(basis))


@dataclass(frozen=True)
class DriftRow:
    """One tool that was checked: how often, when last, and what its checks say."""

    tool: str
    checks: int
    last: datetime
    finding: str
    words: str


@dataclass(frozen=True)
class DriftPage:
    rows: tuple[DriftRow, ...]
    after: str | None  # goes on after this tool


def overview(after: str = "") -> DriftPage:
    """Tools with shift checks, by serial."""
    marked = Mention.objects.filter(kind="entry", name=SHIFT_CHECK).values("seq")
    names = Mention.objects.filter(kind="tool", fold="", seq__in=marked).order_by("name").values_list("name", flat=True)
    wanted = sorted({name for name in names.distinct() if name > after})
    rows = []
    for name in wanted[:ON_A_PAGE]:
        entries = [entry for entry in entries_about("tool", name) if entry.kind == SHIFT_CHECK]
        view = drift_of(entries[0].name)
        said = next((one.says[0] for one in view.drift.series if one.finding == view.drift.finding and one.says), "")
        last = max(entry.at for entry in entries)
        rows.append(DriftRow(entries[0].name, len(entries), last, view.drift.finding, said))
    return DriftPage(tuple(rows), wanted[ON_A_PAGE - 1] if len(wanted) > ON_A_PAGE else None)


def check_of(entry: Entry) -> Check:
    """The pull that a shift check states. ValueError where no deviation follows from it."""
    set_, device = (parse(entry.text(name), "torque").si for name in ("set", "device_value"))
    if set_ <= 0 or device <= 0:
        raise ValueError(f"set {entry.text('set')}, device {entry.text('device_value')}: no deviation without a torque")
    return Check(entry.at, set_, device, entry.text("device"), entry.text("result") == "outside limits",
                 f"fact {entry.seq}")
