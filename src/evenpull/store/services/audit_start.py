"""The checklist of an audit: each question in words, where its answer stands, and how much there is of it.

Page, command and test are made from this one table. `page` is a path below /audit/, or a place on the start itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache

from django.db import connection

from evenpull.ledger.terms import TERMS
from evenpull.store.models import Account, Finding, Mention, Pull
from evenpull.store.services import audit_facts, audit_lists, register
from evenpull.store.services.fact_kinds import CARD, MADE, TESTED
from evenpull.store.services.judging import log_size

NOTHING = "nothing recorded yet"


@dataclass(frozen=True)
class Question:
    """`count` gives a line such as "3 lots", "" where nothing is recorded. `command` follows `evenpull audit`."""

    words: str
    page: str
    command: str
    count: Callable[[], str]


@dataclass(frozen=True)
class Answer:
    group: str
    words: str
    page: str
    command: str
    said: str

    @property
    def nothing(self) -> bool:
        return self.said == NOTHING


def _many(n: int, one: str, more: str = "") -> str:
    return "" if not n else f"{n:,} {one if n == 1 else more or one + 's'}"


def _list(name: str, one: str, more: str = "") -> Callable[[], str]:
    return lambda: _many(audit_lists.count(name), one, more)


def _kinds(*names: str) -> int:
    return Mention.objects.filter(kind="kind", name__in=names).count()


def _entries(name: str) -> int:
    return Mention.objects.filter(kind="entry", name=name).count()


def _lots() -> str:
    return _many(Mention.objects.filter(kind="lot").count(), "mention of a lot", "mentions of lots")


def _checks() -> str:
    return _many(_entries("shift check"), "shift check")


def _revised() -> str:
    return _many(audit_facts.revised_count(), "joint with more than one revision", "joints with more than one revision")


def _read() -> str:
    left = sum(audit_lists.unread(one.name) > 0 for one in audit_lists.READ)
    done = sum(bool(audit_lists.reviews(one.name)) for one in audit_lists.READ)
    if not left and not done:
        return ""
    return f"{done} of {len(audit_lists.READ)} read at least once, {left} with something nobody has read"


def _backups() -> str:
    made, tested = _kinds(MADE), _kinds(TESTED)
    return "" if not made + tested else f"{_many(made, 'back-up') or 'no back-up'} made, {tested} tested"


def _oldest() -> str:
    found = audit_facts.oldest_day()
    return "" if found is None else f"the oldest fact is of {found:%Y-%m-%d}"


GROUPS: dict[str, tuple[Question, ...]] = {
    "Drawn at random": (
        Question("Show me a joint that I draw.", "draw/joint/", "draw joint",
                 lambda: _many(Finding.objects.count(), "joint")),
        Question("Show me a tool that I draw: certificates, counters, uses.", "draw/tool/", "draw tool",
                 lambda: _many(len({t.serial for t in register.tools()}), "tool")),
        Question("Show me a person that I draw: training, work, decisions.", "draw/person/", "draw person",
                 lambda: _many(Pull.objects.count(), "record")),
        Question("Show me a lot that I draw, and every fastener it is in.", "draw/lot/", "draw lot",
                 _lots),
    ),
    "Targets and changes": (
        Question("How did a target change from revision to revision, and by whom?", "revisions/", "revisions",
                 _revised),
        Question("What was written, and when?", "changes/", "changes", lambda: _many(log_size(), "fact")),
        Question("Can a value that was changed still be read?", "lists/corrections/", "list corrections",
                 _list("corrections", "correction")),
        Question("Which readings of files were withdrawn?", "lists/readings-withdrawn/", "list readings-withdrawn",
                 _list("readings-withdrawn", "reading withdrawn", "readings withdrawn")),
    ),
    "Deviations": (
        Question("Which gates were passed by exception, and by which authority?", "lists/exceptions/",
                 "list exceptions", _list("exceptions", "exception")),
        Question("What was accepted as it is, by whom and why?", "lists/accepted/", "list accepted",
                 _list("accepted", "decision")),
        Question("What did an engineer decide on?", "lists/reviews/", "list reviews", _list("reviews", "decision")),
        Question("Where was another method used, with which evidence?", "lists/methods/", "list methods",
                 _list("methods", "change of method", "changes of method")),
        Question("What was entered late, and how did the writer know?", "lists/late/", "list late",
                 _list("late", "late entry or record", "late entries and records")),
        Question("Was work handed over in the middle of a pass, and in which state?", "lists/hand-overs/",
                 "list hand-overs", _list("hand-overs", "hand-over or interruption", "hand-overs and interruptions")),
        Question("Who read the exception reports, and when?", "read/", "read", _read),
    ),
    "Tools": (
        Question("Which tools were found outside their limits, dropped, lost or blocked?", "lists/tools-in-doubt/",
                 "list tools-in-doubt", _list("tools-in-doubt", "entry", "entries")),
        Question("Which tools drift, by their checks on a device?", "drift/", "drift", _checks),
        Question("Do the counters of tools leave no pull unexplained?", "counters/", "counters",
                 lambda: _many(Pull.objects.count(), "record")),
        Question("Are the clocks under control?", "clocks/", "clocks", _list("clocks", "reading or setting of a clock",
                 "readings and settings of clocks")),
    ),
    "People": (
        Question("Is everybody trained, and until when?", "training/", "training",
                 lambda: _many(_entries("qualification"), "qualification")),
        Question("Is a joint checked by somebody who tightened nothing on it?", "inspections/", "inspections",
                 lambda: _many(_entries("checked"), "independent check")),
        Question("Was anything or anybody used that was barred?", "barred/", "barred",
                 _list("blocked", "refusal")),
        Question("Who has access, and what was done to accounts?", "lists/accounts/", "list accounts",
                 _list("accounts", "act on an account", "acts on accounts")),
    ),
    "Parts, failures, recall": (
        Question("Where are the parts of a lot or heat? (look up above)", "#look-up", "lot NAME", _lots),
        Question("Which lots were blocked, and why?", "lists/lots-blocked/", "list lots-blocked",
                 _list("lots-blocked", "lot blocked or unblocked", "lots blocked or unblocked")),
        Question("What was found loose, or not in order?", "lists/failures/", "list failures",
                 _list("failures", "finding")),
        Question("How were joints like it looked at after a failure?", "lists/siblings-checked/",
                 "list siblings-checked", _list("siblings-checked", "report of it", "reports of it")),
        Question("What happened more than once?", "recurrences/", "recurrence",
                 lambda: _many(Mention.objects.filter(kind="loose").count(), "fastener found loose",
                               "fasteners found loose")),
    ),
    "Papers, keeping, proof": (
        Question("How are paper cards counted out and in?", "cards/", "cards",
                 lambda: _many(_kinds(CARD), "card issued", "cards issued")),
        Question("Are there back-ups, and was a restore tested?", "lists/backups/", "list backups", _backups),
        Question("How long are records kept, and can an old one be read?", "keeping/", "keeping", _oldest),
        Question("Which legal holds were set and lifted?", "lists/holds/", "list holds", _list("holds", "entry",
                 "entries")),
        Question("What do the words mean?", "terms/", "terms", lambda: _many(len(TERMS), "term")),
    ),
}  # fmt: skip


def answers() -> tuple[Answer, ...]:
    """The checklist with what there is to each question now; counted once for each state of the log and day."""
    database = str(connection.settings_dict["NAME"])
    return _answers(database, log_size(), Account.objects.count(), datetime.now(UTC).date())


@lru_cache(maxsize=4)
def _answers(database: str, size: int, accounts: int, day: date) -> tuple[Answer, ...]:
    return tuple(
        Answer(group, one.words, one.page, one.command, one.count() or NOTHING)
        for group, questions in GROUPS.items() for one in questions
    )  # fmt: skip
