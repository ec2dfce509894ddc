"""Reading torque-angle curves: simulated ones with a known fault or none, what a person calls them, and what tells it.

    seed --curve.simulate--> Sheet (curves, truth, what the judge finds);  Sheet + answers --> Marked

The curves are drawn from the mechanics of random joints (limits of the simulator: docs/curves.md). What the judge found
is shown beside the truth: it is no better than its rules, and where it is wrong that is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from evenpull.curve.confusion import CALLED
from evenpull.curve.judge import judge
from evenpull.curve.reasons import Picture, Reason, picture, reasons
from evenpull.curve.simulate import FAULTS, simulate
from evenpull.statistics.sampling import clopper_pearson

NORMAL = "nothing found"
NAMES = (NORMAL, *dict.fromkeys(CALLED.values()))  # what a curve can be called
CURVES, LEAST, MOST = 12, 4, 30
LARGEST_SEED = 999_999
SHARE_NORMAL = 0.3  # about as many are as they should be
LOOK = {
    NORMAL: "level run-down, a clear knee, a straight rise into the window",
    "re-hit": "no run-down: nearly the whole torque within a few degrees, often with a top at the start",
    "seized or drag high": "the run-down lies high or climbs before the knee; the rise behind it is that of the joint",
    "slip or stripping": "the torque falls before shut-off, or the turn goes far beyond that of the others",
    "cross-thread or early seating": "the rise begins turns too early and is flatter than the joint allows",
    "bottomed": "the rise begins too early and is steeper than the joint can be",
    "missing part": "the run-down is turns too long, the rise as it should be",
    "extra part": "the run-down is turns too short, the rise as it should be",
    "soft or lost gasket": "the run-down is right, the rise is not: too flat with a soft gasket, too steep with none",
    "yield suspected": "the rise bends towards level before shut-off",
    "step order": "the steps of the program are missing or not in their order",
    "stopped by the user": "it ends below the window while the torque still rises straight",
    "sensor fault": "flat stretches at the top, single spikes, a zero that is off, points that are none",
}
assert set(LOOK) == set(NAMES)


class ExerciseError(ValueError):
    """What was asked for or answered cannot be used; says the limit."""


@dataclass(frozen=True)
class Trace:
    """One curve of a sheet. `truth`: what was built in, in `NAMES`; `found`: what the judge names first; `window`:
    accepted torque; `expected`: usual turn to the seat, lowest and highest, nan where it is not stated."""

    number: int
    truth: str
    found: str
    why: tuple[Reason, ...]
    picture: Picture
    window: tuple[float, float]
    expected: tuple[float, float]
    slope: tuple[float, float]
    steps: int  # of the program


@dataclass(frozen=True)
class Sheet:
    seed: int
    traces: tuple[Trace, ...]


def sheet(seed: int, curves: int = CURVES) -> Sheet:
    """The same seed and number give the same sheet. ExerciseError outside 0 to 999,999 and 4 to 30 curves."""
    if not 0 <= seed <= LARGEST_SEED:
        raise ExerciseError(f"a sheet has a number from 0 to {LARGEST_SEED:,}, not {seed}")
    if not LEAST <= curves <= MOST:
        raise ExerciseError(f"a sheet has {LEAST} to {MOST} curves, not {curves}")
    dice = np.random.default_rng([seed, 1])
    good = max(1, round(SHARE_NORMAL * curves))
    faults = ["none"] * good + [str(one) for one in np.resize(dice.permutation(FAULTS[1:]), curves - good)]
    faults = [faults[i] for i in dice.permutation(curves)]
    made = simulate(int(dice.integers(2**31)), faults)
    judged = judge(made.curves, made.expectation).mechanics
    first, own = judged.first(), made.expectation
    return Sheet(seed, tuple(
        Trace(
            n + 1, CALLED.get(fault, NORMAL), NORMAL if first[n] == "none" else first[n], reasons(judged, n),
            picture(made.curves, judged, n), (float(own.T_low[n]), float(own.T_high[n])),
            (float(own.run_low[n]), float(own.run_high[n])), (float(own.k_low[n]), float(own.k_high[n])),
            int(own.last_step[n]),
        )
        for n, fault in enumerate(faults)
    ))  # fmt: skip


@dataclass(frozen=True)
class Marked:
    """`right`: numbers of the curves that were called what they are; `missed`: faulty ones called normal; `alarms`:
    normal ones called faulty; `unanswered`. `low`, `high`: 95 % limits of the share that this person gets right on such
    curves (Clopper and Pearson), of the answered ones; nan without an answer. `judge_wrong`: where the judge is."""

    right: tuple[int, ...]
    missed: tuple[int, ...]
    alarms: tuple[int, ...]
    unanswered: tuple[int, ...]
    low: float
    high: float
    judge_wrong: tuple[int, ...]


def marked(of: Sheet, answers: Mapping[int, str]) -> Marked:
    """`answers`: number of the curve -> one of `NAMES`. ExerciseError for another number or name."""
    known = {trace.number: trace.truth for trace in of.traces}
    for number, name in answers.items():
        if number not in known:
            raise ExerciseError(f"the sheet has the curves 1 to {len(known)}, and no curve {number}")
        if name not in NAMES:
            raise ExerciseError(f"curve {number}: {name[:40]!r} is no answer; there are: {', '.join(NAMES)}")
    right = tuple(n for n, name in sorted(answers.items()) if known[n] == name)
    low, high = clopper_pearson(len(right), len(answers), 0.95) if answers else (float("nan"), float("nan"))
    return Marked(
        right,
        tuple(n for n, name in sorted(answers.items()) if name == NORMAL and known[n] != NORMAL),
        tuple(n for n, name in sorted(answers.items()) if name != NORMAL and known[n] == NORMAL),
        tuple(n for n in known if n not in answers), low, high,
        tuple(trace.number for trace in of.traces if trace.found != trace.truth),
    )
