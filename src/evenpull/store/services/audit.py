"""The questions of an audit, from the index: joint, tool, person, lot, what changed when, what recurs."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from django.db.models import Count, Max, Min, QuerySet
from django.db.models.functions import Upper

from evenpull.evidence.checkpoint import moment, read_moment
from evenpull.ledger.kinds import KINDS
from evenpull.proof.counters import gaps
from evenpull.store.models import Fact, Finding, Mention, Pull
from evenpull.store.services import facts, readings, register
from evenpull.store.services.around import entries_about, ranges, unread_counters
from evenpull.store.services.audit_rows import (
    ChangePage,
    ChangeRow,
    CounterRow,
    JointCount,
    LotRow,
    LotView,
    PersonView,
    PullPage,
    PullRow,
    Recurrence,
    ToolView,
)
from evenpull.store.services.errors import Unknown
from evenpull.store.services.fact_kinds import (
    CARD,
    DISPOSITION,
    ENTRY,
    FILE,
    RECORD,
    RELEASE,
    SPECIFICATION,
    TOOLS,
    UNREAD,
    WITHDRAWN,
)
from evenpull.store.services.index import name_of

ON_A_PAGE = 50
UNJUDGED = "not judged yet"
MOST_JOINTS = 200  # listed with a tool or person; the count says when there are more
MOST_FASTENERS = 20_000  # of a lot in one answer


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


def _pulls_by_joint(pulls: QuerySet[Pull]) -> tuple[JointCount, ...]:
    """Joints with how many tightenings each that count, and how many of readings that were withdrawn; most first."""
    def by_joint(some: QuerySet[Pull]) -> Counter[str]:
        return Counter(dict(some.order_by().values_list("fold").annotate(n=Count("seq"))))

    counts = by_joint(readings.counting(pulls))
    if not readings.are_some():
        return _joints(counts.items())
    lost = by_joint(pulls.filter(file__in=readings.withdrawn_places()))
    names = {facts.fold(row.joint): row for row in _joints((fold, counts[fold]) for fold in {*counts, *lost})}
    return tuple(replace(row, withdrawn=lost[fold]) for fold, row in names.items())


def _joints(counts: Iterable[tuple[str, int]]) -> tuple[JointCount, ...]:
    """Joints with how many tightenings each, most first."""
    most = sorted(counts, key=lambda pair: (-pair[1], pair[0]))[:MOST_JOINTS]
    findings = Finding.objects.filter(fold__in=[name for name, _ in most])
    known = {f.fold: (f.joint, f.state or UNJUDGED) for f in findings}
    return tuple(JointCount(*known.get(name, (name, ""))[:1], n, known.get(name, ("", ""))[1]) for name, n in most)


def tool(serial: str, before: int | None = None) -> ToolView:
    """Certificates, entries, counters with gaps, joints and tightenings of one tool. Unknown when nothing names it."""
    certificates, entries = register.tools([serial]), entries_about("tool", serial)
    pulls = Pull.objects.filter(tool=serial[:100])
    page = pull_page(pulls, before)
    if not certificates and not entries and not page.total:
        raise Unknown(f"no tool {serial!r} is in the register, in a record or in an entry here")
    return ToolView(serial, certificates, entries, _counter_rows(serial), _pulls_by_joint(pulls), page)


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
    wrote = Counter[str]()
    places = Mention.objects.filter(kind="author", name=folded).order_by("seq").values_list("seq", flat=True)
    for kind in _kinds(places):
        wrote[kind] += 1
    named = Mention.objects.filter(kind="person", name=folded).order_by("-seq").values_list("seq", flat=True)
    page, entries = pull_page(pulls, before), entries_about("person", name)
    rows = changes_at(list(dict.fromkeys(named[:ON_A_PAGE])))
    if not page.total and not wrote and not rows and not entries:
        raise Unknown(f"no fact here names a person {name!r}")
    return PersonView(name, entries, dict(sorted(wrote.items())), rows, _pulls_by_joint(pulls), page)


def _kinds(places: Iterable[int]) -> list[str]:
    wanted, found = list(places), list[str]()
    for begin in range(0, len(wanted), facts.AT_ONCE):
        found += Fact.objects.filter(seq__in=wanted[begin : begin + facts.AT_ONCE]).values_list("kind", flat=True)
    return found


def lot(name: str) -> LotView:
    """Every fastener that a fact connects with this lot or heat: one query. Unknown when none does."""
    folded = name_of(name)
    for kind in ("lot", "heat"):
        found = Mention.objects.filter(kind=kind, name=folded).exclude(fold="")
        found = found.order_by("fold", "unit", "fastener", "seq")
        rows = list(found.values_list("fold", "unit", "fastener", "seq")[:MOST_FASTENERS])
        entries = entries_about("lot", name) if kind == "lot" else ()
        if not rows and not entries:
            continue
        folds = sorted({row[0] for row in rows})
        known: dict[str, tuple[str, str]] = {}
        for begin in range(0, len(folds), facts.AT_ONCE):
            for f in Finding.objects.filter(fold__in=folds[begin : begin + facts.AT_ONCE]):
                known[f.fold] = (f.joint, f.state or UNJUDGED)
        sources = dict(zip(sorted({row[3] for row in rows}), _sources({row[3] for row in rows}), strict=True))
        lost = readings.withdrawn_among(seq for seq, source in sources.items() if source == RECORD)
        return LotView(name, kind, entries, tuple(
            LotRow(known.get(fold, (fold, ""))[0], unit, fastener, seq, sources[seq], known.get(fold, ("", ""))[1],
                   seq in lost)
            for fold, unit, fastener, seq in rows
        ))  # fmt: skip
    raise Unknown(f"no fact here names a lot or heat {name!r}")


def _sources(places: set[int]) -> list[str]:
    wanted, found = sorted(places), list[str]()
    for begin in range(0, len(wanted), facts.AT_ONCE):
        some = Fact.objects.filter(seq__in=wanted[begin : begin + facts.AT_ONCE]).order_by("seq")
        found += some.values_list("kind", flat=True)
    return found


def changes(
    *, kind: str = "", author: str = "", joint: str = "", until: datetime | None = None, before: int | None = None
) -> ChangePage:
    """What was written, the newest first: all of it, or of one kind, one author, one joint, up to a moment."""
    if kind or author or joint:
        places = _places(kind, author, joint)
    else:
        places = Fact.objects.order_by("-seq").values_list("seq", flat=True)
    if until is not None:
        places = places.filter(seq__lt=_first_after(until))
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
        mentions = Mention.objects.filter(kind="author", name=name_of(author)).values("seq")
        found = Fact.objects.filter(seq__in=mentions)
        if kind:
            found = found.filter(kind=kind)
    else:
        found = Fact.objects.filter(kind=kind)
    return found.order_by("-seq").values_list("seq", flat=True)


def _first_after(until: datetime) -> int:
    """Place of the first fact written after a moment: the log is in the order of writing, so it is found by halving."""
    text = moment(until)
    ends = Fact.objects.aggregate(low=Min("seq"), high=Max("seq"))
    low, high = ends["low"] or 0, (ends["high"] if ends["high"] is not None else -1) + 1
    while low < high:
        middle = (low + high) // 2
        written = Fact.objects.filter(seq=middle).values_list("written_at", flat=True).first()
        if written is not None and written <= text:
            low = middle + 1
        else:
            high = middle
    return low


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
    if fact.kind == ENTRY:
        label = KINDS[b["kind"]].label if b["kind"] in KINDS else b["kind"]
        where = "" if not b["fasteners"] else f", fasteners {', '.join(map(str, b['fasteners'][:12]))}"
        words = "; ".join(f"{name} {text}" for name, text in sorted(b["values"].items()) if text)
        return f"{label}{'' if b['subject'] == 'joint' else ' ' + b['name']}{where}: {words or b['reason']}"[:300]
    if fact.kind == DISPOSITION:
        return f"{b['action']}: {b['reason']} [{b['flag_key'].split('|', 1)[0]}]"
    if fact.kind == CARD:
        return f"card {b['serial']}, valid until {b['valid_until'][:16]}"
    if fact.kind == RELEASE:
        return f"{b['signed']['state']}: {b['signed']['statement']}"
    return str(b.get("what") or b.get("name") or b.get("id") or fact.key)[:300]


def listed(what: str, name: str = "", before: int | None = None) -> ChangePage:
    """Facts that the index marks: "late" entries, "entry" of a kind, "decision" of an action; newest first."""
    found = Mention.objects.filter(kind=what)
    if name:
        found = found.filter(name=name_of(name))
    if before is not None:
        found = found.filter(seq__lt=before)
    shown = list(dict.fromkeys(found.order_by("-seq").values_list("seq", flat=True)[: ON_A_PAGE + 1]))
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
        ends = Mention.objects.filter(kind="lot").aggregate(low=Min("seq"), high=Max("seq"))
        if ends["low"] is None:
            return ""
        place = dice.randint(ends["low"], ends["high"])
        found = Mention.objects.filter(kind="lot", seq__gte=place).order_by("seq").first()
        return "" if found is None else found.name
    raise Unknown(f"{what!r} cannot be drawn; there are: joint, tool, person, lot")


def _drawn_person(dice: random.Random) -> str:
    ends = Pull.objects.aggregate(low=Min("seq"), high=Max("seq"))
    if ends["low"] is None:
        return ""
    found = Pull.objects.filter(seq__gte=dice.randint(ends["low"], ends["high"])).order_by("seq").first()
    fact = None if found is None else Fact.objects.get(seq=found.seq)
    return "" if fact is None else str(fact.data["operator"])


def recurrences() -> tuple[Recurrence, ...]:
    """What happened more than once: the same fastener found loose, the same values on two sheets."""
    found = []
    again = (
        Mention.objects.filter(kind="loose").order_by().values("fold", "unit", "fastener").annotate(n=Count("seq"))
        .filter(n__gte=2)
    )  # fmt: skip
    for row in again:
        seqs = Mention.objects.filter(kind="loose", fold=row["fold"], unit=row["unit"], fastener=row["fastener"])
        where = f"{row['fold']}{' ' + row['unit'] if row['unit'] else ''}, fastener {row['fastener']}"
        places = tuple(sorted(set(seqs.values_list("seq", flat=True))))
        found.append(Recurrence("the same fastener found loose again", where, (where,), places))
    same = Finding.objects.exclude(sheet="").order_by().values("sheet").annotate(n=Count("joint")).filter(n__gte=2)
    for row in same[:ON_A_PAGE]:
        alike = Finding.objects.filter(sheet=row["sheet"]).order_by("joint")
        joints = tuple(alike.values_list("joint", flat=True)[:20])
        found.append(Recurrence("the same values on several sheets", row["sheet"][:16], joints, ()))
    return tuple(found)


def siblings(joint_id: str) -> dict[str, tuple[JointCount, ...]]:
    """Joints to look at when this one failed, by what they share with it: kind of joint, operator, tool, lot, sheet."""
    own = Finding.objects.filter(joint=register.specification(joint_id).id).first()
    here = facts.fold(joint_id)
    mine = readings.counting(Pull.objects.filter(fold=here)).order_by()
    shared: dict[str, tuple[JointCount, ...]] = {}
    if own is not None and own.alike:
        twins = Finding.objects.filter(alike=own.alike).exclude(fold=here).order_by("joint")
        rows = tuple(JointCount(f.joint, 0, f.state or UNJUDGED) for f in twins[:MOST_JOINTS])
        shared["same class, lubricant and method"] = rows
    for label, column in (("same operator", "operator"), ("same tool", "tool")):
        for value in sorted(set(mine.values_list(column, flat=True)) - {""}):
            others = readings.counting(Pull.objects.filter(**{column: value})).exclude(fold=here)
            others = others.order_by().values_list("fold")
            shared[f"{label}: {value}"] = _joints(others.annotate(n=Count("seq")))
    for value in sorted(set(Mention.objects.filter(kind="lot", fold=here).values_list("name", flat=True))):
        named = Mention.objects.filter(kind="lot", name=value).exclude(fold__in=["", here]).order_by()
        shared[f"same lot: {value}"] = _joints(named.values_list("fold").annotate(n=Count("seq")))
    if own is not None and own.sheet:
        same = Finding.objects.filter(sheet=own.sheet).exclude(fold=here).order_by("joint")
        shared["same values"] = tuple(JointCount(f.joint, 0, f.state or UNJUDGED) for f in same[:MOST_JOINTS])
    return shared
