"""A procedure carried out on many assemblies: load, torque or torque and angle control, with waits. SI throughout.

With several tools the first bolt of a pull gets the first tool, the second the second, and so on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import RingBolts
from evenpull.ring.model import RingModel
from evenpull.ring.scatter import batch as many
from evenpull.ring.scatter.batch import Batch
from evenpull.ring.scatter.creep import Creep, wait
from evenpull.ring.scatter.friction import Drawn, NutFriction, Tool, draw, factors

Floats = NDArray[np.float64]
Kind = Literal[
    "interaction only", "load control with scatter", "torque control with scatter", "angle control with scatter"
]


@dataclass(frozen=True, slots=True)
class LoadPull:
    """`bolts` brought to `loads` (N): tensioner, or a load that is measured."""

    bolts: tuple[int, ...]
    loads: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TorquePull:
    """`bolts` turned until the tools reach `torques` (N.m)."""

    bolts: tuple[int, ...]
    torques: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class AnglePull:
    """`bolts` turned to the snug `torques` (N.m), then each on by `angles` (rad), also where the nut did not move at
    the snug torque: so this belongs into a pass once."""

    bolts: tuple[int, ...]
    torques: tuple[float, ...]
    angles: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Wait:
    seconds: float


Step = LoadPull | TorquePull | AnglePull | Wait


def timed(
    passes: Sequence[Sequence[Step]], *, between_pulls: float = 0.0, between_passes: float = 0.0, dwell: float = 0.0
) -> list[Step]:
    """The passes as one procedure with waits (s): after each pull, after each pass but the last, and at the end."""
    steps: list[Step] = []
    for number, pulls in enumerate(passes, start=1):
        for place, pull in enumerate(pulls, start=1):
            steps.append(pull)
            if between_pulls > 0.0 and place < len(pulls):
                steps.append(Wait(between_pulls))
        pause = dwell if number == len(passes) else between_passes
        if pause > 0.0:
            steps.append(Wait(pause))
    return steps


def by_torque(pull: LoadPull, friction: NutFriction, d: float) -> TorquePull:
    """The pull as a crew makes it with torque tools set for a nut of mean K."""
    return TorquePull(pull.bolts, tuple(float(friction.torque(load, d)) for load in pull.loads))


@dataclass(frozen=True, slots=True)
class Assemblies:
    """`loads` (steps, S, n) N after each step; `kind` says what is in them; the state at the end."""

    kind: Kind
    target: float
    loads: Floats
    end: Batch

    @property
    def final(self) -> Floats:
        """Loads (S, n) N at the end."""
        return np.asarray(self.loads[-1])

    @property
    def highest(self) -> Floats:
        """The highest load (S, n) N of each bolt after any step."""
        return np.asarray(self.loads.max(axis=0))


def assemble(
    model: RingModel,
    bolts: RingBolts,
    steps: Sequence[Step],
    *,
    samples: int,
    rng: np.random.Generator,
    friction: NutFriction | None = None,
    tool: Tool | None = None,
    creep: Creep | None = None,
) -> Assemblies:
    """`samples` assemblies by the same procedure; the same `rng` state gives the same numbers. No friction, tool or
    creep stated: none acts. ValueError when a step needs a nut factor or a pitch that is not stated."""
    _check(bolts, steps, friction)
    tool = tool or Tool()
    tools = max((len(step.bolts) for step in steps if not isinstance(step, Wait)), default=1)
    drawn = draw(friction, tool, samples, bolts.count, tools, rng)
    crew = Crew(model, bolts, friction, tool, drawn, rng)
    batch = many.start(model, samples)
    loads = np.empty((len(steps), samples, bolts.count))
    for number, step in enumerate(steps):
        batch = wait(model, batch, creep, step.seconds) if isinstance(step, Wait) else crew.carry_out(batch, step)
        loads[number] = batch.F
    return Assemblies(kind_of(steps, friction, tool), bolts.target, loads, batch)


def kind_of(steps: Sequence[Step], friction: NutFriction | None, tool: Tool) -> Kind:
    if any(isinstance(step, AnglePull) for step in steps):
        return "angle control with scatter"
    if any(isinstance(step, TorquePull) for step in steps):
        return "torque control with scatter"
    return "interaction only" if tool == Tool() else "load control with scatter"


@dataclass(frozen=True, slots=True)
class Crew:
    """The tools and nuts of S assemblies, and what is new in every pull."""

    model: RingModel
    bolts: RingBolts
    friction: NutFriction | None
    tool: Tool
    drawn: Drawn
    rng: np.random.Generator

    def carry_out(self, batch: Batch, step: LoadPull | TorquePull | AnglePull) -> Batch:
        shape = (batch.samples, len(step.bolts))
        if isinstance(step, LoadPull):
            loads = np.broadcast_to(step.loads, shape) * self._tools(shape)
            return many.pull(self.model, batch, step.bolts, loads)
        batch = self.torque(batch, step.bolts, np.broadcast_to(step.torques, shape))
        if isinstance(step, AnglePull):
            error = self.tool.sd_angle * self.rng.standard_normal(shape)
            batch = self.turn(batch, step.bolts, np.asarray(step.angles) + error)
        return batch

    def torque(self, batch: Batch, bolts: tuple[int, ...], torques: Floats) -> Batch:
        """`torques` (S, bolts) N.m set on the tools; a nut that does not break away stays where it is."""
        if self.friction is None:
            raise ValueError("a pull by torque needs the friction of the nuts")
        at = list(bolts)
        factor = self.drawn.nut[:, at] * factors(self.rng, self.friction.cv_pull, torques.shape)
        real = torques * self._tools(torques.shape)
        return many.pull(
            self.model, batch, bolts, self.friction.reached(real, factor, self.bolts.d, batch.F[:, at])
        )

    def turn(self, batch: Batch, bolts: tuple[int, ...], angles: Floats) -> Batch:
        """Nuts turned on by `angles` (S, bolts) rad."""
        if self.bolts.P is None:
            raise ValueError("turning by an angle needs the pitch P of the bolts")
        return many.turn(self.model, batch, bolts, self.bolts.P * angles / (2 * math.pi))

    def _tools(self, shape: tuple[int, ...]) -> Floats:
        own = self.drawn.tool[:, : shape[1]]
        return np.asarray(own * factors(self.rng, self.tool.cv_pull, shape))


def _check(bolts: RingBolts, steps: Sequence[Step], friction: NutFriction | None) -> None:
    if not steps:
        raise ValueError("the procedure has no step")
    for number, step in enumerate(steps, start=1):
        if isinstance(step, Wait):
            continue
        settings = [step.loads] if isinstance(step, LoadPull) else [step.torques]
        if isinstance(step, AnglePull):
            settings.append(step.angles)
            if bolts.P is None:
                raise ValueError(f"step {number} turns by an angle and needs the pitch P of the bolts")
        if not isinstance(step, LoadPull) and friction is None:
            raise ValueError(f"step {number} is set by torque and needs the friction of the nuts")
        if any(len(values) != len(step.bolts) for values in settings):
            raise ValueError(f"step {number} has {len(step.bolts)} bolts, but not as many settings")
        if len(set(step.bolts)) != len(step.bolts) or not all(0 <= bolt < bolts.count for bolt in step.bolts):
            raise ValueError(f"step {number} pulls bolts {step.bolts} of a ring with bolts 0 to {bolts.count - 1}")
        if not all(0.0 < value < math.inf for values in settings for value in values):
            raise ValueError(f"step {number} needs settings that are finite and above 0")
