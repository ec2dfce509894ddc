"""Rules for alarms on a control chart, and how often each alarms where nothing has changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import sparse, stats
from scipy.sparse.linalg import spsolve

from evenpull.statistics.sane import Floats, whole

Rule = Literal["beyond", "two of three", "four of five", "eight"]
RULES: tuple[Rule, ...] = ("beyond", "two of three", "four of five", "eight")
MEANING: dict[Rule, str] = {
    "beyond": "one value beyond the limits",
    "two of three": "two of three values in a row beyond 2 sigma on one side",
    "four of five": "four of five values in a row beyond 1 sigma on one side",
    "eight": "eight values in a row on one side of the mean",
}
_WINDOW: dict[Rule, tuple[int, int, float]] = {"two of three": (2, 3, 2.0), "four of five": (4, 5, 1.0),
                                               "eight": (8, 8, 0.0)}


@dataclass(frozen=True, slots=True)
class Signal:
    """An alarm: `place` (from 0) of the value that completes it, the rule, the side +1 above or -1 below."""

    place: int
    rule: Rule
    side: int


def _hits(z: Floats, rule: Rule, side: int, beyond: float) -> NDArray[np.bool_]:
    """Where a rule is completed, place by place along the last axis. A value that does not lie beyond the line itself
    completes nothing: an alarm is told once, when it comes."""
    if rule == "beyond":
        return np.asarray(side * z > beyond)
    need, window, line = _WINDOW[rule]
    over = side * z > line
    counted = np.cumsum(over, axis=-1, dtype=np.int64)
    before = np.zeros_like(counted)
    before[..., window:] = counted[..., :-window]
    return np.asarray(over & (counted - before >= need))


def signals_of(z: Sequence[float] | Floats, rules: Sequence[Rule] = RULES, beyond: float = 3.0) -> tuple[Signal, ...]:
    """Alarms of standardised values in their order (rules of NIST/SEMATECH handbook 6.3.2, from memory). ValueError for
    an unknown rule."""
    _known(rules)
    places = np.asarray(z, float)
    found = [Signal(int(place), rule, side) for rule in rules for side in (1, -1)
             for place in np.flatnonzero(_hits(places, rule, side, beyond))]
    return tuple(sorted(found, key=lambda signal: (signal.place, rules.index(signal.rule))))


def alarmed(z: Floats, rules: Sequence[Rule] = RULES, beyond: float = 3.0) -> NDArray[np.bool_]:
    """Whether each row of standardised values holds an alarm."""
    _known(rules)
    found = np.zeros(len(z), bool)
    for rule in rules:
        for side in (1, -1):
            found |= _hits(z, rule, side, beyond).any(axis=1)
    return found


def _known(rules: Sequence[Rule]) -> None:
    unknown = [rule for rule in rules if rule not in RULES]
    if unknown or not rules:
        raise ValueError(f"unknown rule {unknown[0]!r}: the rules are {', '.join(RULES)}" if unknown else
                         "no rule: a chart needs one at least")


def window_chance(rule: Rule) -> float:
    """Chance that a rule holds at one given place, both sides, mean and sigma known: binomial."""
    if rule == "beyond":
        return float(2 * stats.norm.sf(3))
    need, window, line = _WINDOW[rule]
    return float(2 * stats.binom.sf(need - 1, window, stats.norm.sf(line)))


_EDGES = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)
_MIDDLES = (-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5)
_State = tuple[tuple[float, ...], int]  # the last values, and how many in a row lie on the side of the last


@lru_cache(maxsize=16)
def _chain(rules: tuple[Rule, ...]) -> sparse.csr_matrix:
    """Chances to go from one history without an alarm to another (C. W. Champ, W. H. Woodall, Technometrics 29, 1987):
    what is missing to 1 in a row is the chance of an alarm. State 0 is the beginning."""
    _known(rules)
    shares = np.diff(stats.norm.cdf([-math.inf, *_EDGES, math.inf]))
    others = tuple(rule for rule in rules if rule != "eight")
    kept = 4 if "four of five" in rules else 2 if "two of three" in rules else 1  # as far back as the rules see
    beginning: _State = (0.0,) * kept, 0  # a value of 0 lies on no side
    number: dict[_State, int] = {beginning: 0}
    steps: list[tuple[int, int, float]] = []
    frontier = [beginning]
    while frontier:
        windows = [((*last, value), run) for last, run in frontier for value in _MIDDLES]
        alarms = np.zeros(len(windows), bool)
        for rule in others:
            for side in (1, -1):
                alarms |= _hits(np.array([window for window, _ in windows]), rule, side, 3.0)[:, -1]
        found: list[_State] = []
        for place, (window, run) in enumerate(windows):
            going = run + 1 if window[-2] * window[-1] > 0 else 1
            if alarms[place] or ("eight" in rules and going >= 8):
                continue
            state = window[1:], going if "eight" in rules else 0
            if state not in number:
                number[state] = len(number)
                found.append(state)
            steps.append((number[frontier[place // 8]], number[state], float(shares[place % 8])))
        frontier = found
    rows, columns, chances = zip(*steps, strict=True)
    return sparse.csr_matrix((chances, (rows, columns)), shape=(len(number), len(number)))


def false_alarm_within(points: int, rules: Sequence[Rule] = RULES) -> float:
    """Chance of at least one false alarm among so many values, mean and sigma known, all rules applied at once; exact
    but for rounding, by the chain of histories."""
    whole(1, 100_000, points=points)
    chain = _chain(tuple(dict.fromkeys(rules)))
    at = np.zeros(chain.shape[0])
    at[0] = 1.0
    for _ in range(points):
        at = chain.T @ at
    return float(1 - at.sum())


def mean_run_length(rules: Sequence[Rule] = RULES) -> float:
    """Values until the first false alarm on the average, mean and sigma known; of the chain of histories."""
    chain = _chain(tuple(dict.fromkeys(rules)))
    expected = spsolve(sparse.identity(chain.shape[0], format="csc") - chain.tocsc(), np.ones(chain.shape[0]))
    return float(expected[0])
