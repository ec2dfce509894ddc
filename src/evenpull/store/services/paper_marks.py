"""What was said about scanned pages: keyed, decided, set aside; and which scan of a page counts. Reading only.

Asked for many pages at once: the number of queries does not grow with the pages (one for `facts.AT_ONCE` joints).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from evenpull.evidence.checkpoint import read_moment
from evenpull.paper.answer import Answer
from evenpull.paper.keying import Decision, Keyed, PageState, page_state
from evenpull.paper.page import Page
from evenpull.store.services import facts
from evenpull.store.services.fact_kinds import KEYING_DECIDED, PAGE_KEYED, SET_ASIDE
from evenpull.store.services.paper_scans import KeptPage, pages_of


@dataclass(frozen=True)
class Aside:
    """A scanned page that no longer counts, because another scan of it is the better one."""

    by: str
    at: datetime
    why: str
    identity: str
    seq: int


@dataclass(frozen=True)
class Marks:
    """What was said about some pages, each by its place (`place_of`)."""

    keyed: dict[str, list[Keyed]] = field(default_factory=lambda: defaultdict(list))
    decided: dict[str, list[Decision]] = field(default_factory=lambda: defaultdict(list))
    aside: dict[str, Aside] = field(default_factory=dict)

    def state(self, page: Page) -> PageState:
        place = place_of(page)
        return page_state(page, self.keyed.get(place, []), self.decided.get(place, []))

    def aside_of(self, page: Page) -> Aside | None:
        return self.aside.get(place_of(page))


def place_of(page: Page) -> str:
    return f"{page.scan}:{page.picture}"


def marks_of(pages: Iterable[KeptPage]) -> Marks:
    """What was said about the pages of the cards of the joints that these belong to."""
    found = Marks()
    for fact in facts.of_joints({kept.joint for kept in pages}, PAGE_KEYED, KEYING_DECIDED, SET_ASIDE):
        b = fact.data
        place = f"{b['scan']}:{b['picture']}"
        if fact.kind == SET_ASIDE:
            found.aside[place] = Aside(fact.author, read_moment(fact.written_at), b["why"], b["identity"], fact.seq)
            continue
        answers = {name: Answer(*said) for name, said in b["answers"].items()}
        if fact.kind == PAGE_KEYED:
            found.keyed[place].append(Keyed(fact.author, answers))
        else:
            found.decided[place] += [Decision(fact.author, name, one, b["why"]) for name, one in answers.items()]
    return found


def counting(pages: Iterable[KeptPage], marks: Marks) -> dict[tuple[str, int], KeptPage]:
    """Of several scans of a page, set aside or not, that which counts: among those not set aside the one keyed first,
    and while nobody has keyed, the latest."""
    found: dict[tuple[str, int], KeptPage] = {}
    for one in sorted(pages, key=lambda p: p.seq):
        place = one.page.serial, one.page.page
        if marks.aside_of(one.page) is None and (
            place not in found or not marks.keyed.get(place_of(found[place].page))
        ):
            found[place] = one
    return found


def scans_of(kept: KeptPage) -> list[KeptPage]:
    """Every scan of the same page of the same card, this one among them."""
    if not kept.joint:
        return [kept]
    page = kept.page
    return [one for one in pages_of(kept.joint) if (one.page.serial, one.page.page) == (page.serial, page.page)]


def not_counting(kept: KeptPage, scans: Sequence[KeptPage], marks: Marks) -> str:
    """Why this scan of a page is not the one that counts, "" when it is. `scans`: as of `scans_of`."""
    page = kept.page
    if (aside := marks.aside_of(page)) is not None:
        return (f"this scan of page {page.page} of card {page.serial} was set aside by {aside.by} on "
                f"{aside.at:%Y-%m-%d %H:%M} UTC: {aside.why}. Another scan of the page counts")  # fmt: skip
    count = counting(scans, marks).get((page.serial, page.page), kept)
    if count.seq != kept.seq:
        return f"another scan of page {page.page} of card {page.serial} is keyed; key that one"
    return ""
