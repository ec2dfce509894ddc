"""Instruments as they are looked at: the list, one of them with everything that is known, what is due. Reading only."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import lru_cache

from evenpull.equipment import Assembly, Calibration, Holdings, Item
from evenpull.equipment.drawn import deviation_plot
from evenpull.equipment.events import ENDING, begin_of
from evenpull.equipment.summary import DueRow, Status, calibrated_with, checks_of, due_list, status
from evenpull.equipment.words import scale_of
from evenpull.evidence.checkpoint import read_moment
from evenpull.instrument.acceptance import Acceptance
from evenpull.instrument.assembly import Instrument, budget_of
from evenpull.instrument.budget import Budget
from evenpull.instrument.certificate import STAGES, Fault, doubts
from evenpull.instrument.failure import FailureForm, failure_forms
from evenpull.instrument.interval import IntervalRule
from evenpull.instrument.iso6789 import PointResult
from evenpull.instrument.parts import ChainError
from evenpull.ledger.entry import Entry
from evenpull.quantities import show
from evenpull.report.plot_svg import plot_svg
from evenpull.store.models import Pull
from evenpull.store.services import audit_tools, facts, readings
from evenpull.store.services.errors import Unknown
from evenpull.store.services.kept_tools import Kept, State, holdings, kept, states

DAYS_AHEAD = 60  # of the list of what is due, where nobody says another number
HISTORY = ("tool dropped", "tool overloaded", "tool repaired", "tool lost", "tool blocked", "tool unblocked",
           "tool issued", "tool returned", "clock set", "use count")  # fmt: skip


@dataclass(frozen=True)
class InstrumentRow:
    """One line of the list. `scale` in words, of what shows nothing what it is."""

    serial: str
    name: str
    kind: str
    scale: str
    place: str
    owner: str
    status: Status


@dataclass(frozen=True)
class CertificateView:
    """One certificate with what follows from it. `written_at`, `author`, `file`, `raw` and `seq` of its fact, None and
    "" for an entry of the simple register. `judged` by stage; `results` by index of the point, from its readings."""

    calibration: Calibration
    in_force: bool
    judged: tuple[tuple[str, Acceptance | None, str], ...]  # stage, by the rule, why it cannot be judged
    forms: tuple[tuple[str, FailureForm], ...]
    results: tuple[tuple[int, PointResult], ...]
    budget: Budget | None
    doubts: tuple[Fault, ...]
    svg: str
    seq: int | None = None
    written_at: datetime | None = None
    author: str = ""
    file: str = ""
    raw: str = ""
    mapping: str = ""
    why: str = ""  # it was corrected


@dataclass(frozen=True)
class InstrumentView:
    """Everything about one serial. `parts` and `budgets` of a chain; `used_in` assemblies that hold it; uses since the
    last calibration: `counted` by its counter (None: not known), `recorded` by tightenings here."""

    serial: str
    item: Item | None
    assembly: Assembly | None
    status: Status
    rule: IntervalRule | None
    registers: tuple[str, ...]  # in which it stands, in words
    parts: tuple[tuple[str, Item | None, Status | None], ...] = ()
    chain: Instrument | None = None
    chain_fault: str = ""
    budgets: tuple[tuple[str, Budget], ...] = ()
    certificates: tuple[CertificateView, ...] = ()
    used_in: tuple[tuple[str, str], ...] = ()
    history: tuple[Entry, ...] = ()
    checks: tuple[Entry, ...] = ()
    trips: tuple[audit_tools.Trip, ...] = ()
    counted: int | None = None
    recorded: int = 0
    reaches: tuple[tuple[str, Calibration], ...] = ()  # calibrated with this standard
    checked_here: tuple[str, ...] = ()
    entries: tuple[Entry, ...] = field(default=())

    @property
    def name(self) -> str:
        known = self.item or self.assembly
        return known.name if known is not None else ""


def today() -> date:
    return datetime.now(UTC).date()


def listing(words: str = "", which: str = "", day: date | None = None) -> tuple[InstrumentRow, ...]:
    """Every item and assembly, by serial, whose serial, name, kind, place, owner or certificate holds `words`. `which`:
    "not to be used", "due" within DAYS_AHEAD, a kind, "assembly", or "" for all."""
    wanted = words.casefold()
    rows = _rows(*states(), day or today())
    return tuple(row for row in rows if wanted in _words(row) and _chosen(row, which))


@lru_cache(maxsize=4)
def _rows(registers: State, entries: State, day: date) -> tuple[InstrumentRow, ...]:
    """Every row of a day, made once for a state of the registers."""
    held = holdings()
    return tuple(_row(held, serial, day) for serial in held.serials)


def _words(row: InstrumentRow) -> str:
    said = (row.serial, row.name, row.kind, row.place, row.owner, row.status.number)
    return " ".join(said).casefold()


def _chosen(row: InstrumentRow, which: str) -> bool:
    if which == "not to be used":
        return bool(row.status.why)
    if which == "due":
        left = row.status.days_left
        return bool(row.status.why) or (left is not None and left <= DAYS_AHEAD)
    return which in ("", row.kind)


def _row(held: Holdings, serial: str, day: date) -> InstrumentRow:
    item, assembly = held.items.get(serial), held.assemblies.get(serial)
    if assembly is not None:
        return InstrumentRow(serial, assembly.name, "assembly", " + ".join(assembly.parts), assembly.place, "",
                             status(held, serial, day))
    assert item is not None
    return InstrumentRow(serial, item.name, item.kind, scale_of(item), item.place, item.owner,
                         status(held, serial, day))


def _cycles(held: Holdings, serial: str, day: date) -> int | None:
    """Cycles since the last calibration by the counter; where that is not known and more records than allowed are here,
    their number: at least as many it has made. Records are counted only where a rule asks for cycles."""
    counted = held.cycles(serial, day)
    if counted is not None or not _counts(held, serial, day):
        return counted
    recorded = records_since(held, serial, day)
    rule = held.rule(serial, held.calibration_on(serial, day))
    return recorded if rule is not None and rule.cycles is not None and recorded > rule.cycles else None


def _counts(held: Holdings, serial: str, day: date) -> bool:
    rule = held.rule(serial, held.calibration_on(serial, day))
    return rule is not None and rule.cycles is not None


def records_since(held: Holdings, serial: str, day: date) -> int:
    """Tightenings on record since the last calibration, with the serial itself or an assembly that holds it."""
    done = [c.certificate.calibrated for c in held.calibrations.get(serial, ()) if c.certificate.calibrated <= day]
    used = [name[:100] for name in (serial, *held.used_in(serial))]
    found = readings.counting(Pull.objects.filter(tool__in=used))
    if done:
        found = found.filter(time__gte=begin_of(max(done)))
    return int(found.count())


def due(day: date | None = None, within: int = DAYS_AHEAD) -> tuple[DueRow, ...]:
    """What is due within so many days, and what may not be used already; see `summary.due_list`."""
    return due_list(holdings(), day or today(), within)


def instrument(serial: str, day: date | None = None) -> InstrumentView:
    """Everything about one serial of the registers. Unknown with near ones."""
    held, state, on = holdings(), kept(), day or today()
    item, assembly = held.items.get(serial), held.assemblies.get(serial)
    if item is None and assembly is None:
        from evenpull.store.services.register import near

        close = near(serial, list(held.serials))
        hint = f"; near: {', '.join(close)}" if close else ""
        raise Unknown(f"no instrument {serial!r} is in the registers{hint}")
    entries = held.about(serial)
    chain, fault = _chain(held, serial, on)
    where = tuple(
        words for words, there in (("register of equipment", serial in state.described), (
            "tool register", serial in state.simple)) if there
    )
    return InstrumentView(
        serial=serial, item=item, assembly=assembly,
        status=status(held, serial, on, None if item is None else _cycles(held, serial, on)),
        rule=held.rule(serial, held.calibration_on(serial, on)), registers=where, parts=_parts(held, serial, on),
        chain=chain, chain_fault=fault, budgets=_budgets(chain), certificates=_certificates(held, state, serial, on),
        used_in=tuple((one, held.assemblies[one].name) for one in held.used_in(serial)),
        history=tuple(e for e in reversed(entries) if e.kind in HISTORY or e.kind in ENDING),
        checks=tuple(e for e in reversed(entries) if e.kind == "shift check"),
        trips=audit_tools.trips(serial, held.entries.get(serial, ())), counted=held.cycles(serial, on),
        recorded=records_since(held, serial, on), reaches=calibrated_with(held, serial),
        checked_here=tuple(checks_of(held, serial)), entries=entries,
    )  # fmt: skip


def _chain(held: Holdings, serial: str, day: date) -> tuple[Instrument | None, str]:
    item = held.items.get(serial)
    if item is not None and not item.drives:
        return None, ""
    try:
        return held.chain(serial, day), ""
    except ChainError as error:
        return None, str(error)


def _parts(held: Holdings, serial: str, day: date) -> tuple[tuple[str, Item | None, Status | None], ...]:
    if serial not in held.assemblies:
        return ()
    try:
        parts = held.part_serials(serial)
    except ChainError:
        parts = held.assemblies[serial].parts
    return tuple((one, held.items.get(one), status(held, one, day) if one in held.items else None) for one in parts)


def _budgets(chain: Instrument | None) -> tuple[tuple[str, Budget], ...]:
    """The budget of a chain at the lowest, the middle and the highest torque of its driver's scale."""
    if chain is None:
        return ()
    driver = chain.driver
    found = []
    for at in (driver.lower, (driver.lower + driver.upper) / 2, driver.upper):
        found.append((show(at * chain.ratio, "N.m"), budget_of(chain, at * chain.ratio)))
    return tuple(found)


def _certificates(held: Holdings, state: Kept, serial: str, day: date) -> tuple[CertificateView, ...]:
    """The newest first; of a chain none: they stand with its parts."""
    if serial in held.assemblies:
        return ()
    current = held.calibration_on(serial, day)
    own = held.calibrations.get(serial, ())
    places = {one.number: state.places[serial, one.number] for one in own if (serial, one.number) in state.places}
    found = {fact.seq: fact for fact in facts.by_seq(places.values())}
    views = []
    for one in reversed(own):
        view = _certificate(one, one is current)
        fact = found.get(places.get(one.number, -1))
        if fact is not None:
            d = fact.data
            view = CertificateView(
                **{name: getattr(view, name) for name in ("calibration", "in_force", "judged", "forms", "results",
                                                          "budget", "doubts", "svg")},
                seq=fact.seq, written_at=read_moment(fact.written_at), author=fact.author, file=d["file"],
                raw=d["raw"], mapping=d.get("mapping", {}).get("name", ""), why=d["why"],
            )  # fmt: skip
        views.append(view)
    return tuple(views)


def certificate_view(one: Calibration) -> CertificateView:
    """A certificate that is not written yet, as it would be shown."""
    return _certificate(one, False)


def _certificate(one: Calibration, in_force: bool) -> CertificateView:
    plot = deviation_plot(one)
    results = ((index, one.point_result(index)) for index in sorted(one.readings))
    return CertificateView(
        one, in_force, tuple(_judged(one)), tuple(_forms(one)), tuple((i, r) for i, r in results if r is not None),
        one.budget(), doubts(one.certificate.points), "" if plot is None else plot_svg(plot),
    )


def _judged(one: Calibration) -> Iterator[tuple[str, Acceptance | None, str]]:
    for stage in STAGES:
        if not any(p.stage == stage for p in one.certificate.points):
            continue
        if one.permissible is None:
            yield stage, None, "no permissible deviation is stated, by the certificate or in the register"
            continue
        try:
            yield stage, one.judged(stage), ""
        except ValueError as error:  # the measurement is too coarse for the rule
            yield stage, None, str(error)


def _forms(one: Calibration) -> Iterator[tuple[str, FailureForm]]:
    if one.permissible is not None:
        for stage in STAGES:
            points = [p for p in one.certificate.points if p.stage == stage]
            yield from ((stage, form) for form in failure_forms(points, one.permissible))
