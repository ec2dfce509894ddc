"""Records that look untrue (copied, too regular, too fast, too few), as flags with numbers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import timedelta
from hashlib import sha256

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan.model import Plan
from evenpull.proof.doubts import doubts
from evenpull.proof.flags import FlagBook
from evenpull.proof.judging import Judge
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import above, at_place, below, counted, some
from evenpull.proof.unit_work import CellWork
from evenpull.quantities import to_si
from evenpull.statistics.digits import decimal_shifts, last_digit, transpositions

CLOSE = timedelta(seconds=2)
IN_CLASS_A: tuple[str, ...] = ("no variance", "digit preference")  # a note in the other classes


def flag_doubts(
    plan: Plan,
    records: Sequence[Tightening],
    unread: Sequence[UnreadRow],
    around: Surroundings,
    judge: Judge,
    work: Sequence[CellWork],
    book: FlagBook,
) -> None:
    """Add the flags of this module. `work` holds the places of all units, judged."""
    for cell in work:
        for record in cell.valid:
            _slips(plan, cell, record, book)
    _gaps(records, unread, around, book)
    _near(plan, records, around, book)
    for doubt in doubts(plan, judge, work):
        keys = sorted(record.key for record in doubt.records)
        blocking = doubt.code not in IN_CLASS_A or plan.spec.joint_class == "A"
        book.add(doubt.code, doubt.text, blocking=blocking, records=keys)
    if around.copied:
        book.add(
            "values copied",
            f"all values of this joint stand, digit for digit, also on {some(sorted(around.copied))}: one of the "
            "sheets was not measured",
            blocking=True,
            name=" ".join(sorted(around.copied))[:150],
        )


def _slips(plan: Plan, cell: CellWork, record: Tightening, book: FlagBook) -> None:
    """A value outside its window that a slip of writing would explain."""
    lower, upper = cell.one.window(record.fastener)
    if record.torque is None or lower <= 0 or not (below(record.torque, lower) or above(record.torque, upper)):
        return
    where = at_place(plan.spec, cell.unit, cell.fastener, cell.one)
    shown = f"{record.torque_text or f'{record.torque:g}'} {record.torque_unit}".strip()
    shifts = decimal_shifts(record.torque, lower, upper)
    if shifts:
        way = "right" if shifts[0] > 1 else "left"
        moved = f"with its decimal sign moved to the {way} (times {shifts[0]:g})"
        text = f"{where}: {shown} would be inside the window {moved}"
        _note(book, "decimal shift suspected", text, cell, record)
    if record.torque_unit and last_digit(record.torque_text) is not None:
        for other in transpositions(record.torque_text):
            value = to_si(float(other.replace(",", ".")), record.torque_unit, "torque")
            if lower <= value <= upper:
                text = f"{where}: {shown} would be inside the window as {other}, two neighbouring digits exchanged"
                _note(book, "digits transposed", text, cell, record)
                break


def _note(book: FlagBook, code: str, text: str, cell: CellWork, record: Tightening) -> None:
    book.add(
        code,  # type: ignore[arg-type]
        text, blocking=False, unit=cell.unit, fastener=cell.fastener, pass_number=cell.one.number, records=[record.key],
    )  # fmt: skip


def missing_counters(own: Sequence[int], known: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
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


def _gaps(
    records: Sequence[Tightening], unread: Sequence[UnreadRow], around: Surroundings, book: FlagBook
) -> None:
    """Counters that no record of the dossier has; only where the dossier's counters are known."""
    streams: dict[tuple[str, str], list[int]] = defaultdict(list)
    for record in records:
        if record.tool and record.counter is not None:
            streams[record.tool, record.epoch].append(record.counter)
    for stream, own in sorted(streams.items()):
        known = around.counters.get((stream[0][:100], stream[1][:100]))
        if known is None:
            continue
        lost = [(u.counter, u.counter) for u in unread if (u.tool, u.epoch) == stream and u.counter is not None]
        gaps = list(missing_counters(own, [*known, *lost]))
        if gaps:
            count = sum(high - low + 1 for low, high in gaps)
            shown = some([str(a) if a == b else f"{a}–{b}" for a, b in gaps], 8)
            memory = f", memory {stream[1]}" if stream[1] else ""
            book.add(
                "records missing",
                f"{counted(count, 'record')} missing: {stream[0]}{memory}, counters {shown}, between its records of "
                "this joint, and nowhere in the dossier",
                blocking=True,
                name=f"{stream[0]} {stream[1]} {shown}"[:150],
            )


def _near(plan: Plan, records: Sequence[Tightening], around: Surroundings, book: FlagBook) -> None:
    """The same torque and angle within two seconds from two files: one pull, received on two ways."""
    groups: dict[tuple[str, str, str], list[Tightening]] = defaultdict(list)
    for record in (*records, *around.elsewhere):
        if record.time is not None and record.torque_text.strip():
            groups[record.torque_text.strip(), record.torque_unit, record.angle_text.strip()].append(record)
    for members in groups.values():
        members.sort(key=lambda r: (r.time, r.key))
        for place, one in enumerate(members):
            for other in members[place + 1 :]:
                assert one.time is not None and other.time is not None
                if other.time - one.time > CLOSE:
                    break
                if one.file_sha256 == other.file_sha256 or one.key == other.key:
                    continue
                if plan.spec.id not in (one.joint, other.joint):
                    continue
                mine = one if one.joint == plan.spec.id else other
                stranger = other.joint if mine is one else one.joint
                where = "" if one.joint == other.joint else f", the other of {stranger}"
                pair = sorted((one.key, other.key))
                place_words = at_place(plan.spec, mine.unit_id if plan.spec.series else "", mine.fastener, None)
                book.add(
                    "near-duplicate",
                    f"{place_words}: two records of different files have {one.torque_text} {one.torque_unit} "
                    f"{one.angle_text}".rstrip()
                    + f" within {(other.time - one.time).total_seconds():g} s{where}: one pull received twice?",
                    blocking=True,
                    fastener=mine.fastener,
                    unit=mine.unit_id if plan.spec.series else "",
                    records=[r.key for r in (one, other) if r.joint == plan.spec.id],
                    name="near " + " ".join(pair)[:140],
                )


def sheet_fingerprint(records: Sequence[Tightening]) -> str:
    """Names the values of a joint as they are written, by pass and fastener; "" for fewer than six, or where a pass has
    the same value throughout (then it is the setting that was written down)."""
    values = sorted((r.pass_number or 0, r.fastener, r.torque_text.strip(), r.torque_unit) for r in records)
    different = len({(value[0], value[2]) for value in values}) - len({value[0] for value in values})
    if len(values) < 6 or different < 4:
        return ""
    return sha256(repr(values).encode()).hexdigest()
