"""Reviews of tools that concern the joint, as flags: open until a disposition leaves nothing to be done."""

from __future__ import annotations

from evenpull.proof.flags import FlagBook
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import counted

_VERDICTS = ("surely within its window", "doubtful", "cannot be judged", "surely outside its window")


def flag_reviews(around: Surroundings, book: FlagBook) -> None:
    for one in around.reviews:
        said = ", ".join(f"{n} {words}" for n, words in zip(one.counts, _VERDICTS, strict=True) if n)
        text = (f"review {one.id}: {one.serial} ({one.kind}, found on {one.at:%Y-%m-%d}) tightened here: "
                f"{counted(sum(one.counts), 'tightening')}, {said}")
        if one.load_out:
            text += f"; {counted(one.load_out, 'load')} surely below what is required"
        if one.load_doubt:
            text += f"; {counted(one.load_doubt, 'load')} in doubt"
        text += f"; {one.decided}" if one.decided else "; no disposition yet"
        book.add("under review", text, blocking=not (one.settled or one.harmless), name=f"review {one.id}")
