"""People in an audit: what each is trained for, who and what may not be used, whether checks were independent."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

from django.db.models import Min

from evenpull.ledger.entry import Entry
from evenpull.ledger.people import blocked, qualified
from evenpull.store.models import Account, Fact, Mention, Pull
from evenpull.store.services import facts, readings, register
from evenpull.store.services.around import entries_about, entry_of
from evenpull.store.services.fact_kinds import ACCOUNT, ENTRY, REFUSAL
from evenpull.store.services.index import name_of
from evenpull.study.sampled import checks_of_some

ON_A_PAGE = 50
MOST = 500  # tools, persons or lots that were ever barred, looked at in one answer
BARRING = ("tool blocked", "tool dropped", "tool overloaded", "tool lost")


@dataclass(frozen=True)
class Training:
    """One qualification of one person: from the entry `seq`, and whether it holds on the day asked for."""

    person: str
    qualification: str
    issued_by: str
    first: str
    last: str
    holds: bool
    why: str
    seq: int


@dataclass(frozen=True)
class TrainingPage:
    rows: tuple[Training, ...]
    total: int
    number: int
    pages: int


def training(number: int = 1, day: date | None = None) -> TrainingPage:
    """Qualifications entered, the newest first, and whether each holds on `day` (today where it is not given)."""
    on = day or datetime.now(UTC).date()
    places = Mention.objects.filter(kind="entry", name="qualification").order_by("-seq").values_list("seq", flat=True)
    total = places.count()
    pages = max(1, -(-total // ON_A_PAGE))
    number = min(max(1, number), pages)
    shown = [entry_of(fact) for fact in facts.by_seq(places[(number - 1) * ON_A_PAGE : number * ON_A_PAGE])]
    about = {name: entries_about("person", name) for name in {entry.name for entry in shown}}
    rows = []
    for entry in sorted(shown, key=lambda e: -e.seq):
        holds, why = qualified([e for e in about[entry.name] if _bears_on(e, entry)], entry.text("qualification"), on)
        rows.append(Training(
            entry.name, entry.text("qualification"), entry.text("issued_by"), entry.text("from"), entry.text("until"),
            holds, why, entry.seq,
        ))  # fmt: skip
    return TrainingPage(tuple(rows), total, number, pages)


def _bears_on(one: Entry, entry: Entry) -> bool:
    """Whether an entry speaks of this very qualification: itself, or a withdrawal."""
    return one.seq == entry.seq or one.kind == "qualification withdrawn"


@dataclass(frozen=True)
class Barred:
    """What may not be used now, and what is on record of it since. `pulls`: records whose own time is later than
    `since`; each is judged by the gate of its joint. `refused`: attempts that the program refused."""

    what: str  # "tool", "person", "lot", "account"
    name: str
    why: str
    since: datetime
    pulls: int
    refused: tuple[tuple[int, str], ...]  # place and words of each refusal that names it


def barred() -> tuple[Barred, ...]:
    """Tools, lots, qualifications and accounts that may not be used now."""
    now, told = datetime.now(UTC), _refusals()
    rows: list[Barred] = []
    for name, entries in _named("tool", [("entry", kind) for kind in BARRING] + [("failed", "shift check")]):
        if why := blocked(entries, now, now):
            stops = [e.at for e in entries if e.kind in BARRING or e.text("result") == "outside limits"]
            pulls = readings.counting(Pull.objects.filter(tool=name[:100], time__gt=max(stops).timestamp())).count()
            rows.append(Barred("tool", name, why, max(stops), pulls, _of(told, name)))
    for name, entries in _named("person", [("entry", "qualification withdrawn")]):
        for entry in entries:
            if entry.kind != "qualification withdrawn":
                continue
            holds, why = qualified(entries, entry.text("qualification"), now.date())
            if not holds:
                theirs = Pull.objects.filter(operator=name_of(name)[:100], time__gt=entry.at.timestamp())
                pulls = readings.counting(theirs).count()
                rows.append(Barred("person", name, f"{why}: {entry.reason}", entry.at, pulls, _of(told, name)))
    for name, entries in _named("lot", [("entry", "lot blocked")]):
        last = [e for e in entries if e.kind in ("lot blocked", "lot unblocked")][-1]
        if last.kind == "lot blocked":
            why = f"blocked by {last.by}: {last.reason}"
            rows.append(Barred("lot", name, why, last.at, 0, _of(told, name)))
    rows += _closed_accounts(told)
    return tuple(rows)


def _closed_accounts(told: list[tuple[int, str]]) -> Iterator[Barred]:
    acts = [(fact, fact.data) for fact in Fact.objects.filter(kind=ACCOUNT).order_by("seq")]
    last = {data["login"]: fact for fact, data in acts if data["act"] == "closed"}
    for account in Account.objects.filter(closed=True).order_by("login"):
        if (closed := last.get(account.login)) is not None:
            at = datetime.fromisoformat(closed.written_at)
            why = f"{account.login}: closed by {closed.author}"
            yield Barred("account", account.full_name, why, at, 0, _of(told, account.login))


def _named(subject: str, marks: Iterable[tuple[str, str]]) -> list[tuple[str, tuple[Entry, ...]]]:
    """Names that an entry of these marks is about, each with all entries about it."""
    places: set[int] = set()
    for kind, name in marks:
        found = Mention.objects.filter(kind=kind, name=name).order_by("-seq")
        places |= set(found.values_list("seq", flat=True)[:MOST])
    names = {fact.data["name"] for fact in facts.by_seq(places) if fact.kind == ENTRY}
    by_fold = {name_of(name): name for name in sorted(names)}
    return [(name, entries_about(subject, name)) for name in by_fold.values()]


def _refusals() -> list[tuple[int, str]]:
    found = Fact.objects.filter(kind=REFUSAL).order_by("-seq")[:MOST]
    return [(fact.seq, str(fact.data["what"])) for fact in found]


def _of(told: list[tuple[int, str]], name: str) -> tuple[tuple[int, str], ...]:
    return tuple((seq, words) for seq, words in told if name.casefold() in words.casefold())


def refused_to(name: str) -> tuple[tuple[int, str], ...]:
    """Refusals that name this person or that the person ran into."""
    mine = set(Mention.objects.filter(kind="author", name=name_of(name)).values_list("seq", flat=True))
    kinds = Mention.objects.filter(kind="kind", name=REFUSAL).order_by("-seq").values_list("seq", flat=True)[:MOST]
    own = [(f.seq, str(f.data["what"])) for f in facts.by_seq(seq for seq in kinds if seq in mine)]
    return tuple(sorted({*own, *_of(_refusals(), name)}, reverse=True))


@dataclass(frozen=True)
class Inspection:
    """One independent check. `operators`: who tightened the joint by the records, as they are known today."""

    seq: int
    joint: str
    fasteners: tuple[int, ...]
    checker: str
    at: datetime
    seen: str
    result: str
    operators: tuple[str, ...]
    separate: bool
    sample: str = ""  # of a check of some of the fasteners: what it says of the others


@dataclass(frozen=True)
class InspectionPage:
    rows: tuple[Inspection, ...]
    before: int | None


def _sample(entry: Entry) -> str:
    """What a check of some of the fasteners of a joint says; "" for one that named none or all of them."""
    if not entry.fasteners:
        return ""
    count = register.specification(entry.name).fasteners.count
    return next((one.words for one in checks_of_some(count, (entry,), ())), "")


def inspections(before: int | None = None) -> InspectionPage:
    """Independent checks, the newest first. A check by an operator is refused when it is written; a record that comes
    later may still show that the checker had tightened there, and then it stands here."""
    found = Mention.objects.filter(kind="entry", name="checked").order_by("-seq")
    if before is not None:
        found = found.filter(seq__lt=before)
    places = list(found.values_list("seq", flat=True)[: ON_A_PAGE + 1])
    entries = [entry_of(fact) for fact in facts.by_seq(places[:ON_A_PAGE])]
    people: dict[str, set[str]] = defaultdict(set)
    folds = sorted({facts.fold(entry.name) for entry in entries})
    worked = Pull.objects.filter(fold__in=folds).exclude(operator="").order_by().values("fold", "operator")
    firsts = {row["seq"]: row["fold"] for row in worked.annotate(seq=Min("seq")).values("fold", "operator", "seq")}
    for one in facts.by_seq(firsts):  # the name as it stands in the first record of it
        people[firsts[one.seq]].add(one.data["operator"])
    rows = []
    for entry in sorted(entries, key=lambda e: -e.seq):
        names = people[facts.fold(entry.name)]
        rows.append(Inspection(
            entry.seq, entry.name, entry.fasteners, entry.by, entry.at, entry.text("seen"), entry.text("result"),
            tuple(sorted(names)), name_of(entry.by) not in {name_of(name) for name in names}, _sample(entry),
        ))  # fmt: skip
    return InspectionPage(tuple(rows), places[ON_A_PAGE - 1] if len(places) > ON_A_PAGE else None)
