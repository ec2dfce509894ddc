"""The same values twice: one pull received on two ways, and sheets that were copied."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.flags import FlagBook, digest
from evenpull.proof.surroundings import Surroundings
from evenpull.proof.texts import at_place, pass_label, some, unit_label
from evenpull.proof.unit_work import CellWork
from evenpull.proof.written import Source, Step, Written, measured_values, padded, source, steps_of, tools_of
from evenpull.statistics.rounding import alike_chance
from evenpull.statistics.runs import repeat_chance

CLOSE = timedelta(seconds=2)
FEWEST = 6  # values of a sheet that can be compared at all
CHANCE = 1e-4  # of the same pass or unit twice in one joint; common practice, no source
SURPRISE = 30.0  # nats: two sheets agree by chance once in e^30 = 10^13; 100,000 joints make 5 * 10^9 pairs of sheets


def same_run(one: Sequence[str], other: Sequence[str], off: NDArray[np.float64], step: float) -> float:
    """Chance that two measured runs of values agree throughout, as these do; 1.0 where they do not, or are no runs.

    `off`: values less what was aimed at, `step`: of the values, in one unit. See `surprise`.
    """
    if len(one) < FEWEST or tuple(one) != tuple(other):
        return 1.0
    return math.exp(-surprise(one, off, step))


def surprise(digits: Sequence[str], off: NDArray[np.float64], step: float) -> float:
    """-ln of the chance that a second, measured run has the same values (nats).

    Each of the n values agrees with the chance that two values of a normal variable with the standard deviation of this
    run fall into the same step, or with the share of equal pairs within the run where that is more. Values that are all
    the same have no surprise at all: whoever writes down a setting writes it twice.
    """
    if len(digits) < 2 or step <= 0:
        return 0.0
    p = max(alike_chance(step, float(off.std(ddof=1))), repeat_chance(digits))
    return -len(digits) * math.log(p) if p < 1 else 0.0


def _run(members: Sequence[tuple[Tightening, Written, Pass | None]], steps: Mapping[Source, Step]) -> float:
    """Surprise of one pass. Where tools of different steps or units meet, the coarsest step counts."""
    factor = members[0][1].factor
    found = [w for _, w, _ in members]
    places = max(w.places for w in found)
    off = np.array([
        w.value * w.factor / factor - (0.0 if one is None else one.torque_of(r.fastener) / factor)
        for r, w, one in members
    ])  # fmt: skip
    step = max(steps[source(r)][0] * w.factor for r, w, _ in members) / factor
    return surprise([padded(w.digits, places) for w in found], off, step)


def sheet_fingerprint(records: Sequence[Tightening], plan: Plan | None = None) -> str:
    """Names the measured values of a joint as they are written, by unit, pass and fastener.

    "" for fewer than six, and for so few different ones that two honest sheets may agree by chance (`SURPRISE`). With
    the plan, values that are only what was dialled are left out, and those of fasteners with settings of their own are
    compared with their own targets.
    """
    by_pass: dict[int, list[tuple[Tightening, Written, Pass | None]]] = defaultdict(list)
    tools = {} if plan is None else tools_of(plan)
    passes = {} if plan is None else {one.number: one for one in plan.passes}
    placed = [
        (record, one)
        for record in records
        if (one := passes.get(record.pass_number or 0)) is None or not one.own or 1 <= record.fastener <= len(one.own)
    ]
    measured = measured_values(placed, tools)
    for record, one in placed:
        if record.key in measured:
            by_pass[record.pass_number or 0].append((record, measured[record.key], one))
    if sum(len(members) for members in by_pass.values()) < FEWEST:
        return ""
    steps = steps_of(((r, w) for members in by_pass.values() for r, w, _ in members), tools)
    if sum(_run(members, steps) for members in by_pass.values()) < SURPRISE:
        return ""
    values = sorted(
        (number, r.unit_id, r.fastener, w.digits, r.torque_unit)
        for number, members in by_pass.items()
        for r, w, _ in members
    )
    return sha256(repr(values).encode()).hexdigest()


def flag_copies(plan: Plan, around: Surroundings, work: Sequence[CellWork], book: FlagBook) -> None:
    """Sheets of other joints, and passes or units of this one, with the same values throughout."""
    if around.copied:
        others = sorted(around.copied)
        book.add(
            "values copied",
            f"all values of this joint stand, digit for digit, also on {some(others)}: two measured sheets agree by "
            "chance less than once in 10,000,000,000,000 pairs",
            blocking=True,
            name=digest(others),
        )
    tools = tools_of(plan)
    runs: dict[tuple[str, int], list[tuple[Tightening, Written, Pass | None]]] = defaultdict(list)
    measured = measured_values(((cell.proving, cell.one) for cell in work if cell.proving is not None), tools)
    for cell in work:
        if cell.proving is not None and cell.proving.key in measured:
            runs[cell.unit, cell.one.number].append((cell.proving, measured[cell.proving.key], cell.one))
    same: dict[tuple[tuple[int, str, str], ...], list[tuple[str, int]]] = defaultdict(list)
    long = {place: members for place, members in runs.items() if len(members) >= FEWEST}
    for place, members in long.items():
        same[tuple(sorted((r.fastener, w.digits, r.torque_unit) for r, w, _ in members))].append(place)
    steps = steps_of(((r, w) for members in long.values() for r, w, _ in members), tools)
    pairs = max(1, len(long) * (len(long) - 1) // 2)
    for places in same.values():
        if len(places) < 2:
            continue
        members = long[places[0]]
        chance = pairs * math.exp(-_run(members, steps))
        if chance >= CHANCE:
            continue
        names = []
        for unit, number in places:
            one = plan.pass_by_number(number)
            label = unit_label(plan.spec, unit)
            names.append(", ".join(part for part in (label, pass_label(one) if one else "") if part))
        book.add(
            "values copied",
            f"the same {len(members)} values stand, digit for digit, in {some(names)}: by chance once in "
            f"{1 / max(chance, 1e-12):,.0f} such joints",
            blocking=True,
            records=sorted(r.key for place in places for r, _, _ in long[place]),
            places=[(unit, r.fastener, number) for unit, number in places for r, _, _ in long[unit, number]],
        )


def _pairs(members: Sequence[Tightening]) -> Iterator[tuple[Tightening, Tightening]]:
    """Each record with the latest of every other file that is not more than two seconds older. By time."""
    latest: dict[str, Tightening] = {}  # file -> its latest record; the file last seen stands last
    for one in members:
        assert one.time is not None
        for file in reversed(list(latest)):
            other = latest[file]
            assert other.time is not None
            if one.time - other.time > CLOSE:
                break
            if file != one.file_sha256 and other.key != one.key:
                yield other, one
        latest.pop(one.file_sha256, None)
        latest[one.file_sha256] = one
        while (oldest := next(iter(latest.values()))).time is not None and one.time - oldest.time > CLOSE:
            del latest[oldest.file_sha256]


def _one_pull(one: Tightening, other: Tightening) -> bool:
    """Whether the two can be one pull: same tool, or a tool not stated, or different tools on the same fastener. Two
    tools on two fasteners may well show the same value at the same moment."""
    if not one.tool or not other.tool or one.tool == other.tool:
        return True
    return (one.joint, one.unit_id, one.fastener) == (other.joint, other.unit_id, other.fastener)


def flag_near(plan: Plan, records: Sequence[Tightening], around: Surroundings, book: FlagBook) -> None:
    """The same torque and angle within two seconds from two files: one pull, received on two ways."""
    groups: dict[tuple[str, str, str], list[Tightening]] = defaultdict(list)
    for record in (*records, *around.elsewhere):
        if record.time is not None and record.torque_text.strip():
            groups[record.torque_text.strip(), record.torque_unit, record.angle_text.strip()].append(record)
    own = {record.key for record in records}
    for members in groups.values():
        if len(members) < 2:
            continue
        members.sort(key=lambda r: (r.time, r.key))
        for one, other in _pairs(members):
            if not own & {one.key, other.key} or not _one_pull(one, other):
                continue
            mine, second = (one, other) if one.key in own else (other, one)
            where = "" if second.key in own else f", the other of {second.joint}"
            assert one.time is not None and other.time is not None
            seconds = abs((other.time - one.time).total_seconds())
            unit = mine.unit_id if plan.spec.series else ""
            values = f"{mine.torque_text} {mine.torque_unit} {mine.angle_text}".strip()
            book.add(
                "near-duplicate",
                f"{at_place(plan.spec, unit, mine.fastener, None)}: two records of different files have {values} "
                f"within {seconds:g} s{where}: one pull received twice?",
                blocking=True,
                fastener=mine.fastener,
                unit=unit,
                records=sorted(r.key for r in (one, other) if r.key in own),
                name="near " + digest([one.key, other.key]),
            )
