"""What rested on records of a reading that was withdrawn since: decisions no longer count, and the joint says so.

Nothing is undone: decision and signature stay as they were made. A person decides again on what is there now.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from evenpull.proof.flags import FlagBook
from evenpull.proof.model import Disposition
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import counted


@dataclass(frozen=True)
class Loss:
    """What one withdrawal took from a joint. `reading`, `withdrawal`: places in the log. `fasteners`: of the records
    that it took; `rows`: how many unread rows."""

    reading: int
    withdrawal: int
    fasteners: frozenset[int]
    records: int
    rows: int


def rested(flag_key: str, seq: int, loss: Loss, places: Mapping[str, int]) -> bool:
    """Whether a decision on this flag, at this place of the log, rested on what was lost.

    It holds where it was made before the reading or after its withdrawal, where it names one record or row that counts
    and was there when it was made (`places`: key -> place in the log), or a fastener of which no record was lost.
    Whatever cannot be told counts as resting on it.
    """
    if not loss.reading < seq < loss.withdrawal or not (loss.records or loss.rows):
        return False
    _, _, _, fastener, _, tail = flag_key.split("|", 5)
    if tail in places:
        return places[tail] > seq
    if fastener and not loss.rows:
        return int(fastener) in loss.fasteners
    return True


def parted(
    given: Iterable[tuple[int, Disposition]], losses: Sequence[Loss], places: Mapping[str, int]
) -> tuple[list[Disposition], dict[int, list[Disposition]]]:
    """The decisions that count, and by the place of a withdrawal those that rested on what it took."""
    held: list[Disposition] = []
    gone: dict[int, list[Disposition]] = {}
    for seq, one in given:
        lost = next((loss for loss in losses if rested(one.flag_key, seq, loss, places)), None)
        if lost is None:
            held.append(one)
        else:
            gone.setdefault(lost.withdrawal, []).append(one)
    return held, gone


def flag_withdrawn(around: Surroundings, book: FlagBook) -> None:
    """Each withdrawal as a note, with the decisions and signatures that rested on it. It stays for good, so that a
    signature from before does not cover the joint again when the same records come back."""
    for one in around.withdrawn:
        taken = [counted(one.records, "record")] if one.records else []
        taken += [counted(one.rows, "unread row")] if one.rows else []
        text = (
            f"the reading of {one.file} under the mapping {one.mapping!r} was withdrawn by {one.by} on "
            f"{one.at:%Y-%m-%d %H:%M} UTC: {one.why}; {' and '.join(taken)} of this joint no longer "
            f"{'counts' if one.records + one.rows == 1 else 'count'}"
        )
        for r in one.releases:
            text += f"; {r} rested on it"
        for d in one.decisions:
            text += f"; the decision {d.action!r} by {d.by} on {d.at:%Y-%m-%d %H:%M} UTC rested on it: decide again"
        book.add("reading withdrawn", text, blocking=False, name=f"withdrawn {one.seq}")
