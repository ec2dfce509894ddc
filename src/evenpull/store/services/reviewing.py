"""Reviews of tools found out: opened on what was found, decided joint by joint, closed when each has a disposition.

Found + holdings --take, examine--> outcome over the whole dossier; what came out is kept as counts and a digest, so
that it can be computed again at any time and compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property

import numpy as np
from django.db import connection

from evenpull import __version__
from evenpull.equipment import Holdings
from evenpull.evidence.checkpoint import moment, read_moment
from evenpull.instrument.review import Verdict
from evenpull.review import NOT_ASKED, Found, Outcome, ReviewError, Suspect, examine, suspects
from evenpull.review.considered import TO_SAY
from evenpull.review.dispositions import refusal
from evenpull.review.found import to_json
from evenpull.review.given import read_found
from evenpull.review.touched import Small
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import accounts, facts, kept_tools, review_marks
from evenpull.store.services.bulk import uncollected
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import REVIEW, REVIEW_CLOSED, REVIEW_DECIDED, REVIEW_SAID
from evenpull.store.services.index import name_of, written_once
from evenpull.store.services.judging import log_size
from evenpull.store.services.log import New, append, checked_author, log_status, writing
from evenpull.store.services.review_marks import Decided, Head
from evenpull.store.services.touching import Taken, take

SHORTEST_REASON = 5
MOST_KEPT = 3
WRITTEN = (REVIEW, REVIEW_SAID, REVIEW_DECIDED, REVIEW_CLOSED)  # facts that no review follows from
MOST_AT_ONCE = 200_000  # joints of one decision


@dataclass(frozen=True)
class Computed:
    """A review as it follows from the facts now."""

    outcome: Outcome
    taken: Taken
    held: Holdings
    size: int  # facts in the log
    digest: str

    def numbers(self) -> list[list[int | str]]:
        """For each joint that was touched: its fold, verdicts in the order in/doubtful/cannot/out, loads out and
        doubtful."""
        counts = self.outcome.by_joint()
        loads = self.outcome.load_by_joint()[:, [Verdict.SURELY_OUT, Verdict.DOUBTFUL]]
        kept = counts.sum(axis=1).tolist()
        with uncollected():
            rows = np.hstack([counts, loads]).tolist()
            return [[fold, *row] for fold, row, n in zip(self.taken.folds, rows, kept, strict=True) if n]


@dataclass(frozen=True)
class Said:
    """What was said of one of the things that a review has to say before it is closed."""

    what: str
    text: str
    by: str
    at: datetime


@dataclass(frozen=True)
class Closed:
    by: str
    at: datetime
    statement: str
    digest: str
    identity: str


@dataclass(frozen=True)
class ReviewView:
    """One review with everything that was written on it. `decided` by fold, the disposition that stands."""

    head: Head
    now: Computed
    said: dict[str, Said]
    decided: dict[str, Decided]
    closed: Closed | None

    @property
    def same(self) -> bool:
        """What follows from the facts now is what followed when it was opened."""
        return self.now.digest == self.head.digest

    @cached_property
    def concerned(self) -> list[str]:
        """Folds of the joints it concerns, sorted: of those touched now and of those touched when it was opened."""
        counts = self.now.outcome.by_joint().sum(axis=1)
        now = {fold for fold, n in zip(self.now.taken.folds, counts.tolist(), strict=True) if n}
        opened = Mention.objects.filter(kind=review_marks.MARK, seq=self.head.seq).values_list("fold", flat=True)
        return sorted(now.union(opened))

    @cached_property
    def undecided(self) -> list[str]:
        """Folds of those without a disposition."""
        return [fold for fold in self.concerned if fold not in self.decided]

    @property
    def unsaid(self) -> list[str]:
        return [what for what in TO_SAY if what not in self.said]


def compute(found: Found) -> Computed:
    """What follows from the facts now; writes nothing but bases of joints that were missing. Refused when no review
    follows from the finding."""
    held = kept_tools.holdings()
    size = log_size()
    try:
        in_doubt: tuple[Suspect, ...] = suspects(found, held)
        with uncollected():
            taken = take(in_doubt, held)
            outcome = examine(found, in_doubt, taken.touched)
    except (ReviewError, ValueError) as error:
        raise Refused(f"no review: {str(error).rstrip('.')}. Nothing was written.") from error
    return Computed(outcome, taken, held, size, outcome.digest())


Key = tuple[str, int, str, Found]  # database, how many facts it can rest on, root of the log when it was opened
_kept: dict[Key, Computed] = {}


def _computed(head: Head) -> Computed:
    """`compute`, once for a state of the facts it can rest on. What is written on reviews is none of them, so that a
    disposition does not make the whole of it anew."""
    key, size = _key(head), log_size()
    if key not in _kept:
        _keep(key, compute(head.found))
    return replace(_kept[key], size=size)


def _key(head: Head) -> Key:
    others = log_size() - Fact.objects.filter(kind__in=WRITTEN).count()
    return str(connection.settings_dict["NAME"]), others, head.root, head.found


def _keep(key: Key, now: Computed) -> None:
    while len(_kept) >= MOST_KEPT:
        _kept.pop(next(iter(_kept)))
    _kept[key] = now


def open_review(found: Found, author: str, *, by_password: bool = False, once: str = "") -> Head:
    """Open a review: a fact with what was found, on which facts it stands, and what came out. Refused when no review
    follows, and when one of the same finding is open already. `once`: a key of the caller's own."""
    who = checked_author(author)
    with writing():
        if once and (before := written_once(once)) is not None:
            return review_marks.heads([before.seq])[0]
        open_ones = [h for h in review_marks.of_tool(found.serial) if h.found == found and not _closing(h.id)]
        if open_ones:
            raise Refused(f"review {open_ones[0].id} of {found.serial} was opened on the same finding and is not "
                          "closed; go on with that one. Nothing was written.")
        now = compute(found)
        log = log_status()
        number = Fact.objects.filter(kind=REVIEW).count() + 1
        body = {
            "form": "evenpull tool review 1", "number": number, "found": to_json(found),
            "at": moment(datetime.now(UTC)),
            "identity": accounts.identity(by_password), "stands_on": {"size": log.size, "root": log.root},
            "result": {"digest": now.digest, "uses": now.outcome.touched.count,
                       "counts": [now.outcome.counts[verdict] for verdict in Verdict]},
            "items": sorted({one.serial for one in now.outcome.suspects}), "joints": now.numbers(),
            "program": __version__,
        }  # fmt: skip
        if once:
            body["once"] = once
        (fact,) = append([New(REVIEW, f"{REVIEW}:{number}", body)], who)
        head = review_marks.heads([fact.seq])[0]
        _keep(_key(head), now)  # while nobody else can write
    return head


def _head(number: int) -> Head:
    fact = Fact.objects.filter(key=f"{REVIEW}:{number}").values_list("seq", flat=True).first()
    if fact is None:
        there = Fact.objects.filter(kind=REVIEW).count()
        raise Unknown(f"there is no review {number}; there {'is 1' if there == 1 else f'are {there}'}")
    return review_marks.heads([fact])[0]


def reviews() -> list[tuple[Head, bool, int]]:
    """Every review with whether it is closed and how many of its joints were decided, the newest first."""
    return [(head, _closing(head.id) is not None, len(_decided(head.id))) for head in reversed(review_marks.heads())]


def review(number: int) -> ReviewView:
    """One review as it stands now. Unknown when there is none of that number."""
    head = _head(number)
    return ReviewView(head, _computed(head), _said(number), _decided(number), _closing(number))


def _of(number: int, kind: str) -> list[Fact]:
    return list(Fact.objects.filter(kind=kind, key__startswith=f"{kind}:{number}:").order_by("seq"))


def _said(number: int) -> dict[str, Said]:
    """The latest words on each thing to be said."""
    return {
        f.data["what"]: Said(f.data["what"], f.data["text"], f.author, read_moment(f.data["at"]))
        for f in _of(number, REVIEW_SAID)
    }


def _decided(number: int) -> dict[str, Decided]:
    """Fold -> the disposition that stands."""
    return {facts.fold(f.joint): review_marks.decided_of(f) for f in _of(number, REVIEW_DECIDED)}


def _closing(number: int) -> Closed | None:
    found = _of(number, REVIEW_CLOSED)
    if not found:
        return None
    b = found[-1].data
    return Closed(found[-1].author, read_moment(b["at"]), b["statement"], b["digest"], b["identity"])


def _open_or_refused(number: int) -> Head:
    head = _head(number)
    if (closed := _closing(number)) is not None:
        raise Refused(f"review {number} was closed by {closed.by} on {closed.at:%Y-%m-%d %H:%M} UTC. Open another one "
                      "when something else was found. Nothing was written.")
    return head


def _reason(text: str, what: str) -> str:
    words = " ".join(text.split())
    if len(words) < SHORTEST_REASON:
        raise Refused(f"{what} needs words ({SHORTEST_REASON} characters or more). Nothing was written.")
    return words


def say(number: int, what: str, text: str, author: str) -> None:
    """Write down cause, action, tools of the same type, or notices. A later one follows an earlier one."""
    who = checked_author(author)
    if what not in TO_SAY:
        raise Refused(f"{what!r} is nothing a review asks for; there are: {', '.join(TO_SAY)}. Nothing was written.")
    words = _reason(text, what)
    with writing():
        _open_or_refused(number)
        body = {"review": number, "what": what, "text": words, "at": moment(datetime.now(UTC))}
        append([New(REVIEW_SAID, f"{REVIEW_SAID}:{number}:{log_size()}", body)], who)


def decide(
    number: int, joints: Iterable[str], act: str, reason: str, author: str, *, by_password: bool = False,
    once: str = "",
) -> int:
    """Write one disposition for each of these joints, all of them or none; how many. Refused for a joint that the
    review does not concern, for what `dispositions.refusal` forbids, and in class A to whoever tightened the joint."""
    who, why = checked_author(author), _reason(reason, "a disposition")
    with writing():
        if once and written_once(once) is not None:
            return 0
        _open_or_refused(number)
        view = review(number)
        wanted = list(dict.fromkeys(facts.fold(joint) for joint in joints))
        if not wanted:
            raise Refused("no joint is chosen. Nothing was written.")
        if len(wanted) > MOST_AT_ONCE:
            raise Refused(f"{len(wanted)} joints in one decision; at most {MOST_AT_ONCE}. Nothing was written.")
        names = _may_decide(view, wanted, act, who)
        at = moment(datetime.now(UTC))
        identity = accounts.identity(by_password)
        size = log_size()
        new = [
            New(REVIEW_DECIDED, f"{REVIEW_DECIDED}:{number}:{size}:{n}",
                {"review": number, "act": act, "reason": why, "at": at, "identity": identity, "together": len(wanted)},
                names[fold])
            for n, fold in enumerate(wanted)
        ]
        if once:
            new[0].body["once"] = once
        append(new, who)
    return len(wanted)


def _may_decide(view: ReviewView, wanted: Sequence[str], act: str, who: str) -> dict[str, str]:
    """Fold -> id of the joints; Refused with every reason why this cannot be decided."""
    outcome = view.now.outcome
    counts, loads = outcome.by_joint(), outcome.load_by_joint()
    places = {fold: n for n, fold in enumerate(view.now.taken.folds)}
    there = set(view.concerned)
    wrong, names, strict = list[str](), dict[str, str](), list[str]()
    for fold in wanted:
        if fold not in there:
            wrong.append(f"review {view.head.id} does not concern {fold}")
            continue
        at = places.get(fold)
        joint = None if at is None else outcome.touched.joints[at]
        out = 0 if at is None else int(counts[at, Verdict.SURELY_OUT] + loads[at, Verdict.SURELY_OUT])
        joint_class = "" if joint is None else joint.joint_class
        before = view.decided.get(fold)
        if why := refusal(act, joint_class, out, "" if before is None else before.act):
            wrong.append(f"{fold}: {why}")
        if joint_class == "A":
            strict.append(fold)
        names[fold] = fold if joint is None else joint.joint
    for begin in range(0, len(strict), facts.AT_ONCE):
        some = Pull.objects.filter(fold__in=strict[begin : begin + facts.AT_ONCE], operator=name_of(who)[:100])
        wrong += [f"{who} tightened fasteners of {fold}, a joint of class A: another person has to decide"
                  for fold in sorted(set(some.values_list("fold", flat=True)))]
    if wrong:
        more = f"; and {len(wrong) - 5} more" if len(wrong) > 5 else ""
        raise Refused(f"{'; '.join(wrong[:5])}{more}. Nothing was written.")
    return names


def close(number: int, statement: str, author: str, *, by_password: bool = False, seen: str | None = None) -> Closed:
    """Sign that the review is done. Refused while a joint has no disposition or something is not said; `seen`: digest
    of what the signer read, refused when something else follows from the facts now."""
    who, words = checked_author(author), " ".join(statement.split())
    if len(words) < 10:
        raise Refused("closing a review needs a statement in words (10 characters or more). Nothing was written.")
    with writing():
        _open_or_refused(number)
        view = review(number)
        lacking = [f"{what} is not said" for what in view.unsaid]
        if view.undecided:
            some = ", ".join(view.undecided[:5])
            lacking.append(f"{len(view.undecided)} of its joints have no disposition ({some}"
                           f"{' ...' if len(view.undecided) > 5 else ''})")
        if seen is not None and seen != view.now.digest:
            lacking.append("something else follows from the facts since you read it; read it again")
        if lacking:
            raise Refused(f"review {number} cannot be closed: {'; '.join(lacking)}. Nothing was written.")
        log = log_status()
        body = {
            "review": number, "statement": words, "digest": view.now.digest, "at": moment(datetime.now(UTC)),
            "identity": accounts.identity(by_password), "stands_on": {"size": log.size, "root": log.root},
            "opened_with": view.head.digest, "joints": len(view.concerned), "program": __version__,
        }  # fmt: skip
        append([New(REVIEW_CLOSED, f"{REVIEW_CLOSED}:{number}:{log.size}", body)], who)
    found = _closing(number)
    assert found is not None
    return found


def worst_of_joints(outcome: Outcome) -> Small:
    """Code of the worst verdict of each joint, loads that are out or doubtful counted in; -1 where nothing was
    touched."""
    worst = np.full(len(outcome.touched.joints), -1, np.int8)
    np.maximum.at(worst, outcome.touched.joint, outcome.decision)
    bad = (outcome.load == Verdict.SURELY_OUT) | (outcome.load == Verdict.DOUBTFUL)
    bad &= outcome.load != NOT_ASKED
    np.maximum.at(worst, outcome.touched.joint[bad], outcome.load[bad])
    return worst


def found_of(values: Mapping[str, str]) -> Found:
    """The finding that a form or a command states. Refused with every fault."""
    try:
        return read_found(values)
    except ReviewError as error:
        raise Refused(f"{str(error).rstrip('.')}. Nothing was written.") from error
