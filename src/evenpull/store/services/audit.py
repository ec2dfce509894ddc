"""The questions of an audit, from the index: joint, tool, person, lot, what changed when, what recurs."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.db.models.functions import Upper

from evenpull.evidence.checkpoint import moment, read_moment
from evenpull.ledger.words import render
from evenpull.proof.counters import gaps
from evenpull.store.models import Fact, Finding, Mention, Pull
from evenpull.store.services import facts, kept_tools, readings, register
from evenpull.store.services.around import entries_about, entry_of, ranges, unread_counters
from evenpull.store.services.audit_rows import (
    ChangePage,
    ChangeRow,
    CounterRow,
    PersonView,
    PullPage,
    PullRow,
    ToolView,
)
from evenpull.store.services.audit_shared import UNJUDGED as UNJUDGED
from evenpull.store.services.audit_shared import lot as lot
from evenpull.store.services.audit_shared import pulls_by_joint
from evenpull.store.services.audit_shared import recurrences as recurrences
from evenpull.store.services.audit_shared import siblings as siblings
from evenpull.store.services.errors import Unknown
from evenpull.store.services.fact_kinds import (
    CARD,
    CERTIFICATE,
    CERTIFICATE_WITHDRAWN,
    DISPOSITION,
    ENTRY,
    EQUIPMENT,
    FILE,
    PACK,
    RECORD,
    RELEASE,
    SPECIFICATION,
    TOOLS,
    UNREAD,
    WITHDRAWN,
)
from evenpull.store.services.index import name_of
from evenpull.study.sampled import drawn_words

ON_A_PAGE = 50


def pull_page(found: object, before: int | None = None) -> PullPage:
    """One page of tightenings, the newest first, from a query on Pull."""
    total = found.count()  # type: ignore[attr-defined]
    newest = found.order_by("-seq")  # type: ignore[attr-defined]
    if before is not None:
        newest = newest.filter(seq__lt=before)
    places = list(newest.values_list("seq", "file")[: ON_A_PAGE + 1])
    shown = places[:ON_A_PAGE]
    names = {fact.seq: fact.data["name"] for fact in facts.by_seq({file for _, file in shown if file >= 0})}
    held = facts.by_seq(seq for seq, _ in shown)
    known = register.described(fact.joint for fact in held)
    lost = readings.withdrawn_among(seq for seq, _ in shown)
    rows = [
        _pull_row(fact, names.get(file, ""), known.get(facts.fold(fact.joint), ""), fact.seq in lost)
        for fact, (_, file) in zip(held, sorted(shown), strict=True)
    ]
    return PullPage(tuple(reversed(rows)), total, shown[-1][0] if len(places) > ON_A_PAGE else None)


def _pull_row(fact: Fact, file: str, described: str, withdrawn: bool) -> PullRow:
    b = fact.data
    return PullRow(
        fact.seq, fact.joint, b["unit_id"], b["fastener"], b["pass_number"], b["event"], b["torque_text"],
        b["torque_unit"], b["angle_text"], b["tool"], b["epoch"], b["counter"], b["operator"], b["time_text"], file,
        b["file_sha256"], b["row"], described, withdrawn,
    )  # fmt: skip


def tool(serial: str, before: int | None = None) -> ToolView:
    """Certificates, entries, counters with gaps, joints and tightenings of one tool. Unknown when nothing names it."""
    certificates, entries = register.tools([serial]), entries_about("tool", serial)
    pulls = Pull.objects.filter(tool=serial[:100])
    page = pull_page(pulls, before)
    known = serial in kept_tools.kept().held.serials or _studied("tool", serial)
    if not certificates and not entries and not page.total and not known:
        raise Unknown(f"no tool {serial!r} is in the register, in a record or in an entry here")
    return ToolView(serial, certificates, entries, _counter_rows(serial), pulls_by_joint(pulls), page)


def _studied(what: str, name: str) -> bool:
    """Whether a study names it."""
    return Mention.objects.filter(kind=f"study {what}", name=name_of(name)).exists()


def _counter_rows(serial: str) -> tuple[CounterRow, ...]:
    by_epoch: dict[str, list[int]] = {}
    known = readings.counting(Pull.objects.filter(tool=serial[:100], counter__isnull=False))
    known = known.order_by("epoch", "counter")
    for epoch, counter in known.values_list("epoch", "counter"):
        by_epoch.setdefault(epoch, []).append(counter)
    rows = []
    for epoch, counters in by_epoch.items():
        missing = tuple(gaps([*ranges(counters), *unread_counters(serial[:100], epoch)]))
        rows.append(CounterRow(epoch, counters[0], counters[-1], len(counters), missing))
    return tuple(rows)


def person(name: str, before: int | None = None) -> PersonView:
    """What a person did, wrote and was named for. Unknown when no fact names the person."""
    folded = name_of(name)
    pulls = Pull.objects.filter(operator=folded[:100])
    places = Mention.objects.filter(kind="author", name=folded).order_by("seq").values_list("seq", flat=True)
    wrote = Counter(facts.kinds_of(places).values())
    named = Mention.objects.filter(kind="person", name=folded).order_by("-seq").values_list("seq", flat=True)
    page, entries = pull_page(pulls, before), entries_about("person", name)
    rows = changes_at(list(dict.fromkeys(named[:ON_A_PAGE])))
    if not page.total and not wrote and not rows and not entries and not _studied("person", name):
        raise Unknown(f"no fact here names a person {name!r}")
    return PersonView(name, entries, dict(sorted(wrote.items())), rows, pulls_by_joint(pulls), page)


def changes(
    *, kind: str = "", author: str = "", joint: str = "", until: datetime | None = None, before: int | None = None
) -> ChangePage:
    """What was written, the newest first: all of it, or of one kind, one author, one joint, up to a moment."""
    if kind or author or joint:
        places = _places(kind, author, joint)
    else:
        places = Fact.objects.order_by("-seq").values_list("seq", flat=True)
    if until is not None:
        places = places.filter(seq__lt=places_until(until))
    if before is not None:
        places = places.filter(seq__lt=before)
    shown = list(places[: ON_A_PAGE + 1])
    more = shown[ON_A_PAGE - 1] if len(shown) > ON_A_PAGE else None
    return ChangePage(changes_at(shown[:ON_A_PAGE]), more)


def _places(kind: str, author: str, joint: str):  # type: ignore[no-untyped-def]
    """Places of facts, newest first; the narrowest index first."""
    if joint:
        found = Fact.objects.annotate(fold=Upper("joint")).filter(fold=facts.fold(joint))
        if kind:
            found = found.filter(kind=kind)
        if author:
            found = found.filter(author__iexact=author)
    elif author:
        mentions = Mention.objects.filter(kind="author", name=name_of(author))
        if not kind:  # the index alone: PostgreSQL sorts all facts of the person otherwise
            return mentions.order_by("-seq").values_list("seq", flat=True)
        found = Fact.objects.filter(seq__in=mentions.values("seq"), kind=kind)
    else:
        found = Fact.objects.filter(kind=kind)
    return found.order_by("-seq").values_list("seq", flat=True)


def places_until(until: datetime) -> int:
    """Place of the first fact written after a moment: the log is in the order of writing, so it is found by halving."""
    text = moment(until)
    ends = _ends(Fact.objects.all())
    low, high = (0, 0) if ends is None else (ends[0], ends[1] + 1)
    while low < high:
        middle = (low + high) // 2
        written = Fact.objects.filter(seq=middle).values_list("written_at", flat=True).first()
        if written is not None and written <= text:
            low = middle + 1
        else:
            high = middle
    return low


def _ends(found: QuerySet[Any]) -> tuple[int, int] | None:
    """First and last place, None of nothing. Two questions: SQLite answers both from the index only one by one."""
    places = found.order_by("seq").values_list("seq", flat=True)
    first = places.first()
    return None if first is None else (first, places.last() or first)


def changes_at(places: Sequence[int]) -> tuple[ChangeRow, ...]:
    """The facts at these places as rows, in the order given."""
    found = {fact.seq: fact for fact in facts.by_seq(places)}
    lost = _withdrawn(found.values())
    return tuple(_change(found[seq], seq in lost) for seq in places)


def _withdrawn(found: Iterable[Fact]) -> set[int]:
    """Places of those facts that a withdrawn reading gave, or that are one."""
    if not readings.are_some():
        return set()
    given = list(found)
    rows = ((fact.seq, str(fact.data["file_sha256"])) for fact in given if fact.kind in (RECORD, UNREAD))
    taken = [fact.seq for fact in given if fact.kind == FILE]
    return readings.rows_withdrawn(rows) | {
        place["seq"] for place in readings.withdrawn_places().filter(seq__in=taken)
    }


def _change(fact: Fact, withdrawn: bool) -> ChangeRow:
    times = read_moment(fact.received_at), read_moment(fact.written_at)
    what = what_of(fact) + (" (this reading was withdrawn)" if withdrawn else "")
    return ChangeRow(fact.seq, fact.kind, fact.joint, fact.author, *times, what, fact.digest)


def what_of(fact: Fact) -> str:
    """One line that says what a fact is about."""
    b = fact.data
    if fact.kind == RECORD:
        value = f"{b['torque_text']} {b['torque_unit']}".strip() or "no torque"
        return f"fastener {b['fastener']}, {value}, {b['tool']} {b['counter'] or ''}".strip()
    if fact.kind == FILE:
        return f"{b['name']}: {b['new']} new records, read with {b['mapping']!r}"
    if fact.kind == WITHDRAWN:
        rows = sum(one["records"] + one["unread"] for one in b["joints"].values())
        named = ", ".join(list(b["joints"])[:12])
        return f"{b['name']}, read with {b['mapping']!r}, {rows} rows of {named or 'no joint'}: {b['why']}"[:1500]
    if fact.kind == SPECIFICATION:
        return f"{b['document']} revision {b['revision']}"
    if fact.kind in (TOOLS, UNREAD):
        return str(b.get("file") or b.get("reason"))
    if fact.kind == EQUIPMENT:
        return f"{b['file']}: {', '.join(b['serials'][:12])}{', …' if len(b['serials']) > 12 else ''}"
    if fact.kind == CERTIFICATE:
        why = f" (corrected: {b['why']})" if b["why"] else ""
        return f"{b['number']} of {b['serial']}, from {b['file']}{why}"
    if fact.kind == CERTIFICATE_WITHDRAWN:
        return f"{b['number']} of {b['serial']}: {b['why']}"
    if fact.kind == ENTRY:
        return f"{'' if b['subject'] == 'joint' else b['name'] + ': '}{render(entry_of(fact))}"[:600]
    if fact.kind == DISPOSITION:
        return f"{b['action']}: {b['reason']} [{b['flag_key'].split('|', 1)[0]}]"
    if fact.kind == CARD:
        came = b.get("carried")
        where = f", carried in; issued by {came['by']} in the dossier of the key {came['dossier'][:16]}" if came else ""
        return f"card {b['serial']}, valid until {b['valid_until'][:16]}{where}"
    if fact.kind == PACK:
        return f"work pack {b['serial']} for {b['crew']}, {b['shift']}: {len(b['cards'])} cards"
    if fact.kind == RELEASE:
        return f"{b['signed']['state']}: {b['signed']['statement']}"
    return str(b.get("what") or b.get("name") or b.get("id") or fact.key)[:300]


def listed(what: str, name: str = "", before: int | None = None) -> ChangePage:
    """Facts that the index marks: "late" entries, "entry" of a kind, "decision" of an action; newest first."""
    return marked(((what, name),), before)


def marked(marks: Iterable[tuple[str, str]], before: int | None = None) -> ChangePage:
    """Facts that bear any of these marks of the index (what, name; "" for any name), the newest first."""
    places: set[int] = set()
    for what, name in marks:
        found = Mention.objects.filter(kind=what)
        if name:
            found = found.filter(name=name_of(name))
        if before is not None:
            found = found.filter(seq__lt=before)
        places |= set(found.order_by("-seq").values_list("seq", flat=True).distinct()[: ON_A_PAGE + 1])
    shown = sorted(places, reverse=True)[: ON_A_PAGE + 1]
    return ChangePage(changes_at(shown[:ON_A_PAGE]), shown[ON_A_PAGE - 1] if len(shown) > ON_A_PAGE else None)


def draw(what: str, seed: int | None = None) -> str:
    """Draws a joint, a tool of the register, a person or a lot at random; "" when there is none. Persons and lots are
    drawn from the records that name them, so who is named more often is drawn more often."""
    dice = random.Random(seed)
    if what == "joint":
        count = Finding.objects.count()
        return Finding.objects.order_by("joint")[dice.randrange(count)].joint if count else ""
    if what == "tool":
        known = sorted({tool.serial for tool in register.tools()})
        return dice.choice(known) if known else ""
    if what == "person":
        return _drawn_person(dice)
    if what == "lot":
        ends = _ends(Mention.objects.filter(kind="lot"))
        if ends is None:
            return ""
        place = dice.randint(*ends)
        found = Mention.objects.filter(kind="lot", seq__gte=place).order_by("seq").first()
        return "" if found is None else found.name
    raise Unknown(f"{what!r} cannot be drawn; there are: joint, tool, person, lot")


def _drawn_person(dice: random.Random) -> str:
    ends = _ends(Pull.objects.all())
    if ends is None:
        return ""
    found = Pull.objects.filter(seq__gte=dice.randint(*ends)).order_by("seq").first()
    fact = None if found is None else Fact.objects.get(seq=found.seq)
    return "" if fact is None else str(fact.data["operator"])


def drawn_from(what: str) -> str:
    """What one drawn at random says of all the others; "" for persons and lots, of which those named more often are
    drawn more often."""
    if what == "joint":
        return drawn_words(Finding.objects.count(), "joint")
    return drawn_words(len({one.serial for one in register.tools()}), "tool") if what == "tool" else ""
