"""Patterns that honest work does not make: values too alike, digits too even, pulls too fast. Numbers in, words out.

Nothing is proven false here and nothing is repaired: a person has to look. Thresholds are chosen so that honest records
are hardly ever flagged (docs/proof-rules.md gives the measured share).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenpull.intake.record import Tightening
from evenpull.ledger.words import fasteners
from evenpull.plan.model import Pass, Plan, Tool
from evenpull.proof.judging import Judge
from evenpull.proof.model import FlagCode
from evenpull.proof.moments import sequence_key
from evenpull.proof.texts import counted
from evenpull.proof.unit_work import CellWork
from evenpull.proof.written import BY_HAND, Readings, Written, measured_values, readings, steps_of, tools_of, written
from evenpull.quantities import unit_shown
from evenpull.statistics.chance import deviation_at_least, scatter_too_small
from evenpull.statistics.digits import digit_test
from evenpull.statistics.pace import too_fast
from evenpull.statistics.rounding import rounded_shares
from evenpull.statistics.runs import longest_run, repeat_chance, run_chance, seen_shares

CHANCE = 1e-4  # below this, times the number of tests of the kind, a pattern is flagged; common practice, no source
FEWEST_RUN, FEWEST_VARIANCE, FEWEST_DIGITS = 4, 8, 40
FEWEST_REST = 8  # values beside a run from which the scatter of the tool is taken
RISK = 1e-3  # of the lower bound of that scatter
EVEN = 0.5  # standard deviation, in periods of the last digit, from which digits are even (2 exp(-2 pi^2 / 4) = 1.4 %)
PACE_HAND, PACE_POWERED = 3.0, 1.5  # s from one fastener to the next with one tool; common practice, no source


@dataclass(frozen=True)
class Doubt:
    code: FlagCode
    text: str
    records: tuple[Tightening, ...]


@dataclass(frozen=True)
class _Suspect:
    """A pattern with its chance before the number of tests is known."""

    chance: float
    text: str  # with {chance} or {tests} to be filled in
    records: tuple[Tightening, ...]


def doubts(plan: Plan, judge: Judge, work: Sequence[CellWork]) -> list[Doubt]:
    """Every pattern in the records that lie on places of the plan, by tool, memory and pass."""
    streams: dict[tuple[str, str], list[tuple[Tightening, CellWork]]] = defaultdict(list)
    for cell in work:
        for record in cell.records:
            streams[record.tool, record.epoch].append((record, cell))
    tools = tools_of(plan)
    repeated: list[_Suspect] = []
    still: list[_Suspect] = []
    digits: list[_Suspect] = []
    found: list[Doubt] = []
    measured = measured_values(((record, cell.one) for cell in work for record in cell.records), tools)
    steps = steps_of(((r, measured[r.key]) for c in work for r in c.records if r.key in measured), tools)
    for (serial, _), members in streams.items():
        members.sort(key=lambda pair: sequence_key(judge.moments[pair[0].key], pair[0].key))
        tool = tools.get(serial)
        found += _pace(plan, judge, [r for r, _ in members], tool)
        groups: dict[tuple[str, int], list[tuple[Tightening, Written, Pass]]] = defaultdict(list)
        by_person: dict[tuple[str, str], list[list[tuple[Tightening, Written, Pass]]]] = defaultdict(list)
        for record, cell in members:
            value = measured.get(record.key)
            if value is not None:
                groups[record.torque_unit, cell.one.number].append((record, value, cell.one))
        for (unit, _), group in groups.items():
            made = readings(group, tool, steps)
            repeated += _repeated(made)
            still += _no_variance(made)
            persons: dict[str, list[tuple[Tightening, Written, Pass]]] = defaultdict(list)
            for one in group:
                persons[one[0].operator.casefold()].append(one)
            for person, own in persons.items():
                by_person[unit, person].append(own)
        for parts in by_person.values():
            digits += _digits([readings(part, tool, steps) for part in parts])
    found += _settled("repeated values", repeated)
    found += _settled("no variance", still)
    found += _settled("digit preference", digits)
    return found


def _settled(code: FlagCode, suspects: Sequence[_Suspect]) -> list[Doubt]:
    """Those whose chance, times the number of tests of this kind in the joint (Bonferroni), is below the limit."""
    tests = len(suspects)
    made = []
    for one in suspects:
        chance = one.chance * tests
        if chance < CHANCE:
            sheets = f"once in {1 / max(chance, 1e-12):,.0f} such joints"
            said = f"{one.chance:.1g}, {counted(tests, 'test')}"
            made.append(Doubt(code, one.text.format(sheets=sheets, said=said), one.records))
    return made


def _escaped(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")


def _name(record: Tightening) -> str:
    return _escaped(record.tool or "a tool not stated")


def _repeated(made: Readings) -> list[_Suspect]:
    """The longest run of the same torque and angle, against the scatter and the repeats of the other values.

    The scatter is the lower bound of that of the values beside the run, and at least what such a tool has at least.
    """
    n = len(made.digits)
    if n < FEWEST_RUN:
        return []
    angles = [r.angle_text.strip() for r in made.records]
    length, start = longest_run(list(zip(made.digits, angles, strict=True)))
    if length < FEWEST_RUN:
        return [_Suspect(1.0, "", ())]
    sigma, chance = made.least, 0.0
    if n - length >= FEWEST_REST:
        rest = [d for i, d in enumerate(made.digits) if not start <= i < start + length]
        sigma = max(sigma, deviation_at_least(float(made.without(start, length).std(ddof=1)), n - length, RISK))
        chance = run_chance(n, length, seen_shares(rest))
    chance = max(chance, run_chance(n, length, rounded_shares(made.step, sigma)) if sigma > 0 else 1.0)
    if n - length >= FEWEST_REST:
        others = [a for i, a in enumerate(angles) if not start <= i < start + length]
        chance *= max(repeat_chance(others), 0.1) ** (length - 1)
    run = made.records[start : start + length]
    shown = " ".join(
        part for part in (made.digits[start], unit_shown(run[0].torque_unit), angles[start]) if part
    )
    text = (
        f"{length} of {n} values in a row are {_escaped(shown)} to the last digit ({_name(run[0])}, "
        f"{fasteners([r.fastener for r in run])}): by chance {{sheets}}"
    )
    return [_Suspect(chance, text, run)]


def _no_variance(made: Readings) -> list[_Suspect]:
    """Scatter against the least that the tool and the step give."""
    n, mean = len(made.values), made.mean
    if n < FEWEST_VARIANCE or made.least <= 0 or not (made.one_aim or made.step <= made.least / 2):
        return []  # values of different targets do not stand on one lattice
    values = made.values if made.one_aim else made.off
    chance = scatter_too_small([float(v) for v in values], made.least, made.step)
    text = (
        f"{n} values of {_name(made.records[0])} have a standard deviation of {100 * made.deviation / abs(mean):.2g} % "
        f"only; pulls with such a tool scatter by at least {100 * made.least / abs(mean):.2g} %, read in steps of "
        f"{made.step:g} {_escaped(unit_shown(made.records[0].torque_unit))}: by chance {{sheets}}"
    )
    return [_Suspect(chance, text, made.records)]


def _digits(parts: Sequence[Readings]) -> list[_Suspect]:
    """Last digits of one person with one tool in one unit, over the passes whose values run over enough of them.

    Only of hand tools whose step the register knows. What a powered tool sends is written by its converter, and a
    converter whose steps are no multiples of the last digit prefers some digits (the open data of a station do).
    """
    places = max(part.places for part in parts)
    fine = 10.0**-places
    kept = [part for part in parts if part.places == places and part.deviation >= EVEN * 10 * fine]
    shown = [d for part in kept for d in part.digits]
    if len(shown) < FEWEST_DIGITS or any(_mixed(part, places) for part in kept):
        return []
    records = tuple(r for part in kept for r in part.records)
    if not all(part.known_step and part.by_hand for part in kept):
        return []
    step = kept[0].step / fine
    if abs(step - round(step)) > 1e-6:
        return []  # the values were converted from a coarser unit: their last digits follow no rule
    test = digit_test([int(d[-1]) for d in shown], round(step))
    if len(test.allowed) == 1:
        return []
    most = int(np.argmax(test.counts))
    text = (
        f"last digits of {test.n} values of {_name(records[0])} by {_escaped(records[0].operator or 'nobody named')}: "
        f"{most} stands in {test.counts[most]}, {test.n / len(test.allowed):.0f} are expected (chi-square "
        f"{test.statistic:.0f} of {len(test.allowed)} digits, p {{said}})"
    )
    return [_Suspect(test.p, text, records)]


def _mixed(part: Readings, places: int) -> bool:
    """Written now with more, now with fewer decimal places, and not because zeros at the end were left out."""
    raw = [w for r in part.records if (w := written(r)) is not None]
    return len({w.places for w in raw}) > 1 and any(w.places == places and w.digits.endswith("0") for w in raw)


def _pace(plan: Plan, judge: Judge, records: Sequence[Tightening], tool: Tool | None) -> list[Doubt]:
    """Pulls of one tool faster than a person goes from one fastener to the next, by the raw times of its own clock: in
    the order of its counter, or of those times where it counts nothing. In a series the units come to the tool, so
    nothing is said there."""
    if plan.spec.series is not None:
        return []
    timed = [r for r in records if r.tool and r.time is not None and not r.time_doubt and judge.moments[r.key].sure]
    fast = [
        pair
        for counted_ones in (True, False)
        for pair in _too_fast(plan, [r for r in timed if (r.counter is not None) is counted_ones], tool)
    ]
    if len(fast) < 2:
        return []
    least = _least(tool)
    shown = "; ".join(f"{a.fastener} to {b.fastener} in {s:.3g} s" for a, b, s in fast[:5])
    more = f" and {len(fast) - 5} more" if len(fast) > 5 else ""
    times_said = f"{len(fast)} times: {shown}{more}"
    text = f"{timed[0].tool} went on faster than {least:g} s from one fastener to another {times_said}"
    keyed = {r.key: r for a, b, _ in fast for r in (a, b)}
    return [Doubt("impossible pace", text, tuple(keyed.values()))]


def _least(tool: Tool | None) -> float:
    kind = "" if tool is None else tool.kind
    return PACE_HAND if kind in BY_HAND else PACE_POWERED


def _too_fast(
    plan: Plan, timed: Sequence[Tightening], tool: Tool | None
) -> list[tuple[Tightening, Tightening, float]]:
    """Pairs of pulls on different fasteners and the seconds between them. Without a counter, equal times tell nothing:
    one time may have been written for a whole pass."""
    if len(timed) < 3 or all(r.time is not None and not (r.time.second or r.time.microsecond) for r in timed):
        return []  # a clock that writes minutes only
    if timed[0].counter is None:
        timed = sorted(timed, key=lambda r: (r.time, r.key))
    pump = tool is not None and tool.kind == "hydraulic"
    heads = plan.spec.procedure.tools_at_once if pump else 1  # one pump drives all of them
    times = np.array([r.time.timestamp() for r in timed if r.time is not None])
    found = [
        (timed[i], timed[i + heads], float(times[i + heads] - times[i]))
        for i in too_fast(times, _least(tool), heads).tolist()
        if timed[i].fastener != timed[i + heads].fastener
    ]
    return [one for one in found if one[0].counter is not None or one[2] > 0]
