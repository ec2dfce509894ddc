"""A procedure followed step by step, and how every load on the way answers to every setting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.model import RingModel
from evenpull.ring.stepping import Pull, State, start, step

Floats = NDArray[np.float64]
Steps = tuple[tuple[int, ...], ...]  # bolts numbered from 0 that are pulled at the same time, one tuple for each step


@dataclass(frozen=True, slots=True)
class Trajectory:
    """`loads` (steps, n) N after each step; `states` has one entry more: the state before each step and the last."""

    loads: Floats
    states: tuple[State, ...]

    @property
    def final(self) -> Floats:
        """(n,) N."""
        return np.asarray(self.loads[-1])


def pulls_of(steps: Steps, settings: Floats) -> tuple[Pull, ...]:
    """Pulls of the steps with one setting (N) for each bolt of each step, in the order in which they stand."""
    needed = sum(map(len, steps))
    if len(settings) != needed:
        raise ValueError(f"{len(settings)} settings for {needed} pulls of single bolts")
    pulls, at = [], 0
    for bolts in steps:
        pulls.append(Pull(bolts, tuple(float(s) for s in settings[at : at + len(bolts)])))
        at += len(bolts)
    return tuple(pulls)


def steps_of(pulls: Sequence[Pull]) -> Steps:
    return tuple(pull.bolts for pull in pulls)


def settings_of(pulls: Sequence[Pull]) -> Floats:
    return np.array([load for pull in pulls for load in pull.loads], dtype=float)


def check_steps(steps: Steps, n: int) -> None:
    """Raises ValueError for a bolt that does not exist, one that stands twice in a step, and an empty step."""
    if not steps:
        raise ValueError("a procedure without a pull")
    for number, bolts in enumerate(steps, start=1):
        if not bolts:
            raise ValueError(f"step {number} pulls no bolt")
        if len(set(bolts)) != len(bolts):
            raise ValueError(f"step {number} pulls a bolt twice at the same time: {bolts}")
        wrong = [bolt for bolt in bolts if not 0 <= bolt < n]
        if wrong:
            raise ValueError(f"step {number} pulls bolt {wrong[0]}; the ring has bolts 0 to {n - 1}")


def follow(model: RingModel, pulls: Sequence[Pull], known: Trajectory | None = None, same: int = 0) -> Trajectory:
    """`known` is the path of a procedure whose first `same` pulls are the same: they are not stepped again.

    Raises SteppingError (evenpull.ring.stepping) where no equilibrium is found.
    """
    states = [start(model)] if known is None else list(known.states[: same + 1])
    for pull in pulls[len(states) - 1 :]:
        states.append(step(model, states[-1], pull))
    return Trajectory(np.array([state.F for state in states[1:]]), tuple(states))


def slopes(model: RingModel, pulls: Sequence[Pull], path: Trajectory, nudge: float) -> Floats:
    """(settings, steps, n): change of every load after every step for one newton more in each setting.

    By differences with `nudge` (N). What comes before a pull does not depend on it, so that only the rest is stepped.
    """
    total = sum(len(pull.bolts) for pull in pulls)
    out = np.zeros((total, len(pulls), model.n))
    at = 0
    for number, pull in enumerate(pulls):
        for place in range(len(pull.bolts)):
            loads = list(pull.loads)
            loads[place] += nudge
            state = path.states[number]
            for later, other in enumerate([Pull(pull.bolts, tuple(loads)), *pulls[number + 1 :]], start=number):
                state = step(model, state, other)
                out[at, later] = (state.F - path.loads[later]) / nudge
            at += 1
    return out
