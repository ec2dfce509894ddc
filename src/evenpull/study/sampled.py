"""What a check of some of many says about the rest: shown beside its result, and how many to check for a wanted one.

All figures are for pieces drawn at random from a finite lot, and for a check that finds every bad one it looks at.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.words import number_list
from evenpull.statistics.sampling import (
    bad_limit_of_lot,
    bad_share_limit,
    detection,
    sample_needed,
    zero_failures,
    zero_failures_of_lot,
)
from evenpull.study.words import counted, number, percent, seldom

CONFIDENCE = 0.95
SHARES = (0.05, 0.10, 0.20)  # shares bad that are asked about; and a single bad one
DRAWN = "This holds for a choice drawn at random and a check that misses none it looks at."
CHOSEN = "Chosen by convenience, by suspicion or where it is easy to reach, it says nothing of the rest."
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*[A-Za-z0-9]")
_ENTRIES = {"checked": "Independent check", "follow-up done": "Follow-up"}


@dataclass(frozen=True, slots=True)
class Missed:
    """`bad` of the lot would all have been missed with probability `missed`."""

    bad: int
    share: float
    missed: float


@dataclass(frozen=True, slots=True)
class Sampled:
    """`checked` of a lot of `lot`, `found` of them bad. `rows`: what would have been missed; `most`: upper confidence
    limit of the number bad in the whole lot, those found counted in it."""

    lot: int
    checked: int
    found: int
    rows: tuple[Missed, ...]
    most: int
    words: str


def sampled(lot: int, checked: int, found: int = 0, confidence: float = CONFIDENCE) -> Sampled:
    """What a check of `checked` out of `lot` says. ValueError for numbers that do not fit into each other."""
    if not 1 <= checked <= lot or not 0 <= found <= checked:
        raise ValueError(f"{found} bad of {checked} checked of a lot of {lot}: each has to fit into the next")
    most = bad_limit_of_lot(lot, checked, found, confidence)
    bads = sorted({1, *(max(1, math.ceil(share * lot - 1e-9)) for share in SHARES)})
    rows = tuple(Missed(bad, bad / lot, 1 - detection(lot, bad, checked)) for bad in bads if bad <= lot)
    return Sampled(lot, checked, found, rows, most, _words(lot, checked, found, rows, most, confidence))


def _words(lot: int, checked: int, found: int, rows: tuple[Missed, ...], most: int, confidence: float) -> str:
    if checked == lot:
        return f"All {lot} checked, {_found(found)}: nothing is left to chance."
    begin = f"{checked} of {lot} checked, {_found(found)}"
    if found:
        return (f"{begin}: with {percent(confidence)} confidence at most {most} of the {lot} are bad, those found "
                "counted in.")
    most_words = "none" if most == 0 else f"at most {most}"
    told = missed_words(lot, rows)
    return f"{begin}: {told}. With {percent(confidence)} confidence {most_words} of the {lot} are bad."


def missed_words(lot: int, rows: Iterable[Missed]) -> str:
    return "; ".join(f"a share of {percent(one.share)} bad ({one.bad} of {lot}) would have been missed with "
                     f"probability {seldom(one.missed)}" for one in rows)


def _found(found: int) -> str:
    return "none found bad" if not found else f"{found} found bad"


@dataclass(frozen=True, slots=True)
class SampleCheck:
    """One check of some fasteners of a joint. `sample` None where it is not stated how many were bad."""

    what: str
    fasteners: str
    sample: Sampled | None
    words: str


def checks_of_some(count: int, entries: Iterable[Entry], records: Iterable[Tightening]) -> tuple[SampleCheck, ...]:
    """Checks that named only some of the `count` fasteners of a joint (of one unit of a series): entries "checked" and
    "follow-up done", and residual checks among the records. A check that names no fasteners is about all of them."""
    made = []
    for entry in entries:
        numbers = sorted({n for n in entry.fasteners if 1 <= n <= count})
        if entry.kind not in _ENTRIES or not numbers or len(numbers) == count:
            continue
        what = f"{_ENTRIES[entry.kind]} of {entry.at:%Y-%m-%d} by {entry.by}"
        good = entry.text("result") == "in order"
        made.append(_check(what + (f", {entry.unit}" if entry.unit else ""), count, numbers, good))
    looked: dict[str, set[int]] = {}
    for record in records:
        if record.event == "residual check" and 1 <= record.fastener <= count:
            looked.setdefault(record.unit_id, set()).add(record.fastener)
    for unit, found in sorted(looked.items()):
        if len(found) < count:
            one = sampled(count, len(found))
            words = (f"{one.checked} of {count} looked at; how each of them came out stands with its record. Of those "
                     f"not looked at: {missed_words(count, one.rows)}. {DRAWN} {CHOSEN}")
            what = "Residual check" + (f", {unit}" if unit else "")
            made.append(SampleCheck(what, number_list(sorted(found)), one, words))
    return tuple(made)


def _check(what: str, count: int, numbers: list[int], good: bool) -> SampleCheck:
    shown = number_list(numbers)
    if not good:
        words = (f"{len(numbers)} of {count} checked and not in order; how many of them were bad is not stated, so "
                 "nothing can be said of the rest: check them all.")
        return SampleCheck(what, shown, None, words)
    one = sampled(count, len(numbers))
    return SampleCheck(what, shown, one, f"{one.words} {DRAWN} {CHOSEN}")


def siblings_looked_at(entries: Iterable[Entry], joints: Collection[str]) -> tuple[str, ...]:
    """What each entry "siblings looked at" says of all the joints that share something with the one that failed: those
    of `joints` (ids) that its words name are the ones looked at."""
    found = []
    known = {joint.upper() for joint in joints}
    for entry in entries:
        if entry.kind != "siblings looked at" or not known:
            continue
        named = known & {word.upper() for word in _ID.findall(entry.text("joints"))}
        when = f"{entry.at:%Y-%m-%d}, {entry.by}"
        if not named:
            found.append(f"{when}: names none of the {len(known)} joints listed here.")
        elif entry.text("result") != "in order":
            found.append(f"{when}: {len(named)} of {len(known)} looked at and not in order; how many of them were bad "
                         "is not stated, so nothing can be said of the rest: look at them all.")
        else:
            found.append(f"{when}: {sampled(len(known), len(named)).words} {DRAWN} {CHOSEN}")
    return tuple(found)


def drawn_words(lot: int, what: str) -> str:
    """What one drawn at random of so many says, and how many would say something; "" where there is none."""
    if lot < 1:
        return ""
    rows = sampled(lot, 1).rows
    n = zero_failures_of_lot(lot, max(1, math.ceil(SHARES[1] * lot - 1e-9)), CONFIDENCE)
    return (f"One {what} of {lot}, drawn and found good: {missed_words(lot, rows)}. To show with {percent(CONFIDENCE)} "
            f"confidence that fewer than {percent(SHARES[1])} are bad, {n} have to be drawn and all be good.")


# how many to check ---------------------------------------------------------------------------------------------------


def sizes(share: float, confidence: float = CONFIDENCE, lot: int | None = None, found: int = 0) -> tuple[str, ...]:
    """How many to check so that, with `found` bad among them, less than `share` is bad with this confidence: of an
    endless lot and of the lot. In words; ValueError for numbers that make no sense."""
    said = []
    if found == 0:
        n = zero_failures(share, confidence)
        said.append(f"Endless lot: none bad among {counted(n, 'piece')} shows with {percent(confidence)} confidence "
                    f"that less than {percent(share)} is bad.")
    else:
        n = sample_needed(share, found, confidence)
        said.append(f"Endless lot: {found} bad among {counted(n, 'piece')} still shows with {percent(confidence)} "
                    f"confidence that less than {percent(share)} is bad.")
    if lot is None:
        return tuple(said)
    bad = max(1, math.ceil(share * lot - 1e-9))
    if found == 0:
        n = zero_failures_of_lot(lot, bad, confidence)
        said.append(f"Lot of {lot}: none bad among {n} shows with {percent(confidence)} confidence that fewer than "
                    f"{bad} are bad.")
    else:
        n = sample_needed(share, found, confidence, lot)
        said.append(f"Lot of {lot}: {found} bad among {n} still shows with {percent(confidence)} confidence that fewer "
                    f"than {bad} are bad.")
    return tuple(said)


def endless(checked: int, found: int, confidence: float = CONFIDENCE) -> str:
    """What `found` bad of `checked` say of a lot without end, in words."""
    limit = bad_share_limit(found, checked, confidence)
    return (f"Endless lot: after {found} bad of {checked} at most {number(100 * limit, 3)} % is bad, with "
            f"{percent(confidence)} confidence.")
