"""What things share: the fasteners of a lot or heat, joints alike, what happened more than once."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from django.db.models import Count, QuerySet

from evenpull.store.models import Finding, Mention, Pull
from evenpull.store.services import facts, readings, register
from evenpull.store.services.around import entries_about
from evenpull.store.services.audit_rows import JointCount, LotRow, LotView, Recurrence
from evenpull.store.services.errors import Unknown
from evenpull.store.services.fact_kinds import RECORD
from evenpull.store.services.index import name_of

UNJUDGED = "not judged yet"
MOST_JOINTS = 200  # listed with a tool or person; the count says when there are more
MOST_FASTENERS = 20_000  # of a lot in one answer
MOST_FAILED = 500  # joints on which something failed, compared with each other
SHOWN_SHEETS = 50
SAME_KIND = "same class, lubricant and method"


def joint_counts(counts: Iterable[tuple[str, int]]) -> tuple[JointCount, ...]:
    """Joints with how many tightenings each, most first."""
    most = sorted(counts, key=lambda pair: (-pair[1], pair[0]))[:MOST_JOINTS]
    findings = Finding.objects.filter(fold__in=[name for name, _ in most])
    known = {f.fold: (f.joint, f.state or UNJUDGED) for f in findings}
    return tuple(JointCount(*known.get(name, (name, ""))[:1], n, known.get(name, ("", ""))[1]) for name, n in most)


def pulls_by_joint(pulls: QuerySet[Pull]) -> tuple[JointCount, ...]:
    """Joints with how many tightenings each that count, and how many of readings that were withdrawn; most first."""
    def by_joint(some: QuerySet[Pull]) -> Counter[str]:
        return Counter(dict(some.order_by().values_list("fold").annotate(n=Count("seq"))))

    counts = by_joint(readings.counting(pulls))
    if not readings.are_some():
        return joint_counts(counts.items())
    lost = by_joint(pulls.filter(file__in=readings.withdrawn_places()))
    names = {facts.fold(row.joint): row for row in joint_counts((fold, counts[fold]) for fold in {*counts, *lost})}
    return tuple(replace(row, withdrawn=lost[fold]) for fold, row in names.items())


def lot(name: str) -> LotView:
    """Every fastener that a fact connects with this lot or heat. Unknown when none does.

    A heat is found where it is stated for a fastener, and in every lot that was received with it.
    """
    folded = name_of(name)
    entries = entries_about("lot", name)
    marked = {kind: Mention.objects.filter(kind=kind, name=folded) for kind in ("lot", "heat")}
    lots = _lots_of_heat(folded)
    of_lots = Mention.objects.filter(kind="lot", name__in=[name_of(one) for one in lots]) if lots else None
    rows: set[tuple[str, str, int | None, int]] = set()
    for found in (marked["lot"], marked["heat"], of_lots):
        if found is not None:
            places = found.exclude(fold="").order_by("fold", "unit", "fastener", "seq")
            rows |= set(places.values_list("fold", "unit", "fastener", "seq")[:MOST_FASTENERS])
    if not rows and not entries and not lots:
        raise Unknown(f"no fact here names a lot or heat {name!r}")
    kind = "lot" if entries or marked["lot"].exists() else "heat"
    for one in lots:
        entries += entries_about("lot", one) if name_of(one) != folded else ()
    known = _states({row[0] for row in rows})
    sources = facts.kinds_of(row[3] for row in rows)
    ordered = sorted(rows, key=lambda row: (row[0], row[1], -1 if row[2] is None else row[2], row[3]))
    lost = readings.withdrawn_among(seq for seq, source in sources.items() if source == RECORD)
    return LotView(name, kind, entries, tuple(
        LotRow(known.get(fold, (fold, ""))[0], unit, fastener, seq, sources[seq], known.get(fold, ("", ""))[1],
               seq in lost)
        for fold, unit, fastener, seq in ordered
    ), lots)  # fmt: skip


def _lots_of_heat(folded: str) -> tuple[str, ...]:
    """Lots that an entry on their receipt says to be of this heat."""
    places = Mention.objects.filter(kind="heat", name=folded, fold="").values_list("seq", flat=True)
    return tuple(sorted({fact.data["name"] for fact in facts.by_seq(places)}))


def _states(folds: set[str]) -> dict[str, tuple[str, str]]:
    """Fold -> (id, state as last judged) of those of these joints that are described."""
    known: dict[str, tuple[str, str]] = {}
    for some in facts.parts(sorted(folds)):
        for found in Finding.objects.filter(fold__in=some):
            known[found.fold] = (found.joint, found.state or UNJUDGED)
    return known


def recurrences() -> tuple[Recurrence, ...]:
    """What happened more than once: the same fastener found loose, the same values on two sheets, and what several
    joints share on which something failed (found loose, or a check, test or follow-up not in order)."""
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
    found += _shared_by_failed()
    same = Finding.objects.exclude(sheet="").order_by().values("sheet").annotate(n=Count("joint")).filter(n__gte=2)
    for row in same[:SHOWN_SHEETS]:
        alike = Finding.objects.filter(sheet=row["sheet"]).order_by("joint")
        joints = tuple(alike.values_list("joint", flat=True)[:20])
        found.append(Recurrence("the same values on several sheets", row["sheet"][:16], joints, ()))
    return tuple(found)


def _shared_by_failed() -> Iterator[Recurrence]:
    """Two or more joints on which something failed, and what they have in common."""
    failed = Mention.objects.filter(kind__in=("loose", "failed")).exclude(fold="").order_by("-seq")
    folds = sorted(set(failed.values_list("fold", flat=True).distinct()[:MOST_FAILED]))
    if len(folds) < 2:
        return
    shared: dict[tuple[str, str], set[str]] = defaultdict(set)
    for some in facts.parts(folds):
        for kind, label in (("lot", "the same lot"), ("heat", "the same heat")):
            for fold, name in Mention.objects.filter(kind=kind, fold__in=some).values_list("fold", "name").distinct():
                shared[label, name].add(fold)
        for column, label in (("operator", "the same operator"), ("tool", "the same tool")):
            pulls = Pull.objects.filter(fold__in=some).order_by().values_list("fold", column).distinct()
            for fold, name in pulls:
                if name:
                    shared[label, name].add(fold)
        for fold, name in Finding.objects.filter(fold__in=some).exclude(alike="").values_list("fold", "alike"):
            shared[SAME_KIND, name].add(fold)
    for (label, name), joints in sorted(shared.items()):
        if len(joints) > 1:
            what = f"joints on which something failed share {label}: {name.replace('|', ', ')}"
            yield Recurrence(what, name, tuple(sorted(joints)[:20]), ())


def siblings(joint_id: str) -> dict[str, tuple[JointCount, ...]]:
    """Joints to look at when this one failed, by what they share with it: kind of joint, operator, tool, lot, sheet;
    first of all those alike that the same person tightened."""
    own = Finding.objects.filter(joint=register.specification(joint_id).id).first()
    here = facts.fold(joint_id)
    mine = readings.counting(Pull.objects.filter(fold=here)).order_by()
    shared: dict[str, tuple[JointCount, ...]] = {}
    people = sorted(set(mine.values_list("operator", flat=True)) - {""})
    if own is not None and own.alike:
        twins = Finding.objects.filter(alike=own.alike).exclude(fold=here).order_by("joint")
        if people:
            by_them = Pull.objects.filter(operator__in=people, fold__in=twins.values("fold"))
            by_them = readings.counting(by_them).order_by()
            both = joint_counts(by_them.values_list("fold").annotate(n=Count("seq")))
            if both:
                shared["alike, and tightened by the same person"] = both
        rows = tuple(JointCount(f.joint, 0, f.state or UNJUDGED) for f in twins[:MOST_JOINTS])
        shared[SAME_KIND] = rows
    for label, column in (("same operator", "operator"), ("same tool", "tool")):
        for value in sorted(set(mine.values_list(column, flat=True)) - {""}):
            others = readings.counting(Pull.objects.filter(**{column: value})).exclude(fold=here)
            others = others.order_by().values_list("fold")
            shared[f"{label}: {value}"] = joint_counts(others.annotate(n=Count("seq")))
    for kind in ("lot", "heat"):
        for value in sorted(set(Mention.objects.filter(kind=kind, fold=here).values_list("name", flat=True))):
            named = Mention.objects.filter(kind=kind, name=value).exclude(fold__in=["", here]).order_by()
            shared[f"same {kind}: {value}"] = joint_counts(named.values_list("fold").annotate(n=Count("seq")))
    if own is not None and own.sheet:
        same = Finding.objects.filter(sheet=own.sheet).exclude(fold=here).order_by("joint")
        shared["same values"] = tuple(JointCount(f.joint, 0, f.state or UNJUDGED) for f in same[:MOST_JOINTS])
    return shared
