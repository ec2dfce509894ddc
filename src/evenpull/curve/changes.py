"""Why a curve is judged otherwise than before: two findings of the same curves, set beside each other column by column.

For each curve whose verdicts differ the cause is found by putting one thing of the new judgement at a time into the old
one: a threshold, a limit of the expectation, a feature. What alone gives the new verdict made the difference. Where the
present code does not even give the old verdict from the old numbers, the rule itself has changed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from evenpull.curve.columns import CurveError
from evenpull.curve.expectation import Expectation
from evenpull.curve.features import FeatureTable
from evenpull.curve.judged_table import LIMITS, NO_WINDOWS, NOTHING, FindingPart, Head, first_of
from evenpull.curve.names import AT, NAMES
from evenpull.curve.reasons import READS
from evenpull.curve.verdicts import ANSWERS, VERDICTS, Bools, Thresholds, verdicts

ON = ("mechanics of the joint", "learned windows")
RULE_CHANGED, TOGETHER, WINDOWS = "the rule itself", "several of them together", "learned windows are new or gone"
MOST_CAUSES = 5_000  # kept apart by their numbers; a plan may give each fastener limits of its own
# What a threshold or a limit is held against, to be shown beside it.
HELD_AGAINST = {
    "sensor.bad_share": "n_bad", "sensor.spikes": "n_spikes", "sensor.clip": "clip", "sensor.stuck_share": "stuck",
    "sensor.stuck": "stuck", "sensor.still": "angle_off", "sensor.zero": "T_zero", "rehit.run": "seat",
    "rehit.turn": "angle_off", "rehit.first": "T_first", "rehit.breakaway": "breakaway", "drag.over": "T_run_max",
    "slip.fallen": "off_ratio", "slip.turn": "angle_origin", "slope.stiff": "k_el", "slope.soft": "k_el",
    "yield.ratio": "k_end", "yield.least_bend": "bend", "yield.bend": "bend",
    "yield.far_bend": "bend", "stopped.short": "T_peak",
    "target": "T_run_max", "T_low": "T_off", "T_high": "T_off", "k_low": "k_el", "k_high": "k_el",
    "theta_low": "angle_off", "theta_high": "angle_origin", "drag_high": "T_run_max", "run_low": "seat",
    "run_high": "seat", "gasket": "k_el", "last_step": "last_step", "fresh": "T_first",
}  # fmt: skip
SCHEMA = pa.schema([
    ("number", pa.int64()), ("run", pa.string()), ("tool", pa.string()), ("epoch", pa.string()),
    ("counter", pa.int64()), ("fastener", pa.int64()), ("pass_number", pa.int64()), ("basis", pa.string()),
    ("answer_before", pa.string()), ("answer_now", pa.string()), ("verdict_before", pa.string()),
    ("verdict_now", pa.string()), ("rule", pa.string()), ("cause", pa.string()), ("before", pa.float64()),
    ("now", pa.float64()), ("quantity", pa.string()), ("value", pa.float64()),
])  # fmt: skip
_VERDICT_WORDS = np.array([*VERDICTS, NOTHING, NO_WINDOWS])
_ANSWER_WORDS = np.array([*ANSWERS, NO_WINDOWS])


@dataclass
class Tally:
    """Curves by (basis, verdict before, verdict now), changed or not; changed ones by cause too."""

    moves: dict[tuple[str, str, str], int] = field(default_factory=dict)
    causes: dict[tuple[str, str, str], int] = field(default_factory=dict)  # (rule, cause, "before -> now")
    changed: int = 0

    def add(self, into: dict[tuple[str, str, str], int], key: tuple[str, str, str], n: int) -> None:
        if n:
            into[key] = into.get(key, 0) + n


def flat(thresholds: Thresholds) -> dict[str, float]:
    """ "yield.ratio" -> 0.55, of a table of thresholds."""
    return {f"{section}.{name}": float(value) for section, table in thresholds.items() if isinstance(table, dict)
            for name, value in table.items()}


def with_one(thresholds: Thresholds, name: str, value: float) -> Thresholds:
    section, _, key = name.partition(".")
    return {**thresholds, section: {**thresholds[section], key: value}}


def changes(
    old: FindingPart, new: FindingPart, old_head: Head, new_head: Head, tally: Tally
) -> Iterator[Any]:
    """Tables of `SCHEMA` with the curves of this part that are judged otherwise; `tally` counts them all. CurveError
    where both are not of the same curves."""
    if old_head.content != new_head.content or old.first != new.first or len(old) != len(new):
        raise CurveError("findings of other curves cannot be set beside each other")
    for basis, end in zip(ON, ("", "_learned"), strict=True):
        was, now = old.codes(f"verdict{end}"), new.codes(f"verdict{end}")
        said_was, said_now = old.codes(f"answer{end}"), new.codes(f"answer{end}")
        pairs, counts = np.unique(was.astype(np.int64) * 100 + now, return_counts=True)
        for pair, n in zip(pairs.tolist(), counts.tolist(), strict=True):
            key = basis, str(_VERDICT_WORDS[pair // 100]), str(_VERDICT_WORDS[pair % 100])
            tally.add(tally.moves, key, n)
        differs = (was != now) | (said_was != said_now) | (old.numbers(f"found{end}") != new.numbers(f"found{end}"))
        if differs.any():
            yield _table(old, new, np.flatnonzero(differs), basis, (old_head, new_head), tally)


def _table(
    old: FindingPart, new: FindingPart, at: NDArray[np.int64], basis: str, heads: tuple[Head, Head], tally: Tally
) -> Any:
    some_old, some_new = FindingPart(old.first, old.table.take(at)), FindingPart(new.first, new.table.take(at))
    end = "" if basis == ON[0] else "_learned"
    n = len(at)
    rule = _toggled(some_old.numbers(f"found{end}"), some_new.numbers(f"found{end}"))
    cause, before, now = np.full(n, TOGETHER, object), np.full(n, np.nan), np.full(n, np.nan)
    gone = (some_old.codes(f"answer{end}") == len(ANSWERS)) | (some_new.codes(f"answer{end}") == len(ANSWERS))
    if gone.all():
        cause[:] = WINDOWS
    else:
        _causes(some_old, some_new, heads, end, cause, before, now)
        cause[gone] = WINDOWS
        before[gone] = now[gone] = np.nan
    names = [_quantity(one, word) for one, word in zip(cause, rule, strict=True)]
    features = some_new.features.values
    values = np.array([features[i, AT[name]] if name in AT else np.nan for i, name in enumerate(names)])
    for key, count in zip(*np.unique(np.array([f"{a}\0{b}\0{x:.6g} -> {y:.6g}" for a, b, x, y in
                                               zip(rule, cause, before, now, strict=True)]), return_counts=True),
                          strict=True):  # fmt: skip
        own_rule, own_cause, numbers = str(key).split("\0")
        told = not own_cause.startswith("feature ") and "nan" not in numbers and len(tally.causes) < MOST_CAUSES
        tally.add(tally.causes, (own_rule, own_cause, numbers if told else ""), int(count))
    tally.changed += n
    texts = [some_new.table.column(name) for name in ("run", "tool", "epoch", "counter", "fastener", "pass_number")]
    words = [_ANSWER_WORDS[some_old.codes(f"answer{end}")], _ANSWER_WORDS[some_new.codes(f"answer{end}")],
             _VERDICT_WORDS[some_old.codes(f"verdict{end}")], _VERDICT_WORDS[some_new.codes(f"verdict{end}")]]
    return pa.Table.from_arrays([
        pa.array(new.first + at), *(column.combine_chunks() for column in texts), pa.array([basis] * n),
        *(pa.array(column.tolist(), pa.string()) for column in words), pa.array(rule, pa.string()),
        pa.array(cause.tolist(), pa.string()), pa.array(before), pa.array(now), pa.array(names, pa.string()),
        pa.array(values),
    ], schema=SCHEMA)  # fmt: skip


def _quantity(cause: str, rule: str) -> str:
    """The feature that is held against what made the difference; of a rule that changed, the first that it reads."""
    name = cause.rpartition(" ")[2]
    if cause.startswith(("threshold ", "limit ")):
        return HELD_AGAINST.get(name, "")
    if cause.startswith("feature "):
        return name
    return READS[rule][0][0] if rule in READS else ""


def _toggled(before: NDArray[np.uint32], now: NDArray[np.uint32]) -> list[str]:
    """The first rule whose verdict came or went; "" where only the answer differs (a window came or went)."""
    both = np.asarray(before ^ now, np.uint32)
    place = first_of((both[:, None] & (1 << np.arange(len(VERDICTS), dtype=np.uint32))).astype(bool))
    return [VERDICTS[p] if p < len(VERDICTS) else "" for p in place]


@dataclass(frozen=True, eq=False)
class _Judged:
    """Everything a judgement rests on."""

    features: FeatureTable
    expectation: Expectation
    thresholds: Thresholds

    def found(self) -> tuple[Bools, NDArray[np.int8]]:
        made = verdicts(self.features, self.expectation, thresholds=self.thresholds)
        return made.found, made.answer


def _causes(
    old: FindingPart, new: FindingPart, heads: tuple[Head, Head], end: str, cause: Any, before: Any, now: Any
) -> None:
    """Write cause, value before and value now of each curve into the arrays given."""
    was, is_ = (_judged(part, head, end) for part, head in zip((old, new), heads, strict=True))
    aim = new.numbers(f"found{end}"), new.codes(f"answer{end}")
    start = old.numbers(f"found{end}"), old.codes(f"answer{end}")
    left = np.ones(len(old), bool)
    again = _same(was, start)
    cause[~again] = RULE_CHANGED
    left &= again
    old_T, new_T = flat(was.thresholds), flat(is_.thresholds)
    for name in sorted(old_T.keys() & new_T.keys()):
        if old_T[name] != new_T[name]:
            one = replace(was, thresholds=with_one(was.thresholds, name, new_T[name]))
            _note(left, _same(one, aim), cause, f"threshold {name}", before, now, old_T[name], new_T[name])
    for name in LIMITS:
        a, b = getattr(was.expectation, name), getattr(is_.expectation, name)
        if (differs := ~_equal(a, b)).any():
            one = replace(was, expectation=replace(was.expectation, **{name: b}))
            _note(left, _same(one, aim) & differs, cause, f"limit {name}", before, now, a, b)
    for number, name in enumerate(NAMES):
        a, b = was.features.values[:, number], is_.features.values[:, number]
        if (differs := ~_equal(a, b)).any():
            values = was.features.values.copy()
            values[:, number] = b
            one = replace(was, features=FeatureTable(values))
            _note(left, _same(one, aim) & differs, cause, f"feature {name}", before, now, a, b)


def _judged(part: FindingPart, head: Head, end: str) -> _Judged:
    expectation = part.expectation
    if end and head.learned is not None:
        expectation = head.learned.limits(expectation)
    return _Judged(part.features, expectation, tomllib.loads(head.thresholds))


def _same(judged: _Judged, aim: Sequence[Any]) -> Bools:
    found, answer = judged.found()
    bits = found.astype(np.uint32) @ (1 << np.arange(len(VERDICTS), dtype=np.uint32))
    return np.asarray((bits == aim[0]) & (answer == aim[1]))


def _equal(a: Any, b: Any) -> Bools:
    return np.asarray((a == b) | (np.isnan(a) & np.isnan(b)))


def _note(left: Bools, makes: Bools, cause: Any, words: str, before: Any, now: Any, a: Any, b: Any) -> None:
    own = left & makes
    cause[own] = words
    before[own], now[own] = np.broadcast_to(a, len(own))[own], np.broadcast_to(b, len(own))[own]
    left[own] = False
