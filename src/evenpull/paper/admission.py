"""Whether a scanned page may be keyed: a card of an outdated revision or past its time is refused, with the way out.

The paper is kept in either case. What was done in time and in force stays true however late the paper comes back: so a
return that was entered in time opens it, and else the lead's word with a reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class OnRecord:
    """The card as it was issued. `returned_at`: when it was handed in by the register, None while it is out; `void` the
    register's word where the paper does not count; `admitted`: why the lead lets it be keyed all the same."""

    serial: str
    content: str
    pages: int
    specification: str
    valid_until: datetime
    returned_at: datetime | None = None
    void: str = ""
    admitted: str = ""


def refused_at_reading(
    card: OnRecord | None, *, serial: str, content: str, in_force: str, revision: str, read_at: datetime
) -> str:
    """Why a page may not be keyed, with what to do; "" when it may. `in_force`: digest of the specification in force,
    `revision` its name."""
    if card is None:
        return (f"card {serial} was not issued here: find out where it comes from. Read it in the dossier that issued "
                "it, or type its records in on the page of the joint, saying how they are known")  # fmt: skip
    if card.content != content:
        return (f"the page says content {content}, card {serial} was issued with {card.content}: another print, or an "
                "altered one. Keep the paper and find out who printed it; it is not keyed")  # fmt: skip
    if card.void:
        return (f"card {serial} is entered as {card.void}: nothing on it counts. If that entry is wrong, enter "
                "the card as returned, filled in")  # fmt: skip
    if card.admitted:
        return ""
    if card.specification != in_force:
        return (f"card {serial} was printed for a revision that is no longer in force; in force is {revision}. Stop "
                "work with this card and issue a new one. If its work was done while the old revision was in force, "
                "the lead lets it be keyed, with a reason; it is then judged by the revision of that day")  # fmt: skip
    handed_in = card.returned_at if card.returned_at is not None else read_at
    if handed_in > card.valid_until:
        when = "was handed in" if card.returned_at is not None else "is read"
        return (f"card {serial} was valid until {card.valid_until:%Y-%m-%d %H:%M} UTC and {when} after that. If it "
                "came back in time, enter it as returned with that moment; if its work was done in time, the lead "
                "lets it be keyed, with a reason; work done after its time is done again with a new card")  # fmt: skip
    return ""


def after_its_time(card: OnRecord, done: datetime | None) -> str:
    """Why work with this moment may not become records from this card; "" when nothing speaks against it."""
    if done is None or done <= card.valid_until or card.admitted:
        return ""
    return (f"the card says the work ended {done:%Y-%m-%d %H:%M} UTC, after its time "
            f"({card.valid_until:%Y-%m-%d %H:%M} UTC): look at the paper; if it is so, the lead decides")  # fmt: skip
