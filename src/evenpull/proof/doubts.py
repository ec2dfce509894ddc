"""Patterns that honest work does not make: values too alike, digits too even, pulls too fast. Numbers in, words out.

Nothing is proven false here and nothing is repaired: a person has to look. Thresholds are chosen so that honest records
are hardly ever flagged (docs/proof-rules.md gives the measured share).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan
from evenpull.proof.judging import Judge
from evenpull.proof.model import FlagCode
from evenpull.proof.moments import sequence_key
from evenpull.proof.texts import fasteners
from evenpull.proof.unit_work import CellWork
from evenpull.statistics.chance import variance_too_small
from evenpull.statistics.digits import digit_test, last_digit
from evenpull.statistics.runs import longest_run, run_probability

CHANCE = 1e-4  # below this a pattern is flagged; common practice, no source
SIGMA = 0.004  # share of the value: pulls of one tool on one joint scatter at least so much; common practice, no source
SIGMA_LEAST = 0.001  # share: no tool repeats better than this; common practice, no source
FEWEST_RUN, FEWEST_VARIANCE, FEWEST_DIGITS = 4, 8, 40
PACE_HAND, PACE_POWERED = 3.0, 1.5  # s from one fastener to the next with one tool; common practice, no source


@dataclass(frozen=True)
class Doubt:
    code: FlagCode
    text: str
    records: tuple[Tightening, ...]


def step_of(texts: Sequence[str]) -> float:
    """Step of the last written digit: 0.1 for "350.1"; the finest of several. 0.0 for no plain number."""
    places = [len(t.strip().replace(",", ".").partition(".")[2]) for t in texts if last_digit(t) is not None]
    return 10.0 ** -max(places) if places else 0.0


def _written(record: Tightening) -> float | None:
    """The value in the unit in which it was written; None when the text is no plain number."""
    if record.torque is None or last_digit(record.torque_text) is None:
        return None
    return float(record.torque_text.strip().replace(",", "."))


def _is_setting(record: Tightening, one: Pass) -> bool:
    """The value is the setting itself, as a click-type wrench written down by hand gives it: it says nothing on
    scatter."""
    value = _written(record)
    return value is not None and any(
        s.tool == record.tool and abs(s.value - value) < 1e-9 for s in one.settings_of(record.fastener)
    )


def doubts(plan: Plan, judge: Judge, work: Sequence[CellWork]) -> list[Doubt]:
    """Every pattern in the records that lie on places of the plan, by tool, memory and pass."""
    streams: dict[tuple[str, str], list[tuple[Tightening, CellWork]]] = defaultdict(list)
    for cell in work:
        for record in cell.records:
            streams[record.tool, record.epoch].append((record, cell))
    tests = max(1, len(streams))
    found: list[Doubt] = []
    for members in streams.values():
        members.sort(key=lambda pair: sequence_key(judge.moments[pair[0].key], pair[0].key))
        by_pass: dict[int, list[Tightening]] = defaultdict(list)
        measured = [(r, c) for r, c in members if _written(r) is not None and not _is_setting(r, c.one)]
        for record, cell in measured:
            by_pass[cell.one.number].append(record)
        for records in by_pass.values():
            found += _repeated(records)
            found += _no_variance(records)
        found += _pace(plan, judge, [r for r, _ in members])
        by_operator: dict[str, list[Tightening]] = defaultdict(list)
        for record, _ in measured:
            by_operator[record.operator.casefold()].append(record)
        for records in by_operator.values():
            found += _digits(records, tests)
    return found


def _repeated(records: Sequence[Tightening]) -> list[Doubt]:
    values = [(r.torque_text.strip(), r.angle_text.strip()) for r in records]
    length, start = longest_run(values)
    if length < FEWEST_RUN:
        return []
    step, value = step_of([v for v, _ in values]), _written(records[start])
    sigma = SIGMA * abs(value or 0.0)
    if not sigma or step >= sigma:
        return []  # so coarse a step repeats by itself
    # two normal values fall into one step with the chance step / (2 sqrt(pi) sigma), for a step small against sigma
    p = min(1.0, step / (2 * math.sqrt(math.pi) * sigma))
    if values[start][1] and any(v[1] not in ("0", "0.0", "0,0", "") for v in values[start : start + length]):
        p *= 0.5  # the angle repeats as well; half is far from what it really is
    chance = run_probability(len(values), length, p)
    if chance >= CHANCE:
        return []
    run = tuple(records[start : start + length])
    shown = " ".join(part for part in (f"{values[start][0]} {run[0].torque_unit}", values[start][1]) if part)
    text = (
        f"{length} of {len(values)} values in a row are {shown} to the last digit ({run[0].tool}, "
        f"{fasteners([r.fastener for r in run])}): by chance once in {1 / max(chance, 1e-12):,.0f} such sheets"
    )
    return [Doubt("repeated values", text, run)]


def _no_variance(records: Sequence[Tightening]) -> list[Doubt]:
    values = np.array([v for r in records if (v := _written(r)) is not None])
    if len(values) < FEWEST_VARIANCE:
        return []
    step, mean = step_of([r.torque_text for r in records]), float(values.mean())
    least = math.hypot(SIGMA_LEAST * abs(mean), step / math.sqrt(12))
    s = float(values.std(ddof=1))
    if step >= SIGMA_LEAST * abs(mean) * 4 or not mean:
        return []  # the step swallows the scatter
    chance = variance_too_small(s, least, len(values))
    if chance >= CHANCE:
        return []
    text = (
        f"{len(values)} values of {records[0].tool} scatter by {100 * s / abs(mean):.2g} % only; a step of {step:g} "
        f"{records[0].torque_unit} and the best tools give at least {100 * least / abs(mean):.2g} %"
    )
    return [Doubt("no variance", text, tuple(records))]


def _digits(records: Sequence[Tightening], tests: int) -> list[Doubt]:
    digits = [d for r in records if (d := last_digit(r.torque_text)) is not None]
    values = np.array([v for r in records if (v := _written(r)) is not None])
    step = step_of([r.torque_text for r in records])
    lengths = {len(r.torque_text.strip().replace(",", ".").partition(".")[2]) for r in records}
    if len(digits) < FEWEST_DIGITS or len(lengths) > 1 or SIGMA * abs(float(values.mean())) < 5 * step:
        return []  # the values do not run over enough steps for their last digit to be even
    test = digit_test(digits)
    if test.p * tests >= CHANCE:
        return []
    most = max(range(10), key=lambda d: test.counts[d])
    text = (
        f"last digits of {test.n} values of {records[0].tool} by {records[0].operator}: {most} stands in "
        f"{test.counts[most]}, {test.n / len(test.allowed):.0f} are expected (chi-square {test.statistic:.0f}, "
        f"p {test.p:.1g}, {tests} tested)"
    )
    return [Doubt("digit preference", text, tuple(records))]


def _pace(plan: Plan, judge: Judge, records: Sequence[Tightening]) -> list[Doubt]:
    kinds = {tool.serial: tool.kind for tool in plan.tools}
    timed = [r for r in records if r.time is not None and not r.time_doubt and r.counter is not None]
    if not timed or plan.spec.series is not None:
        return []  # in a series the units come to the tool
    if all(r.time is not None and r.time.second == 0 and r.time.microsecond == 0 for r in timed):
        return []  # a clock that writes minutes only
    least = PACE_POWERED if kinds.get(timed[0].tool) in ("powered", "hydraulic") else PACE_HAND
    fast: list[tuple[Tightening, Tightening, float]] = []
    for one, other in pairwise(timed):
        assert one.time is not None and other.time is not None
        seconds = (other.time - one.time).total_seconds()
        if one.fastener != other.fastener and 0 <= seconds < least and judge.moments[other.key].sure:
            fast.append((one, other, seconds))
    if len(fast) < 2:
        return []
    shown = "; ".join(f"{a.fastener} to {b.fastener} in {s:g} s" for a, b, s in fast[:5])
    more = f" and {len(fast) - 5} more" if len(fast) > 5 else ""
    times = f"{len(fast)} times: {shown}{more}"
    text = f"{timed[0].tool} went on faster than {least:g} s from one fastener to the next {times}"
    keyed = {r.key: r for a, b, _ in fast for r in (a, b)}
    return [Doubt("impossible pace", text, tuple(keyed.values()))]
