"""Whether the result of a study counts on a day: its own dates, and what the entries on its tools and persons end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Literal

from evenpull.ledger.entry import Entry
from evenpull.ledger.people import folded
from evenpull.study.model import Validity
from evenpull.study.result import StudyResult
from evenpull.study.schema import ENDS
from evenpull.study.words import listed

State = Literal["no result", "not yet", "counts", "ended"]


@dataclass(frozen=True, slots=True)
class Claim:
    """What a study claims, as far as its standing depends on it; `line` is its result in one line."""

    judged: bool
    line: str
    tools: tuple[str, ...]
    persons: tuple[str, ...]
    validity: Validity

    @classmethod
    def of(cls, result: StudyResult) -> Claim:
        study = result.study
        return cls(result.state == "judged", result.line, study.tools, study.persons, study.validity)


# What an entry says -> what it ends, as `ENDS` calls it.
_ENDING: dict[str, str] = {"tool dropped": "tool dropped", "tool lost": "tool lost", "tool blocked": "tool blocked"}


@dataclass(frozen=True, slots=True)
class Standing:
    """`words` say why. `persons`: those of the study whose part of it has ended although the study goes on."""

    state: State
    words: str
    persons: tuple[str, ...] = ()


def standing(claim: Claim, day: date, entries: Iterable[Entry]) -> Standing:
    """What the study counts for on a day. `entries`: those about its tools and persons; those at or after the first day
    of its validity end it where the file says so. What no entry tells (a tool adjusted, another person) somebody has to
    see; it is named in the words."""
    if not claim.judged:
        return Standing("no result", claim.line)
    valid = claim.validity
    if valid.first is None:
        return Standing("counts", "no validity is stated: it tells of the days on which it was done, and of no other")
    if day < valid.first:
        return Standing("not yet", f"it counts from {valid.first}")
    if valid.last is not None and day > valid.last:
        return Standing("ended", f"it counted until {valid.last}")
    gone: list[str] = []
    for entry in sorted(entries, key=lambda e: (e.at, e.seq)):
        what = ending(entry)
        if what not in valid.ends_with or not _within(entry.at, valid.first, day):
            continue
        if entry.subject == "tool" and entry.name in claim.tools:
            return Standing("ended", f"ended on {entry.at:%Y-%m-%d}: {what}, {entry.name} (fact {entry.seq})")
        if entry.subject == "person":
            gone += [name for name in claim.persons if folded(name) == folded(entry.name) and name not in gone]
    until = f"until {valid.last}" if valid.last is not None else "without an end that is stated"
    unseen = [text for text in valid.ends_with if not ENDS.get(text, False)]
    words = f"it counts {until}"
    if unseen:
        words += f"; it also ends with: {listed(unseen)}, which somebody has to see"
    if gone and len(gone) == len(claim.persons):
        return Standing("ended", f"ended by an exercise not passed: {listed(gone)}")
    if gone:
        words += f"; no more for {listed(gone)} (exercise not passed)"
    return Standing("counts", words, tuple(gone))


def ending(entry: Entry) -> str:
    """What an entry can end, as `ENDS` calls it; "" for one that ends nothing."""
    if entry.kind == "shift check" and entry.text("result") == "outside limits":
        return "tool outside its limits"
    if entry.kind == "exercise" and entry.text("result") == "not passed":
        return "exercise not passed"
    return _ENDING.get(entry.kind, "")


def _within(at: datetime, first: date, day: date) -> bool:
    return datetime.combine(first, time(), UTC) <= at <= datetime.combine(day, time(23, 59, 59), UTC)
