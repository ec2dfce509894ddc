"""Running numbers of tools: what is missing between those that are known."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.proof.flags import FlagBook, digest
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import counted, some

Range = tuple[int, int]  # first, last


def missing_counters(own: Sequence[int], known: Sequence[Range]) -> Iterator[Range]:
    """Ranges between the first and last of `own` that are in no range of `known` (each (first, last), in any order)."""
    if not own:
        return
    first, last = min(own), max(own)
    reached = first - 1
    for low, high in sorted([*known, *((n, n) for n in own)]):
        if low > reached + 1 and reached + 1 <= last:
            yield reached + 1, min(low - 1, last)
        reached = max(reached, high)
        if reached >= last:
            return


def gaps(known: Sequence[Range]) -> list[Range]:
    """What is missing between the ranges of one memory of a tool, whatever the joint: [(1, 3), (7, 7)] -> [(4, 6)]."""
    ends = [end for one in known for end in one]
    return list(missing_counters([min(ends), max(ends)], known)) if ends else []


def in_words(ranges: Sequence[Range], most: int = 8) -> str:
    """ "103–104, 107"."""
    return some([str(a) if a == b else f"{a}–{b}" for a, b in ranges], most)


def flag_gaps(
    records: Sequence[Tightening], unread: Sequence[UnreadRow], around: Surroundings, book: FlagBook
) -> None:
    """Counters that no record of the dossier has; only where the dossier's counters are known."""
    streams: dict[tuple[str, str], list[int]] = defaultdict(list)
    for record in records:
        if record.tool and record.counter is not None:
            streams[record.tool, record.epoch].append(record.counter)
    lost: dict[tuple[str, str], list[Range]] = defaultdict(list)
    for row in unread:
        if row.tool and row.counter is not None:
            lost[row.tool, row.epoch].append((row.counter, row.counter))
    for stream, own in sorted(streams.items()):
        known = around.counters.get((stream[0][:100], stream[1][:100]))
        if known is None:
            continue
        found = list(missing_counters(own, [*known, *lost[stream]]))
        if found:
            count = sum(high - low + 1 for low, high in found)
            memory = f", memory {stream[1]}" if stream[1] else ""
            book.add(
                "records missing",
                f"{counted(count, 'record')} missing: {stream[0]}{memory}, counters {in_words(found)}, between its "
                "records of this joint, and nowhere in the dossier",
                blocking=True,
                name=digest([*stream, *(f"{a}-{b}" for a, b in found)]),
            )
