"""The report of a review as PDF, made from the facts as they stand."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Literal

from evenpull import __version__
from evenpull.card.typesetting import TypesettingError
from evenpull.instrument.review import Verdict
from evenpull.report.tool_review import ReviewPaper, review_pdf
from evenpull.store.services import review_lists
from evenpull.store.services.calculating import PAPERS
from evenpull.store.services.errors import Refused
from evenpull.store.services.reviewing import ReviewView


def notes(view: ReviewView) -> tuple[str, ...]:
    """What has to be known before any number is read."""
    taken, said = view.now.taken, []
    if not view.same:
        said.append(
            f"Facts were added since it was opened: it then had {view.head.uses:,} tightenings, now it has "
            f"{view.now.outcome.touched.count:,}; everything here is as it follows now."
        )
    if taken.made:
        said.append(f"What {taken.made:,} of the joints ask had to be computed from their files for this.")
    if taken.refused:
        said.append(f"{len(taken.refused):,} of the joints have a description that this version refuses; their "
                    "tightenings cannot be judged.")
    if taken.shared:
        said.append(f"{taken.shared:,} records rest on two instruments in doubt and stand once for each.")
    clocks = sorted({one.serial for one in view.now.outcome.suspects})
    said.append("Times are as the records say them; where the clock of a tool was wrong, the period of "
                f"{', '.join(clocks[:5])}{' and others' if len(clocks) > 5 else ''} is cut by that clock.")
    return tuple(said)


def pdf(view: ReviewView, paper: str = "a4") -> bytes:
    """The report, dated now. Refused for a paper that is none, and when it cannot be set."""
    if paper not in PAPERS:
        raise Refused(f"{paper!r} is no paper; there are: {', '.join(PAPERS)}")
    head, now = view.head, datetime.now(UTC).replace(microsecond=0)
    rows = review_lists.lines(view, review_lists.matching(view))
    closed = view.closed
    sheet = ReviewPaper(
        number=head.id, outcome=view.now.outcome, held=view.now.held,
        opened=f"{head.author} on {head.opened_at:%Y-%m-%d %H:%M} UTC", identity=head.identity,
        joints=[(
            one.joint, one.joint_class or "–", one.state, *(f"{n:,}" for n in one.counts), _loads(one.loads),
            "none yet" if one.decided is None else one.decided.words,
        ) for one in rows],
        decided=review_lists.decided_words(view),
        said={what: (one.text, f"{one.by}, {one.at:%Y-%m-%d %H:%M} UTC") for what, one in view.said.items()},
        closed=None if closed is None else (
            closed.statement, f"{closed.by} on {closed.at:%Y-%m-%d %H:%M} UTC ({closed.identity})"),
        aside=view.now.taken.aside, notes=notes(view),
        log=f"{view.now.size:,} facts; opened on {head.facts:,} facts, root {head.root[:16]}", digest=view.now.digest,
    )  # fmt: skip
    form: Literal["a4", "us-letter"] = "us-letter" if paper == "us-letter" else "a4"
    try:
        return review_pdf(sheet, made_at=now, version=__version__, form=form)
    except TypesettingError as error:
        raise Refused(f"no report of review {head.id}: {error}") from error


def _loads(counts: tuple[int, ...]) -> str:
    said = [f"{counts[v]:,} {words}" for v, words in (
        (Verdict.SURELY_OUT, "too little"), (Verdict.DOUBTFUL, "doubtful"), (Verdict.SURELY_IN, "enough")) if counts[v]]
    return ", ".join(said) or "not judged"
