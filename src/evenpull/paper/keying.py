"""How far a page is keyed: two people blind to each other, a third where they differ, each person only once.

Why two: docs/scan.md, "What it costs to key a pack in". Agreement of two decides; where they differ the third decides
with the picture, and no value of the two is taken by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from evenpull.ledger.people import folded
from evenpull.paper.answer import Answer, same
from evenpull.paper.page import Page

Stage = Literal["nobody", "one", "differ", "proven"]


class KeyingError(ValueError):
    """Somebody may not key or decide; says who may instead."""


@dataclass(frozen=True, slots=True)
class Keyed:
    """One person's answers for all boxes of a page, by name of the box."""

    by: str
    answers: Mapping[str, Answer] = field(hash=False)


@dataclass(frozen=True, slots=True)
class Decision:
    """The third person's answer for one box, with the reason."""

    by: str
    box: str
    answer: Answer
    why: str


@dataclass(frozen=True, slots=True)
class Mismatch:
    box: str
    first: Answer
    second: Answer


@dataclass(frozen=True, slots=True)
class Proven:
    """What a box holds. `by` the two, or the two and the third; `settled` by the third."""

    answer: Answer
    by: tuple[str, ...]
    settled: bool = False


@dataclass(frozen=True)
class PageState:
    page: Page
    stage: Stage
    keyed: tuple[Keyed, ...]
    open: tuple[Mismatch, ...]
    proven: Mapping[str, Proven]

    def answer(self, box: str) -> Answer | None:
        found = self.proven.get(box)
        return None if found is None else found.answer


def refuse_keyer(page: Page, keyed: Sequence[Keyed], who: str) -> None:
    """Raises KeyingError for the same person again, and for a page that two have keyed."""
    if any(folded(one.by) == folded(who) for one in keyed):
        raise KeyingError(f"{who} has keyed page {page.page} of card {page.serial} already; the second keying is "
                            "another person's, who does not see the first")  # fmt: skip
    if len(keyed) >= 2:
        raise KeyingError(f"page {page.page} of card {page.serial} was keyed by {keyed[0].by} and {keyed[1].by}; "
                            "where they differ a third person decides")  # fmt: skip


def refuse_third(state: PageState, who: str) -> None:
    """Raises KeyingError where nothing is to be decided, and for one of the two who keyed."""
    page = state.page
    if state.stage != "differ":
        raise KeyingError(f"nothing is to be decided on page {page.page} of card {page.serial}: {state.stage}")
    if any(folded(one.by) == folded(who) for one in state.keyed):
        raise KeyingError(f"{who} keyed page {page.page} of card {page.serial}: a third person decides where the two "
                            "differ")  # fmt: skip


def page_state(page: Page, keyed: Sequence[Keyed], decisions: Sequence[Decision] = ()) -> PageState:
    """What is proven on a page and what is open. Clear ticks are those of the reader, `by` is empty for them; a box
    that was decided as "cannot read" is proven to hold nothing that counts."""
    proven = {
        box.name: Proven(Answer("ticked" if box.seen == "ticked" else "empty"), ())
        for box in page.boxes
        if box.seen in ("ticked", "empty")
    }
    if len(keyed) < 2:
        return PageState(page, "one" if keyed else "nobody", tuple(keyed), (), proven)
    first, second = keyed[:2]
    settled = {one.box: one for one in decisions}  # the last one counts
    differ: list[Mismatch] = []
    for box in page.to_key:
        one, two = first.answers[box.name], second.answers[box.name]
        if same(one, two):
            proven[box.name] = Proven(one, (first.by, second.by))
        elif (said := settled.get(box.name)) is not None:
            proven[box.name] = Proven(said.answer, (first.by, second.by, said.by), settled=True)
        else:
            differ.append(Mismatch(box.name, one, two))
    return PageState(page, "differ" if differ else "proven", tuple(keyed), tuple(differ), proven)
