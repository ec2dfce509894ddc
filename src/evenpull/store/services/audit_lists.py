"""The lists of an audit: one table for pages and commands, and who has read each of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from evenpull.evidence.checkpoint import read_moment
from evenpull.store.models import Fact, Mention
from evenpull.store.services import accounts
from evenpull.store.services.audit import marked
from evenpull.store.services.audit_rows import ChangePage
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import (
    ACCOUNT,
    CARD_ADMITTED,
    CARRIED_IN,
    CARRIED_OUT,
    CLOCK,
    MADE,
    REFUSAL,
    RESTORED,
    REVIEWED,
    SET_ASIDE,
    TESTED,
    WITHDRAWN,
)
from evenpull.store.services.index import name_of
from evenpull.store.services.log import New, append, checked_author, next_key, writing

SHORTEST = 5  # characters of what was found


@dataclass(frozen=True)
class AuditList:
    """`marks`: what the index marks its facts with (what, name; "" for any name). `exceptions`: it is an exception
    report, to be read by somebody regularly."""

    name: str
    heading: str
    marks: tuple[tuple[str, str], ...]
    exceptions: bool = False


LISTS: dict[str, AuditList] = {one.name: one for one in (
    AuditList("late", "Late entries and records", (("late", ""),), True),
    AuditList("exceptions", "Exceptions from gates", (("entry", "exception"),), True),
    AuditList("methods", "Changes of method", (("entry", "method change"),), True),
    AuditList("hand-overs", "Hand-overs, interruptions, changes of tool",
              (("entry", "hand-over"), ("entry", "interruption"), ("entry", "tool change"))),
    AuditList("corrections", "Corrections of records", (("entry", "correction"),), True),
    AuditList("readings-withdrawn", "Readings of files withdrawn", (("kind", WITHDRAWN),), True),
    AuditList("blocked", "Who and what could not be used", (("kind", REFUSAL),), True),
    AuditList("accepted", "Accepted as it is", (("decision", "accept as is"),), True),
    AuditList("reviews", "Decided by engineering review", (("decision", "engineering review"),), True),
    AuditList("tools-in-doubt", "Tools dropped, overloaded, lost, blocked, or outside their limits",
              (("failed", "shift check"), ("entry", "tool dropped"), ("entry", "tool overloaded"),
               ("entry", "tool lost"), ("entry", "tool blocked"), ("entry", "tool unblocked")), True),
    AuditList("lots-blocked", "Lots blocked and unblocked", (("entry", "lot blocked"), ("entry", "lot unblocked")),
              True),
    AuditList("qualifications-withdrawn", "Qualifications withdrawn", (("entry", "qualification withdrawn"),), True),
    AuditList("failures", "Found loose, or a check, test or follow-up not in order",
              (("loose", ""), ("failed", "checked"), ("failed", "test"), ("failed", "follow-up done")), True),
    AuditList("siblings-checked", "Joints like it looked at after a failure", (("entry", "siblings looked at"),)),
    AuditList("clocks", "Clocks of tools read and set, and of this machine",
              (("entry", "clock contact"), ("entry", "clock set"), ("kind", CLOCK))),
    AuditList("backups", "Back-ups made, tested and restored",
              (("kind", MADE), ("kind", TESTED), ("kind", RESTORED))),
    AuditList("carriers", "Carriers made and taken in", (("kind", CARRIED_OUT), ("kind", CARRIED_IN))),
    AuditList("holds", "Legal holds", (("entry", "hold"), ("entry", "hold lifted"))),
    AuditList("cards-back", "Cards that came back or were not found",
              (("entry", "card returned"), ("entry", "card lost"))),
    AuditList("paper", "Scanned pages set aside, cards let in late", (("kind", SET_ASIDE), ("kind", CARD_ADMITTED)),
              True),
    AuditList("accounts", "What was done to accounts", (("kind", ACCOUNT),)),
    AuditList("read", "Exception reports read, by whom and when", (("kind", REVIEWED),)),
)}  # fmt: skip
READ = tuple(one for one in LISTS.values() if one.exceptions)


@dataclass(frozen=True)
class Reviewed:
    """Somebody read a list up to the fact `upto`; `rows` were new since the reading before."""

    name: str
    upto: int
    rows: int
    by: str
    at: datetime
    found: str
    seq: int


def known(name: str) -> AuditList:
    if name not in LISTS:
        raise Unknown(f"{name!r} is no list; there are: {', '.join(LISTS)}")
    return LISTS[name]


def page(name: str, before: int | None = None) -> ChangePage:
    """One page of a list, the newest first. Unknown with the names there are."""
    return marked(known(name).marks, before)


def count(name: str, after: int = -1) -> int:
    """How many facts a list has after this place of the log. A fact that bears two marks of one list counts once."""
    marks = known(name).marks
    found: set[int] = set()
    total = 0
    for what, of in marks:
        rows = Mention.objects.filter(kind=what, seq__gt=after)
        rows = rows.filter(name=name_of(of)) if of else rows
        if len(marks) == 1:
            total = rows.values("seq").distinct().count()
        else:
            found |= set(rows.values_list("seq", flat=True).distinct())
    return total or len(found)


def review(name: str, upto: int, found: str, author: str, *, by_password: bool = False) -> Reviewed:
    """Put on record that a list was read up to the fact `upto`, and what was found. Refused without words, for a list
    that is none of exceptions, and where nothing of it is new up to there."""
    who, words = checked_author(author), " ".join(found.split())
    one = known(name)
    if not one.exceptions:
        raise Refused(f"{one.heading!r} is no exception report; there are: {', '.join(r.name for r in READ)}")
    if len(words) < SHORTEST:
        raise Refused(f"say what was found, in {SHORTEST} characters or more. Nothing was written.")
    with writing():
        last = reviews(name)[:1]
        before = last[0].upto if last else -1
        rows = count(name, before) - count(name, upto)
        if upto not in {row.seq for row in marked(one.marks, upto + 1).rows[:1]}:
            raise Refused(f"fact {upto} is not in the list {one.heading!r}. Nothing was written.")
        if rows <= 0:
            raise Refused(
                f"{one.heading!r} was read up to fact {before} already, by {last[0].by}. Nothing was written."
            )
        body = {
            "what": f"{one.heading}: read up to fact {upto}, {rows} new; {words}", "list": name, "upto": upto,
            "rows": rows, "found": words, "identity": accounts.identity(by_password),
        }  # fmt: skip
        key = f"{next_key(REVIEWED)}:{name}"
        (fact,) = append([New(REVIEWED, key, body)], who)
    return _reviewed(fact)


def _reviewed(fact: Fact) -> Reviewed:
    b = fact.data
    return Reviewed(b["list"], b["upto"], b["rows"], fact.author, read_moment(fact.written_at), b["found"], fact.seq)


def reviews(name: str) -> tuple[Reviewed, ...]:
    """Readings of a list, the newest first."""
    found = Fact.objects.filter(kind=REVIEWED, key__endswith=f":{name}").order_by("-seq")
    return tuple(one for one in map(_reviewed, found) if one.name == name)


def unread(name: str) -> int:
    """How many facts of a list nobody has read yet."""
    last = reviews(name)[:1]
    return count(name, last[0].upto if last else -1)
