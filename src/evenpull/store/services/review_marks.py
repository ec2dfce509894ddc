"""Which reviews of tools concern a joint, as its judgement and its page need it, without the review itself."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

from evenpull.evidence.checkpoint import read_moment
from evenpull.proof.surroundings import UnderReview
from evenpull.review import Found
from evenpull.review.dispositions import SETTLING
from evenpull.review.found import from_json
from evenpull.store.models import Fact, Mention
from evenpull.store.services import facts
from evenpull.store.services.fact_kinds import REVIEW, REVIEW_DECIDED
from evenpull.store.services.index import name_of

MARK = "review"  # of a joint; its unit says the verdicts: in/doubtful/cannot/out/load out/load doubtful


@dataclass(frozen=True)
class Head:
    """The head of a review: what was found, by whom it was opened, and what came out then."""

    id: int
    seq: int
    found: Found
    author: str
    opened_at: datetime
    digest: str
    uses: int
    counts: tuple[int, int, int, int]
    joints: int
    facts: int  # in the log when it was opened
    root: str
    identity: str


@dataclass(frozen=True)
class Decided:
    """A disposition on one joint."""

    act: str
    reason: str
    by: str
    at: datetime
    joint: str
    together: int = 1

    @property
    def settled(self) -> bool:
        return self.act in SETTLING

    @property
    def words(self) -> str:
        return f"{self.act}, decided by {self.by} on {self.at:%Y-%m-%d %H:%M} UTC: {self.reason}"


@lru_cache(maxsize=256)
def _head(seq: int, digest: str) -> Head:
    fact = Fact.objects.get(seq=seq, digest=digest)
    b = fact.data
    counts = tuple(b["result"]["counts"])
    return Head(
        b["number"], seq, from_json(b["found"]), fact.author, read_moment(b["at"]), b["result"]["digest"],
        b["result"]["uses"], counts, len(b["joints"]), b["stands_on"]["size"],  # type: ignore[arg-type]
        b["stands_on"]["root"], b["identity"],
    )  # fmt: skip


def heads(seqs: Iterable[int] | None = None) -> list[Head]:
    """Heads of these reviews, or of all, by number."""
    found = Fact.objects.filter(kind=REVIEW)
    if seqs is not None:
        found = found.filter(seq__in=list(seqs))
    return [_head(seq, digest) for seq, digest in found.order_by("seq").values_list("seq", "digest")]


def of_tool(serial: str) -> list[Head]:
    """Reviews of one item, by number."""
    places = Mention.objects.filter(kind=REVIEW, name=name_of(serial), fold="").values_list("seq", flat=True)
    return heads(places)


def of_joint(joint_id: str) -> tuple[UnderReview, ...]:
    """The reviews that concern a joint, each with the disposition that stands."""
    if facts.is_held() and not facts.once("reviews there are", lambda: Fact.objects.filter(kind=REVIEW).exists()):
        return ()
    rows = dict(Mention.objects.filter(kind=MARK, fold=facts.fold(joint_id)).values_list("seq", "unit"))
    if not rows:
        return ()
    standing = {}
    for fact in facts.of_joint(joint_id, REVIEW_DECIDED):
        standing[fact.data["review"]] = decided_of(fact)
    made = []
    for head in heads(rows):
        *counts, load_out, load_doubt = (int(one) for one in rows[head.seq].split("/"))
        last = standing.get(head.id)
        made.append(UnderReview(
            head.id, head.found.serial, head.found.kind, datetime.fromtimestamp(head.found.at, UTC),
            tuple(counts), load_out, load_doubt,  # type: ignore[arg-type]
            "" if last is None else last.words, last is not None and last.settled,
        ))  # fmt: skip
    return tuple(made)


def decided_of(fact: Fact) -> Decided:
    b = fact.data
    return Decided(b["act"], b["reason"], fact.author, read_moment(b["at"]), fact.joint, b.get("together", 1))
