"""Which readings of files count, looked up for a few files or one joint: never all readings of a dossier at once.

What was withdrawn is decided by `intake.withdrawn`; here its facts are found, by their keys in the log itself: the
readings of a file are file:SHA, file:SHA~2 ..., a withdrawal is named after the place of its reading. Only lists and
counts go by the index, where a record carries the place of its reading (`Pull.file`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from evenpull.evidence.checkpoint import read_moment
from evenpull.intake.withdrawn import Readings, Taking, Withdrawal, free_key
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import facts
from evenpull.store.services.fact_kinds import FILE, WITHDRAWN
from evenpull.store.services.index import TAKEN_OVER, WITHDRAWN_PLACE


@dataclass(frozen=True, slots=True)
class Place:
    """A record or unread row, as far as the rule needs it."""

    seq: int
    file_sha256: str
    key: str = ""


def withdrawal_of(fact: Fact) -> Withdrawal:
    """The withdrawal that a fact states."""
    b = fact.data
    return Withdrawal(
        b["reading"], b["sha256"], b["mapping_sha256"], fact.author, read_moment(b["at"]), b["why"], fact.seq
    )


def withdrawn_places() -> QuerySet[Mention, Any]:
    """Places of the readings that were withdrawn, to be used within a query."""
    return Mention.objects.filter(kind=WITHDRAWN_PLACE, fold="").values("seq")


def are_some() -> bool:
    """Whether any reading was ever withdrawn."""
    return Fact.objects.filter(kind=WITHDRAWN).exists()


def counting(pulls: QuerySet[Pull]) -> QuerySet[Pull]:
    """The records of a query that count."""
    return pulls.exclude(file__in=withdrawn_places()) if are_some() else pulls


def key_of_withdrawal(reading: int) -> str:
    return f"{WITHDRAWN}:{reading}"


def withdrawals(places: Iterable[int]) -> dict[int, Fact]:
    """Place of a reading -> the fact that withdraws it, for those of these readings that were."""
    return {fact.data["reading"]: fact for fact in facts.by_key(map(key_of_withdrawal, places))}


def of_files(sha256s: Iterable[str]) -> Readings:
    """All readings of these files and what was withdrawn of them, without what each of them repeated."""
    takings: list[Taking] = []
    withdrawn: list[Withdrawal] = []
    left, before = sorted(set(sha256s)), 0
    while left:
        held = facts.places({free_key(f"{FILE}:{sha}", before): sha for sha in left})
        takings += [Taking(seq, sha, "") for seq, sha in held.items()]
        gone = withdrawals(held)
        withdrawn += map(withdrawal_of, gone.values())
        left, before = [held[seq] for seq in gone], before + 1
    return Readings(takings, withdrawn)


def withdrawn_among(seqs: Iterable[int]) -> set[int]:
    """Of these places of records those that no longer count, by the index."""
    if not are_some():
        return set()
    lost = set[int]()
    for some in facts.parts(sorted(set(seqs))):
        pulls = Pull.objects.filter(seq__in=some, file__in=withdrawn_places())
        lost |= set(pulls.values_list("seq", flat=True))
    return lost


def rows_withdrawn(rows: Iterable[tuple[int, str]]) -> set[int]:
    """Of these records and unread rows, each given by its place and the SHA-256 of its file, those that no longer
    count."""
    given = list(rows)
    known = of_files(sha for _, sha in given)
    return {seq for seq, sha in given if not known.counts(Place(seq, sha))}


def facts_about(sha256s: Iterable[str]) -> list[Fact]:
    """The withdrawals of readings of these files, by their place in the log."""
    return sorted(withdrawals(of_files(sha256s).withdrawn).values(), key=lambda fact: fact.seq)


def withdrawals_that_took(sha256: str) -> list[Fact]:
    """The withdrawals of other files for which this file gave rows that it had left out as repeats."""
    places = Mention.objects.filter(kind=TAKEN_OVER, name=sha256, fold="")
    return facts.by_seq(places.values_list("seq", flat=True))


def ranges_of(taking: Fact) -> list[tuple[int, int]]:
    """Places in the log, first and last, of the records and unread rows of a reading.

    They were written right behind its own fact; rows that it gave later, when another file was withdrawn, stand behind
    that withdrawal.
    """
    body = taking.data
    found = [(taking.seq + 1, taking.seq + body["new"] + body["unread"])]
    for fact in withdrawals_that_took(body["sha256"]):
        last = fact.seq
        for other in fact.data["taken"]:
            first, last = last + 1, last + len(other["rows"])
            if other["reading"] == taking.seq:
                found.append((first, last))
    return [(first, last) for first, last in found if first <= last]
