"""Settings corrected by the angle of the pulls already made: how much of the friction's spread that removes.

The same drawn assemblies are made twice, with settings for a mean nut and with settings renewed after each angle that
is read. A check pass is a pass that is read and not renewed. Angles come from the drawn assembly with noise; the filter
never sees its factors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.ring.case import RingBolts
from evenpull.ring.model import RingModel
from evenpull.ring.scatter import batch as many
from evenpull.ring.scatter.assembly import Crew, Kind, LoadPull, assemble
from evenpull.ring.scatter.estimator import AngleReading, Estimator
from evenpull.ring.scatter.friction import NutFriction, Tool, draw

Floats = NDArray[np.float64]

_NO_SPREAD = 1e-4  # coefficient of variation of the loads; the stepping's own tolerance lies well below


@dataclass(frozen=True, slots=True)
class Pass:
    """Pulls in their order with the loads (N) wanted; whether settings are `renewed` before each of its pulls, and
    whether the angles are `read`. `by_angle`: with feedback the renewed setting is the angle still missing, not a
    torque, which also takes away what is new in each pull; without feedback the pass is made by torque."""

    pulls: tuple[LoadPull, ...]
    renewed: bool = True
    read: bool = True
    by_angle: bool = False

    def __post_init__(self) -> None:
        if self.by_angle and not self.renewed:
            raise ValueError("an angle still missing is always a renewed setting")


@dataclass(frozen=True, slots=True)
class FeedbackResult:
    """Final loads (S, n) N `without` and `with_feedback`, and `even` (n,) of interaction alone. Standard deviation of
    ln K of the nuts about what was known of them, `K_before` and `K_after` (the lot and one tool's own error in it).
    """

    kind: Kind
    without: Floats
    with_feedback: Floats
    even: Floats
    K_before: float
    K_after: float

    @property
    def spread(self) -> tuple[float, float, float]:
        """Root mean square coefficient of variation of the loads in one assembly: without feedback, with, interaction
        alone. The last is no figure of a torque result: it is what is subtracted from the other two."""
        found = [_variation(loads) ** 0.5 for loads in (self.without, self.with_feedback, self.even[None])]
        return found[0], found[1], found[2]

    @property
    def removed(self) -> float:
        """Share of the friction part of the spread that feedback removes. Parts are subtracted as variances."""
        return _removed(self.without, self.with_feedback, self.even)

    def removed_error(self, rng: np.random.Generator, resamples: int = 200) -> float:
        """Standard error of `removed` by bootstrap over the assemblies (B. Efron, Ann. Statist. 7, 1979)."""
        S = len(self.without)
        picks = rng.integers(0, S, (resamples, S))
        return float(np.std([_removed(self.without[p], self.with_feedback[p], self.even) for p in picks], ddof=1))


def _variation(loads: Floats) -> float:
    return float((loads.var(axis=1) / loads.mean(axis=1) ** 2).mean())


def _removed(without: Floats, with_feedback: Floats, even: Floats) -> float:
    interaction = _variation(even[None])
    friction = _variation(without) - interaction
    if friction <= _NO_SPREAD**2:
        raise ValueError("the spread without feedback is that of interaction alone: no friction part to remove")
    return 1.0 - math.sqrt(max(0.0, (_variation(with_feedback) - interaction) / friction))


def feedback(
    model: RingModel,
    bolts: RingBolts,
    passes: Sequence[Pass],
    friction: NutFriction,
    reading: AngleReading,
    *,
    samples: int,
    seed: int,
    tool: Tool | None = None,
    known: RingModel | None = None,
) -> FeedbackResult:
    """`samples` assemblies drawn from `seed`, with and without feedback. `known` is the model that the crew reckons
    with, where it is not the ring as it is (None: it is). ValueError without a pitch or a pull."""
    if bolts.P is None:
        raise ValueError("an angle tells a travel only with the pitch P of the bolts")
    pulls = [pull for one in passes for pull in one.pulls]
    if not pulls:
        raise ValueError("the procedure has no pull")
    tool = tool or Tool()
    tools = max(len(pull.bolts) for pull in pulls)
    even = assemble(model, bolts, pulls, samples=1, rng=np.random.default_rng(seed))
    ends, knowledge, crew = [], [], None
    for used in (False, True):
        drawing, noise = (np.random.default_rng([seed, part]) for part in (0, 1))
        drawn = draw(friction, tool, samples, bolts.count, tools, drawing)
        crew = Crew(model, bolts, friction, tool, drawn, drawing)
        told = Estimator(
            known or model, friction, tool, reading, d=bolts.d, P=bolts.P, samples=samples, tools=tools
        )
        ends.append(_made(crew, told, passes, reading, noise, used))
        truth = np.log(drawn.nut) - (np.log(drawn.tool) if tools == 1 else 0.0)
        knowledge.append(float(np.sqrt(((told.x - truth) ** 2).mean())))
    return FeedbackResult("torque control with scatter", ends[0], ends[1], even.final[0], *knowledge)


def _made(
    crew: Crew, told: Estimator, passes: Sequence[Pass], reading: AngleReading, noise: np.random.Generator, used: bool
) -> Floats:
    """Final loads (S, n) of one making; without use of the readings the filter stays as it began."""
    samples, n = told.x.shape
    nominal = told.x.copy()
    assert crew.friction is not None and crew.bolts.P is not None
    per_travel = 2 * np.pi / crew.bolts.P
    batch = many.start(crew.model, samples)
    seated = np.zeros((samples, n), dtype=bool)
    for one in passes:
        for pull in one.pulls:
            at = list(pull.bolts)
            if used and one.by_angle:
                angles = told.angles(pull.bolts, pull.loads)
                error = crew.tool.sd_angle * crew.rng.standard_normal(angles.shape)
                batch = crew.turn(batch, pull.bolts, np.where(angles > 0.0, angles + error, 0.0))
                told.turned(pull.bolts, angles)
                continue
            renewed = used and one.renewed
            base = crew.friction.torque(np.asarray(pull.loads), crew.bolts.d)
            torques = told.torques(pull.bolts, pull.loads) if renewed else base * np.exp(nominal[:, at])
            after = crew.torque(batch, pull.bolts, torques)
            if used:
                way = after.travel[:, at] - batch.travel[:, at]
                moved = way > 0.0
                seat = np.where(seated[:, at], 0.0, reading.sd_seat)
                error = np.hypot(reading.sd, seat) * noise.standard_normal(way.shape)
                seated[:, at] |= moved
                told.learn(pull.bolts, torques, moved, per_travel * way + error if one.read else None)
            batch = after
    return batch.F
