"""Which readings of files count, looked up for a few files or one joint: never all readings of a dossier at once.

What was withdrawn is decided by `intake.withdrawn`; here its facts are found. A record in the index carries the place
of its reading (`Pull.file`), so that one query leaves out what no longer counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from evenpull.evidence.checkpoint import read_moment
from evenpull.intake.withdrawn import Readings, Taking, Withdrawal
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import facts
from evenpull.store.services.fact_kinds import WITHDRAWN
from evenpull.store.services.index import TAKEN_OVER, WITHDRAWAL, WITHDRAWN_PLACE


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
    return Mention.objects.filter(kind=WITHDRAWN_PLACE, fold="").exists()


def counting(pulls: QuerySet[Pull]) -> QuerySet[Pull]:
    """The records of a query that count."""
    return pulls.exclude(file__in=withdrawn_places()) if are_some() else pulls


def withdrawn_among(seqs: Iterable[int]) -> set[int]:
    """Of these places of records and unread rows those that no longer count."""
    if not are_some():
        return set()
    wanted, lost = sorted(set(seqs)), set[int]()
    for begin in range(0, len(wanted), facts.AT_ONCE):
        some = Pull.objects.filter(seq__in=wanted[begin : begin + facts.AT_ONCE], file__in=withdrawn_places())
        lost |= set(some.values_list("seq", flat=True))
    return lost


def rows_withdrawn(rows: Iterable[tuple[int, str]]) -> set[int]:
    """Of these records and unread rows, each given by its place and the SHA-256 of its file, those that no longer
    count."""
    given = list(rows)
    some = withdrawn_files(sha for _, sha in given)
    if not some:
        return set()
    known = of_files(some)
    return {seq for seq, sha in given if sha in some and not known.counts(Place(seq, sha))}


def facts_about(sha256s: Iterable[str]) -> list[Fact]:
    """The withdrawals of readings of these files, by their place in the log."""
    return facts.by_seq(_places(WITHDRAWAL, sha256s))


def facts_of_joint(joint_id: str) -> list[Fact]:
    """The withdrawals that took records, unread rows or repeats of this joint, by their place in the log."""
    here = Mention.objects.filter(kind=WITHDRAWAL, fold=facts.fold(joint_id))
    return facts.by_seq(here.values_list("seq", flat=True))


def all_facts() -> list[Fact]:
    return list(Fact.objects.filter(kind=WITHDRAWN).order_by("seq"))


def of_files(sha256s: Iterable[str]) -> Readings:
    """All readings of these files and what was withdrawn of them, without what each of them repeated."""
    wanted = sorted(set(sha256s))
    takings = [
        Taking(seq, name, "")
        for begin in range(0, len(wanted), facts.AT_ONCE)
        for name, seq in Mention.objects.filter(kind="sha256", name__in=wanted[begin : begin + facts.AT_ONCE])
        .values_list("name", "seq")
    ]  # fmt: skip
    return Readings(takings, [withdrawal_of(fact) for fact in facts_about(wanted)])


def withdrawn_files(sha256s: Iterable[str]) -> set[str]:
    """Of these files those of which a reading was withdrawn."""
    if not are_some():
        return set()
    wanted, found = sorted(set(sha256s)), set[str]()
    for begin in range(0, len(wanted), facts.AT_ONCE):
        some = Mention.objects.filter(kind=WITHDRAWAL, fold="", name__in=wanted[begin : begin + facts.AT_ONCE])
        found |= set(some.values_list("name", flat=True))
    return found


def withdrawals_that_took(sha256: str) -> list[Fact]:
    """The withdrawals of other files for which this file gave rows that it had left out as repeats."""
    return facts.by_seq(_places(TAKEN_OVER, [sha256]))


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


def _places(kind: str, sha256s: Iterable[str]) -> list[int]:
    wanted = sorted(set(sha256s))
    return [
        seq
        for begin in range(0, len(wanted), facts.AT_ONCE)
        for seq in Mention.objects.filter(kind=kind, fold="", name__in=wanted[begin : begin + facts.AT_ONCE])
        .values_list("seq", flat=True)
    ]  # fmt: skip
