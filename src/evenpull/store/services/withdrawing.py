"""Taking back the reading of a file (docs/decisions/0013): one fact says so, and rows that other files had left out as
repeats of it are taken from those files in the same transaction. Nothing is changed, nothing deleted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db.models import Count

from evenpull.evidence.checkpoint import moment
from evenpull.intake import IntakeError, Tightening, from_json, read_file
from evenpull.intake.withdrawn import Readings, Repeat, Taking, Withdrawal, unfit, waiting
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import accounts, index, readings, received, register
from evenpull.store.services.comparing import compare
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import RECORD, UNREAD, WITHDRAWN
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import checked_raw
from evenpull.store.services.rows import FileView, WithdrawalPlan
from evenpull.store.services.taking import record_facts


@dataclass(frozen=True)
class _Instead:
    """Rows that another file gives now: its reading, and the records by the keys under which they are written."""

    taking: Fact
    new: dict[str, Tightening]


def named(text: str) -> str:
    """The SHA-256 of a file by its hash, the beginning of it (8 characters or more), or the name under which it was
    received. Unknown when none fits, Refused when several do."""
    wanted = text.strip()
    rows = received.files()
    exact = sorted({row.sha256 for row in rows if wanted.lower() == row.sha256 or wanted == row.name})
    begun = sorted({row.sha256 for row in rows if len(wanted) >= 8 and row.sha256.startswith(wanted.lower())})
    found = exact or begun
    if not found:
        raise Unknown(f"no file {wanted[:300]!r} was taken in: say its name as it was received, or its SHA-256")
    if len(found) > 1:
        listed = ", ".join(sha[:16] for sha in found[:10])
        raise Refused(f"{wanted[:300]!r} may be any of {len(found)} files; say the SHA-256: {listed}")
    return found[0]


def plan_withdrawal(sha256: str) -> WithdrawalPlan:
    """What withdrawing the reading of this file would take, by joint. Unknown when no such file was taken in, Refused
    when its last reading was withdrawn before."""
    taking = _standing(sha256)
    by_joint = _by_joint(taking)
    body = taking.data
    return WithdrawalPlan(
        taking.seq, body["name"], body["sha256"], body["mapping"],
        {joint: (one["records"], one["unread"]) for joint, one in by_joint.items() if one["records"] or one["unread"]},
        sum(one["records"] for one in by_joint.values()), sum(one["unread"] for one in by_joint.values()),
    )  # fmt: skip


def withdraw_reading(
    sha256: str, why: str, author: str, *, reading: int | None = None, by_password: bool = False
) -> FileView:
    """Withdraw the reading of a file that counts. Refused without a reason, or when there is none that counts.

    `reading`: place of the reading that its author saw; refused when it is another by now. `by_password`: the password
    was given again in the same act.
    """
    who, words = checked_author(author), " ".join(why.split())
    if not words.isprintable():
        raise Refused("why: it holds characters that cannot be shown. Nothing was written.")
    with writing():
        taking = _standing(sha256)
        if reading is not None and reading != taking.seq:
            raise Refused(
                f"{taking.data['name']} was read again since you saw it (fact {taking.seq}). Look at it again. "
                "Nothing was written."
            )
        body = taking.data
        proposed = Withdrawal(taking.seq, sha256, body["mapping_sha256"], who, datetime.now(UTC), words)
        this = Taking(taking.seq, sha256, body["mapping_sha256"])
        faults = unfit(proposed, Readings([this], []))
        if faults:
            said = "; ".join(f"{name}: {what} (allowed: {allowed})" for name, what, allowed in faults)
            raise Refused(f"{said}. Nothing was written.")
        _not_own_work(taking, who)
        instead = _instead(taking, proposed)
        append(_facts(taking, proposed, instead, accounts.identity(by_password)), who)
    return received.file(sha256)


def _standing(sha256: str) -> Fact:
    """The reading of a file that counts."""
    fact = received.last_fact(sha256)
    if fact is None:
        raise Unknown(f"no file with SHA-256 {sha256[:64]} was taken in")
    earlier = readings.of_files([sha256]).withdrawn.get(fact.seq)
    if earlier is not None:
        raise Refused(
            f"the reading of {fact.data['name']} was withdrawn before, by {earlier.by} on "
            f"{earlier.at:%Y-%m-%d %H:%M} UTC: {earlier.why}. Nothing was written."
        )
    return fact


def _not_own_work(taking: Fact, who: str) -> None:
    """Refused when the reading holds pulls of this person on a joint of class A: another person has to judge them."""
    for first, last in readings.ranges_of(taking):
        own = Pull.objects.filter(seq__gte=first, seq__lte=last, operator=index.name_of(who)[:100]).order_by()
        for joint in register.described(own.values_list("fold", flat=True).distinct()).values():
            if register.specification(joint).joint_class == "A":
                raise Refused(
                    f"{who} tightened fasteners of {joint}, a joint of class A, and this reading tells of it: another "
                    "person has to withdraw it. Nothing was written."
                )


def _by_joint(taking: Fact) -> dict[str, dict[str, int]]:
    """Joint as written -> how many records, unread rows and repeats of it this reading has."""
    found: dict[str, dict[str, int]] = defaultdict(lambda: {"records": 0, "unread": 0, "repeated": 0})
    for first, last in readings.ranges_of(taking):
        rows = Fact.objects.filter(seq__gte=first, seq__lte=last, kind__in=(RECORD, UNREAD)).order_by()
        for kind, joint, count in rows.values_list("kind", "joint").annotate(n=Count("seq")):
            found[joint]["records" if kind == RECORD else "unread"] += count
    for one in taking.data["repeated"]:
        found[received.column(one["joint"])]["repeated"] += 1
    return dict(sorted(found.items()))


def _memories(taking: Fact) -> list[list[str]]:
    """Tool and memory of every counter of this reading: other joints may have the gap that opens now."""
    found: set[tuple[str, str]] = set()
    for first, last in readings.ranges_of(taking):
        pulls = Pull.objects.filter(seq__gte=first, seq__lte=last, counter__isnull=False).exclude(tool="").order_by()
        found |= set(pulls.values_list("tool", "epoch").distinct())
        for fact in Fact.objects.filter(seq__gte=first, seq__lte=last, kind=UNREAD):
            b = fact.data
            if b.get("tool") and b.get("counter") is not None:
                found.add((received.column(b["tool"]), received.column(b["epoch"])))
    return [list(one) for one in sorted(found)]


def _sources(taking: Fact) -> Iterator[readings.Place]:
    """The records of a reading, by what their source calls them."""
    sha256 = taking.data["sha256"]
    for first, last in readings.ranges_of(taking):
        for fact in Fact.objects.filter(seq__gte=first, seq__lte=last, kind=RECORD).order_by("seq").iterator(2_000):
            record = from_json(fact.data)
            if isinstance(record, Tightening):
                yield readings.Place(fact.seq, sha256, record.source)


def _source_of(key: str) -> str:
    """`Tightening.source` of a `Tightening.key`, as the fact of a file keeps it for each repeated row."""
    return key.rpartition("/")[0]


def _instead(taking: Fact, proposed: Withdrawal) -> list[_Instead]:
    """What other files give now that had left it out as a repeat of a record of this reading.

    Only readings after this one can have repeated it: of several that hold a record, the earliest that counts gave it.
    """
    later = Mention.objects.filter(kind="repeated", seq__gt=taking.seq, n__gt=0).order_by().values("seq").distinct()
    lost_places = readings.withdrawn_places()
    candidates = {
        fact.seq: fact
        for fact in Fact.objects.filter(seq__in=later).exclude(seq__in=lost_places).order_by("seq")
        if fact.data["sha256"] != proposed.file_sha256
    }
    if not candidates:
        return []
    records = list(_sources(taking))
    held = {place.key for place in records}
    takings = [Taking(taking.seq, proposed.file_sha256, proposed.mapping_sha256)]
    for seq, fact in candidates.items():
        b = fact.data
        sources = ((one["row"], _source_of(one["key"])) for one in b["repeated"])
        again = tuple(Repeat(row, source) for row, source in sources if source in held)
        takings.append(Taking(seq, b["sha256"], b["mapping_sha256"], again))
    found = waiting(records, Readings(takings, [proposed]))
    return [_read_again(candidates[seq], rows, taking.seq) for seq, rows in sorted(found.items())]


def _read_again(taking: Fact, rows: tuple[int, ...], without: int) -> _Instead:
    """Rows of a file under the mapping of its reading, compared with what is left. Refused where one is missing."""
    b = taking.data
    mapping = register.mapping_of(b["mapping"], b["mapping_sha256"])
    try:
        reading = read_file(checked_raw(b["sha256"]), mapping, name=b["name"])
    except IntakeError as error:
        raise Refused(f"{b['name']} repeats records of this file, and cannot be read again: {error}. "
                      "Nothing was written.") from error  # fmt: skip
    wanted = set(rows)
    again = tuple(row for row in reading.tightenings if row.row in wanted)
    missing = wanted - {row.row for row in again}
    found = compare(again, frozenset({without}))
    if missing or found.repeated or found.conflicts:
        what = "; ".join([*(f"row {n} gives no record any more" for n in sorted(missing)[:5]), *found.conflicts[:5]])
        raise Refused(
            f"{b['name']} repeats records of this file, and its rows do not come out as they did: "
            f"{what or 'they are there already'}. Withdraw the reading of {b['name']} first. Nothing was written."
        )
    return _Instead(taking, found.new)


def _facts(
    taking: Fact, proposed: Withdrawal, instead: list[_Instead], identity: str
) -> Iterator[New]:
    b = taking.data
    body: dict[str, Any] = {
        "reading": taking.seq,
        "sha256": b["sha256"],
        "name": b["name"],
        "mapping": b["mapping"],
        "mapping_sha256": b["mapping_sha256"],
        "at": moment(proposed.at),
        "why": proposed.why,
        "identity": identity,
        "what": "these records and rows no longer count; they stay as they were received",
        "facts": [list(one) for one in readings.ranges_of(taking)],
        "joints": _by_joint(taking),
        "memories": _memories(taking),
        "taken": [
            {
                "reading": one.taking.seq,
                "sha256": one.taking.data["sha256"],
                "name": one.taking.data["name"],
                "rows": [[received.column(row.joint), row.row] for row in one.new.values()],
            }
            for one in instead
        ],
    }
    yield New(WITHDRAWN, readings.key_of_withdrawal(taking.seq), body)
    for one in instead:
        yield from record_facts(one.new)
