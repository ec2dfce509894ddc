"""What the dossier knows beside the records of one joint: entries, tools, people, lots, earlier revisions, counters."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from datetime import datetime

from evenpull.evidence.checkpoint import read_moment
from evenpull.intake import from_json
from evenpull.intake.record import Tightening, UnreadRow
from evenpull.ledger.entry import Entry
from evenpull.ledger.entry import from_json as entry_from_json
from evenpull.plan import make_plan
from evenpull.plan.model import Plan, Specification
from evenpull.proof.surroundings import Stream, Surroundings
from evenpull.store.models import Fact, Finding, Mention, Pull
from evenpull.store.services import facts, fitting, index, register, review_marks
from evenpull.store.services.fact_kinds import ENTRY
from evenpull.store.services.index import name_of
from evenpull.store.services.papers import releases_of
from evenpull.store.services.readings import counting, rows_withdrawn

CLOSE = 2.0  # s between two records that may be the same pull received twice


def entry_of(fact: Fact) -> Entry:
    """The entry that a fact holds."""
    return entry_from_json(
        fact.data, id=fact.key, by=fact.author, written_at=read_moment(fact.written_at), seq=fact.seq
    )


def entries_of_joint(joint_id: str) -> tuple[Entry, ...]:
    return tuple(entry_of(fact) for fact in facts.of_joint(joint_id, ENTRY))


def _spoken_of() -> set[tuple[str, str]]:
    """Every tool, person and lot that some entry is about: far fewer than there are."""
    found = Mention.objects.filter(fold="", kind__in=("tool", "person", "lot")).order_by()
    return set(found.values_list("kind", "name").distinct())


def entries_about(subject: str, name: str) -> tuple[Entry, ...]:
    """The entries about one tool, person or lot, by their place in the log."""
    if facts.is_held() and (subject, name_of(name)) not in facts.once("spoken of", _spoken_of):
        return ()
    places = Mention.objects.filter(kind=subject, name=name_of(name), fold="").values_list("seq", flat=True)
    found = [entry_of(fact) for fact in facts.by_seq(places) if fact.kind == ENTRY]
    return tuple(entry for entry in found if entry.subject == subject and name_of(entry.name) == name_of(name))


def around(
    spec: Specification, records: Sequence[Tightening], received: dict[str, datetime], now: datetime, sheet: str
) -> Surroundings:
    """Gather it for one joint. `received`: SHA-256 of a file -> when it was received; `sheet`: fingerprint of the
    values of this joint as they are now."""
    entries = entries_of_joint(spec.id)
    tools = sorted({r.tool for r in records if r.tool} | set(spec.tools_allowed))
    people = sorted({name_of(r.operator) for r in records if r.operator.strip()})
    lots = sorted(_lots(spec, records, entries))
    return Surroundings(
        now=now,
        entries=entries,
        tools={tool: found for tool in tools if (found := entries_about("tool", tool))},
        people={name: found for name in people if (found := entries_about("person", name))},
        lots={lot: found for lot in lots if (found := entries_about("lot", lot))},
        revisions=_earlier_plans(spec, now),
        counters=_counters(records),
        elsewhere=_elsewhere(spec, records),
        copied=_copied(spec, sheet),
        received=received,
        fit=fitting.tool_fitness(),
        reviews=review_marks.of_joint(spec.id),
        released=min((release.signed_at for release in releases_of(spec.id)), default=None),
    )


def _lots(spec: Specification, records: Iterable[Tightening], entries: Iterable[Entry]) -> set[str]:
    found = {spec.fasteners.lot} if spec.fasteners.lot else set()
    for record in records:
        found |= {record.particulars[name].text for name in index.LOTS if name in record.particulars}
    for entry in entries:
        found |= {entry.text(name) for name in ("lot", "lubricant_lot")}
    return {lot for lot in found if lot}


def _earlier_plans(spec: Specification, now: datetime) -> tuple[Plan, ...]:
    """Plans of the revisions before the one in force; texts that this version refuses are left out by `register`."""
    today = now.date()
    return tuple(
        make_plan(one, register.tools_in_force(today, one.tools_allowed), today)
        for one in register.earlier_specifications(spec.id)
    )


def _counters(records: Sequence[Tightening]) -> dict[Stream, tuple[tuple[int, int], ...]]:
    """Counters known in the whole dossier within the span of this joint's own, as ranges."""
    spans: dict[Stream, list[int]] = {}
    for record in records:
        if record.tool and record.counter is not None and abs(record.counter) < 2**62:
            span = spans.setdefault((record.tool[:100], record.epoch[:100]), [record.counter, record.counter])
            span[0], span[1] = min(span[0], record.counter), max(span[1], record.counter)
    found: dict[Stream, tuple[tuple[int, int], ...]] = {}
    for (tool, epoch), (first, last) in spans.items():
        known = counting(Pull.objects.filter(tool=tool, epoch=epoch, counter__gte=first, counter__lte=last))
        parts = ranges(known.order_by("counter").values_list("counter", flat=True))
        found[tool, epoch] = parts if len(parts) < 2 else (*parts, *unread_counters(tool, epoch))
    return found


def unread_counters(tool: str, epoch: str) -> tuple[tuple[int, int], ...]:
    """Counters of rows that could not be read, of whatever joint: the pull is not missing, its row is."""
    places = Mention.objects.filter(kind="unread", name=name_of(tool), unit=epoch).values_list("seq", flat=True)
    held = [(fact.seq, from_json(fact.data)) for fact in facts.by_seq(places)]
    lost = rows_withdrawn((seq, row.file_sha256) for seq, row in held)
    rows = [row for seq, row in held if seq not in lost]
    numbers = {r.counter for r in rows if isinstance(r, UnreadRow) and r.tool[:100] == tool and r.counter is not None}
    return ranges(sorted(numbers))


def ranges(numbers: Iterable[int | None]) -> tuple[tuple[int, int], ...]:
    """Rising numbers as ranges of neighbours: 1, 2, 3, 7 -> (1, 3), (7, 7)."""
    made: list[list[int]] = []
    for number in numbers:
        if number is None:
            continue
        if made and number <= made[-1][1] + 1:
            made[-1][1] = number
        else:
            made.append([number, number])
    return tuple((first, last) for first, last in made)


def _elsewhere(spec: Specification, records: Sequence[Tightening]) -> tuple[Tightening, ...]:
    """Records of other joints by the same tool, with the same torque and angle, within two seconds of one of these."""
    timed: dict[str, dict[tuple[float | None, float | None], list[float]]] = {}
    for r in records:
        if r.tool and r.time is not None:
            timed.setdefault(r.tool[:100], {}).setdefault((r.torque, r.angle), []).append(r.time.timestamp())
    seqs: set[int] = set()
    for tool, mine in sorted(timed.items()):
        for times in mine.values():
            times.sort()
        low, high = min(times[0] for times in mine.values()), max(times[-1] for times in mine.values())
        others = Pull.objects.filter(tool=tool, time__gte=low - CLOSE, time__lte=high + CLOSE)
        others = others.exclude(fold=facts.fold(spec.id))
        others = counting(others)
        for seq, time, torque, angle in others.values_list("seq", "time", "torque", "angle"):
            times = mine.get((torque, angle), [])
            at = bisect_left(times, time - CLOSE)
            # the nearest that may count; the difference itself decides, as a sum may round to the other side
            if any(abs(time - one) <= CLOSE for one in times[max(0, at - 1) : at + 2]):
                seqs.add(seq)
    found = (from_json(fact.data) for fact in facts.by_seq(seqs))
    return tuple(one for one in found if isinstance(one, Tightening))


def _copied(spec: Specification, own: str) -> dict[str, tuple[str, ...]]:
    """Other joints whose sheet has the same fingerprint as this one's (see `proof.doubt_flags`)."""
    if not own:
        return {}
    others = Finding.objects.filter(sheet=own).exclude(joint=spec.id).order_by("joint").values_list("joint", flat=True)
    return dict.fromkeys(others[:20], (own,))
